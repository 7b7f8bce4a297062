// From a wet crop to an event of the clock kernel, and from the kernel's solution to a wet span.
//
// A class of n drops per leaf area, of base radius R_0, contact angle theta and fresh volume V_0, follows the
// clock s of its side (docs/science/clocks.md, "One clock for a side"). With sigma = s / R_0^2 and the
// evaporation factor f,
//
//   evaporation   n pi R D f (rho_sat - rho_s),   R = R_0 while the edge is pinned
//   pinned edge   f = sum over j of c_j (sigma / sigma_p)^j   until sigma = sigma_p
//   receding      f constant,   (R / R_0)^2 = at_release - receding sigma
//   dry           where `gone`, a thousandth, of its water is left
//
// c_j, sigma_p, at_release and receding are the same for all classes of a leaf (droplet_course.hpp). For each
// side, this file computes the sums of n pi R_0 c_j / (sigma_p R_0^2)^j and of n pi R_0^2 over the classes
// from every class on, so that the kernel evaluates one polynomial of the clock for all pinned classes.
//
// The kernel's clocks are in units of the clock at which the largest class of a side is dry; its amounts of
// water and active ingredient are relative to those that landed (clock_kernel.hpp lists the entries of the
// state).

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

#include "clock.hpp"
#include "droplet_course.hpp"
#include "wetspan/plant/drying.hpp"
#include "wetspan/properties/constants.hpp"
#include "wetspan/properties/water.hpp"

namespace wetspan::clocks {
namespace {

using std::numbers::pi;

double inverse_or_0(double x) { return x > 0.0 ? 1.0 / x : 0.0; }

// Step control, found by trial on the events of benchmarks/ at tolerances of 1e-4 and 1e-6.

/// Error of a cubic that stands for the edge of the last droplets of a side in a step, relative to the edge,
/// over the square root of the tolerance [1]. It limits how far they may recede in a step: see most_fall().
constexpr double looseness_at_1 = 12.0;
/// Relative tolerance of a step over that of the span [1]: errors of steps add up.
/// Drying times are sums of the steps of clocks and time, which have a smaller tolerance: `of_clocks` times
/// that of the span, and no more than `of_clocks_at_1` times its square root. The absolute tolerance is
/// `absolute_over_relative` times the relative one; the state is of order 1.
constexpr double of_steps = 0.5, of_clocks = 0.12, of_clocks_at_1 = 4e-4, absolute_over_relative = 0.1;
/// A drop recedes abruptly if its base area would fall to 0 in less than 1 / abruptness of the time for which
/// its edge is pinned [1]. A step then also ends where the edge begins to recede.
constexpr double abruptness = 3.0;

/// Largest relative decrease of the base area of the last class of a side in a step [1]. Its rate at the end
/// of the step tells how long its last thousandth of water will last, so the cubic must be good at its end.
/// Of other classes only the integral over the step matters, which is exact.
///
/// Within the step the radius is the square root of a linear function. If it falls from 1 to k, the n-th
/// Legendre coefficient of this root is of the order of ((1 - k) / (1 + k))^n, and the cubic omits those from
/// n = 4 on. Hence k from ((1 - k) / (1 + k))^4 = looseness.
double most_fall(double looseness) {
  if (looseness >= 1.0) return 1.0;
  const double ratio = std::sqrt(std::sqrt(looseness));
  return 4.0 * ratio / ((1.0 + ratio) * (1.0 + ratio));  // 1 - k^2, where k is (1 - ratio) / (1 + ratio)
}

CourseTerms<double> course_terms_of(const DropletCourse& course) {
  CourseTerms<double> terms{};
  constexpr double never = 1e100;
  terms.receding = course.receding;
  terms.by_receding = course.receding > 0.0 ? 1.0 / course.receding : never;
  terms.abrupt = course.receding * course.pinned > abruptness ? 1.0 : 0.0;
  terms.at_release = 1.0 + course.receding * course.pinned;
  terms.by_pinned = inverse_or_0(course.pinned);
  for (std::size_t j = 0; j < course_terms; ++j) terms.factor[j] = course.powers[j] / course.receding_factor;
  return terms;
}

/// Constants of a whole crop.
Terms<double> terms_of(const WetCrop& crop, const DropletCourse& course) {
  const Scenario& s = crop.scenario;
  Terms<double> all{};
  all.base = crop.base_temperature;
  all.wet_bulb = crop.wet_bulb();
  all.by_density = 1.0 / crop.density;
  all.house = house_terms(crop);
  all.stomata = stomata_terms(s.leaf);
  all.diffusion = diffusion_fits(s.air.diffusivity);
  all.uptake = uptake_terms(s.active, s.uptake);
  all.leaf_capacity = s.leaf.heat_capacity;
  all.water_capacity = water::specific_heat(crop.base_temperature) * crop.density;
  all.stem_cuticle = s.uptake.stem_cuticle;
  all.bench = crop.bench_area;
  all.bench_conductance = s.house.bench_conductance;
  all.by_on_bench = inverse_or_0(crop.density * crop.on_bench);
  all.bench_share = crop.on_bench / crop.came;
  all.course = course_terms_of(course);
  const double tolerance = s.numerics.tolerance;
  all.relative = of_steps * tolerance;
  all.absolute = absolute_over_relative * all.relative;
  all.of_clocks = std::min(of_clocks * tolerance, of_clocks_at_1 * std::sqrt(tolerance));
  return all;
}

/// Sets the classes of a side and their sums from each class on. Returns the reciprocal of the unit of its
/// clock [1/m2].
double make_side_ready(Event& event, std::size_t k, std::size_t below, const Layer& layer, double liquid,
                       const DropletCourse& course, double looseness) {
  Event::Side& side = event.side[k][below];
  const std::size_t from = below ? layer.lower : 0, to = below ? layer.classes.size() : layer.lower;
  side.count = to - from;
  side.pinned[side.count] = {};
  if (side.count == 0) return 0.0;
  const double largest = layer.classes[to - 1].radius, unit = largest * largest * event.layer[k].dries;
  double edges = 0.0;  // sum of n pi R_0 over the classes from i on
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
                       .most_fall = i + 1 < side.count ? 1.0 : most_fall(looseness)};
    side.pinned[i] = side.pinned[i + 1];
    side.pinned[i].disc += side.classes[i].disc;
    const double scale = event.terms.course.by_pinned * side.classes[i].by_square;
    double power = edge;
    for (std::size_t j = 0; j < course_terms; ++j, power *= scale) {
      side.pinned[i].shell[j] += power * course.powers[j];
    }
  }
  return 1.0 / unit;
}

