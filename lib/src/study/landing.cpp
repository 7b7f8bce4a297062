#include "wetspan/study/landing.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <string>

#include "../properties/liquid_range.hpp"
#include "../require.hpp"
#include "../spray/flight_range.hpp"
#include "unchecked.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/plant/canopy.hpp"
#include "wetspan/plant/collection.hpp"
#include "wetspan/properties/water.hpp"
#include "wetspan/spray/nozzle.hpp"

namespace wetspan {
namespace {

constexpr double share_rounding = 1e-9;  // a share of the volume may exceed 1 by this much

double liquid_temperature(const AirState& air) {
  return std::clamp(air.temperature, coldest_liquid, hottest_liquid);
}

/// Droplets of one size at the crop; `share` is their share of the sprayed volume at the nozzle.
struct Arrival {
  double share, evaporated, airborne, diameter, speed, angle;
};

/// Interpolates the flights of a spectrum to finer sizes. Adhesion and shatter have thresholds in size, so
/// that the split would otherwise depend discontinuously on the number of bins. Speeds and shares are
/// interpolated linearly in ln d between flights; the liquid of a bin is distributed uniformly in ln d over
/// the bin.
std::vector<Arrival> arrivals(const Flight& flown, const Spectrum& spectrum) {
  constexpr int pieces = 8;
  const std::size_t n = spectrum.diameter.size();
  std::vector<Arrival> result;
  for (std::size_t i = 0; i < n; ++i) {
    const double here = std::log(spectrum.diameter[i]);
    const double below = i > 0 ? 0.5 * (std::log(spectrum.diameter[i - 1]) - here) : 0.0;
    const double above = i + 1 < n ? 0.5 * (std::log(spectrum.diameter[i + 1]) - here) : 0.0;
    for (int piece = 0; piece < pieces; ++piece) {
      const double at = (piece + 0.5) / pieces;
      const double away = at < 0.5 ? below * (1.0 - 2.0 * at) : above * (2.0 * at - 1.0);
      const std::size_t j = away < 0.0 ? i - 1 : away > 0.0 ? i + 1 : i;
      const double w = j == i ? 0.0 : away / (std::log(spectrum.diameter[j]) - here);
      const DropletFlight &a = flown.droplets[i], &b = flown.droplets[j];
      const auto between = [&](double DropletFlight::* value) {
        return a.*value + w * (b.*value - a.*value);
      };
      result.push_back({.share = spectrum.volume_share[i] / pieces,
                        .evaporated = between(&DropletFlight::evaporated),
                        .airborne = between(&DropletFlight::airborne),
                        .diameter = between(&DropletFlight::diameter),
                        .speed = between(&DropletFlight::speed),
                        // rounding may give a vertical path a tiny angle of either sign
                        .angle = std::abs(between(&DropletFlight::angle))});
    }
  }
  return result;
}

double total(const std::vector<Parcel>& parcels) {
  return std::accumulate(parcels.begin(), parcels.end(), 0.0,
                         [](double sum, const Parcel& parcel) { return sum + parcel.volume; });
}

Spectrum spectrum_of(const std::vector<Parcel>& parcels, int bins) {
  Spectrum spectrum;
  const double all = total(parcels);
  for (const Parcel& parcel : parcels) {
    if (parcel.volume <= 0.0) continue;
    spectrum.diameter.push_back(parcel.diameter);
    spectrum.volume_share.push_back(parcel.volume / all);
  }
  return merged(spectrum, bins);
}

/// A spray at the height of the crop's top; shares of the sprayed volume.
struct Descent {
  double evaporated = 0.0, airborne = 0.0, between_crowns = 0.0;
  double heat = 0.0;  // taken from the air, per sprayed volume [J/m3]
  std::vector<Parcel> onto_crowns{};
};

Descent fly_to_crop(const Scenario& scenario, const AirState& air, const Spectrum& spectrum) {
  const double crowns = scenario.canopy.crown_cover;
  const Flight flown = fly(spectrum, flight_input(scenario, air));
  Descent descent{.heat = flown.heat};
  for (const Arrival& droplet : arrivals(flown, spectrum)) {
    descent.evaporated += droplet.share * droplet.evaporated;
    descent.airborne += droplet.share * droplet.airborne;
    const double arriving = droplet.share * (1.0 - droplet.evaporated - droplet.airborne);
    if (arriving <= 0.0) continue;
    if (droplet.diameter < finest_settling) {  // almost dry; it remains airborne
      descent.airborne += arriving;
      continue;
    }
    descent.between_crowns += arriving * (1.0 - crowns);
    descent.onto_crowns.push_back({droplet.diameter, droplet.speed, droplet.angle, arriving * crowns});
  }
  return descent;
}

/// The retained part of `landed`; both are shares of the sprayed `volume` [m].
double kept(double landed, double volume, double store, double held) {
  return landed * retained_share(landed * volume, store, held);
}

/// Computes retention on leaves and stems, layer by layer from the top, of deposited droplets and of run-off
/// and drip from above. Returns the share of the sprayed volume that drips past the lowest layer.
double fill_layers(std::vector<LeafLayer>& layers, const Cascade& fall, const Scenario& scenario,
                   double volume, const Spectrum& spectrum, const Held& held) {
  const Retention& retention = scenario.retention;
  const double follows_stem = stem_area_index(scenario.canopy) > 0.0
                                  ? stemflow_share(scenario.canopy.habit, retention.stemflow_odds)
                                  : 0.0;
  const auto held_by = [](const std::vector<double>& part, std::size_t i) {
    return part.empty() ? 0.0 : part[i];
  };
  double drip = 0.0, down_stem = 0.0;  // shares of the sprayed volume that come from above
  for (std::size_t i = 0; i < layers.size(); ++i) {
    LeafLayer& layer = layers[i];
    const LayerDeposit& deposit = fall.layers[i];
    const double caught = drip * layer.interception, on_leaves = deposit.retained + caught;
    const double leaf = kept(on_leaves, volume, retention.leaf_store * layer.area, held_by(held.leaves, i));
    const double leaf_run_off = on_leaves - leaf, to_stem = follows_stem * leaf_run_off;
    const double on_stem = deposit.on_stems + to_stem + down_stem;
    const double stem = kept(on_stem, volume, retention.stem_store * layer.stem.area, held_by(held.stems, i));
    layer.liquid = leaf * volume;
    layer.run_off = leaf_run_off * volume;
    layer.stem.caught = deposit.on_stems * volume;
    layer.stem.from_leaves = to_stem * volume;
    layer.stem.from_above = down_stem * volume;
    layer.stem.liquid = stem * volume;
    layer.stem.run_off = (on_stem - stem) * volume;
    if (leaf > 0.0) {  // drip alone is given the droplet sizes of the spray
      layer.droplets = total(deposit.droplets) > 0.0 ? spectrum_of(deposit.droplets, scenario.droplets.bins)
                                                     : merged(spectrum, scenario.droplets.bins);
    }
    drip += leaf_run_off - to_stem - caught;
    down_stem = on_stem - stem;
  }
  return drip;
}

/// Divides the shares that reach the ground `below_crowns` and `between_crowns`, and the stem flow, between
/// substrate and bench.
void reach_ground(Landing& landing, const Ground& ground, double below_crowns, double between_crowns) {
  landing.split.substrate = below_crowns * ground.pot_below_crowns + between_crowns * ground.pot_between +
                            landing.stem_run_off * ground.stem_base;
  landing.split.bench = below_crowns * (1.0 - ground.pot_below_crowns) +
                        between_crowns * (1.0 - ground.pot_between) +
                        landing.stem_run_off * (1.0 - ground.stem_base);
}

/// Throws for air in which no droplet flies. Other members of a state are not read here.
void require_air(const AirState& air) {
  require_finite("air temperature", air.temperature);
  require_amount("air vapour_pressure", air.vapour_pressure);
  require_amount("air pressure", air.pressure);
  require_amount("air speed", air.speed);
}

void check_held(const char* name, const std::vector<double>& held, int layers) {
  constexpr double most = 1.0;  // m
  if (!held.empty() && held.size() != static_cast<std::size_t>(layers)) {
    throw InputError(std::string(name) + " has " + std::to_string(held.size()) + " entries for " +
                     std::to_string(layers) + " leaf layers; give one for each, or none");
  }
  for (const double each : held) require(name, each, 0.0, most, "m");
}

void check_application(double volume, const Spectrum& spectrum, const Held& held, const Canopy& canopy) {
  constexpr double least = std::numeric_limits<double>::denorm_min(), most = 1.0;  // m
  require("volume", volume, least, most, "m");
  check(spectrum);
  check_held("held.leaves", held.leaves, canopy.layers);
  check_held("held.stems", held.stems, canopy.layers);
}

}  // namespace

FlightInput flight_input(const Scenario& scenario, const AirState& air) {
  require_air(air);
  const double density = water::density(liquid_temperature(air));
  const double speed = exit_speed(scenario.nozzle.pressure, density, scenario.nozzle.velocity_coefficient);
  const double air_density = air::density(air.temperature, air.vapour_pressure, air.pressure);
  const double flow = nozzle_flow(scenario.nozzle.flow, scenario.nozzle.pressure);
  return {
      .air = {.temperature = air.temperature,
              .vapour_pressure = std::min(air.vapour_pressure, air::saturation_pressure(air.temperature)),
              .pressure = air.pressure,
              .diffusivity = scenario.air.diffusivity},
      .cross_draught = std::min(air.speed, most_draught),
      .height = scenario.nozzle.height,
      .exit_speed = speed,
      .angle = scenario.application.angle,
      .jet_length = std::min(longest_jet, jet_length(flow, speed, scenario.nozzle.fan_angle,
                                                     scenario.nozzle.fan_thickness, density, air_density)),
      .target_half_width = 0.5 * scenario.canopy.bench_width,
      .core_share = scenario.liquid.humectant,
      .tolerance = std::max(finest_flight, std::min(coarsest_flight, scenario.numerics.tolerance))};
}

ImpactSurface impact_surface(const Scenario& scenario, const AirState& air) {
  require_air(air);
  const double temperature = liquid_temperature(air);
  return {.density = water::density(temperature),
          .viscosity = water::dynamic_viscosity(temperature),
          .surface_tension = scenario.liquid.surface_tension,
          .splash_threshold = scenario.retention.shatter_threshold,
          .splashed_share = scenario.retention.splashed_share};
}

Spectrum merged(const Spectrum& spectrum, int bins) {
  require("bins", bins, 1, 1e9, "");
  if (spectrum.diameter.size() != spectrum.volume_share.size()) {
    throw InputError("a spectrum needs as many volume shares as diameters");
  }
  for (const double diameter : spectrum.diameter)
    require("diameter", diameter, std::numeric_limits<double>::min(), 1.0, "m");
  for (const double share : spectrum.volume_share)
    require("volume share", share, 0.0, 1.0 + share_rounding, "");
  std::vector<std::size_t> order(spectrum.diameter.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t a, std::size_t b) { return spectrum.diameter[a] < spectrum.diameter[b]; });
  Spectrum result;
  const std::size_t most = std::min(order.size(), static_cast<std::size_t>(bins));
  result.diameter.reserve(most), result.volume_share.reserve(most);
  int bin = 0;
  double below = 0.0, share = 0.0, surface = 0.0;  // of all volume; what the bin holds
  const auto close_bin = [&] {
    if (share <= 0.0) return;
    const double diameter = share / surface;
    if (!result.diameter.empty() && diameter <= result.diameter.back()) {  // droplets of one size
      result.volume_share.back() += share;
    } else {
      result.diameter.push_back(diameter);
      result.volume_share.push_back(share);
    }
    share = surface = 0.0;
  };
  const auto ends = [&](int i) {  // share = u^2 (3 - 2 u), the spacing of spectrum()
    const double u = (i + 1.0) / bins;
    return u * u * (3.0 - 2.0 * u);
  };
  for (const std::size_t i : order) {
    const double volume = spectrum.volume_share[i], middle = below + 0.5 * volume;
    while (bin + 1 < bins && middle >= ends(bin)) close_bin(), ++bin;
    share += volume, surface += volume / spectrum.diameter[i];
    below += volume;
  }
  close_bin();
  return result;
}

