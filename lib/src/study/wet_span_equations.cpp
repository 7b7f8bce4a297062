#include "wet_span_equations.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <numbers>

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
      uptake_(uptake_terms(s.active, s.uptake)),
      stem_(cylinder_terms(s.stem.diameter, 1.0)),
      stem_deposit_(deposit_terms(stems > 0.0 ? stem_active / stems : 0.0,
                                  stems > 0.0 ? on_stem / stems : 0.0, 1.0, s.uptake.wet_to_dry)) {
  for (const Layer& layer : layers) {
    LayerForms& forms = forms_.emplace_back();
    forms.leaf = leaf_terms(s.leaf, layer.light, layer.views, layer.air_speed);
    if (!layer.classes.empty()) forms.angles = angles_of(layer.classes.front());
    for (const DropletClass& drop : layer.classes) {
      forms.landed += drop.landed;
      forms.edge.push_back(drop.number * std::numbers::pi * drop.radius);
      forms.disc.push_back(forms.edge.back() * drop.radius);
      forms.water.push_back(drop.landed * (1.0 - layer.solute));
      forms.by_mass.push_back(1.0 / (density * forms.water.back()));
    }
    forms.deposit = deposit_terms(layer.active / layer.area, forms.landed, layer.cover, s.uptake.wet_to_dry);
    forms.gives.assign(layer.classes.size(), 1.0);
    forms.lies = forms.activity = forms.gives;
    forms.shell.assign(layer.classes.size(), 0.0);
  }
}

void Equations::set(std::size_t layer, std::size_t i, Wetness wetness) {
  layers[layer].state[i] = wetness;
  forms_[layer].gives[i] = wetness == Wetness::active ? 1.0 : 0.0;
  forms_[layer].lies[i] = wetness == Wetness::dried ? 0.0 : 1.0;
}

Equations::State Equations::first_state(const Load& load) const {
  State y = State::Zero(static_cast<Eigen::Index>(size));
  const std::vector<double> temperatures = first_temperatures(load);
  for (std::size_t k = 0; k < layers.size(); ++k) {
    const Layer& layer = layers[k];
    y[layer.warmth] = (temperatures[k] - base_temperature) / warmth_unit;
    y[layer.dew] = load.layers[k].dew / (dew_unit() * layer.area);
    std::fill_n(y.begin() + static_cast<std::ptrdiff_t>(layer.first), layer.classes.size(), 1.0);
  }
  y[stem_left] = on_stem > 0.0 ? 1.0 : 0.0;
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
  double sum = y[stem_left] * on_stem + y[bench_left] * on_bench + (y[house_vapour] + y[carried_off]) * came;
  for (const Layer& layer : layers) sum += water_on(layer, y);
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
  dy[stem_left] = dy[bench_left] = dy[stem_taken] = 0.0;
  const double stem_wet = film_share(y[stem_left]), bench_wet = film_share(y[bench_left]);
  double source = 0.0;
  if (stem_wet > 0.0 || bench_wet > 0.0) {
    const AirDeficit<double> deficit = air_deficit<One>(of_, now.free, now.by_temperature, now.latent);
    const auto film = [&](Entry left, double area, double water, double heat, double vapour) {
      const double rate = area * evaporation_of_film<One>(deficit, heat, vapour);
      dy[left] = -rate / (density * water);
      source += rate;
    };
    if (stem_wet > 0.0) {
      const auto layer = cylinder_layer_of<One>(of_, stem_, now.free);
      film(stem_left, stems * stem_wet, on_stem, layer.heat, layer.vapour);
    }
    if (bench_wet > 0.0) {
      const double through = scenario.house.bench_conductance;
      film(bench_left, bench_area * bench_wet, on_bench, through * now.volumetric_heat, through);
    }
  }
  if (stem_active > 0.0) {
    const double through =
        arrhenius<One>(of_, uptake_.permeance, now.by_temperature) * scenario.uptake.stem_cuticle;
    const double depth = on_stem / stems * std::max(0.0, y[stem_left]);
    dy[stem_taken] =
        uptake_rate<One>(stem_deposit_, through, arrhenius<One>(of_, uptake_.solubility, now.by_temperature),
                         std::exp(-y[stem_taken]), stem_wet, stem_wet, depth);
  }
  return source;
}

Equations::OnLeaves Equations::on_leaves(std::size_t k, const State& y) const {
  const Layer& layer = layers[k];
  const LayerForms& forms = forms_[k];
  OnLeaves on;
  double wet = 0.0;  // liquid that landed, of the classes that have not dried
  for (std::size_t i = 0; i < layer.classes.size(); ++i) {
    on.water += forms.water[i] * forms.lies[i] * std::max(0.0, y[layer.entry(i)]);
    wet += forms.lies[i] * layer.classes[i].landed;
  }
  on.dissolving = wet;
  on.dew = std::max(0.0, y[layer.dew]) * dew_unit();
  on.dew_cover = film_share(y[layer.dew]);
  on.full = (on.water + wet * layer.solute + on.dew) / scenario.retention.leaf_store;
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
  given.wet_area += covered + bare * on.dew_cover;
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
  dy[layer.dew] = -(dew + drips) / (density * dew_unit());
  dy[carried_off] += layer.area * (given.dripping + drips) * house_.by_came;
  const double evaporation = given.evaporation + dew;

  const double sun = now.shortwave * forms.leaf.sun;
  const double open = stomata_in_series<One>(stomata_, surface.through[1], sun, given.lower_bare);
  const double gain =
      heat_gain<One>(forms.leaf, surface, now.free, sun, evaporation + open * std::max(0.0, surface.deficit));
  const double capacity = scenario.leaf.heat_capacity + water_capacity_ * (on.water + on.dew);
  dy[layer.warmth] = gain / capacity / warmth_unit;

  dy[layer.taken] = 0.0;
  if (layer.active > 0.0) {
    const double wet = forms.landed > 0.0 ? on.dissolving / forms.landed : 0.0;
    dy[layer.taken] = uptake_rate<One>(
        forms.deposit, arrhenius<One>(of_, uptake_.permeance, surface.by_temperature),
        arrhenius<One>(of_, uptake_.solubility, surface.by_temperature), std::exp(-y[layer.taken]),
        wet + (1.0 - wet) * on.dew_cover, given.wet_area, on.water + on.dew);
  }
  return layer.area * evaporation;
}

}  // namespace wetspan
