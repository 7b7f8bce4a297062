#include "wetspan/study/clock.hpp"

#include "clock.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>
#include <set>
#include <string>

#include "wetspan/errors.hpp"
#include "wetspan/plant/uptake.hpp"
#include "wetspan/properties/constants.hpp"
#include "wetspan/properties/water.hpp"

namespace wetspan {
namespace clocks {

extern const Kernels baseline_kernels;
#ifdef WETSPAN_X86_KERNELS
extern const Kernels avx2_kernels, avx512_kernels;
#endif

namespace {

using std::numbers::pi;

/// Chebyshev's nodes.
template <std::size_t N>
std::array<double, N> nodes() {
  std::array<double, N> x{};
  for (std::size_t i = 0; i < N; ++i) {
    x[i] = -std::cos(pi * (static_cast<double>(i) + 0.5) / static_cast<double>(N));
  }
  return x;
}

template <std::size_t N>
struct Fitted {
  std::array<double, N> powers{};
  double tail = 0;  // size of the last two Chebyshev coefficients
};
/// The polynomial through `values` at nodes(N), in powers of x.
template <std::size_t N>
Fitted<N> through(const std::array<double, N>& values) {
  static const std::array<double, N> x = nodes<N>();
  std::array<double, N> before{}, now{};  // Chebyshev polynomials, in powers of x
  Fitted<N> result;
  before[0] = 1.0, now[1] = 1.0;
  for (std::size_t degree = 0; degree < N; ++degree) {
    double sum = 0.0;
    for (std::size_t i = 0; i < N; ++i) {
      sum += values[i] * std::cos(static_cast<double>(degree) * std::acos(x[i]));
    }
    sum *= (degree == 0 ? 1.0 : 2.0) / static_cast<double>(N);
    if (degree + 2 >= N) result.tail += std::abs(sum);
    for (std::size_t i = 0; i < N; ++i) result.powers[i] += sum * before[i];
    std::array<double, N> next{};
    for (std::size_t i = 0; i < N; ++i) next[i] = (i > 0 ? 2.0 * now[i - 1] : 0.0) - before[i];
    before = now, now = next;
  }
  return result;
}

/// The same polynomial, of 2 z - 1, in powers of z.
template <std::size_t N>
std::array<double, N> shifted(std::array<double, N> powers) {
  std::array<double, N> result{};
  for (std::size_t i = N; i-- > 0;) {  // Horner, on polynomials
    std::array<double, N> next{};
    for (std::size_t j = 0; j + 1 < N; ++j) next[j + 1] = 2.0 * result[j];
    for (std::size_t j = 0; j < N; ++j) next[j] -= result[j];
    next[0] += powers[i];
    result = next;
  }
  return result;
}

/// A function over middle - half_width to middle + half_width as a polynomial.
template <std::size_t N, class Function>
std::array<double, N> fit(Function function, double middle, double half_width) {
  std::array<double, N> values = nodes<N>();
  for (double& value : values) value = function(middle + half_width * value);
  return through(values).powers;
}

/// Gauss-Legendre quadrature of order 8.
template <class Function>
double integral(Function function, double from, double to) {
  constexpr double x[] = {0.3399810435848563, 0.8611363115940526},
                   w[] = {0.6521451548625461, 0.3478548451374538};
  const double middle = 0.5 * (from + to), half = 0.5 * (to - from);
  double sum = 0.0;
  for (int i = 0; i < 2; ++i) sum += w[i] * (function(middle - half * x[i]) + function(middle + half * x[i]));
  return half * sum;
}

/// The course of a drop on its clock, by the tangent t of half its angle: dsigma/dt = -(1 + t^2) / (2 f).
double per_tangent(double t) { return 0.5 * (1.0 + t * t) / evaporation_factor(t); }

/// sigma from one tangent down to another.
double between(double from, double to) {
  constexpr int pieces = 8;
  double sum = 0.0;
  for (int i = 0; i < pieces; ++i) {
    const double a = to + (from - to) * i / pieces, b = to + (from - to) * (i + 1) / pieces;
    sum += integral(per_tangent, a, b);
  }
  return sum;
}

/// What all drops of a contact and a receding angle go through.
struct Course {
  double contact = 0, receding_angle = 0;
  double fresh = 0, volume = 0;                  // tangent of half the contact angle; volume over R_0^3
  double pinned = 0;                             // sigma when the edge lets go
  double receding_share = 0;                     // volume left then
  double receding_factor = 0;                    // evaporation factor from then on
  double receding = 0;                           // fall of the base area with sigma
  std::array<double, course_terms> powers{};     // evaporation factor while pinned, in sigma / pinned
  std::array<double, course_terms + 1> share{};  // volume left, likewise
  double error = 0;                              // of the polynomial, relative

