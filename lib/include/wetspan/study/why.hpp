// Why an outcome is what it is: the ways by which the substance came, and the changes that would move it
// most.
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

/// What a lever does to one input.
struct InputChange {
  std::string_view key;  ///< such as "air.speed"
  double value = 0;      ///< factor, or the value itself in the table's unit
  bool times = true;     ///< whether it is a factor
};

/// A change of an application or its surroundings that someone could make.
struct Lever {
  std::string_view change;  ///< in words
  std::vector<InputChange> inputs;
};

/// Every lever that `why` tries.
std::span<const Lever> levers();

/// The scenario with a lever moved, as far as the bounds of the table allow. Empty where the lever means
/// nothing: leaves are not wetted, the crop is re-wetted already, or the scenario is there already.
std::optional<Scenario> moved(const Scenario& scenario, const Lever& lever);

/// What a lever does to growth control.
struct LeverEffect {
  std::string_view change;  ///< in words
  double control = 0;       ///< growth control with it [1]
  double gain = 0;          ///< that less the growth control without it [1]
};

/// Where an outcome's growth control comes from.
struct Why {
  double control = 0;  ///< growth control as it is [1]
  BySite through;      ///< share of what reaches the growing tips, by site [1]; all 0 where none does
  std::vector<LeverEffect> levers;  ///< the largest effect first
};

/// Tells where growth control comes from and which levers would move it most, each computed on its own in the
/// same air. Effects of less than 0.05 points, and levers that cannot be computed, are left out.
/// @param most how many levers are told
/// @param weeks as for `simulate`: daily mean temperatures from the start of growth [K]
/// @throws InputError for a scenario, record or time that is not allowed; IntegrationError as `simulate`
Why why(const Scenario& scenario, const CropAir& air, double start, std::size_t most = 6,
        std::span<const double> weeks = {}, const BatchOptions& options = {});

}  // namespace wetspan
