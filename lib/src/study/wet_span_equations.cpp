#include "wet_span_equations.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

#include "wetspan/instructions.hpp"
#include "wetspan/properties/water.hpp"

namespace wetspan {
namespace {

using One = Lanes<1>;
using State = Equations::State;

constexpr double least_weight = 1e-3;  // of a class in the error of a step [1]
constexpr double last_dew = 1e-4;      // over the film that covers the leaf; see dew_share()
constexpr double dew_onset = 1e-6;     // over the vapour density at saturation; see condensing()

/// The vapour deficit that drives condensation on bare leaf [kg/m3]: none above 0; below, a parabola that
/// leads smoothly to the deficit itself, of which it takes off `dew_onset` of saturation. The air of a closed
/// house comes to rest at saturation. A sharp bend there would hold steps to seconds for days.
double condensing(double deficit, double saturated) {
  const double onset = dew_onset * saturated;
  if (deficit >= 0.0) return 0.0;
  return deficit > -2.0 * onset ? -0.25 * squared(deficit) / onset : deficit + onset;
}

}  // namespace

namespace classes {

extern const Kernel baseline_classes;
#ifdef WETSPAN_X86_KERNELS
extern const Kernel avx2_classes, avx512_classes;
#endif

const Kernel& kernel() {
#ifdef WETSPAN_X86_KERNELS
  const Instructions fastest = instructions_here().back();
  if (fastest == Instructions::avx2) return avx2_classes;
  if (fastest == Instructions::avx512) return avx512_classes;
#endif
  return baseline_classes;
}

}  // namespace classes

double film_share(double left) {
  if (left <= 0.0) return 0.0;
  const double root = One::cbrt(left);
  return std::min(1.0, root * root);
}

double dew_share(double left) {
  const double over = left / last_dew;
  if (over >= 1.0) return film_share(left);
  return over > 0.0 ? film_share(last_dew) * over * (4.0 - over) / 3.0 : 0.0;
}

Equations::Equations(const Scenario& s, const Load& load, const CropAir& record, double t0)
    : WetCrop(s, load, record, t0),
      kernel_(classes::kernel()),
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
    for (std::size_t i = 0; i < layer.classes.size(); ++i) {
      const DropletClass& drop = layer.classes[i];
      forms.edge.push_back(drop.number * std::numbers::pi * drop.radius);
      forms.disc.push_back(forms.edge.back() * drop.radius);
      forms.water.push_back(drop.landed * (1.0 - layer.solute));
      forms.by_mass.push_back(1.0 / (density * forms.water.back()));
      forms.lying += drop.landed;
    }
    forms.lies.assign(layer.classes.size(), 1.0);
    forms.activity = forms.lies;
    for (const auto& [from, to] :
         {std::pair{std::size_t{0}, layer.lower}, {layer.lower, layer.classes.size()}}) {
      double water = 0.0, area = 0.0;
      for (std::size_t i = from; i < to; ++i) water += forms.water[i], area += forms.disc[i];
      for (std::size_t i = from; i < to; ++i) {
        forms.weight.push_back(std::max(least_weight, 0.5 * (forms.water[i] / water + forms.disc[i] / area)));
      }
    }
    forms.shell.assign(layer.classes.size(), 0.0);
    forms.floor = forms.slope = forms.shell;
    if (layer.hygroscopicity <= 0.0) continue;
    for (std::size_t i = 0; i < layer.classes.size(); ++i) continue_below(forms_.size() - 1, i, 0.0);
  }
}

void Equations::continue_below(std::size_t k, std::size_t i, double share) {
  const double hygroscopicity = layers[k].hygroscopicity;
  continue_below(k, i, share, hygroscopicity / squared(share + hygroscopicity));
}