  Course() = default;
  Course(double contact_angle, double receding_to) : contact(contact_angle), receding_angle(receding_to) {
    fresh = std::tan(0.5 * contact);
    volume = cap_volume(fresh);
    const double last = std::min(fresh, std::tan(0.5 * receding_angle));
    receding_share = cap_volume(last) / volume;
    receding_factor = evaporation_factor(last);
    receding = receding_share > 0.0 ? 2.0 / 3.0 * pi * receding_factor / (volume * receding_share) : 0.0;
    pinned = between(fresh, last);
    std::array<double, course_terms> values = nodes<course_terms>();
    double t = fresh, sigma = 0.0;
    for (double& value : values) {
      const double target = 0.5 * pinned * (1.0 + value), above = t;
      for (int i = 0; i < 4; ++i) {  // Newton
        const double miss = target - sigma - integral(per_tangent, t, above);
        t -= miss / per_tangent(t);
      }
      sigma = target;
      value = evaporation_factor(t);
    }
    const auto fitted = through(values);
    powers = shifted(fitted.powers);
    error = fitted.tail / receding_factor;
    share[0] = 1.0;  // and dv/dsigma = -pi f / volume
    for (std::size_t i = 0; i < powers.size(); ++i) {
      share[i + 1] = -pinned * pi / volume * powers[i] / static_cast<double>(i + 1);
    }
  }

