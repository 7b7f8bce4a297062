#include "wet_span_equations.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <numbers>
#include <optional>

#include "wetspan/plant/uptake.hpp"
#include "wetspan/properties/water.hpp"

namespace wetspan {
namespace {

using One = Lanes<1>;
using Two = Lanes<2>;  // classes side by side
using State = Equations::State;

constexpr double infinity = std::numeric_limits<double>::infinity();

/// Two neighbours from `i` on of `count` numbers; 0 behind their end.
Two::R two_of(const double* numbers, std::size_t i, std::size_t count) {
  Two::R two{};
  if (i + 1 < count) std::memcpy(&two, numbers + i, sizeof two);
  else Two::set(two, 0, numbers[i]);
  return two;
}
void put_two(const Two::R& two, double* numbers, std::size_t i, std::size_t count) {
  if (i + 1 < count) std::memcpy(numbers + i, &two, sizeof two);
  else numbers[i] = Two::get(two, 0);
}
double sum_of(const Two::R& two) { return Two::get(two, 0) + Two::get(two, 1); }

}  // namespace

double film_share(double left) {
  if (left <= 0.0) return 0.0;
  const double root = One::cbrt(left);
  return std::min(1.0, root * root);
}

Equations::Equations(const Scenario& s, const Load& load, const CropAir& record, double t0)
    : WetCrop(s, load, record, t0),
      of_{s.air.diffusivity},
      water_capacity_(water::specific_heat(base_temperature) * density),
      house_(house_terms(*this)),
      stomata_(stomata_terms(s.leaf)),
      uptake_(uptake_terms(s.active, s.uptake)) {
  for (const Layer& layer : layers) {
    LayerForms& forms = forms_.emplace_back();
    forms.leaf = leaf_terms(s.leaf, layer.light, layer.views, layer.air_speed);
    forms.stem = cylinder_terms(s.stem.diameter, layer.air_speed);
    if (!layer.classes.empty()) forms.angles = angles_of(layer.classes.front());
    double discs[2] = {};
    for (std::size_t i = 0; i < layer.classes.size(); ++i) {
      const DropletClass& drop = layer.classes[i];
      forms.edge.push_back(drop.number * std::numbers::pi * drop.radius);
      forms.disc.push_back(forms.edge.back() * drop.radius);
      forms.water.push_back(drop.landed * (1.0 - layer.solute));
      forms.by_mass.push_back(1.0 / (density * forms.water.back()));
      discs[i < layer.lower ? 0 : 1] += forms.disc.back();
    }
    for (std::size_t side = 0; side < 2; ++side) {
      forms.contact[side] = discs[side] > 0.0 ? wet_share(discs[side]) : 1.0;
    }
    for (std::size_t each = 0; each < surfaces; ++each) {
      const double area = each == on_stem ? layer.stem.area : layer.area;
      forms.fresh[each] = area > 0.0 ? layer.came[each].sum() / area : 0.0;
    }
    forms.gives.assign(layer.classes.size(), 1.0);
    forms.lies = forms.activity = forms.gives;
    forms.shell.assign(layer.classes.size(), 0.0);
  }
}

void Equations::set(std::size_t k, std::size_t i, Wetness wetness, State& y) {
  Layer& layer = layers[k];
  LayerForms& forms = forms_[k];
  const bool was_wet = layer.state[i] != Wetness::dried, is_wet = wetness != Wetness::dried;
  if (was_wet != is_wet) {
    // the liquid of a side is as strong in every class
    const std::size_t side = i < layer.lower ? on_upper : on_lower;
    const std::size_t from = side == on_upper ? 0 : layer.lower;
    const std::size_t to = side == on_upper ? layer.lower : layer.classes.size();
    double alike = 0.0, alike_classes = 0.0;
    for (std::size_t j = from; j < to; ++j) {
      if ((layer.state[j] != Wetness::dried) != was_wet) continue;
      alike += layer.classes[j].landed, alike_classes += 1.0;
    }
    const double share = alike_classes > 1.0 ? layer.classes[i].landed / alike : 1.0;
    if (was_wet) {
      dries(k, side, share, forms.disc[i], y);
    } else {  // a crystal takes up water
      const auto entry = static_cast<Eigen::Index>(layer.surface[side]);
      const double dissolves = share * y[entry + is_locked];
      y[entry + is_locked] -= dissolves, y[entry + in_liquid] += dissolves;
    }
  }
  layer.state[i] = wetness;
  forms.gives[i] = wetness == Wetness::active ? 1.0 : 0.0;
  forms.lies[i] = is_wet ? 1.0 : 0.0;
}

void Equations::stems_dry(std::size_t k, State& y) const { dries(k, on_stem, 1.0, 1.0, y); }

void Equations::dries(std::size_t k, std::size_t surface, double part, double contact, State& y) const {
  const auto entry = static_cast<Eigen::Index>(layers[k].surface[surface]);
  const double fresh = forms_[k].fresh[surface], moved = part * y[entry + in_liquid];
  if (!(fresh > 0.0)) return;
  const double turned = contact * turns_mobile(scenario.uptake, fresh * moved / contact) / fresh;
  y[entry + in_liquid] -= moved;
  y[entry + is_mobile] += turned, y[entry + is_locked] += moved - turned;
}

Equations::State Equations::first_state(const Load& load) const {
  State y = State::Zero(static_cast<Eigen::Index>(size));
  const std::vector<double> temperatures = first_temperatures(load);
  for (std::size_t k = 0; k < layers.size(); ++k) {
    const Layer& layer = layers[k];
    y[layer.warmth] = (temperatures[k] - base_temperature) / warmth_unit;
    y[layer.dew] = load.layers[k].dew / (dew_unit() * layer.area);
    y[layer.stem_left] = layer.stem.water > 0.0 ? 1.0 : 0.0;
    for (std::size_t each = 0; each < surfaces; ++each) {
      const double all = carried(k, each);
      if (!(all > 0.0)) continue;
      const auto entry = static_cast<Eigen::Index>(layer.surface[each]);
      y[entry + in_liquid] = layer.came[each].liquid / all;
      y[entry + is_mobile] = layer.came[each].mobile / all;
      y[entry + is_locked] = layer.came[each].locked / all;
    }
    std::fill_n(y.begin() + static_cast<std::ptrdiff_t>(layer.first), layer.classes.size(), 1.0);
  }
  y[bench_left] = on_bench > 0.0 ? 1.0 : 0.0;
  y[house_heat] = load.air_heat / warmth_unit;
  y[exchange()] = in_air / came;
  return y;
}

bool Equations::settles() const {
  return std::any_of(layers.begin(), layers.end(),
                     [](const Layer& layer) { return layer.hygroscopicity > 0.0; });
}

SprayedAir<double> Equations::air_at(const State& y, double t) const {
  const AirState now = air.at(start + t);
  const RecordedAir<double> record{now.temperature, now.vapour_pressure,     now.pressure,   now.speed,
                                   now.shortwave,   now.radiant_temperature, now.air_changes};
  return sprayed_air<One>(of_, house_, record, house_answers ? y[house_vapour] : 0.0, y[house_heat]);
}

double Equations::humidity_at(const Layer& layer, const State& y, double t) const {
  return air_at(y, t).free.vapour / air::saturation_vapour_density(temperature(layer, y));
}

double Equations::water_on(const Layer& layer, const State& y) const {
  double sum = y[layer.dew] * dew_unit() * layer.area;
  for (std::size_t i = 0; i < layer.classes.size(); ++i) sum += y[layer.entry(i)] * layer.per_bench(i);
  return sum;
}

double Equations::excess_on(const Layer& layer, const State& y, double t) const {
  if (layer.hygroscopicity <= 0.0) return water_on(layer, y);
  const double humidity = humidity_at(layer, y, t);
  if (humidity >= 1.0) return -infinity;  // in balance with saturated air a solution takes up any amount
  return water_on(layer, y) - layer.water * layer.hygroscopicity * humidity / (1.0 - humidity);
}

double Equations::wet_share_of(std::size_t k, const State& y) const {
  return wet_share(sum_classes(k, 0, layers[k].lower, y).discs);
}

double Equations::imbalance(const State& y) const {
  double sum = y[bench_left] * on_bench + (y[house_vapour] + y[carried_off]) * came;
  for (const Layer& layer : layers) sum += water_on(layer, y) + y[layer.stem_left] * layer.stem.water;
  return (sum - delivered) / came;
}

void Equations::operator()(const State& y, State& dy, double t) const {
  const SprayedAir<double> now = air_at(y, t);
  dy[carried_off] = 0.0;                     // what drips off leaves
  double source = follow_films(now, y, dy);  // evaporation per area of bench [kg/m2/s]
  for (std::size_t k = 0; k < layers.size(); ++k) source += follow_leaf(k, now, y, dy);

  const HouseRates<double> changes = house_rates<One>(of_, house_, now, y[house_heat], source);
  const double came_now = source * house_.by_came;
  dy[house_heat] = changes.heat;
  dy[house_vapour] = house_answers ? came_now - changes.leaving : 0.0;
  dy[carried_off] += house_answers ? changes.leaving : came_now;
}

double Equations::follow_films(const SprayedAir<double>& now, const State& y, State& dy) const {
  const AirDeficit<double> deficit = air_deficit<One>(of_, now.free, now.by_temperature, now.latent);
  const double permeance = arrhenius<One>(of_, uptake_.permeance, now.by_temperature);
  const double most = arrhenius<One>(of_, uptake_.most_dissolved, now.by_temperature);
  double source = 0.0;
  const double bench_wet = film_share(y[bench_left]);
  dy[bench_left] = 0.0;
  if (bench_wet > 0.0) {
    const double through = scenario.house.bench_conductance;
    source = bench_area * bench_wet *
             evaporation_of_film<One>(deficit, through * now.volumetric_heat, through, 0.0);
    dy[bench_left] = -source / (density * on_bench);
  }
  std::optional<CylinderAir<double>> around;
  for (std::size_t k = 0; k < layers.size(); ++k) {
    const Layer& layer = layers[k];
    const double left = y[layer.stem_left], wet = film_share(left);
    double rate = 0.0, uptake = 0.0;
    if (wet > 0.0) {
      if (!around) around = cylinder_air<One>(of_, now.free);
      const auto film = cylinder_layer_of<One>(of_, forms_[k].stem, *around, now.free);
      rate = layer.stem.area * wet *
             evaporation_of_film<One>(deficit, film.heat, film.vapour, layer.stem.light * now.shortwave);
      uptake = uptake_rate<One>(permeance * scenario.uptake.stem_cuticle, most, forms_[k].fresh[on_stem],
                                y[layer.surface[on_stem] + in_liquid], wet,
                                layer.stem.water / layer.stem.area * left);
    }
    dy[layer.stem_left] = wet > 0.0 ? -rate / (density * layer.stem.water) : 0.0;
    follow_surface(k, on_stem, uptake, permeance * uptake_.mobile_over_permeance, 1.0, y, dy);
    source += rate;
  }
  return source;
}

void Equations::follow_surface(std::size_t k, std::size_t surface, double rate, double mobile_rate,
                               double exposed, const State& y, State& dy) const {
  const auto entry = static_cast<Eigen::Index>(layers[k].surface[surface]);
  const double enters_wet = rate * y[entry + in_liquid], enters = mobile_rate * y[entry + is_mobile];
  const double goes = scenario.uptake.residue_loss * exposed * y[entry + is_locked];
  dy[entry + in_liquid] = -enters_wet;
  dy[entry + is_mobile] = -enters;
  dy[entry + is_locked] = -goes;
  dy[entry + was_taken] = enters_wet + enters;
  dy[entry + was_lost] = goes;
}

Equations::OnLeaves Equations::on_leaves(std::size_t k, const State& y) const {
  const Layer& layer = layers[k];
  const LayerForms& forms = forms_[k];
  OnLeaves on;
  double wet = 0.0;  // liquid that landed, of the classes that have not dried
  for (std::size_t i = 0; i < layer.classes.size(); ++i) {
    on.water[i < layer.lower ? 0 : 1] += forms.water[i] * forms.lies[i] * std::max(0.0, y[layer.entry(i)]);
    wet += forms.lies[i] * layer.classes[i].landed;
  }
  on.dew = std::max(0.0, y[layer.dew]) * dew_unit();
  on.dew_cover = film_share(y[layer.dew]);
  on.full = (on.water[0] + on.water[1] + wet * layer.solute + on.dew) / scenario.retention.leaf_store;
  return on;
}

Equations::SideSums Equations::sum_classes(std::size_t k, std::size_t from, std::size_t to,
                                           const State& y) const {
  const Layer& layer = layers[k];
  const LayerForms& forms = forms_[k];
  const double* left_of = y.data() + layer.first;
  Two::R shells{}, drive{}, discs{};
  for (std::size_t i = from; i < to; i += 2) {
    const Two::R lies = two_of(forms.lies.data(), i, to);
    if (!Two::any(lies > Two::all(0.0))) {
      put_two(Two::R{}, forms.shell.data(), i, to);
      continue;
    }
    const Two::R left = Two::max(two_of(left_of, i, to), 0.0);
    const CapShape<Two::R> shape =
        cap_shape<Two>(forms.angles, Two::fma(left, Two::all(1.0 - layer.solute), layer.solute));
    const Two::R shell =
        two_of(forms.edge.data(), i, to) * two_of(forms.gives.data(), i, to) * shape.radius * shape.factor;
    shells += shell;
    discs += two_of(forms.disc.data(), i, to) * lies * squared(shape.radius);
    put_two(shell, forms.shell.data(), i, to);
    if (layer.hygroscopicity <= 0.0) continue;
    const Two::R activity = left * Two::inverse(left + layer.hygroscopicity);
    drive += shell * activity;
    put_two(activity, forms.activity.data(), i, to);
  }
  const double all = sum_of(shells);
  return {.shells = all, .drive = layer.hygroscopicity > 0.0 ? sum_of(drive) : all, .discs = sum_of(discs)};
}

/// One side's droplets, and the dew on what they leave bare.
void Equations::side_gives(std::size_t k, bool below, const LeafSurface<double>& surface, double vapour,
                           const OnLeaves& on, const State& y, State& dy, GivenOff& given,
                           double& dew) const {
  const Layer& layer = layers[k];
  const LayerForms& forms = forms_[k];
  const std::size_t from = below ? layer.lower : 0, to = below ? layer.classes.size() : layer.lower;
  const double through = surface.through[below ? 1 : 0], D = surface.diffusivity;
  const SideSums sums = sum_classes(k, from, to, y);
  // all shells give into the same air outside them, which gives into the free air
  const double both = D * sums.shells + through;
  const double outside = both > 0.0 ? (D * sums.drive * surface.saturated + through * vapour) / both : vapour;
  for (std::size_t i = from; i < to; ++i) {
    const double flux = D * forms.shell[i] * (forms.activity[i] * surface.saturated - outside);
    const double drips = std::max(0.0, -flux) * on.full;  // full leaves hold no more
    dy[layer.entry(i)] = -(flux + drips) * forms.by_mass[i];
    given.evaporation += flux, given.dripping += drips;
  }
  const double covered = wet_share(sums.discs), bare = 1.0 - covered;
  dew += through * bare * (surface.deficit < 0.0 ? surface.deficit : on.dew_cover * surface.deficit);
  given.covered[below ? 1 : 0] = covered;
  if (below) given.lower_bare = bare * (1.0 - on.dew_cover);
}

double Equations::follow_leaf(std::size_t k, const SprayedAir<double>& now, const State& y, State& dy) const {
  const Layer& layer = layers[k];
  const LayerForms& forms = forms_[k];
  const double leaf = temperature(layer, y), saturation = air::saturation_pressure(leaf);
  const LeafSurface<double> surface =
      leaf_surface<One>(of_, forms.leaf, leaf, saturation, saturation, now.free);

  const OnLeaves on = on_leaves(k, y);
  GivenOff given;
  double dew = 0.0;  // that dries, per leaf area [kg/m2/s]
  for (const bool below : {false, true}) {
    side_gives(k, below, surface, now.free.vapour, on, y, dy, given, dew);
  }
  const double drips = std::max(0.0, -dew) * on.full;
  given.dew_changes = -(dew + drips) / density;
  dy[layer.dew] = given.dew_changes / dew_unit();
  dy[carried_off] += layer.area * (given.dripping + drips) * house_.by_came;
  const double evaporation = given.evaporation + dew;

  const double sun = now.shortwave * forms.leaf.sun;
  const double open = stomata_in_series<One>(stomata_, surface.through[1], sun, given.lower_bare);
  const double gain =
      heat_gain<One>(forms.leaf, surface, now.free, sun, evaporation + open * std::max(0.0, surface.deficit));
  const double capacity =
      scenario.leaf.heat_capacity + water_capacity_ * (on.water[0] + on.water[1] + on.dew);
  dy[layer.warmth] = gain / capacity / warmth_unit;

  follow_active(k, surface, on, given, y, dy);
  return layer.area * evaporation;
}

void Equations::follow_active(std::size_t k, const LeafSurface<double>& surface, const OnLeaves& on,
                              const GivenOff& given, const State& y, State& dy) const {
  const double permeance = arrhenius<One>(of_, uptake_.permeance, surface.by_temperature);
  const double most = arrhenius<One>(of_, uptake_.most_dissolved, surface.by_temperature);
  for (const std::size_t side : {on_upper, on_lower}) {
    const double left = y[layers[k].surface[side] + in_liquid];
    const double rate =
        uptake_rate<One>(permeance, most, forms_[k].fresh[side], left, given.covered[side], on.water[side]);
    follow_surface(k, side, rate, permeance * uptake_.mobile_over_permeance, 1.0 - on.dew_cover, y, dy);
    if (on.dew > 0.0) {
      dissolve_under_dew(k, side, permeance, most / scenario.uptake.supersaturation, on, given, y, dy);
    }
  }
}

/// Dew takes what it can of the locked deposit that it covers back into solution, up to the solubility; from
/// there it enters. While dew dries what falls out again is mobile in part: of so little, in proportion.
void Equations::dissolve_under_dew(std::size_t k, std::size_t side, double permeance, double solubility,
                                   const OnLeaves& on, const GivenOff& given, const State& y,
                                   State& dy) const {
  const auto entry = static_cast<Eigen::Index>(layers[k].surface[side]);
  const double fresh = forms_[k].fresh[side], contact = forms_[k].contact[side];
  const double locked = fresh * std::max(0.0, y[entry + is_locked]);  // per leaf area [kg/m2]
  if (!(locked > 0.0)) return;
  const double water = 0.5 * on.dew;  // on this side, per leaf area [m]
  const double depth = water / on.dew_cover;
  const bool saturated = locked > solubility * depth * contact;
  const double concentration = saturated ? solubility : locked / (depth * contact);
  const double enters = permeance * concentration * contact * on.dew_cover / fresh;
  const double changes = 0.5 * given.dew_changes;
  const double spreads =
      on.dew_cover < 1.0 ? 2.0 / 3.0 * on.dew_cover / water : 0.0;  // of the cover with water
  const double falls_out =
      std::max(0.0, -changes) * (saturated ? solubility * contact : locked * spreads) / fresh;
  const double turns = scenario.uptake.mobile_share * falls_out;
  dy[entry + is_locked] -= enters + turns;
  dy[entry + is_mobile] += turns;
  dy[entry + was_taken] += enters;
}

}  // namespace wetspan