double Equations::water_of(std::size_t k, std::size_t i, const State& y) const {
  const double now = y[static_cast<Eigen::Index>(layers[k].entry(i))];
  const double hygroscopicity = layers[k].hygroscopicity, floor = forms_[k].floor[i];
  if (hygroscopicity <= 0.0 || now >= floor) return now;
  const double activity =
      std::max(0.0, floor / (floor + hygroscopicity) + (now - floor) * forms_[k].slope[i]);
  return hygroscopicity * activity / (1.0 - activity);
}

double Equations::entry_at(std::size_t k, std::size_t i, double activity) const {
  const double hygroscopicity = layers[k].hygroscopicity, floor = forms_[k].floor[i];
  const double there = floor / (floor + hygroscopicity);
  if (activity >= there) return hygroscopicity * activity / (1.0 - activity);
  return floor + (activity - there) / forms_[k].slope[i];
}

void Equations::set(std::size_t k, std::size_t i, Wetness wetness) {
  Layer& layer = layers[k];
  LayerForms& forms = forms_[k];
  layer.state[i] = wetness;
  forms.lies[i] = wetness == Wetness::dried ? 0.0 : 1.0;
  forms.lying = 0.0;
  for (std::size_t j = 0; j < layer.classes.size(); ++j) {
    forms.lying += forms.lies[j] * layer.classes[j].landed;
  }
}

Equations::State Equations::first_state(const Load& load) const {
  State y = State::Zero(static_cast<Eigen::Index>(size));
  const std::vector<double> temperatures = first_temperatures(load);
  for (std::size_t k = 0; k < layers.size(); ++k) {
    const Layer& layer = layers[k];
    y[layer.warmth] = (temperatures[k] - base_temperature) / warmth_unit;
    y[layer.dew] = load.layers[k].dew / (dew_unit() * layer.area);
    y[layer.stem_left] = layer.stem.water > 0.0 ? 1.0 : 0.0;
    std::fill_n(y.begin() + static_cast<std::ptrdiff_t>(layer.first), layer.classes.size(), 1.0);
  }
  y[bench_left] = on_bench > 0.0 ? 1.0 : 0.0;
  y[house_heat] = load.air_heat / warmth_unit;
  y[exchange()] = in_air / came;
  return y;
}

bool Equations::hygroscopic() const {
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
  if (humidity >= 1.0) return -infinity;  // in saturated air a solution has no equilibrium
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
  dy[carried_off] = 0.0;                     // drip from leaves
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
    double rate = 0.0;
    if (wet > 0.0) {
      if (!around) around = cylinder_air<One>(of_, now.free);
      const auto film = cylinder_layer_of<One>(of_, forms_[k].stem, *around);
      rate = layer.stem.area * wet *
             evaporation_of_film<One>(deficit, film.heat, film.vapour, layer.stem.light * now.shortwave);
    }
    dy[layer.stem_left] = wet > 0.0 ? -rate / (density * layer.stem.water) : 0.0;
    source += rate;
  }
  return source;
}

Equations::OnLeaves Equations::on_leaves(std::size_t k, const State& y) const {
  const Layer& layer = layers[k];
  const LayerForms& forms = forms_[k];
  const double* left = y.data() + layer.first;
  OnLeaves on;
  on.water[0] = kernel_.water(0, layer.lower, left, forms.lies.data(), forms.water.data());
  on.water[1] = kernel_.water(layer.lower, layer.classes.size(), left, forms.lies.data(), forms.water.data());
  on.dew = std::max(0.0, y[layer.dew]) * dew_unit();
  on.dew_cover = dew_share(y[layer.dew]);
  on.full = (on.water[0] + on.water[1] + forms.lying * layer.solute + on.dew) / scenario.retention.leaf_store;
  return on;
}

classes::Classes Equations::classes_of(std::size_t k) const {
  const LayerForms& forms = forms_[k];
  return {forms.angles,       layers[k].solute,     layers[k].hygroscopicity, forms.edge.data(),
          forms.disc.data(),  forms.lies.data(),    forms.floor.data(),       forms.slope.data(),
          forms.shell.data(), forms.activity.data()};
}

