#include "wetspan/study/bench.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <utility>

#include "../parameter_rows.hpp"
#include "../require.hpp"
#include "../root.hpp"
#include "../spray/passes.hpp"
#include "bench_air.hpp"
#include "bench_layout.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/plant/canopy.hpp"
#include "wetspan/spray/nozzle.hpp"
#include "wetspan/spray/tank.hpp"
#include "wetspan/study/outcomes.hpp"
#include "wetspan/study/simulate.hpp"

namespace wetspan {
namespace {

constexpr double plant_tolerance = 1e-4;  // for plants; the error of growth control is at most 1e-5
constexpr double lever_tolerance = 1e-3;  // for plants in the computation of levers
constexpr double more_liquid = 1.5;       // factor on the liquid in the lever "volume"
/// Share of the mean deposit below which a map is not divided by the map of its path [1]: only cells beside
/// the spray lie there.
constexpr double nothing_there = 1e-9;
/// Tolerance for the height of drenched plants in the search of the concentration, relative to the check [1].
constexpr double same_height = 1e-6;
/// Tolerance for the logarithm of the concentration in that search. A change of the logarithm changes control
/// by at most a quarter of it.
constexpr double concentration_found = 4.0 * same_height;

void check(const Pouring& value) { WETSPAN_CHECK_ROWS("drench", WETSPAN_DRENCH) }
void check(const BenchSettings& value) { WETSPAN_CHECK_ROWS("bench", WETSPAN_BENCH) }

/// The smallest deposit that counts as sprayed [m].
double least_deposit() {
  static const double low = parameters()[parameter_index("application.volume_rate")].low;
  return low;
}

double mean(std::span<const double> values) {
  double sum = 0.0;
  for (const double value : values) sum += value;
  return values.empty() ? 0.0 : sum / static_cast<double>(values.size());
}

/// Coefficient of variation; 0 if all values are 0.
double variation(std::span<const double> values) {
  const double middle = mean(values);
  double squares = 0.0;
  for (const double value : values) squares += (value - middle) * (value - middle);
  return middle > 0.0 ? std::sqrt(squares / static_cast<double>(values.size())) / middle : 0.0;
}

std::vector<double> doses_of(const RowTable& outcomes) {
  const auto leaf = outcomes.column("tips.leaf"), stem = outcomes.column("tips.stem"),
             root = outcomes.column("tips.root");
  std::vector<double> doses;
  for (std::size_t i = 0; i < outcomes.count; ++i) doses.push_back(leaf[i] + stem[i] + root[i]);
  return doses;
}

std::vector<double> heights_of(const RowTable& outcomes) {
  std::vector<double> heights;
  for (const double control : outcomes.column("growth_control")) heights.push_back(1.0 - control);
  return heights;
}

std::vector<std::uint8_t> inside(std::span<const double> heights, double band) {
  const double middle = mean(heights);
  std::vector<std::uint8_t> result;
  for (const double height : heights) result.push_back(std::abs(height / middle - 1.0) <= band);
  return result;
}

/// The plants on the bench.
struct Stand {
  Scenario scenario;  // of the mean plant
  std::vector<Place> places;
  std::vector<double> sizes, pots, crowns, pours;  // one a plant; pours over the mean volume of a drench [1]
  double density = 0;                              // [1/m2]