std::vector<LeafLayer> leaf_layers(const Canopy& canopy) {
  check(canopy);
  const auto count = static_cast<std::size_t>(canopy.layers);
  const double area = leaf_area_index(canopy) / static_cast<double>(count);
  const double stem_area = stem_area_index(canopy) / static_cast<double>(count);
  const double met = -std::expm1(-canopy.extinction * canopy.clumping * area / canopy.crown_cover);
  std::vector<LeafLayer> layers(count);
  double passing = canopy.crown_cover;
  for (std::size_t i = 0; i < count; ++i) {
    const double depth = (static_cast<double>(i) + 0.5) / static_cast<double>(count);
    layers[i].area = area;
    layers[i].stem.area = stem_area;
    layers[i].interception = met;
    layers[i].light = passing * met;
    layers[i].air_speed = std::exp(-canopy.wind_attenuation * depth);
    passing -= layers[i].light;
  }
  return layers;
}

std::vector<CanopyLayer> canopy_layers(const Scenario& scenario, const AirState& air) {
  require_air(air);
  const double crowns = scenario.canopy.crown_cover;
  std::vector<CanopyLayer> result;
  for (const LeafLayer& layer : leaf_layers(scenario.canopy)) {
    result.push_back(
        {.interception = layer.interception,
         .leaf_angle = scenario.canopy.leaf_angle,
         .contact_angle = scenario.leaf.contact_angle,
         .stems = {.area = layer.stem.area / crowns,
                   .diameter = scenario.stem.diameter,
                   .liquid_density = water::density(liquid_temperature(air)),
                   .air_density = air::density(air.temperature, air.vapour_pressure, air.pressure),
                   .air_viscosity = air::dynamic_viscosity(air.temperature)}});
  }
  return result;
}