  struct Left {
    double sigma;   // [1]
    double flow;    // evaporation factor x base radius, over the fresh one [1]
    double square;  // base area, likewise [1]
  };
  /// A drop when that share of its volume is left.
  Left when_left(double volume_share) const {
    if (volume_share < receding_share) {
      const double square = std::pow(volume_share / receding_share, 2.0 / 3.0);
      return {pinned + (1.0 - square) / receding, receding_factor * std::sqrt(square), square};
    }
    const Cap now = cap(
        {.radius = 1.0, .fullness = fresh * (3.0 + fresh * fresh), .receding = receding_share}, volume_share);
    return {between(fresh, now.half_tangent), now.factor, 1.0};
  }
};

const Course& course_of(const Leaf& leaf) {
  thread_local Course course;
  if (course.contact != leaf.contact_angle || course.receding_angle != leaf.receding_angle) {
    course = Course(leaf.contact_angle, leaf.receding_angle);
  }
  return course;
}

}  // namespace

const Properties& properties() {
  static const Properties fits = [] {
    const double middle = Properties::middle, half = Properties::half_width;
    Properties f;
    f.saturation_pressure = fit<10>(air::saturation_pressure, middle, half);
    f.saturation_slope = fit<10>(air::saturation_pressure_slope, middle, half);
    f.over_ice = fit<14>(
        [](double T) { return std::log(air::saturation_pressure(std::min(T, Properties::coldest - 1e-9))); },
        Properties::ice_middle, Properties::ice_half_width);
    f.latent_heat = fit<8>([](double T) { return water::latent_heat(T); }, middle, half);
    using namespace constants;
    const auto mu = air::dynamic_viscosity, k = air::thermal_conductivity;
    f.conductivity = fit<6>(k, middle, half);
    f.viscosity = fit<6>([&](double T) { return mu(T) / k(T); }, middle, half);
    f.fluidity = fit<6>([&](double T) { return 1.0 / (gas_constant * T * mu(T)); }, middle, half);
    f.forced =
        fit<7>([&](double T) { return k(T) * std::cbrt(mu(T) / k(T)) / std::sqrt(gas_constant * T * mu(T)); },
               middle, half);
    f.free = fit<7>(
        [&](double T) {
          return k(T) * std::pow(gas_constant * gas_constant * T * T * T * mu(T) * k(T), -0.25);
        },
        middle, half);
    const auto w = [](double r) { return (1.0 - r) * molar_mass_dry_air + r * molar_mass_water; };
    const auto c = [](double r) { return air::specific_heat(molar_mass_ratio * r / (1.0 - r)); };
    const auto moist = [&]<std::size_t N>(std::array<double, N>& powers, auto function) {
      powers = fit<N>(function, Properties::half_moist, Properties::half_moist);
    };
    moist(f.heat, [&](double r) { return w(r) * c(r); });  // a straight line
    moist(f.specific_heat, c);
    moist(f.forced_moist, [&](double r) { return std::sqrt(w(r)) * std::cbrt(c(r)); });
    moist(f.free_moist, [&](double r) { return std::sqrt(w(r) * std::sqrt(c(r))); });
    moist(f.vapour_moist, [&](double r) { return 1.0 / std::cbrt(w(r) * c(r)); });
    f.mixing = shifted(fit<9>([](double x) { return std::pow(1.0 + x, 1.0 / 3.5); }, 0.5, 0.5));
    f.turbulent = shifted(fit<8>([](double x) { return std::pow(1.0 + x, 0.8); }, 0.5, 0.5));
    f.round = fit<7>([](double prandtl) { return std::pow(1.0 + std::pow(0.4 / prandtl, 2.0 / 3.0), -0.25); },
                     Properties::prandtl_middle, Properties::prandtl_half_width);
    return f;
  }();
  return fits;
}

const Kernels& kernels(Instructions instructions) {
#ifdef WETSPAN_X86_KERNELS
  if (instructions == Instructions::avx2) return avx2_kernels;
  if (instructions == Instructions::avx512) return avx512_kernels;
#endif
  (void)instructions;
  return baseline_kernels;
}

/// By how much the base area of a class may fall in a step, over what it was, for a cubic to stand in for its
/// radius; `weight` is its share of the edges of all that is wet. The n-th Legendre coefficient of the square
/// root that goes from 1 to k falls with ((1 - k) / (1 + k))^n.
double most_fall(double looseness, double weight) {
  if (weight <= looseness) return 1.0;
  const double ratio = std::sqrt(std::sqrt(looseness / weight));
  return 4.0 * ratio / ((1.0 + ratio) * (1.0 + ratio));  // 1 - k^2, where k is (1 - ratio) / (1 + ratio)
}

void make_ready(Event& event, const WetCrop& crop, const Load& load) {
  const Scenario& s = crop.scenario;
  const Course& course = course_of(s.leaf);
  Terms<double>& all = event.terms;
  const double by_came = 1.0 / (crop.came * crop.density), share = s.house.sprayed_share;
  const bool answers = crop.house_answers;
  const double length = 0.72 * s.leaf.width;
  const double diameter = s.stem.diameter;
  all = {};
  all.base = crop.base_temperature;
  all.wet_bulb = crop.wet_bulb();
  all.by_density = 1.0 / crop.density;
  all.by_came = by_came;
  all.answers = answers ? 1.0 : 0.0;
  all.vapour = answers ? crop.came * crop.density * share / s.house.height : 0.0;
  all.height = s.house.height;
  all.sprayed = share;
  all.by_capacity = 1.0 / s.house.heat_capacity;
  all.heat_loss = s.house.heat_loss;
  all.condensing = answers ? s.house.cover_conductance / share * by_came : 0.0;
  all.buoyancy = 0.54 * std::sqrt(std::sqrt(constants::gravity / length));
  all.leaf_capacity = s.leaf.heat_capacity;
  all.water_capacity = water::specific_heat(crop.base_temperature) * crop.density;
  all.stomata = s.leaf.stomatal_conductance;
  all.half_light = s.leaf.stomatal_half_light;
  // with each correlation of the diffusivity D, once
  static const auto diffusivities = [] {
    std::array<std::array<std::array<double, 6>, 2>, 2> fits;
    for (const auto choice : {air::VapourDiffusivity::massman, air::VapourDiffusivity::marrero_mason}) {
      auto& [diffusivity, over_heat] = fits[static_cast<std::size_t>(choice)];
      const auto at = [&](double T) { return air::vapour_diffusivity(T, 1.0, choice); };
      diffusivity = fit<6>(at, Properties::middle, Properties::half_width);
      over_heat = fit<6>(
          [&](double T) {
            const double over = at(T) / air::thermal_conductivity(T);
            return std::cbrt(constants::gas_constant * T / over) * over;
          },
          Properties::middle, Properties::half_width);
    }
    return fits;
  }();
  const auto& [diffusivity, over_heat] = diffusivities[static_cast<std::size_t>(s.air.diffusivity)];
  std::copy(diffusivity.begin(), diffusivity.end(), all.diffusivity);
  std::copy(over_heat.begin(), over_heat.end(), all.vapour_over_heat);
  // exp(a - b / T) through its values at two temperatures
  const auto arrhenius = [](double (&terms)[2], double energy, double reference, double at_reference) {
    terms[1] = energy / constants::gas_constant;
    terms[0] = std::log(at_reference) + terms[1] / reference;
  };
  constexpr double reference = 298.15;
  arrhenius(all.permeance, s.uptake.activation_energy, reference, permeance(s.active, s.uptake, reference));
  arrhenius(all.solubility, s.active.solubility_enthalpy, reference, solubility(s.active, reference));
  all.stems = crop.stems;
  all.stem_root = std::sqrt(diameter);
  all.by_diameter = 1.0 / diameter;
  all.stem_cuticle = s.uptake.stem_cuticle;
  all.by_on_stem = crop.on_stem > 0.0 ? 1.0 / (crop.density * crop.on_stem) : 0.0;
  if (crop.stem_active > 0.0) {
    all.stem_takes_up = 1.0;
    all.stem_depth = crop.on_stem / crop.stems;
    all.stem_fresh = crop.stem_active / crop.stems;
    if (all.stem_depth > 0.0) {
      all.stem_dilute = all.stem_fresh / all.stem_depth;
      all.stem_residue = 1.0 / (all.stem_fresh * s.uptake.wet_to_dry);
    }
  }
  all.bench = crop.bench_area;
  all.bench_conductance = s.house.bench_conductance;
  all.by_on_bench = crop.on_bench > 0.0 ? 1.0 / (crop.density * crop.on_bench) : 0.0;
  all.receding = course.receding;
  all.by_receding = course.receding > 0.0 ? 1.0 / course.receding : 1e100;
  all.abrupt = course.receding * course.pinned > 3.0 ? 1.0 : 0.0;
  all.at_release = 1.0 + course.receding * course.pinned;
  all.by_pinned = course.pinned > 0.0 ? 1.0 / course.pinned : 0.0;
  for (std::size_t j = 0; j < course_terms; ++j) all.course[j] = course.powers[j] / course.receding_factor;
  event.pinned = course.pinned;
  event.course_share = course.share;
  event.receding_share = course.receding_share;
  all.relative = 0.5 * s.numerics.tolerance;
  all.absolute = 0.1 * all.relative;
  all.of_clocks = std::min(0.2 * s.numerics.tolerance, 2e-4 * std::sqrt(s.numerics.tolerance));

  event.layers = crop.layers.size();
  event.air = &crop.air;
  event.start = crop.start;
  event.last = std::min(crop.air.time.back() - crop.start, s.numerics.longest);
  event.dry_share = s.numerics.dry_share;
  all.stem_share = crop.on_stem / crop.came;
  all.bench_share = crop.on_bench / crop.came;
  event.state.fill(0.0);
  event.state[stem_remains] = 1.0;
  event.state[stem_left] = crop.on_stem > 0.0 ? 1.0 : 0.0;
  event.state[bench_left] = crop.on_bench > 0.0 ? 1.0 : 0.0;
  event.state[house_heat] = load.air_heat / warmth_unit;
  event.state[answers ? house_vapour : carried_off] =
      crop.in_air / crop.came + all.stem_share + all.bench_share;
  const double looseness = 12.0 * std::sqrt(s.numerics.tolerance);
  for (std::size_t k = 0; k < event.layers; ++k) {
    const Layer& layer = crop.layers[k];
    LayerTerms<double>& terms = event.layer[k];
    const double strength = s.leaf.emissivity * constants::stefan_boltzmann;
    const double liquid =
        std::accumulate(layer.classes.begin(), layer.classes.end(), 0.0,
                        [](double sum, const DropletClass& drop) { return sum + drop.landed; });
    terms = {};
    terms.area = layer.area;
    terms.sun = s.leaf.absorptance * layer.light;
    terms.above = strength * layer.views.above;
    terms.below = strength * layer.views.below;
    terms.forced = 0.664 * s.leaf.turbulence * std::sqrt(layer.air_speed / length);
    terms.given = load.layers[k].temperature;
    terms.film = crop.film(k);
    terms.landed = layer.water / layer.area;
    terms.by_landed = layer.water > 0.0 ? 1.0 / (crop.density * terms.landed) : 0.0;
    terms.of_leaf_water = layer.water / crop.leaf_water;
    terms.takes_up = layer.active > 0.0 ? 1.0 : 0.0;
    terms.fresh = layer.active / layer.area;
    if (layer.active > 0.0 && layer.cover > 0.0 && liquid > 0.0) {
      terms.dilute = terms.fresh / liquid;
      terms.residue = layer.cover / (terms.fresh * s.uptake.wet_to_dry);
    }
    event.solute[k] = layer.solute;
    event.water_share[k] = layer.water / crop.came;
    event.state[entry_of(k, remains)] = 1.0;
    event.state[entry_of(k, water)] = layer.water > 0.0 ? 1.0 : 0.0;

    const auto [sigma, flow, square_left] = course.when_left(layer.volume(gone));
    terms.last_square = square_left;
    terms.dries = sigma, terms.lets_go = std::min(course.pinned, sigma);
    event.last_flow[k] = pi * flow / (course.volume * (1.0 - layer.solute));
    event.last_moments[k] = layer.solute <= 0.0 && gone < course.receding_share ? 1.5 : 1.0;
    for (std::size_t below = 0; below < 2; ++below) {
      Event::Side& side = event.side[k][below];
      const std::size_t from = below ? layer.lower : 0, to = below ? layer.classes.size() : layer.lower;
      side.count = to - from;
      side.pinned[side.count] = {};
      if (side.count == 0) continue;
      const double largest = layer.classes[to - 1].radius, unit = largest * largest * sigma;
      terms.by_clock_unit[below] = 1.0 / unit;
      double edges = 0.0;  // of all classes from one on
      for (std::size_t i = side.count; i-- > 0;) {
        const DropletClass& drop = layer.classes[from + i];
        const double square = drop.radius * drop.radius, edge = drop.number * pi * drop.radius;
        edges += edge;
        side.classes[i] = {.square = square / unit,
                           .by_square = unit / square,
                           .shell = edge * course.receding_factor,
                           .disc = drop.number * pi * square,
                           .share = drop.landed / liquid,
                           .weight = edge / edges,
                           .most_fall = most_fall(looseness, edge / edges)};
        side.pinned[i] = side.pinned[i + 1];
        side.pinned[i].disc += side.classes[i].disc;
        const double scale = all.by_pinned * side.classes[i].by_square;
        double power = edge;
        for (std::size_t j = 0; j < course_terms; ++j, power *= scale) {
          side.pinned[i].shell[j] += power * course.powers[j];
        }
      }
    }
  }
}

WetSpan read(const Solution& solution, const WetCrop& crop, const Load& load) {
  const auto& y = solution.state;
  WetSpan result;
  result.path = Path::clock;
  const double end = y[elapsed];
  result.wet_time = solution.wet_time;
  result.last_drop_time = solution.last_drop_time;
  result.stem_wet_time = solution.stem_wet_time;
  const bool dry = std::isfinite(result.wet_time), all_dry = dry && std::isfinite(result.stem_wet_time);
  result.status = all_dry ? Status::dry : Status::wet_at_end;
  result.wet_duration = dry ? result.wet_time : end;
  result.degree_seconds = warmth_unit * (dry ? solution.wet_warmth : y[warmth_sum]) +
                          (crop.base_temperature - constants::zero_celsius) * result.wet_duration;
  result.end = end;
  result.mean_leaf_temperature = crop.base_temperature + warmth_unit * y[warmth_sum] / end;
  result.end_temperature = crop.base_temperature + warmth_unit * y[entry_of(0, warmth)];
  result.steps = solution.steps;
  result.stem_uptake = 1.0 - y[stem_remains];
  result.layer_wet_time.reserve(crop.layers.size());
  result.left.layers.reserve(crop.layers.size());
  double sum = y[stem_left] * crop.on_stem + y[bench_left] * crop.on_bench +
               (y[house_vapour] + y[carried_off]) * crop.came;
  for (std::size_t k = 0; k < crop.layers.size(); ++k) {
    const Layer& layer = crop.layers[k];
    const Load::Layer& carried = load.layers[k];
    const double left = y[entry_of(k, water)] * layer.water;
    sum += left;
    result.cover += layer.cover / static_cast<double>(crop.layers.size());
    result.layer_wet_time.push_back(solution.layer_wet_time[k]);
    if (crop.leaf_active > 0.0) {
      result.leaf_uptake += layer.active * (1.0 - y[entry_of(k, remains)]) / crop.leaf_active;
    }
    const double liquid = carried.liquid * layer.solute + left;
    result.left.layers.push_back({.liquid = liquid,
                                  .strength = liquid > 0.0 ? carried.strength * carried.liquid / liquid : 1.0,
                                  .active = layer.active * y[entry_of(k, remains)],
                                  .dew = 0.0,
                                  .temperature = crop.base_temperature + warmth_unit * y[entry_of(k, warmth)],
                                  .droplets = carried.droplets});
  }
  double discs = 0.0;
  const Layer& top = crop.layers.front();
  for (std::size_t i = 0; i < top.lower; ++i) {
    discs += top.classes[i].number * pi * top.classes[i].radius * top.classes[i].radius;
  }
  result.wet_share = wet_share(discs);
  result.water_balance = (sum - crop.delivered) / crop.came;
  result.left.stem_liquid = y[stem_left] * crop.on_stem;
  result.left.stem_active = crop.stem_active * y[stem_remains];
  result.left.bench_liquid = y[bench_left] * crop.on_bench;
  result.left.air_vapour = crop.house_answers ? y[house_vapour] * crop.came : 0.0;
  result.left.air_heat = warmth_unit * y[house_heat];
  return result;
}

}  // namespace clocks

std::string_view name_of(Instructions instructions) {
  switch (instructions) {
    case Instructions::baseline:
      return "baseline";
    case Instructions::avx2:
      return "avx2";
    case Instructions::avx512:
      return "avx512";
  }
  return "";
}

std::span<const Instructions> instructions_here() {
  static const std::vector<Instructions> all = [] {
    std::vector<Instructions> result{Instructions::baseline};
#ifdef WETSPAN_X86_KERNELS
    const bool fma = __builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma");
    if (fma) result.push_back(Instructions::avx2);
    if (fma && __builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512dq") &&
        __builtin_cpu_supports("avx512bw") && __builtin_cpu_supports("avx512vl") &&
        __builtin_cpu_supports("avx512cd")) {
      result.push_back(Instructions::avx512);
    }
#endif
    return result;
  }();
  return all;
}

std::string_view clock_refuses(const Scenario& scenario, const Load& load, const Following& following) {
  double liquid = 0.0, dew = 0.0;
  for (const Load::Layer& layer : load.layers) liquid += layer.liquid, dew += layer.dew;
  if (liquid <= 0.0) return "no liquid on leaves";
  if (scenario.liquid.humectant * scenario.liquid.kappa > 0.0) return "a hygroscopic liquid";
  if (dew > 0.0) return "dew on the leaves";
  if (following.at_least > 0.0) return "followed beyond drying";
  if (std::isfinite(following.at_most)) return "not followed to the end";
  if (scenario.numerics.tolerance < 1e-8) return "a tolerance beyond the polynomials";
  if (clocks::course_of(scenario.leaf).error > std::max(1e-8, 0.1 * scenario.numerics.tolerance)) {
    return "a contact angle beyond the polynomial";
  }
  for (const Load::Layer& layer : load.layers) {
    if (layer.droplets.diameter.size() > clocks::most_classes) return "too many droplet classes";
  }
  return "";
}

void require_instructions(Instructions instructions) {
  const auto here = instructions_here();
  if (std::find(here.begin(), here.end(), instructions) != here.end()) return;
  std::string names;
  for (const Instructions each : here) names += (names.empty() ? "" : ", ") + std::string(name_of(each));
  throw InputError("this machine, or this build, has no " + std::string(name_of(instructions)) +
                   " instructions; it has: " + names);
}

ClockRun clock_spans(std::span<const SpanJob> jobs, Instructions instructions, bool one_lane) {
  require_instructions(instructions);
  std::set<const CropAir*> allowed;  // many spans share a record
  for (const SpanJob& job : jobs) {
    if (job.scenario == nullptr || job.load == nullptr || job.air == nullptr) {
      throw InputError("a span to follow needs a scenario, a load and an air record");
    }
    check(*job.scenario);
    if (allowed.insert(job.air).second) check(*job.air);
    check_start(*job.air, job.start);
    check_load(*job.load, *job.scenario);
  }
  ClockRun run{std::vector<std::optional<WetSpan>>(jobs.size()), 0};
  // one feed for each number of leaf layers, which the lanes of a kernel share
  class Given : public clocks::Feed {
   public:
    Given(std::span<const SpanJob> jobs, ClockRun& run, std::size_t layers)
        : jobs_(jobs), run_(run), layers_(layers) {}

    bool next(std::size_t slot, clocks::Event& event) override {
      if (slots_.size() <= slot) slots_.resize(slot + 1);
      for (; at_ < jobs_.size(); ++at_) {
        const SpanJob& job = jobs_[at_];
        if (job.load->layers.size() != layers_ || !clock_refuses(*job.scenario, *job.load).empty()) continue;
        slots_[slot].emplace(at_++, WetCrop(*job.scenario, *job.load, *job.air, job.start));
        clocks::make_ready(event, slots_[slot]->second, *job.load);
        return true;
      }
      return false;
    }
    void done(std::size_t slot, const clocks::Solution& solution) override {
      const auto& [job, crop] = *slots_[slot];
      if (solution.followed) run_.spans[job] = clocks::read(solution, crop, *jobs_[job].load);
    }

   private:
    std::span<const SpanJob> jobs_;
    ClockRun& run_;
    std::size_t layers_, at_ = 0;
    std::vector<std::optional<std::pair<std::size_t, WetCrop>>> slots_;
  };
  const clocks::Kernels& kernels = clocks::kernels(instructions);
  for (std::size_t layers = 1; layers <= clocks::most_layers; ++layers) {
    Given feed(jobs, run, layers);
    run.evaluations += (one_lane ? kernels.one : kernels.full)(feed, clocks::properties());
  }
  return run;
}

}  // namespace wetspan
