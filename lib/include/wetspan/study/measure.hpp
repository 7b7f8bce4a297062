// What measurements are compared with: leaves that dry after a known wetting, and a dried deposit that is
// washed off the leaves.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "wetspan/study/scenario.hpp"
#include "wetspan/study/wet_span.hpp"

namespace wetspan {

/// The load of a crop whose leaves carry `depth` [m of liquid per one-sided leaf area] in droplets of the
/// scenario's spectrum. Everything else is dry.
/// @throws InputError for a scenario that is not allowed, and unless the depth is above 0 and at most 1 m
Load wetted_leaves(const Scenario& scenario, double depth);

/// Fate of a deposit after it has dried, as shares of the deposit [1].
struct DryDeposit {
  double taken_up = 0;  ///< by the plant
  double lost = 0;      ///< from the surface
};

/// Shares of a deposit of `mass` [kg per m2 of contact] that are taken up and lost within `duration` [s]
/// after it has dried, at a constant `temperature` [K]. The law is that of plant/uptake.hpp.
/// @throws InputError unless mass and temperature are above 0, the duration is at least 0, and the scenario's
///         mobile share and rates of uptake are shares and finite rates
DryDeposit dry_deposit(const Scenario& scenario, double mass, double temperature, double duration);

/// A light pass of plain water over a dried deposit.
struct SecondWetting {
  double at = 0;        ///< after the deposit dried [s]
  double water = 0;     ///< depth on the deposit [m]
  double wet_time = 0;  ///< until it has dried again [s]
};

/// Shares of a deposit that are still on the surface at `times` [s] after it dried, mobile and locked
/// together, at a constant temperature [K]. Plants have taken up the rest, or it was lost.
///
/// The law is that of plant/uptake.hpp. A second wetting dissolves what it can of the locked part; the
/// dissolved part enters the plant until the water has dried, and is divided again when it dries.
/// @param mass of the deposit per area of contact [kg/m2]
/// @throws InputError as `dry_deposit`, and unless the second wetting's water and wet time are above 0 and
///         no time is below 0
std::vector<double> deposit_left(const Scenario& scenario, double mass, double temperature,
                                 std::span<const double> times,
                                 const std::optional<SecondWetting>& second = std::nullopt);

}  // namespace wetspan
