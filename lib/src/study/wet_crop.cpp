#include "wet_crop.hpp"

#include <cmath>
#include <numbers>
#include <sstream>
#include <utility>

#include "../plant/leaf_equations.hpp"
#include "../properties/liquid_range.hpp"
#include "house_equations.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/plant/canopy.hpp"
#include "wetspan/plant/uptake.hpp"
#include "wetspan/properties/water.hpp"

namespace wetspan {
namespace {

constexpr double trace = 1e-10;                 // m: thinner films on stems or bench are treated as dry
constexpr double no_molecule = 1e-33;           // m: less than one molecule of water on a hectare is none
constexpr double least_sprayed = 1e-15;         // share of a house's floor: less does not change its air [1]
constexpr double least_hygroscopicity = 1e-10;  // see hygroscopicity() [1]
constexpr double load_rounding = 1e-12;         // m or kg/m2: tolerance for negative amounts in a load
// A load outside these bounds is probably an error of units:
constexpr double coldest_leaf = 200.0;  // leaf temperature [K]
constexpr double hottest_leaf = 400.0;  // leaf temperature [K]
constexpr double most_warmth = 100.0;   // change of the house temperature by the spray, either way [K]

/// Leaves and stems of layer `k` from the top, without liquid.
Layer bare_layer(const std::vector<LeafLayer>& geometry, std::size_t k, double absorptance) {
  const LeafLayer& here = geometry[k];
  Layer layer{};
  layer.area = here.area;
  layer.light = here.light / layer.area;
  // seen from below, the layers have the reverse order
  layer.views = {.above = layer.light, .below = geometry[geometry.size() - 1 - k].light / layer.area};
  layer.air_speed = here.air_speed;
  layer.stem = {.area = here.stem.area, .water = 0.0, .light = absorptance * light_of_stems * layer.light};
  return layer;
}

/// Sets the water and the solute that landed on leaves, and the share of water at which a class counts as
/// dried out.
void set_liquid(Layer& layer, const Load::Layer& carries, const Liquid& liquid) {
  layer.solute = liquid.humectant * carries.strength;
  layer.water = carries.liquid > no_molecule ? carries.liquid * (1.0 - layer.solute) : 0.0;
  layer.hygroscopicity = layer.water > 0.0 ? hygroscopicity(liquid, layer.solute) : 0.0;
  layer.dries_at = gone;
  if (layer.hygroscopicity > 0.0 && liquid.efflorescence > 0.0) {
    layer.dries_at =
        std::max(gone, layer.hygroscopicity * liquid.efflorescence / (1.0 - liquid.efflorescence));
  }
  // a crystal does not dissolve if its solution would have less water than the limit for dried classes
  const double taken_up = layer.hygroscopicity * liquid.deliquescence / (1.0 - liquid.deliquescence);
  layer.deliquesces = liquid.deliquescence > 0.0 && taken_up > 2.0 * layer.dries_at;
}

/// Sets the water on stems; a film thinner than `trace` is left out.
void set_stem_water(Layer& layer, const Load::Layer& carries) {
  layer.stem.water = carries.stem_liquid > trace * layer.stem.area ? carries.stem_liquid : 0.0;
}

/// Sets the classes of droplets on both sides of the leaves, and the area that they cover. The lower side has
/// half as many classes.
void set_classes(Layer& layer, const Load::Layer& carries, const Scenario& s) {
  const double per_leaf = layer.water > 0.0 ? carries.liquid / layer.area : 0.0;
  const double below = per_leaf * s.retention.underleaf > no_molecule ? s.retention.underleaf : 0.0;
  layer.classes =
      deposit(carries.droplets, per_leaf * (1.0 - below), s.leaf.contact_angle, s.leaf.receding_angle);
  layer.lower = layer.classes.size();
  const auto under = deposit(merged(carries.droplets, (s.droplets.bins + 1) / 2), per_leaf * below,
                             s.leaf.contact_angle, s.leaf.receding_angle);
  layer.classes.insert(layer.classes.end(), under.begin(), under.end());
  layer.state.assign(layer.classes.size(), Wetness::active);
  double discs[2] = {0.0, 0.0};
  for (std::size_t i = 0; i < layer.classes.size(); ++i) {
    discs[i >= layer.lower] +=
        layer.classes[i].number * std::numbers::pi * layer.classes[i].radius * layer.classes[i].radius;
  }
  layer.cover = wet_share(discs[0]) + wet_share(discs[1]);
}

/// Sets the active ingredient on each surface. Where there is no water, what came in liquid has dried.
void set_active(Layer& layer, const Load::Layer& carries, const Uptake& uptake) {
  layer.came = {carries.upper, carries.lower, carries.stem};
  const bool wet[surfaces] = {layer.lower > 0, layer.classes.size() > layer.lower, layer.stem.water > 0.0};
  const double area[surfaces] = {layer.area, layer.area, layer.stem.area};
  for (const Surface surface : {on_upper, on_lower, on_stem}) {
    if (wet[surface]) continue;
    OnSurface& on = layer.came[surface];
    const double mobile =
        area[surface] > 0.0 ? area[surface] * turns_mobile(uptake, on.liquid / area[surface]) : 0.0;
    on.mobile += mobile, on.locked += on.liquid - mobile, on.liquid = 0.0;
  }
}

}  // namespace

double hygroscopicity(const Liquid& liquid, double solute) {
  const double its = liquid.kappa * solute / (1.0 - solute);
  return its < least_hygroscopicity ? 0.0 : its;
}

void check_start(const CropAir& air, double start) {
  if (air.time.size() < 2) throw InputError("an air record needs two moments or more");
  if (start >= air.time.front() && start < air.time.back()) return;
  std::ostringstream message;
  message << "the spray at " << start << " s is not within the air record, " << air.time.front() << " to "
          << air.time.back() << " s";
  throw InputError(message.str());
}

void check_load(const Load& load, const Scenario& scenario) {
  if (load.layers.size() != static_cast<std::size_t>(scenario.canopy.layers)) {
    std::ostringstream message;
    message << "the load has " << load.layers.size() << " leaf layers, the canopy " << scenario.canopy.layers;
    throw InputError(message.str());
  }
  const auto allowed = [](const char* name, double value, bool fits) {
    if (fits) return;
    std::ostringstream message;
    message << "the load's " << name << " = " << value << " is not possible";
    throw InputError(message.str());
  };
  const auto amount = [&](const char* name, double value) {
    allowed(name, value, std::isfinite(value) && value >= -load_rounding);
  };
  const auto active = [&](const char* name, const OnSurface& on) {
    amount(name, on.liquid), amount(name, on.mobile), amount(name, on.locked);
  };
  for (const Load::Layer& layer : load.layers) {
    amount("liquid on leaves [m]", layer.liquid);
    active("active ingredient on leaves [kg/m2]", layer.upper);
    active("active ingredient on leaves [kg/m2]", layer.lower);
    amount("dew [m]", layer.dew);
    allowed("strength of the liquid [1]", layer.strength,
            layer.strength >= 0.0 && scenario.liquid.humectant * layer.strength < 1.0);
    allowed(
        "leaf temperature [K]", layer.temperature,
        layer.temperature == 0.0 || (layer.temperature > coldest_leaf && layer.temperature < hottest_leaf));
    if (layer.liquid > 0.0) check(layer.droplets);
    amount("water on stems [m]", layer.stem_liquid);
    active("active ingredient on stems [kg/m2]", layer.stem);
  }
  amount("water on the bench [m]", load.bench_liquid);
  allowed("vapour in the house [m]", load.air_vapour, std::isfinite(load.air_vapour));
  allowed("warmth of the house [K]", load.air_heat, std::abs(load.air_heat) < most_warmth);
}

WetCrop::WetCrop(const Scenario& s, const Load& load, const CropAir& record, double t0)
    : scenario(s),
      air(record),
      start(t0),
      base_temperature(record.at(t0).temperature),
      density(water::density(std::clamp(base_temperature, coldest_liquid, hottest_liquid))),
      bench_area(1.0 - pot_cover(s.canopy)),
      on_bench(load.bench_liquid > trace * bench_area ? load.bench_liquid : 0.0),
      in_air(load.air_vapour + (load.bench_liquid - on_bench)),
      house_answers(s.house.enclosed && s.house.sprayed_share > least_sprayed) {
  const std::vector<LeafLayer> geometry = leaf_layers(s.canopy);
  layers.reserve(geometry.size());
  std::size_t next = first_layer;
  for (std::size_t k = 0; k < geometry.size(); ++k) {
    const Load::Layer& carries = load.layers[k];
    Layer layer = bare_layer(geometry, k, s.leaf.absorptance);
    layer.cuticle = leaf_cuticle(s.uptake, growing_share(s.canopy, k));
    set_liquid(layer, carries, s.liquid);
    set_stem_water(layer, carries);
    in_air += carries.stem_liquid - layer.stem.water;
    set_classes(layer, carries, s);
    set_active(layer, carries, s.uptake);
    layer.warmth = next++, layer.dew = next++, layer.stem_left = next++;
    layer.first = next;
    next += layer.classes.size();
    came += layer.water + carries.dew + layer.stem.water;
    leaf_water += layer.water, stem_water += layer.stem.water;
    leaf_active += carries.upper.sum() + carries.lower.sum(), stem_active += carries.stem.sum();
    layers.push_back(std::move(layer));
  }
  came += on_bench + in_air;
  delivered = came;
  came = std::max(came, dew_unit());  // a scale for dew if no water is delivered
  size = next;
}

double WetCrop::wet_bulb() const {
  const AirState first = air.at(start);
  return air::wet_bulb(first.temperature,
                       std::min(first.vapour_pressure, air::saturation_pressure(first.temperature)),
                       first.pressure);
}

double WetCrop::liquid_heat(std::size_t layer) const {
  const double liquid =
      water::specific_heat(base_temperature) * density * layers[layer].water / layers[layer].area;
  return liquid / (scenario.leaf.heat_capacity + liquid);
}

HouseTerms<double> house_terms(const WetCrop& crop) {
  const House& house = crop.scenario.house;
  const bool answers = crop.house_answers;
  const double by_came = 1.0 / (crop.came * crop.density);
  return {.answers = answers ? 1.0 : 0.0,
          .vapour = answers ? crop.came * crop.density * house.sprayed_share / house.height : 0.0,
          .height = house.height,
          .sprayed = house.sprayed_share,
          .by_capacity = 1.0 / house.heat_capacity,
          .heat_loss = house.heat_loss,
          .condensing = answers ? house.cover_conductance / house.sprayed_share * by_came : 0.0,
          .by_came = by_came};
}

std::vector<double> WetCrop::first_temperatures(const Load& load) const {
  const AirState first = air.at(start);
  const double wet = wet_bulb();
  std::vector<double> result;
  for (std::size_t k = 0; k < layers.size(); ++k) {
    const Layer& layer = layers[k];
    AirState around = first;
    around.speed = std::max(around.speed, stillest) * layer.air_speed;
    const double dry =
        load.layers[k].temperature > 0.0
            ? load.layers[k].temperature
            : dry_leaf_temperature(scenario.leaf, around.shortwave * scenario.leaf.absorptance * layer.light,
                                   layer.views, around, scenario.air.diffusivity);
    result.push_back(dry + liquid_heat(k) * (wet - dry));
  }
  return result;
}

}  // namespace wetspan