Landing land(const Scenario& scenario, const AirState& air, double volume, const Spectrum& spectrum,
             const Held& held) {
  check(scenario);
  check(air);
  check_application(volume, spectrum, held, scenario.canopy);
  return unchecked::land(scenario, air, volume, spectrum, held);
}

Landing unchecked::land(const Scenario& scenario, const AirState& air, double volume,
                        const Spectrum& spectrum, const Held& held) {
  Landing landing;
  landing.layers = leaf_layers(scenario.canopy);
  if (scenario.application.method != Method::spray) {
    landing.split.substrate = 1.0;
    landing.straight = 1.0;
    return landing;
  }
  const Descent descent = fly_to_crop(scenario, air, spectrum);
  const Cascade fall =
      cascade(descent.onto_crowns, canopy_layers(scenario, air), impact_surface(scenario, air));
  landing.split.evaporated = descent.evaporated;
  landing.heat = descent.heat;
  landing.split.airborne = descent.airborne + fall.adrift;
  for (const LayerDeposit& deposit : fall.layers) {
    landing.shattered += deposit.shattered;
    landing.rebounded += deposit.rebounded;
  }
  const double drip = fill_layers(landing.layers, fall, scenario, volume, spectrum, held);
  for (const LeafLayer& layer : landing.layers) {
    landing.split.leaf += layer.liquid / volume;
    landing.split.stem += layer.stem.liquid / volume;
  }
  landing.stem_run_off = landing.layers.back().stem.run_off / volume;
  const Ground ground = ground_of(scenario.canopy);
  landing.straight = fall.untouched * ground.pot_below_crowns + descent.between_crowns * ground.pot_between;
  reach_ground(landing, ground, fall.ground + drip, descent.between_crowns);
  return landing;
}

