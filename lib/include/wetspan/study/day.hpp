// The same spray at many times of one record: is it better in the morning, at noon or in the evening?
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "wetspan/plant/crop_air.hpp"
#include "wetspan/study/batch.hpp"
#include "wetspan/study/house.hpp"
#include "wetspan/study/scenario.hpp"

namespace wetspan {

/// What became of the same spray at many times, one entry a time.
struct Day {
  std::vector<AirState> air;  ///< at the crop when sprayed, without what the spray does to it
  RowTable outcomes;
  std::size_t best = 0;  ///< position of the best time, as `best_time` finds it
  /// Growth control over that at the best time [1]; 1 where that is none.
  std::vector<double> control_over_best;
};

/// Sprays a scenario at each of `starts` [s, in the record's time] in the air at the crop. Each spray is
/// alone: it meets the air as no other spray left it. A crop grows in the weeks after it as warm as the
/// record tells, and at crop.mean_temperature beyond.
/// @throws InputError for no times, and for a scenario, record or time that is not allowed; IntegrationError
/// as
///         `simulate`
Day compare_times(const Scenario& scenario, const CropAir& air, std::span<const double> starts,
                  const BatchOptions& options = {});

/// The same in weather outdoors. The air of the house is followed once through the whole record and serves
/// all times. A record that begins a day before the first time lets the house forget where it started.
Day compare_times(const Scenario& scenario, const Outdoor& weather, std::span<const double> starts,
                  const BatchOptions& options = {});

/// The same with a long record laid out in several airs: each time is sprayed in airs[air_of[i]], and its
/// crop grows in `weeks`, as for rows.
Day compare_times(const Scenario& scenario, std::span<const CropAir* const> airs,
                  std::span<const std::uint64_t> air_of, std::span<const double> starts,
                  const BatchOptions& options = {}, const Weeks& weeks = {});

/// The position of the row with the most growth control. Rows whose plants are still wet at the end, whose
/// growth control is a lower bound, count only where all are. @throws InputError for a table without rows
std::size_t best_time(const RowTable& outcomes);

}  // namespace wetspan