Equations::SideSums Equations::sum_classes(std::size_t k, std::size_t from, std::size_t to,
                                           const State& y) const {
  return kernel_.sum(classes_of(k), from, to, y.data() + layers[k].first);
}

/// All diffusion shells of a side are in parallel, and in series with the boundary layer.
double Equations::outside(const SideSums& sums, const LeafSurface<double>& surface, bool below,
                          double vapour) {
  const double through = surface.through[below ? 1 : 0], shells = surface.diffusivity * sums.shells;
  if (!(shells + through > 0.0)) return vapour;
  return (surface.diffusivity * sums.drive * surface.saturated + through * vapour) / (shells + through);
}

LeafSurface<double> Equations::surface_of(std::size_t k, const SprayedAir<double>& now, double leaf) const {
  const double saturation = air::saturation_pressure(leaf);
  return leaf_surface<One>(of_, forms_[k].leaf, leaf, saturation, saturation, now.free);
}

double Equations::humidity_outside(std::size_t k, bool below, const SideSums& sums, const State& y,
                                   double t) const {
  const SprayedAir<double> now = air_at(y, t);
  const LeafSurface<double> surface = surface_of(k, now, temperature(layers[k], y));
  return outside(sums, surface, below, now.free.vapour) / surface.saturated;
}

double Equations::settled_humidity(std::size_t k, std::size_t i, const State& y, double t) const {
  const Layer& layer = layers[k];
  const LayerForms& forms = forms_[k];
  const bool below = i >= layer.lower;
  const std::size_t from = below ? layer.lower : 0, to = below ? layer.classes.size() : layer.lower;
  SideSums sums = sum_classes(k, from, to, y);
  sums.shells = sums.drive = 0.0;
  for (std::size_t j = from; j < to; ++j) {
    if (layer.state[j] != Wetness::active) continue;
    sums.shells += forms.shell[j], sums.drive += forms.shell[j] * forms.activity[j];
  }
  return humidity_outside(k, below, sums, y, t);
}

double Equations::balance_of(std::size_t k, std::size_t i, const State& y, double t) const {
  const Layer& layer = layers[k];
  const bool below = i >= layer.lower;
  const SideSums sums =
      sum_classes(k, below ? layer.lower : 0, below ? layer.classes.size() : layer.lower, y);
  const double humidity = humidity_outside(k, below, sums, y, t);
  return humidity < 1.0 ? layer.hygroscopicity * humidity / (1.0 - humidity) : infinity;
}

/// Fluxes of the droplets of one side, and of the dew on the area between them.
void Equations::side_gives(std::size_t k, bool below, const LeafSurface<double>& surface, double vapour,
                           const OnLeaves& on, const State& y, State& dy, GivenOff& given) const {
  const Layer& layer = layers[k];
  const LayerForms& forms = forms_[k];
  const std::size_t from = below ? layer.lower : 0, to = below ? layer.classes.size() : layer.lower;
  const SideSums sums = sum_classes(k, from, to, y);
  const classes::Given gives =
      kernel_.give(classes_of(k), from, to,
                   {surface.diffusivity, surface.saturated, outside(sums, surface, below, vapour), on.full},
                   forms.by_mass.data(), dy.data() + layer.first);
  given.evaporation += gives.evaporation, given.dripping += gives.dripping;
  bare_side_gives(below, surface, on, sums.discs, given);
}

void Equations::bare_side_gives(bool below, const LeafSurface<double>& surface, const OnLeaves& on,
                                double discs, GivenOff& given) {
  const double through = surface.through[below ? 1 : 0], covered = wet_share(discs), bare = 1.0 - covered;
  const double falls = condensing(surface.deficit, surface.saturated);
  given.dew += through * bare * (falls + on.dew_cover * (surface.deficit - falls));
  if (below) given.lower_bare = bare * (1.0 - on.dew_cover);
}