Landing land(const Scenario& scenario, const AirState& air) {
  check(scenario);
  check(air);
  return unchecked::land(scenario, air);
}

FallingLiquid falling_below(const Scenario& scenario, const AirState& air, const Spectrum& spectrum,
                            int below) {
  constexpr double finest_hit = 1e-6;  // m, in diameter: impacts of finer droplets are not computed
  check(scenario);
  check(air);
  check(spectrum);
  if (below < 0 || below > scenario.canopy.layers)
    throw InputError("below = " + std::to_string(below) + " is not a number of leaf layers from 0 to " +
                     std::to_string(scenario.canopy.layers));
  const FlightInput input = flight_input(scenario, air);
  std::vector<Parcel> parcels;
  for (std::size_t i = 0; i < spectrum.diameter.size(); ++i) {
    const DropletFlight flight = fly(spectrum.diameter[i], input);
    if (flight.delivered > 0.0 && flight.diameter >= finest_hit)
      parcels.push_back({flight.diameter, flight.speed, std::abs(flight.angle),
                         spectrum.volume_share[i] * flight.delivered});
  }
  std::vector<CanopyLayer> above = canopy_layers(scenario, air);
  above.resize(static_cast<std::size_t>(below));
  const Cascade fall = cascade(parcels, above, impact_surface(scenario, air));
  Spectrum passing;
  for (const Parcel& parcel : fall.through) {
    passing.diameter.push_back(parcel.diameter);
    passing.volume_share.push_back(parcel.volume / fall.ground);
  }
  return {.share = fall.ground, .droplets = distinct(passing)};
}

}  // namespace wetspan
