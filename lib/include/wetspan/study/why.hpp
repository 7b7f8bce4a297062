// Explains an outcome: the routes by which the active ingredient reached the growing tips, and the changes
// with the largest effect on growth control.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "wetspan/plant/crop_air.hpp"
#include "wetspan/plant/uptake.hpp"
#include "wetspan/study/batch.hpp"
#include "wetspan/study/scenario.hpp"

namespace wetspan {

/// The change that a lever makes to one input.
struct InputChange {
  std::string_view key;  ///< such as "air.speed"
  double value = 0;      ///< factor, or the new value in the table's unit
  bool times = true;     ///< whether `value` is a factor
};

/// A practical change of an application or its surroundings.
struct Lever {
  std::string_view change;  ///< in words
  std::vector<InputChange> inputs;
};

/// Every lever that `why` tries.
std::span<const Lever> levers();

/// The scenario after a lever is applied, with inputs limited to the bounds of the table. Empty if the lever
/// does not apply: the method does not wet leaves, the crop is already re-wetted, or nothing would change.
std::optional<Scenario> moved(const Scenario& scenario, const Lever& lever);

/// The effect of a lever on growth control.
struct LeverEffect {
  std::string_view change;  ///< in words
  double control = 0;       ///< growth control with the lever [1]
  double gain = 0;          ///< growth control with the lever less that without [1]
};

/// The sources of growth control in an outcome.
struct Why {
  double control = 0;  ///< growth control of the scenario [1]
  BySite through;  ///< share of the amount at the growing tips by site of entry [1]; all 0 if none arrives
  std::vector<LeverEffect> levers;  ///< the largest effect first
};

/// Computes the contribution of each site of entry to growth control, and the effect of each lever alone in
/// the same air. Effects below 0.05 percentage points, and levers that cannot be computed, are left out.
/// @param most largest number of levers in the result
/// @param weeks as for `simulate`: daily mean temperatures from the start of growth [K]
/// @throws InputError for a scenario, record or time that is not allowed; IntegrationError as `simulate`
Why why(const Scenario& scenario, const CropAir& air, double start, std::size_t most = 6,
        std::span<const double> weeks = {}, const BatchOptions& options = {});

}  // namespace wetspan
