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

/// Droplets recede so far in a step that a cubic is off by about this times the tolerance's square root: by
/// trial.
constexpr double looseness_at_1 = 12.0;
/// Of the tolerance: what the steps of the clocks are held to. Errors of a step add up to more than one
/// step's; those of clocks and time directly to those of drying times, at loose tolerances most.
constexpr double of_steps = 0.5, of_clocks = 0.2, of_clocks_at_1 = 2e-4, absolute_over_relative = 0.1;
/// A base area that falls to nothing in less than this share of the time that the edge held has an abrupt
/// end.
constexpr double abruptness = 3.0;

/// By how much the base area of a class may fall in a step, over what it was, for a cubic to stand in for its
/// radius; `weight` is its share of the edges of all that is wet. The n-th Legendre coefficient of the square
/// root that goes from 1 to k falls with ((1 - k) / (1 + k))^n.
double most_fall(double looseness, double weight) {
  if (weight <= looseness) return 1.0;
  const double ratio = std::sqrt(std::sqrt(looseness / weight));
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

/// What stands still of a whole crop.
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
  all.stem = cylinder_terms(s.stem.diameter, 1.0);
  all.stems = crop.stems;
  all.stem_cuticle = s.uptake.stem_cuticle;
  if (crop.stem_active > 0.0) {
    all.stem_depth = crop.on_stem / crop.stems;
    all.stem_deposit = deposit_terms(crop.stem_active / crop.stems, all.stem_depth, 1.0, s.uptake.wet_to_dry);
  }
  all.bench = crop.bench_area;
  all.bench_conductance = s.house.bench_conductance;
  all.by_on_stem = inverse_or_0(crop.density * crop.on_stem);
  all.by_on_bench = inverse_or_0(crop.density * crop.on_bench);
  all.stem_share = crop.on_stem / crop.came;
  all.bench_share = crop.on_bench / crop.came;
  all.course = course_terms_of(course);
  const double tolerance = s.numerics.tolerance;
  all.relative = of_steps * tolerance;
  all.absolute = absolute_over_relative * all.relative;
  all.of_clocks = std::min(of_clocks * tolerance, of_clocks_at_1 * std::sqrt(tolerance));
  return all;
}

/// What the classes of one side go through, from the largest down. Returns one over the unit of its clock.
double make_side_ready(Event& event, std::size_t k, std::size_t below, const Layer& layer, double liquid,
                       const DropletCourse& course, double looseness) {
  Event::Side& side = event.side[k][below];
  const std::size_t from = below ? layer.lower : 0, to = below ? layer.classes.size() : layer.lower;
  side.count = to - from;
  side.pinned[side.count] = {};
  if (side.count == 0) return 0.0;
  // the unit of the clock is the whole life of the largest class
  const double largest = layer.classes[to - 1].radius, unit = largest * largest * event.layer[k].dries;
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
    const double scale = event.terms.course.by_pinned * side.classes[i].by_square;
    double power = edge;
    for (std::size_t j = 0; j < course_terms; ++j, power *= scale) {
      side.pinned[i].shell[j] += power * course.powers[j];
    }
  }
  return 1.0 / unit;
}

void make_layer_ready(Event& event, std::size_t k, const WetCrop& crop, const Load& load,
                      const DropletCourse& course) {
  const Scenario& s = crop.scenario;
  const Layer& layer = crop.layers[k];
  LayerTerms<double>& terms = event.layer[k];
  const double liquid =
      std::accumulate(layer.classes.begin(), layer.classes.end(), 0.0,
                      [](double sum, const DropletClass& drop) { return sum + drop.landed; });
  terms = {};
  terms.leaf = leaf_terms(s.leaf, layer.light, layer.views, layer.air_speed);
  terms.area = layer.area;
  terms.given = load.layers[k].temperature;
  terms.liquid_heat = crop.liquid_heat(k);
  terms.landed = layer.water / layer.area;
  terms.by_landed = inverse_or_0(crop.density * terms.landed);
  terms.of_leaf_water = layer.water / crop.leaf_water;
  terms.deposit = deposit_terms(layer.active / layer.area, liquid, layer.cover, s.uptake.wet_to_dry);
  event.solute[k] = layer.solute;
  event.water_share[k] = layer.water / crop.came;
  event.state[entry_of(k, remains)] = 1.0;
  event.state[entry_of(k, water)] = layer.water > 0.0 ? 1.0 : 0.0;

  const auto [sigma, flow, square_left] = course.when_left(layer.volume(gone));
  terms.last_square = square_left;
  terms.dries = sigma, terms.lets_go = std::min(course.pinned, sigma);
  event.last_flow[k] = pi * flow / (course.volume * (1.0 - layer.solute));
  event.last_moments[k] = last_moments(layer.solute <= 0.0 && gone < course.receding_share, false);
  const double looseness = looseness_at_1 * std::sqrt(s.numerics.tolerance);
  for (std::size_t below = 0; below < 2; ++below) {
    terms.by_clock_unit[below] = make_side_ready(event, k, below, layer, liquid, course, looseness);
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
  event.state[stem_remains] = 1.0;
  event.state[stem_left] = crop.on_stem > 0.0 ? 1.0 : 0.0;
  event.state[bench_left] = crop.on_bench > 0.0 ? 1.0 : 0.0;
  event.state[house_heat] = load.air_heat / warmth_unit;
  event.state[crop.house_answers ? house_vapour : carried_off] =
      crop.in_air / crop.came + event.terms.stem_share + event.terms.bench_share;
  for (std::size_t k = 0; k < event.layers; ++k) make_layer_ready(event, k, crop, load, course);
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

}  // namespace wetspan::clocks
