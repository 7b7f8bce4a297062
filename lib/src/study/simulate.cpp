#include "wetspan/study/simulate.hpp"

#include <algorithm>
#include <cmath>

#include "wetspan/plant/canopy.hpp"
#include "wetspan/plant/uptake.hpp"

namespace wetspan {
namespace {

/// Share of the active ingredient on a surface taken up once wet and residue have given what they give:
/// `wet` while wet, then exponentially from the residue for the rest of residue_time.
double with_residue(const Scenario& scenario, double wet, double followed, double film, double temperature,
                    double relative_permeance) {
  if (film <= 0.0) return 0.0;
  const double rate =
      relative_permeance *
      residue_rate(scenario.active, scenario.uptake, scenario.application.concentration, film, temperature);
  const double rest = std::max(0.0, scenario.uptake.residue_time - followed);
  return wet - (1.0 - wet) * std::expm1(-rate * rest);
}

}  // namespace

Outcome simulate(const Scenario& scenario, const CropAir& air, double start, bool keep_history) {
  check(scenario);
  check(air);
  Outcome outcome;
  outcome.split = split(scenario.application, scenario.canopy, scenario.retention);
  const Split& parts = outcome.split;
  const Spectrum droplets = spectrum(scenario.droplets.distribution, scenario.droplets.dv50,
                                     scenario.droplets.relative_span, scenario.droplets.bins);
  outcome.wet = wet_span(scenario, droplets, parts, air, start, keep_history);
  const WetSpan& wet = outcome.wet;

  const double volume = scenario.application.volume_rate;
  const double leaf_film = parts.leaf * volume / leaf_area_index(scenario.canopy);
  const double stem_film = parts.stem > 0.0 ? parts.stem * volume / stem_area_index(scenario.canopy) : 0.0;
  const double wetted = std::max(wet.wet_share, 1e-6);
  const double leaf =
      with_residue(scenario, wet.leaf_uptake, wet.end, leaf_film / wetted, wet.end_temperature, 1.0);
  const double stem = with_residue(scenario, wet.stem_uptake, wet.end, stem_film, wet.end_temperature,
                                   scenario.uptake.stem_cuticle);
  const RootUptake roots =
      root_uptake(scenario.active, scenario.uptake, scenario.substrate, scenario.uptake.horizon);

  outcome.account = {.leaf_surface = parts.leaf * (1.0 - leaf),
                     .leaf = parts.leaf * leaf,
                     .stem_surface = parts.stem * (1.0 - stem),
                     .stem = parts.stem * stem,
                     .substrate = parts.substrate * roots.left,
                     .root = parts.substrate * roots.root,
                     .lost = parts.substrate * roots.lost,
                     .bench = parts.bench,
                     .airborne = parts.airborne + parts.evaporated};
  outcome.applied = scenario.application.concentration * volume / scenario.canopy.plant_density;
  outcome.uptake = {.leaf = outcome.account.leaf * outcome.applied,
                    .stem = outcome.account.stem * outcome.applied,
                    .root = outcome.account.root * outcome.applied};
  outcome.tips = at_the_tips(outcome.uptake, scenario.crop);
  outcome.growth_control = growth_control(outcome.tips.sum(), scenario.crop);
  return outcome;
}

Outcome simulate(const Scenario& scenario, bool keep_history) {
  return simulate(scenario, steady_air(scenario.air, scenario.house, scenario.numerics.longest), 0.0,
                  keep_history);
}

}  // namespace wetspan