  bool drenched() const { return scenario.application.method == Method::drench; }
};

Stand stand_of(const BenchInput& input) {
  Stand stand;
  stand.scenario = input.scenario;
  stand.places = places(input.layout);
  stand.density = input.plant_density;
  stand.sizes = sizes(input.layout, input.seed);
  const double crown = crown_diameter(input.scenario.canopy);
  for (std::size_t i = 0; i < stand.places.size(); ++i) {
    stand.crowns.push_back(crown * stand.sizes[i]);
    const auto& pots = input.pot_diameters;
    stand.pots.push_back(pots.empty() ? input.scenario.canopy.pot_diameter
                                      : pots[static_cast<std::size_t>(stand.places[i].row) % pots.size()]);
    stand.pours.push_back(lognormal(noise(input.seed, pour_stream, i), input.pouring.pouring_variation));
  }
  return stand;
}

/// The air in which plants dry, and the options of the computation.
struct Drying {
  const CropAir& air;
  double start = 0;
  const BatchOptions& options;
  std::span<const double> weeks = {};
  double tolerance = plant_tolerance;
};

/// A spray on the bench.
struct Spray {
  const Pattern& pattern;
  std::vector<Pass> path;
  DepositMap map;
  double mean = 0;  // depth over the bench [m]
};

/// Results for the plants.
struct Grown {
  std::vector<double> deposits;
  std::vector<std::uint8_t> missed;
  RowTable outcomes;