Equations::LeafRates Equations::leaf_rates(std::size_t k, const SprayedAir<double>& now,
                                           const LeafSurface<double>& surface, const OnLeaves& on,
                                           const GivenOff& given) const {
  const LayerForms& forms = forms_[k];
  const double drips = std::max(0.0, -given.dew) * on.full;
  const double evaporation = given.evaporation + given.dew;
  const double sun = now.shortwave * forms.leaf.sun;
  const double open = stomata_in_series<One>(stomata_, surface.through[1], sun, given.lower_bare);
  const double gain =
      heat_gain<One>(forms.leaf, surface, now.free, sun, evaporation + open * std::max(0.0, surface.deficit));
  const double capacity =
      scenario.leaf.heat_capacity + water_capacity_ * (on.water[0] + on.water[1] + on.dew);
  return {.warmth = gain / capacity / warmth_unit,
          .dew = -(given.dew + drips) / density / dew_unit(),
          .dripping = given.dripping + drips,
          .evaporation = evaporation};
}

double Equations::follow_leaf(std::size_t k, const SprayedAir<double>& now, const State& y, State& dy) const {
  const Layer& layer = layers[k];
  const LeafSurface<double> surface = surface_of(k, now, temperature(layer, y));
  const OnLeaves on = on_leaves(k, y);
  GivenOff given;
  for (const bool below : {false, true}) {
    side_gives(k, below, surface, now.free.vapour, on, y, dy, given);
  }
  const LeafRates rates = leaf_rates(k, now, surface, on, given);
  dy[layer.warmth] = rates.warmth;
  dy[layer.dew] = rates.dew;
  dy[carried_off] += layer.area * rates.dripping * house_.by_came;
  return layer.area * rates.evaporation;
}

void Equations::surfaces_now(const State& y, double t, std::vector<LayerNow>& layers_now) const {
  const double by_air = air_at(y, t).by_temperature;
  layers_now.assign(layers.size(), {});
  // permeances are relative to mature leaves; that of stems holds for liquid, that of leaves for all deposits
  const auto wetted = [&](double by_temperature, double leaf, double stem, double covered, double depth) {
    const double permeance = leaf * arrhenius<One>(of_, uptake_.permeance, by_temperature);
    const double most = arrhenius<One>(of_, uptake_.most_dissolved, by_temperature);
    return SurfaceNow{.dissolved = uptake_of_dissolved(permeance * stem, covered, depth),
                      .saturated = uptake_of_saturated(permeance * stem, covered, depth, most),
                      .mobile = permeance * uptake_.mobile_over_permeance,
                      .permeance = permeance,
                      .solubility = most / scenario.uptake.supersaturation};
  };
  for (std::size_t k = 0; k < layers.size(); ++k) {
    const Layer& layer = layers[k];
    LayerNow& now = layers_now[k];
    const double film = std::max(0.0, y[layer.stem_left]);
    const double on_stems = layer.stem.area > 0.0 ? layer.stem.water / layer.stem.area * film : 0.0;
    now[on_stem] = wetted(by_air, 1.0, scenario.uptake.stem_cuticle, film_share(film), on_stems);
    OnLeaves on = on_leaves(k, y);
    for (const std::size_t side : {on_upper, on_lower}) {
      const std::size_t from = side == on_upper ? 0 : layer.lower;
      const std::size_t to = side == on_upper ? layer.lower : layer.classes.size();
      if (layer.hygroscopicity > 0.0) {  // uptake ends without liquid, however little there is
        on.water[side] = 0.0;
        for (std::size_t i = from; i < to; ++i) {
          on.water[side] += forms_[k].water[i] * forms_[k].lies[i] * std::max(0.0, water_of(k, i, y));
        }
      }
      now[side] = wetted(1.0 / temperature(layer, y), layer.cuticle, 1.0,
                         wet_share(sum_classes(k, from, to, y).discs), on.water[side]);
      now[side].dew_cover = on.dew_cover, now[side].dew = 0.5 * on.dew;
    }
  }
}

}  // namespace wetspan