/// Liquid on a side as it landed, per leaf area [m].
double liquid_on(const Layer& layer, std::size_t below) {
  const auto middle = layer.classes.begin() + static_cast<std::ptrdiff_t>(layer.lower);
  return std::accumulate(below ? middle : layer.classes.begin(), below ? layer.classes.end() : middle, 0.0,
                         [](double sum, const DropletClass& drop) { return sum + drop.landed; });
}

DryDeposit deposit_of(const OnSurface& carried, double area) {
  return {.mobile = carried.mobile / area, .locked = carried.locked / area};
}

void make_stems_ready(Event& event, std::size_t k, const WetCrop& crop) {
  const Scenario& s = crop.scenario;
  const StemTerms& stem = crop.layers[k].stem;
  LayerTerms<double>& terms = event.layer[k];
  const bool wet = stem.water > 0.0;
  terms.stem = cylinder_terms(s.stem.diameter, crop.layers[k].air_speed);
  terms.stems = stem.area;
  terms.stem_light = stem.light;
  terms.by_on_stem = inverse_or_0(crop.density * stem.water);
  terms.stem_share = stem.water / crop.came;
  terms.stem_depth = wet ? stem.water / stem.area : 0.0;
  const OnSurface& came = crop.layers[k].came[on_stem];
  terms.stem_fresh = stem.area > 0.0 ? came.liquid / stem.area : 0.0;
  event.state[entry_of(k, stem_water)] = wet ? 1.0 : 0.0;
  event.state[entry_of(k, stem_active)] = came.liquid > 0.0 ? 1.0 : 0.0;
  event.deposit[k][on_stem] = stem.area > 0.0 ? deposit_of(came, stem.area) : DryDeposit{};
}

void make_layer_ready(Event& event, std::size_t k, const WetCrop& crop, const Load& load,
                      const DropletCourse& course) {
  const Scenario& s = crop.scenario;
  const Layer& layer = crop.layers[k];
  LayerTerms<double>& terms = event.layer[k];
  terms = {};
  terms.leaf = leaf_terms(s.leaf, layer.light, layer.views, layer.air_speed);
  terms.area = layer.area;
  terms.permeance[0] = event.terms.uptake.permeance[0] + std::log(layer.cuticle);
  terms.permeance[1] = event.terms.uptake.permeance[1];
  terms.given = load.layers[k].temperature;
  terms.liquid_heat = crop.liquid_heat(k);
  terms.of_leaf_water = layer.water / crop.leaf_water;
  event.solute[k] = layer.solute;
  event.water_share[k] = layer.water / crop.came;
  make_stems_ready(event, k, crop);

  const auto [sigma, flow, square_left] = course.when_left(layer.volume(gone));
  terms.last_square = square_left;
  terms.dries = sigma, terms.lets_go = std::min(course.pinned, sigma);
  event.last_flow[k] = pi * flow / (course.volume * (1.0 - layer.solute));
  event.last_moments[k] = last_moments(layer.solute <= 0.0 && gone < course.receding_share, false);
  const double looseness = looseness_at_1 * std::sqrt(s.numerics.tolerance);
  for (std::size_t below = 0; below < 2; ++below) {
    const double liquid = liquid_on(layer, below), water = liquid * (1.0 - layer.solute);
    terms.landed[below] = water;
    terms.by_landed[below] = inverse_or_0(crop.density * water);
    terms.side_share[below] = layer.water > 0.0 ? water * layer.area / layer.water : 0.0;
    const OnSurface& came = layer.came[below ? on_lower : on_upper];
    terms.fresh[below] = came.liquid / layer.area;
    terms.by_clock_unit[below] = make_side_ready(event, k, below, layer, liquid, course, looseness);
    event.state[water_of(k, below)] = water > 0.0 ? 1.0 : 0.0;
    event.state[active_of(k, below)] = came.liquid > 0.0 ? 1.0 : 0.0;
    event.deposit[k][below ? on_lower : on_upper] = deposit_of(came, layer.area);
  }
}

}  // namespace