  Evenness evenness(double band) const {
    const std::vector<double> heights = heights_of(outcomes);
    const auto in_band = inside(heights, band);
    const auto count = std::count(in_band.begin(), in_band.end(), 1);
    return {.deposit = variation(deposits),
            .dose = variation(doses_of(outcomes)),
            .height = variation(heights),
            .outside = 1.0 - static_cast<double>(count) / static_cast<double>(heights.size()),
            .mean_height = mean(heights)};
  }
};

/// The air after the mean spray, and the scenario of a plant whose own evaporation does not change it.
struct AfterSpray {
  std::optional<CropAir> air;  // absent: unchanged
  Scenario scenario;
};

AfterSpray after_spray(const Stand& stand, const Drying& drying, double mean_deposit) {
  AfterSpray after{std::nullopt, stand.scenario};
  if (stand.drenched() || mean_deposit < least_deposit()) return after;
  Scenario& alone = after.scenario;
  const House& house = stand.scenario.house;
  if (house.enclosed && house.sprayed_share != 0.0) {
    const Scenario plant = plant_on_bench(stand.scenario, mean_deposit, 1.0, mean(stand.pots), stand.density);
    const Outcome outcome = simulate(plant, drying.air, drying.start, true);
    after.air = with_course(drying.air, outcome.wet.history, drying.start);
    alone.house.sprayed_share = 0.0;
  }
  alone.numerics.tolerance = std::max(alone.numerics.tolerance, drying.tolerance);
  return after;
}

/// The distinct plants; identical plants are computed once.
struct Distinct {
  std::vector<Scenario> plants;
  std::vector<std::optional<std::size_t>> row_of;  // of each plant on the bench; none for the missed
};

Distinct distinct_plants(const Stand& stand, const Scenario& scenario, std::span<const double> deposits) {
  Distinct distinct;
  std::map<std::array<double, 3>, std::size_t> seen;  // deposit, size, pot: row
  for (std::size_t i = 0; i < deposits.size(); ++i) {
    if (deposits[i] < least_deposit()) {
      distinct.row_of.push_back(std::nullopt);
      continue;
    }
    const auto [at, added] =
        seen.try_emplace({deposits[i], stand.sizes[i], stand.pots[i]}, distinct.plants.size());
    if (added)
      distinct.plants.push_back(
          plant_on_bench(scenario, deposits[i], stand.sizes[i], stand.pots[i], stand.density));
    distinct.row_of.push_back(at->second);
  }
  return distinct;
}

/// Computes plants in one air; throws the exception of the first plant that fails.
RowTable compute(const std::vector<Scenario>& plants, const CropAir& air, const Drying& drying) {
  RowTable computed = simulate_scenarios(plants, air, drying.start, drying.weeks, drying.options);
  computed.require_all();
  return computed;
}

/// A row for every plant on the bench: that of its distinct plant, or 0 throughout if it was missed.
RowTable for_every(std::span<const std::optional<std::size_t>> row_of, const RowTable& computed) {
  const std::size_t count = row_of.size(), variables = outcome_variables().size();
  RowTable every{.count = count,
                 .values = std::vector<double>(variables * count),
                 .status = std::vector<std::uint8_t>(count, static_cast<std::uint8_t>(Status::nothing_wet)),
                 .path = std::vector<std::uint8_t>(count),
                 .refusal = std::vector<std::uint8_t>(count),
                 .failed = {}};
  for (std::size_t i = 0; i < count; ++i) {
    if (!row_of[i]) continue;
    for (std::size_t k = 0; k < variables; ++k)
      every.values[k * count + i] = computed.values[k * computed.count + *row_of[i]];
    every.status[i] = computed.status[*row_of[i]];
    every.path[i] = computed.path[*row_of[i]];
    every.refusal[i] = computed.refusal[*row_of[i]];
  }
  return every;
}

/// Computes every plant with its deposit [m]; identical plants are computed once.
Grown grow(const Stand& stand, const Drying& drying, std::vector<double> deposits, double mean_deposit) {
  const AfterSpray after = after_spray(stand, drying, mean_deposit);
  const Distinct distinct = distinct_plants(stand, after.scenario, deposits);
  const RowTable computed = compute(distinct.plants, after.air ? *after.air : drying.air, drying);
  Grown grown{
      .deposits = std::move(deposits), .missed = {}, .outcomes = for_every(distinct.row_of, computed)};
  for (const auto& row : distinct.row_of) grown.missed.push_back(!row);
  return grown;
}

double mean_on_bench(const DepositMap& map) {
  const Grid& grid = map.grid;
  double sum = 0.0;
  for (int j = 0; j < grid.rows; ++j) {
    for (int i = 0; i < grid.columns; ++i)
      sum += map.depth[static_cast<std::size_t>(j + grid.margin) * grid.all_columns() +
                       static_cast<std::size_t>(i + grid.margin)];
  }
  return sum / (static_cast<double>(grid.columns) * grid.rows);
}

void scale(DepositMap& map, double by) {
  for (double& depth : map.depth) depth *= by;
  map.on_bench *= by;
  map.off_bench *= by;
}

/// Scales a map to the mean deposit of a spray on the bench.
DepositMap level(DepositMap map, const Spray& spray) {
  scale(map, spray.mean / mean_on_bench(map));
  return map;
}

DepositMap along(std::vector<Pass> path, const Spray& spray) {
  return level(deposit_passes(spray.map.grid, spray.pattern, path), spray);
}

/// The map divided by that of the same path at constant speed and height.
DepositMap without_path(const Spray& spray) {
  DepositMap map = spray.map;
  const DepositMap path = along(with_even_speed(with_even_height(spray.path)), spray);
  for (std::size_t i = 0; i < map.depth.size(); ++i)
    map.depth[i] = path.depth[i] > nothing_there * spray.mean ? map.depth[i] / path.depth[i] : 1.0;
  return level(std::move(map), spray);
}

std::vector<double> on_crowns(const DepositMap& map, const Stand& stand) {
  std::vector<Disc> crowns;
  for (std::size_t i = 0; i < stand.places.size(); ++i)
    crowns.push_back({stand.places[i].x, stand.places[i].y, stand.crowns[i]});
  return mean_over(map.grid, map.depth, crowns);
}

Grown grow_sprayed(const Stand& stand, const Drying& drying, const DepositMap& map) {
  return grow(stand, drying, on_crowns(map, stand), mean_on_bench(map));
}

Grown grow_drenched(const Stand& stand, const Drying& drying, double mean_volume) {
  std::vector<double> deposits;
  for (const double pour : stand.pours) deposits.push_back(mean_volume * pour);
  return grow(stand, drying, std::move(deposits), mean_volume);
}

void level_sizes(Stand& stand) {
  std::fill(stand.sizes.begin(), stand.sizes.end(), 1.0);
  std::fill(stand.crowns.begin(), stand.crowns.end(), crown_diameter(stand.scenario.canopy));
}

/// Drenches the stand with a mean `volume` [m] at the concentration that gives `control`, the mean growth
/// control of the spray. It is found by the logit of control as a function of log concentration, which is
/// linear, with slope 1, while the response does not saturate. If no concentration gives this control, the
/// largest allowed one is used.
Grown grow_same_height(Stand stand, const Drying& drying, double volume, double control,
                       DrenchInstead& drench) {
  static const Parameter& row = parameters()[parameter_index("application.concentration")];
  stand.scenario.application.method = Method::drench;
  double& strength = stand.scenario.application.concentration;
  if (!(control > 0.0)) strength = 0.0;
  Grown grown = grow_drenched(stand, drying, volume);
  const auto over = [&] {
    const auto logit = [](double share) { return std::log(share / (1.0 - share)); };
    const double here = 1.0 - mean(heights_of(grown.outcomes));
    return std::abs(here - control) <= same_height ? 0.0 : logit(here) - logit(control);
  };
  const auto over_at = [&](double log_strength) {
    strength = std::min(row.high, std::exp(log_strength));
    grown = grow_drenched(stand, drying, volume);
    return over();
  };
  if (strength > 0.0) {
    const double from = std::log(strength), most = std::log(row.high), at_from = over();
    double to = from, at_to = at_from;
    // with slope 1 the root lies halfway along the first step
    for (double step = -2.0 * at_from; at_to * at_from > 0.0 && to < most; step *= 2.0)
      to = std::min(to + step, most), at_to = over_at(to);
    if (at_to * at_from < 0.0) narrowed({from, to, at_from, at_to}, concentration_found, over_at);
  }
  drench = {.volume_per_pot = volume / stand.density, .concentration = strength};
  return grown;
}

void sort(std::vector<BenchLever>& levers) {
  std::stable_sort(levers.begin(), levers.end(), [](const BenchLever& a, const BenchLever& b) {
    return a.evenness.height < b.evenness.height;
  });
}

void add_spray_levers(Bench& bench, const BenchInput& input, const Stand& stand, const Spray& spray,
                      Drying drying) {
  drying.tolerance = lever_tolerance;
  const double band = input.settings.band;
  const auto add = [&](std::string_view cause, const Grown& grown) {
    bench.levers.push_back({cause, grown.evenness(band)});
  };
  add("speed", grow_sprayed(stand, drying, along(with_even_speed(spray.path), spray)));
  add("height", grow_sprayed(stand, drying, along(with_even_height(spray.path), spray)));
  add("overlap", grow_sprayed(stand, drying, without_path(spray)));

  Stand thinner = stand;
  thinner.scenario.application.concentration /= more_liquid;
  DepositMap more = spray.map;
  scale(more, more_liquid);
  add("volume", grow_sprayed(thinner, drying, more));

  const double poured =
      (input.volume_per_pot ? *input.volume_per_pot : usual_drench_volume(mean(stand.pots))) * stand.density;
  DrenchInstead instead;
  add("drench", grow_same_height(stand, drying, poured, 1.0 - bench.evenness.mean_height, instead));
  bench.drench = instead;

  Stand alike = stand;
  level_sizes(alike);
  add("size", grow_sprayed(alike, drying, spray.map));
  sort(bench.levers);
}

void add_drench_levers(Bench& bench, const BenchInput& input, const Stand& stand, double volume,
                       const Drying& drying) {
  Stand measured = stand, alike = stand;
  std::fill(measured.pours.begin(), measured.pours.end(), 1.0);
  level_sizes(alike);
  const double band = input.settings.band;
  bench.levers = {{"pouring", grow_drenched(measured, drying, volume).evenness(band)},
                  {"size", grow_drenched(alike, drying, volume).evenness(band)}};
  sort(bench.levers);
}

Spray spray_of(const BenchInput& input, const Stand& stand, double length, double width) {
  const double widest = *std::max_element(stand.crowns.begin(), stand.crowns.end());
  const Grid grid = grid_over(length, width, input.settings.cell, 0.5 * widest);
  Spray spray{input.pattern, input.passes, deposit_passes(grid, input.pattern, input.passes)};
  if (!(spray.map.on_bench > 0.0)) throw InputError("nothing falls on the bench; look at passes");
  const double area = length * width, emitted = spray.map.on_bench + spray.map.off_bench;
  const double by = input.volume ? *input.volume / emitted
                                 : input.scenario.application.volume_rate * area / spray.map.on_bench;
  spray.mean = by * spray.map.on_bench / area;
  scale(spray.map, by);
  for (Pass& pass : spray.path) pass.flow *= by;
  return spray;
}

void check(const BenchInput& input) {
  check(input.scenario);
  check(input.layout);
  check(input.pouring);
  check(input.settings);
  for (const Parameter& row : bench_parameters()) {
    if (row.name == "volume" && input.volume) check(row, *input.volume);
    if (row.name == "volume_per_pot" && input.volume_per_pot) check(row, *input.volume_per_pot);
  }
  if (input.scenario.application.method == Method::continuous)
    throw InputError(
        "application.method is 'continuous': what is fed to all pots alike has no bench to compare");
  const Parameter& density = parameters()[parameter_index("canopy.plant_density")];
  check(density, input.plant_density);
}

}  // namespace

BenchInput bench_of(const Scenario& scenario, Layout layout, std::uint64_t seed) {
  BenchInput input;
  input.scenario = scenario;
  input.layout = layout;
  input.seed = seed;
  input.plant_density = scenario.canopy.plant_density;
  input.layout.spacing = spacing_for(input.plant_density, layout.arrangement);
  input.pattern =
      pattern({.angle = scenario.nozzle.fan_angle, .thickness_angle = scenario.nozzle.fan_thickness});
  input.passes = wand_passes({.height = scenario.nozzle.height}, bench_length(input.layout),
                             bench_width(input.layout), 1.0, seed);
  return input;
}

std::vector<double> Bench::doses() const { return doses_of(outcomes); }
std::vector<double> Bench::heights() const { return heights_of(outcomes); }
std::vector<std::uint8_t> Bench::in_band(double band) const { return inside(heights(), band); }

double Bench::flow() const {
  const double time = duration(passes);
  return time > 0.0 ? emitted() / time : 0.0;
}

Bench spray_bench(const BenchInput& input, const CropAir& air, double start, bool levers,
                  const BatchOptions& options) {
  check(input);
  check(air);
  const Stand stand = stand_of(input);
  const Drying drying{.air = air, .start = start, .options = options, .weeks = input.weeks};
  Bench bench;
  bench.length = bench_length(input.layout);
  bench.width = bench_width(input.layout);
  bench.nozzle_flow = nozzle_flow(input.scenario.nozzle.flow, input.scenario.nozzle.pressure);
  const auto keep = [&](Grown&& grown) {
    bench.evenness = grown.evenness(input.settings.band);
    bench.deposits = std::move(grown.deposits);
    bench.missed = std::move(grown.missed);
    bench.outcomes = std::move(grown.outcomes);
  };
  if (stand.drenched()) {
    const double volume =
        input.volume_per_pot ? *input.volume_per_pot * stand.density : input.scenario.application.volume_rate;
    keep(grow_drenched(stand, drying, volume));
    if (levers) add_drench_levers(bench, input, stand, volume, drying);
  } else {
    Spray spray = spray_of(input, stand, bench.length, bench.width);
    keep(grow_sprayed(stand, drying, spray.map));
    if (levers) add_spray_levers(bench, input, stand, spray, drying);
    bench.map = std::move(spray.map);
    bench.passes = std::move(spray.path);
  }
  bench.places = stand.places;
  bench.sizes = stand.sizes;
  bench.pot_diameters = stand.pots;
  bench.crown_diameters = stand.crowns;
  return bench;
}

}  // namespace wetspan
