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

/// Results of the same spray at many times, with one entry per time.
struct Day {
  std::vector<AirState> air;  ///< at the crop at the time of spraying, before the spray changes it
  RowTable outcomes;
  std::size_t best = 0;                   ///< index of the best time, see `best_time`
  std::vector<double> control_over_best;  ///< see `over_best` [1]
  /// Growth control at each time, at one end of what the dried residue may do.
  struct AtEnd {
    std::vector<double> control;            ///< growth control [1]
    std::vector<double> control_over_best;  ///< relative to that at `best` [1]
  };
  AtEnd locked, mobile;  ///< at both ends, see `residue_ends`
};

/// Sprays a scenario at each of `starts` [s, in the record's time] in the air at the crop, also at both ends
/// of what the dried residue may do, because these decide the value of wet time. The sprays are independent:
/// none changes the air of another. In the weeks after a spray the crop grows at the daily mean
/// temperatures of the record, and at crop.mean_temperature on days beyond the record.
/// @throws InputError if there are no times, and for a scenario, record or time that is not allowed;
///         IntegrationError as `simulate`
Day compare_times(const Scenario& scenario, const CropAir& air, std::span<const double> starts,
                  const BatchOptions& options = {});

/// The same for a record of the weather outdoors. The air of the house is computed once over the whole record
/// and used for all times. Begin the record a day before the first time, so that the initial state of the
/// house no longer matters.
Day compare_times(const Scenario& scenario, const Outdoor& weather, std::span<const double> starts,
                  const BatchOptions& options = {});

/// The same for a long record that is divided into several airs: time i is sprayed in airs[air_of[i]], and
/// its crop grows at the temperatures in `weeks`, as for Rows. With `delays` [s], the re-wetting of time i
/// follows the spray after delays[i]; otherwise after rewetting.delay.
Day compare_times(const Scenario& scenario, std::span<const CropAir* const> airs,
                  std::span<const std::uint64_t> air_of, std::span<const double> starts,
                  const BatchOptions& options = {}, const Weeks& weeks = {},
                  std::span<const double> delays = {});

/// Growth control of each row relative to that of row `best` [1]; 1 if that is 0.
/// @throws InputError if there is no row `best`
std::vector<double> over_best(std::span<const double> control, std::size_t best);

/// Index of the row with the most growth control. For plants that are still wet at the end, growth control is
/// a lower bound; such rows are considered only if all rows are of this kind.
/// @throws InputError for a table without rows
std::size_t best_time(const RowTable& outcomes);
/// The same from the growth control of each row and whether its plants are still wet at the end (not 0).
/// @throws InputError without rows, or for columns of different lengths
std::size_t best_time(std::span<const double> control, std::span<const std::uint8_t> wet_at_end);

}  // namespace wetspan