void make_ready(Event& event, const WetCrop& crop, const Load& load) {
  const Scenario& s = crop.scenario;
  const DropletCourse& course = course_of(s.leaf);
  event.terms = terms_of(crop, course);
  event.pinned = course.pinned;
  event.course_share = course.share;
  event.receding_share = course.receding_share;
  event.layers = crop.layers.size();
  event.air = &crop.air;
  event.start = crop.start;
  event.last = std::min(crop.air.time.back() - crop.start, s.numerics.longest);
  event.dry_share = s.numerics.dry_share;
  event.state.fill(0.0);
  event.state[bench_left] = crop.on_bench > 0.0 ? 1.0 : 0.0;
  event.state[house_heat] = load.air_heat / warmth_unit;
  event.state[crop.house_answers ? house_vapour : carried_off] =
      (crop.in_air + crop.stem_water) / crop.came + event.terms.bench_share;
  event.uptake = &s.uptake;
  for (std::size_t k = 0; k < event.layers; ++k) make_layer_ready(event, k, crop, load, course);
}

namespace {

/// The load that is left on a layer. Adds its uptake and losses to the sums of the span.
Load::Layer left_on(const Solution& solution, const WetCrop& crop, const Load::Layer& carried, std::size_t k,
                    WetSpan& span) {
  const auto& y = solution.state;
  const Layer& layer = crop.layers[k];
  const auto end = [&](Surface surface, LayerEntry entry, double area, double& taken, double& lost) {
    const DryDeposit& deposit = solution.deposit[k][surface];
    const double came = layer.came[surface].liquid,
                 left = came > 0.0 ? std::max(0.0, y[entry_of(k, entry)]) : 0.0;
    taken += came * (1.0 - left - solution.dried[k][surface]) + area * deposit.taken;
    lost += area * deposit.lost;
    return OnSurface{.liquid = came * left, .mobile = area * deposit.mobile, .locked = area * deposit.locked};
  };
  double water = 0.0, from_leaves = 0.0, from_stems = 0.0;
  for (std::size_t below = 0; below < 2; ++below) {
    water += y[water_of(k, below)] * liquid_on(layer, below) * (1.0 - layer.solute) * layer.area;
  }
  const double liquid = carried.liquid * layer.solute + water;
  Load::Layer left{.liquid = liquid,
                   .strength = liquid > 0.0 ? carried.strength * carried.liquid / liquid : 1.0,
                   .upper = end(on_upper, upper_active, layer.area, from_leaves, span.lost_from_leaves),
                   .lower = end(on_lower, lower_active, layer.area, from_leaves, span.lost_from_leaves),
                   .dew = 0.0,
                   .temperature = crop.base_temperature + warmth_unit * y[entry_of(k, warmth)],
                   .droplets = carried.droplets,
                   .stem_liquid = y[entry_of(k, stem_water)] * layer.stem.water,
                   .stem = end(on_stem, stem_active, layer.stem.area, from_stems, span.lost_from_stems)};
  span.layer_leaf_uptake.push_back(from_leaves);
  if (crop.leaf_active > 0.0) span.leaf_uptake += from_leaves / crop.leaf_active;
  if (crop.stem_active > 0.0) span.stem_uptake += from_stems / crop.stem_active;
  return left;
}

}  // namespace

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
  result.layer_wet_time.reserve(crop.layers.size());
  result.left.layers.reserve(crop.layers.size());
  double sum = y[bench_left] * crop.on_bench + (y[house_vapour] + y[carried_off]) * crop.came;
  for (std::size_t k = 0; k < crop.layers.size(); ++k) {
    const Layer& layer = crop.layers[k];
    result.cover += layer.cover / static_cast<double>(crop.layers.size());
    result.layer_wet_time.push_back(solution.layer_wet_time[k]);
    result.left.layers.push_back(left_on(solution, crop, load.layers[k], k, result));
    sum += result.left.layers.back().liquid - load.layers[k].liquid * layer.solute +
           result.left.layers.back().stem_liquid;
  }
  double discs = 0.0;
  const Layer& top = crop.layers.front();
  for (std::size_t i = 0; i < top.lower; ++i) {
    discs += top.classes[i].number * pi * top.classes[i].radius * top.classes[i].radius;
  }
  result.wet_share = wet_share(discs);
  result.water_balance = (sum - crop.delivered) / crop.came;
  result.left.bench_liquid = y[bench_left] * crop.on_bench;
  result.left.air_vapour = crop.house_answers ? y[house_vapour] * crop.came : 0.0;
  result.left.air_heat = warmth_unit * y[house_heat];
  return result;
}

}  // namespace wetspan::clocks
