#include "wetspan/study/clock.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <cmath>
#include <cstring>
#include <map>
#include <mutex>
#include <numbers>
#include <optional>
#include <random>
#include <span>
#include <string>
#include <thread>
#include <vector>

#include "approx.hpp"
#include "drawn.hpp"
#include "reference.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/plant/canopy.hpp"
#include "wetspan/plant/growth.hpp"
#include "wetspan/properties/air.hpp"
#include "wetspan/spray/droplets.hpp"
#include "wetspan/study/simulate.hpp"

using namespace wetspan;

namespace {

/// A span to follow.
struct Case {
  Scenario scenario;
  Load load;
  CropAir air;
  double start = 0;

  WetSpan reference(const Following& following = {}, bool keep_history = false) const {
    return wet_span(scenario, load, air, start, following, keep_history);
  }
  std::optional<WetSpan> clock(Instructions instructions = instructions_here().back()) const {
    const SpanJob job{&scenario, &load, &air, start};
    return clock_spans({&job, 1}, instructions).spans.front();
  }
};

/// A span that both paths can follow, drawn widely: log-uniform where bounds span a decade, now and then on a
/// bound. Air is never below 0.02 m/s: in dead still air a leaf whose moist air is just as light as the
/// room's exchanges nothing, and what then becomes of it hangs on the last digit. Leaves count as dry at no
/// less than the 1e-3 of its water at which a class is let go.
Case drawn(std::uint64_t seed, double tolerance) {
  std::mt19937_64 bits(seed);
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  const auto within = [&](double low, double high) { return drawn_within(bits, low, high); };
  const auto now_and_then = [&](double share) { return uniform(bits) < share; };

  Case drawn;
  Scenario& s = drawn.scenario;
  constexpr std::array<std::string_view, 6> sections{"house", "canopy", "retention",
                                                     "leaf",  "stem",   "uptake"};
  for (std::size_t i = 0; i < parameters().size(); ++i) {
    const Parameter& row = parameters()[i];
    if (std::find(sections.begin(), sections.end(), row.section) == sections.end()) continue;
    // from streams of their own: all else stays as it was drawn without them
    if (row.name == "habit") {
      std::mt19937_64 own(~seed);
      set(s, i, std::floor((row.high + 1.0) * uniform(own)));
      continue;
    }
    if (row.name == "growing_share" || row.name == "growing_cuticle") {
      std::mt19937_64 own(~seed ^ i);
      set(s, i, row.name == "growing_share" ? uniform(own) : std::exp2(3.0 * uniform(own) - 1.0));
      continue;
    }
    const double value =
        row.kind == Kind::number
            ? within(row.low, row.high)
            : std::min(row.high, std::floor(row.low + (row.high - row.low + 1.0) * uniform(bits)));
    set(s, i, std::clamp(value, row.low, row.high));
  }
  s.house.heating_temperature = Scenario{}.house.heating_temperature;
  s.house.vent_temperature = Scenario{}.house.vent_temperature;
  if (now_and_then(0.2)) s.house.sprayed_share = 0.0;
  s.liquid.humectant = within(0.0, 0.3), s.liquid.kappa = within(0.0, 8.0);
  (now_and_then(0.3) ? s.liquid.kappa : s.liquid.humectant) = 0.0;
  s.active.solubility = within(1e-3, 10.0), s.active.solubility_enthalpy = within(0.0, 8e4);
  s.active.log_kow = within(1.0, 5.0), s.active.molar_volume = within(1.5e-4, 4e-4);
  s.leaf.contact_angle = within(0.05, 2.3);
  s.leaf.receding_angle = now_and_then(0.2)   ? 0.0
                          : now_and_then(0.1) ? s.leaf.contact_angle
                                              : within(0.0, s.leaf.contact_angle);
  Canopy& canopy = s.canopy;
  canopy.leaf_area = within(0.1, 8.0) / canopy.plant_density;
  canopy.pot_diameter = within(0.01, std::min(0.6, 1.12 / std::sqrt(canopy.plant_density)));
  canopy.stem_area =
      now_and_then(0.2) ? 0.0 : within(0.0, std::min(0.2, 2.0 * canopy.crown_cover / canopy.plant_density));
  s.droplets = {.distribution = now_and_then(0.5) ? Distribution::lognormal : Distribution::rosin_rammler,
                .dv50 = within(30e-6, 800e-6),
                .relative_span = within(0.05, 1.6),
                .bins = static_cast<int>(now_and_then(0.1) ? within(2.0, 40.5) : within(2.0, 8.5))};
  s.numerics.tolerance = tolerance;
  s.numerics.dry_share = within(1e-6, 0.5);
  s.numerics.longest = within(600.0, 2e4);
  s.air = {.temperature = within(283.15, 318.15),
           .relative_humidity = within(0.05, 0.95),
           .pressure = within(7e4, 1.1e5),
           .speed = within(0.02, 15.0),
           .shortwave = within(0.0, 1000.0),
           .surroundings_offset = within(-10.0, 25.0),
           .diffusivity =
               now_and_then(0.5) ? air::VapourDiffusivity::massman : air::VapourDiffusivity::marrero_mason};

  const Spectrum sizes =
      spectrum(s.droplets.distribution, s.droplets.dv50, s.droplets.relative_span, s.droplets.bins);
  const double leaves = leaf_area_index(canopy) / canopy.layers;
  for (int k = 0; k < canopy.layers; ++k) {
    const double film = k > 0 && now_and_then(0.1) ? 0.0 : leaves * within(1e-6, s.retention.leaf_store);
    drawn.load.layers.push_back(
        {.liquid = film,
         .strength = now_and_then(0.8) ? 1.0 : within(0.2, 3.0),
         .upper = {.liquid = film * within(0.0, 20.0 * s.active.solubility)},
         .lower = {.liquid = film * within(0.0, 2.0 * s.active.solubility)},
         .temperature = now_and_then(0.8) ? 0.0 : s.air.temperature + within(-1.0, 5.0),
         .droplets = sizes});
  }
  for (Load::Layer& layer : drawn.load.layers) {
    const double stems = stem_area_index(canopy) / canopy.layers;
    layer.stem_liquid = now_and_then(0.1) ? 0.0 : stems * within(0.0, s.retention.stem_store);
    layer.stem.liquid = layer.stem_liquid * within(0.0, 20.0 * s.active.solubility);
    if (!now_and_then(0.3)) continue;  // what has dried before
    for (OnSurface* on : {&layer.upper, &layer.lower, &layer.stem}) {
      const double area = on == &layer.stem ? stems : leaves;
      on->mobile = area * within(0.0, 1e-5), on->locked = area * within(0.0, 1e-4);
    }
  }
  drawn.load.bench_liquid = within(0.0, 2e-4);
  drawn.load.air_vapour = within(0.0, 5e-6);
  drawn.load.air_heat = within(-1.0, 0.0);

  drawn.air = steady_air(s.air, s.house, within(1200.0, 8e4));
  if (now_and_then(0.6)) {
    CropAir& air = drawn.air;
    air.time.pop_back(), air.state.pop_back();
    for (int rows = 1 + static_cast<int>(5.0 * uniform(bits)); rows > 0; --rows) {
      AirState next = air.state.back();
      const double humidity = next.vapour_pressure / air::saturation_pressure(next.temperature);
      next.temperature = std::clamp(next.temperature + within(-3.0, 3.0), 275.0, 320.0);
      next.vapour_pressure =
          std::clamp(humidity + within(-0.15, 0.1), 0.05, 0.95) * air::saturation_pressure(next.temperature);
      next.speed = std::clamp(next.speed * within(0.5, 2.0), 0.02, 60.0);
      next.shortwave = std::clamp(next.shortwave + within(-200.0, 200.0), 0.0, 1400.0);
      next.radiant_temperature = next.temperature + within(-5.0, 10.0);
      next.air_changes = within(0.0, 0.02);
      air.time.push_back(air.time.back() + within(60.0, 7200.0));
      air.state.push_back(next);
    }
  }
  drawn.start = now_and_then(0.5) ? 0.0 : 0.9 * uniform(bits) * drawn.air.time.back();
  return drawn;
}

/// Whether the scenario of a case contradicts itself nowhere.
bool is_valid(const Case& one) {
  try {
    check(one.scenario);
    return true;
  } catch (const InputError&) {
    return false;
  }
}

/// How far a span is from another in each of its numbers: times over the time, temperatures over 10 K, the
/// warmth while wet over 10 K in that time, water over what came to its place, active ingredient likewise;
/// the house's vapour over all water that came.
std::map<std::string, double> apart(const Case& of, const WetSpan& one, const WetSpan& other) {
  std::map<std::string, double> result;
  const auto note = [&](const char* what, double a, double b, double scale) {
    const double far = a == b ? 0.0 : std::abs(a - b) / scale;
    double& largest = result[what];
    largest = far > largest || std::isnan(far) ? far : largest;
  };
  const auto time = [&](const char* what, double a, double b) { note(what, a, b, std::max(a, b)); };
  constexpr double warmth = 10.0, tiny = 1e-300, molecule = 1e-10;  // K, 1, thickness of water [m]
  note("status", static_cast<double>(one.status), static_cast<double>(other.status), 1e-12);
  time("wet_time", one.wet_time, other.wet_time);
  time("last_drop_time", one.last_drop_time, other.last_drop_time);
  time("stem_wet_time", one.stem_wet_time, other.stem_wet_time);
  time("wet_duration", one.wet_duration, other.wet_duration);
  time("end", one.end, other.end);
  note("degree_seconds", one.degree_seconds, other.degree_seconds, warmth * other.wet_duration);
  note("mean_leaf_temperature", one.mean_leaf_temperature, other.mean_leaf_temperature, warmth);
  note("end_temperature", one.end_temperature, other.end_temperature, warmth);
  note("leaf_uptake", one.leaf_uptake, other.leaf_uptake, 1.0);
  note("stem_uptake", one.stem_uptake, other.stem_uptake, 1.0);
  BySite on_crop;
  for (const Load::Layer& layer : of.load.layers) {
    on_crop.leaf += layer.upper.sum() + layer.lower.sum(), on_crop.stem += layer.stem.sum();
  }
  note("lost", one.lost_from_leaves, other.lost_from_leaves, std::max(on_crop.leaf, tiny));
  note("lost", one.lost_from_stems, other.lost_from_stems, std::max(on_crop.stem, tiny));
  note("wet_share", one.wet_share, other.wet_share, std::max(other.wet_share, tiny));
  note("cover", one.cover, other.cover, std::max(other.cover, tiny));
  note("left.bench_liquid", one.left.bench_liquid, other.left.bench_liquid,
       std::max(of.load.bench_liquid, tiny));
  note("left.air_heat", one.left.air_heat, other.left.air_heat, warmth);
  double came = of.load.bench_liquid + of.load.air_vapour;
  for (const Load::Layer& layer : of.load.layers) came += layer.liquid + layer.stem_liquid;
  note("left.air_vapour", one.left.air_vapour, other.left.air_vapour, came);
  REQUIRE(one.layer_wet_time.size() == other.layer_wet_time.size());
  REQUIRE(one.layer_leaf_uptake.size() == other.layer_leaf_uptake.size());
  REQUIRE(one.left.layers.size() == other.left.layers.size());
  for (std::size_t k = 0; k < other.left.layers.size(); ++k) {
    time("layer_wet_time", one.layer_wet_time[k], other.layer_wet_time[k]);
    note("leaf_uptake", one.layer_leaf_uptake[k], other.layer_leaf_uptake[k], std::max(on_crop.leaf, tiny));
    const Load::Layer &a = one.left.layers[k], &b = other.left.layers[k], &fresh = of.load.layers[k];
    note("left.liquid", a.liquid, b.liquid, std::max(fresh.liquid, tiny));
    note("left.strength", a.strength * a.liquid, b.strength * b.liquid, std::max(fresh.liquid, tiny));
    for (const auto on : {&Load::Layer::upper, &Load::Layer::lower, &Load::Layer::stem}) {
      const double all = std::max((fresh.*on).sum(), tiny);
      note("left.active", (a.*on).liquid, (b.*on).liquid, all);
      note("left.mobile", (a.*on).mobile, (b.*on).mobile, all);
      note("left.locked", (a.*on).locked, (b.*on).locked, all);
    }
    note("left.stem_liquid", a.stem_liquid, b.stem_liquid, std::max(fresh.stem_liquid, tiny));
    note("left.dew", a.dew, b.dew, molecule);  // implicit steps leave 1e-25 m
    note("left.temperature", a.temperature, b.temperature, warmth);
    note("left.droplets", a.droplets.diameter == b.droplets.diameter, 1.0, tiny);
    note("left.droplets", a.droplets.volume_share == b.droplets.volume_share, 1.0, tiny);
  }
  return result;
}

/// Active ingredient that came less what is left, taken up and lost, over what came.
double active_imbalance(const Load& load, const WetSpan& span) {
  const auto carried = [](const Load& on) {
    BySite sum;
    for (const Load::Layer& layer : on.layers) {
      sum.leaf += layer.upper.sum() + layer.lower.sum(), sum.stem += layer.stem.sum();
    }
    return sum;
  };
  const BySite came = carried(load), left = carried(span.left);
  const auto over = [](double all, double rest, double share, double lost) {
    return all > 0.0 ? std::abs((all - rest - lost) / all - share) : rest + lost;
  };
  return std::max(over(came.leaf, left.leaf, span.leaf_uptake, span.lost_from_leaves),
                  over(came.stem, left.stem, span.stem_uptake, span.lost_from_stems));
}

/// What two paths may be apart, over the tolerance: always, and 99 times in 100.
struct Limit {
  double largest, usual;
};
using Limits = std::map<std::string, Limit>;

/// Follows drawn spans on the clocks at `tolerance` and by the full system at `finer`, and holds the one
/// against the other.
void hold_against_reference(int wanted, double tolerance, double finer, std::uint64_t first_seed,
                            const Limits& limits) {
  std::atomic<std::uint64_t> next{first_seed};
  std::atomic<int> followed{0}, dry{0}, wet{0}, refused{0}, given_up{0};
  std::mutex door;
  std::vector<std::string> flaws;
  std::map<std::string, std::vector<double>> all;
  const auto work = [&] {
    while (followed < wanted) {
      const std::uint64_t seed = next++;
      Case one = drawn(seed, tolerance);
      if (!is_valid(one)) continue;
      if (!clock_refuses(one.scenario, one.load).empty()) {
        ++refused;
        continue;
      }
      const std::optional<WetSpan> clock = one.clock();
      if (!clock) {
        ++given_up;
        continue;
      }
      one.scenario.numerics.tolerance = finer;
      const WetSpan reference = one.reference();
      ++followed;
      ++(clock->status == Status::dry ? dry : wet);
      const auto far = apart(one, *clock, reference);
      const std::lock_guard lock(door);
      const auto complain = [&](const std::string& what) {
        if (flaws.size() < 50) flaws.push_back("seed " + std::to_string(seed) + ": " + what);
      };
      if (!(std::abs(clock->water_balance) < 1e-12)) complain("water_balance");
      for (const Load::Layer& layer : clock->left.layers) {
        for (const OnSurface& on : {layer.upper, layer.lower, layer.stem}) {
          if (!(on.liquid >= 0.0 && on.mobile >= 0.0 && on.locked >= 0.0)) complain("less than nothing left");
        }
      }
      for (const WetSpan* span : {&*clock, &reference}) {
        if (!(active_imbalance(one.load, *span) < 1e-12)) complain("active ingredient");
      }
      for (const auto& [what, value] : far) {
        const double over = value / tolerance;
        all[what].push_back(over);
        if (!(over <= limits.at(what).largest))
          complain(what + " apart by tolerances " + std::to_string(over));
      }
    }
  };
  std::vector<std::thread> crew;
  for (unsigned i = 0; i < std::max(1u, std::thread::hardware_concurrency()); ++i) crew.emplace_back(work);
  for (std::thread& one : crew) one.join();

  MESSAGE(followed.load(), " spans: ", dry.load(), " dried, ", wet.load(), " stayed wet; ", refused.load(),
          " more refused, ", given_up.load(), " given up on the way");
  for (const std::string& what : flaws) FAIL_CHECK(what);
  for (auto& each : all) {
    const std::string& what = each.first;
    std::vector<double>& values = each.second;
    if (values.size() < 400) continue;  // too few to tell of one in a hundred
    const auto at = values.begin() + static_cast<std::ptrdiff_t>(values.size() * 99 / 100);
    std::nth_element(values.begin(), at, values.end());
    CAPTURE(what);
    CHECK(*at <= limits.at(what).usual);
  }
  CHECK(dry > wanted / 4);
  CHECK(wet > wanted / 4);
  // there is little dew in what is drawn
  CHECK(given_up < 4.0 + 0.02 * (followed + given_up));
}

/// What the two paths may be apart, in tolerances. Times are held tightest, since drying times add up from
/// them. The sum of the leaf's warmth is not held by the step control, and a temperature or a share taken up
/// is met at moments when it runs fast.
Limits limits_of(double largest, double usual) {
  const Limit time{20.0 * largest, 2.0 * usual}, water{50.0 * largest, 2.0 * usual},
      warmth{200.0 * largest, 5.0 * usual}, share{100.0 * largest, 5.0 * usual}, exact{1e-3, 1e-3};
  return {{"wet_time", time},
          {"last_drop_time", time},
          {"layer_wet_time", time},
          {"stem_wet_time", time},
          {"wet_duration", time},
          {"end", time},
          {"left.liquid", water},
          {"left.stem_liquid", water},
          {"left.bench_liquid", water},
          {"left.air_vapour", water},
          {"left.air_heat", water},
          {"degree_seconds", warmth},
          {"mean_leaf_temperature", warmth},
          {"end_temperature", warmth},
          {"left.temperature", warmth},
          {"leaf_uptake", share},
          {"stem_uptake", share},
          {"left.active", share},
          {"left.mobile", share},
          {"left.locked", share},
          {"lost", share},
          {"status", exact},
          {"wet_share", exact},
          {"cover", exact},
          {"left.strength", exact},
          {"left.dew", exact},
          {"left.droplets", exact}};
}

/// Everything that a span tells, number by number.
std::vector<double> numbers(const WetSpan& span) {
  std::vector<double> all{static_cast<double>(span.status),
                          span.wet_time,
                          span.last_drop_time,
                          span.stem_wet_time,
                          span.wet_duration,
                          span.degree_seconds,
                          span.end,
                          span.leaf_uptake,
                          span.stem_uptake,
                          span.mean_leaf_temperature,
                          span.wet_share,
                          span.cover,
                          span.end_temperature,
                          span.water_balance,
                          static_cast<double>(span.steps),
                          span.lost_from_leaves,
                          span.lost_from_stems,
                          span.left.bench_liquid,
                          span.left.air_vapour,
                          span.left.air_heat};
  all.insert(all.end(), span.layer_wet_time.begin(), span.layer_wet_time.end());
  all.insert(all.end(), span.layer_leaf_uptake.begin(), span.layer_leaf_uptake.end());
  for (const Load::Layer& layer : span.left.layers) {
    all.insert(all.end(), {layer.liquid, layer.strength, layer.stem_liquid, layer.dew, layer.temperature});
    for (const OnSurface& on : {layer.upper, layer.lower, layer.stem}) {
      all.insert(all.end(), {on.liquid, on.mobile, on.locked});
    }
    all.insert(all.end(), layer.droplets.diameter.begin(), layer.droplets.diameter.end());
    all.insert(all.end(), layer.droplets.volume_share.begin(), layer.droplets.volume_share.end());
  }
  return all;
}
bool same_bits(const std::optional<WetSpan>& one, const std::optional<WetSpan>& other) {
  if (!one || !other) return one.has_value() == other.has_value();
  const std::vector<double> a = numbers(*one), b = numbers(*other);
  return a.size() == b.size() && std::memcmp(a.data(), b.data(), a.size() * sizeof(double)) == 0;
}

/// Drawn cases that contradict themselves nowhere.
std::vector<Case> some(std::size_t wanted, double tolerance, std::uint64_t seed) {
  std::vector<Case> cases;
  while (cases.size() < wanted) {
    Case one = drawn(seed++, tolerance);
    if (is_valid(one)) cases.push_back(std::move(one));
  }
  return cases;
}
std::vector<SpanJob> jobs_of(const std::vector<Case>& cases) {
  std::vector<SpanJob> jobs;
  for (const Case& one : cases) jobs.push_back({&one.scenario, &one.load, &one.air, one.start});
  return jobs;
}

/// A film of 50 um of `bins` classes on every leaf, under the air of the scenario.
Case plain(Scenario scenario = {}) {
  Case result;
  result.scenario = scenario;
  const Spectrum sizes = spectrum(Distribution::lognormal, 200e-6, 1.0, scenario.droplets.bins);
  const double film = 5e-5 * leaf_area_index(scenario.canopy) / scenario.canopy.layers;
  for (int k = 0; k < scenario.canopy.layers; ++k) {
    result.load.layers.push_back({.liquid = film,
                                  .upper = {.liquid = 0.027 * film},
                                  .lower = {.liquid = 0.003 * film},
                                  .droplets = sizes});
    if (scenario.canopy.stem_area <= 0.0) continue;
    result.load.layers.back().stem_liquid = 1e-6 / scenario.canopy.layers;
    result.load.layers.back().stem.liquid = 3e-8 / scenario.canopy.layers;
  }
  result.load.bench_liquid = 2e-5;
  result.air = steady_air(scenario.air, scenario.house, scenario.numerics.longest);
  return result;
}
template <class Change>
Case changed(Change change) {
  Scenario scenario;
  change(scenario);
  return plain(scenario);
}

std::string refusal(const Case& one, const Following& following = {}) {
  return std::string(clock_refuses(one.scenario, one.load, following));
}

/// Temperature of the coldest, or with -1 the hottest, top leaf of the full system [K].
double extreme_leaf(const Case& one, double sign) {
  const History history = one.reference({}, true).history;
  double result = 1e9;
  for (const double temperature : history.leaf_temperature) result = std::min(result, sign * temperature);
  return sign * result;
}

double largest(const std::map<std::string, double>& far) {
  double result = 0.0;
  for (const auto& [what, value] : far) result = std::max(result, value);
  return result;
}

}  // namespace

TEST_CASE("clocks: ten thousand spans from anywhere, as the full system has them" *
          doctest::test_suite("long")) {
#ifdef __SANITIZE_ADDRESS__
  constexpr int wanted = 300;
#else
  constexpr int wanted = 10'000;
#endif
  hold_against_reference(wanted, 1e-5, 1e-7, 0, limits_of(1.0, 1.0));
}

TEST_CASE("clocks: some hundred spans closely" * doctest::test_suite("long")) {
  // polynomials, of droplets' courses and of the air's properties, stand in for what is computed: good to
  // 1e-7
#ifdef __SANITIZE_ADDRESS__
  constexpr int wanted = 60;
#else
  constexpr int wanted = 400;
#endif
  hold_against_reference(wanted, 1e-8, 1e-9, 1'000'000, limits_of(5.0, 10.0));
}

TEST_CASE("clocks: the same bits in any lane, order and company") {
  std::vector<Case> cases = some(60, 1e-6, 2'000'000);
  // and some that are refused, or given up on the way
  for (std::size_t i = 0; i < cases.size(); i += 15) cases[i].load.layers[0].dew = 1e-6;
  for (std::size_t i = 7; i < cases.size(); i += 15) {
    for (AirState& state : cases[i].air.state)
      state.vapour_pressure = air::saturation_pressure(state.temperature);
  }
  const std::vector<SpanJob> jobs = jobs_of(cases);
  for (const Instructions instructions : instructions_here()) {
    CAPTURE(name_of(instructions));
    const ClockRun full = clock_spans(jobs, instructions);
    REQUIRE(full.spans.size() == jobs.size());
    const auto followed =
        std::count_if(full.spans.begin(), full.spans.end(), [](const auto& span) { return !!span; });
    CHECK(followed > 40);
    CHECK(followed < 60);
    CHECK(full.evaluations > 1000);

    const ClockRun one_lane = clock_spans(jobs, instructions, true);
    CHECK(one_lane.evaluations == full.evaluations);
    std::vector<std::size_t> order(jobs.size());
    for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
    std::mt19937_64 bits(1);
    std::shuffle(order.begin(), order.end(), bits);
    std::vector<SpanJob> shuffled;
    for (const std::size_t i : order) shuffled.push_back(jobs[i]);
    const ClockRun in_disorder = clock_spans(shuffled, instructions);
    for (std::size_t i = 0; i < jobs.size(); ++i) {
      CAPTURE(i);
      CHECK(same_bits(full.spans[i], one_lane.spans[i]));
      CHECK(same_bits(full.spans[order[i]], in_disorder.spans[i]));
      CHECK(same_bits(full.spans[i], clock_spans({&jobs[i], 1}, instructions).spans.front()));
    }
    CHECK_FALSE(same_bits(full.spans[1], full.spans[2]));
  }
}

TEST_CASE("clocks: each set of instructions gives the same spans") {
  const std::span<const Instructions> all = instructions_here();
  REQUIRE(!all.empty());
  CHECK(all.front() == Instructions::baseline);
  CHECK(std::is_sorted(all.begin(), all.end()));
  CHECK(name_of(Instructions::baseline) == "baseline");
  CHECK(name_of(Instructions::avx2) == "avx2");
  CHECK(name_of(Instructions::avx512) == "avx512");

  // roundings differ, and with them here and there a step: at a tight tolerance that does not show
  std::vector<Case> cases = some(60, 1e-8, 3'000'000);
  cases.push_back(plain());
  const std::vector<SpanJob> jobs = jobs_of(cases);
  const ClockRun baseline = clock_spans(jobs, Instructions::baseline);
  for (const Instructions instructions : all) {
    CAPTURE(name_of(instructions));
    const ClockRun run = clock_spans(jobs, instructions);
    for (std::size_t i = 0; i < jobs.size(); ++i) {
      CAPTURE(i);
      REQUIRE(run.spans[i].has_value() == baseline.spans[i].has_value());
      if (!run.spans[i]) continue;
      const double one = run.spans[i]->wet_time, other = baseline.spans[i]->wet_time;
      CHECK((one == other || std::abs(one / other - 1.0) < 3e-9));
    }
  }
}

TEST_CASE("clocks: what they cannot follow is refused at once, and said why") {
  REQUIRE(refusal(plain()).empty());
  REQUIRE(plain().clock().has_value());
  const auto check_refused = [](const Case& one, const std::string& why) {
    CAPTURE(why);
    CHECK(refusal(one) == why);
    for (const Instructions instructions : instructions_here())
      CHECK_FALSE(one.clock(instructions).has_value());
  };

  const auto humectant = [](Scenario& s) { s.liquid.humectant = 0.05, s.liquid.kappa = 0.2; };
  check_refused(changed(humectant), "a hygroscopic liquid");
  check_refused(changed([&](Scenario& s) {
                  humectant(s);
                  s.liquid.efflorescence = 0.4, s.liquid.deliquescence = 0.75;
                }),
                "a hygroscopic liquid");
  Case dewy = plain();
  dewy.load.layers.back().dew = 1e-9;
  check_refused(dewy, "dew on the leaves");
  check_refused(changed([](Scenario& s) { s.numerics.tolerance = 0.99e-8; }),
                "a tolerance beyond the polynomials");
  check_refused(changed([](Scenario& s) { s.leaf.contact_angle = 2.8; }),
                "a contact angle beyond the polynomial");
  check_refused(changed([](Scenario& s) { s.droplets.bins = 49; }), "too many droplet classes");
  Case dry = plain();
  for (Load::Layer& layer : dry.load.layers) layer.liquid = 0.0;
  check_refused(dry, "no liquid on leaves");

  CHECK(refusal(plain(), {.at_least = 1.0}) == "followed beyond drying");
}

TEST_CASE("clocks: what only shows on the way is left to the full system") {
  const auto check_given_up = [](const Case& one) {
    CHECK(refusal(one).empty());
    for (const Instructions instructions : instructions_here())
      CHECK_FALSE(one.clock(instructions).has_value());
  };
  const auto open_night = [](Scenario& s) {
    s.house.enclosed = false, s.air.shortwave = 0.0, s.numerics.longest = 7200.0;
  };

  // a clear sky cools leaves below the dew point of moist air
  const Case sky = changed([&](Scenario& s) {
    open_night(s);
    s.air.relative_humidity = 0.98, s.air.surroundings_offset = -20.0;
  });
  REQUIRE(sky.reference({.at_most = 600.0}).left.layers[0].dew > 0.0);
  check_given_up(sky);

  // air that warms and moistens faster than the leaves do
  Case front = changed(open_night);
  front.scenario.leaf.heat_capacity = 1e4;
  front.air = {{0.0, 300.0, 7200.0}, {front.air.state[0], front.air.state[0], front.air.state[0]}};
  for (std::size_t i = 1; i < 3; ++i) {
    front.air.state[i].temperature += 8.0;
    front.air.state[i].vapour_pressure = air::saturation_pressure(front.air.state[i].temperature);
  }
  REQUIRE(front.reference({.at_most = 400.0}).left.layers[0].dew > 0.0);
  check_given_up(front);

  // a house that the spray saturates, while its cover cools the leaves
  const Case house = changed([](Scenario& s) {
    s.house.sprayed_share = 1.0, s.house.air_changes = 0.0, s.house.cover_conductance = 0.0;
    s.air.relative_humidity = 0.9, s.air.shortwave = 0.0, s.air.surroundings_offset = -5.0;
  });
  REQUIRE(house.reference({.at_most = 7200.0}).left.layers[0].dew > 0.0);
  check_given_up(house);

  // frost, of the air or of the leaves alone; heat
  const Case frost = changed([&](Scenario& s) {
    open_night(s);
    s.air.temperature = 272.15, s.air.relative_humidity = 0.5;
  });
  check_given_up(frost);
  const Case cold_leaf = changed([&](Scenario& s) {
    open_night(s);
    s.air.temperature = 276.15, s.air.relative_humidity = 0.1, s.air.speed = 2.0;
  });
  REQUIRE(extreme_leaf(cold_leaf, 1.0) < 273.15);
  check_given_up(cold_leaf);
  Case hot_leaf = changed([](Scenario& s) { s.leaf.heat_capacity = 1e4; });
  for (Load::Layer& layer : hot_leaf.load.layers) layer.temperature = 350.0;
  REQUIRE(extreme_leaf(hot_leaf, -1.0) > 343.15);
  check_given_up(hot_leaf);

  // a sun, in still air under a hot roof, under which no temperature of a dry leaf balances
  Case glaring = changed([](Scenario& s) {
    s.house.enclosed = false;
    s.leaf.absorptance = 1.0, s.leaf.width = 0.3, s.leaf.stomatal_conductance = 0.0;
    s.canopy.extinction = 1.0, s.canopy.clumping = 1.0;
  });
  for (AirState& air : glaring.air.state) {
    air.shortwave = 1500.0, air.radiant_temperature = 370.0, air.speed = 0.0;
  }
  CHECK_THROWS_AS(glaring.reference(), InputError);
  check_given_up(glaring);
}

TEST_CASE("clocks: what lies at their border is followed, and right" * doctest::test_suite("long")) {
  const std::vector<Case> cases{
      changed([](Scenario& s) { s.liquid.humectant = 0.3; }),                               // inert
      changed([](Scenario& s) { s.liquid.kappa = 8.0; }),                                   // of nothing
      changed([](Scenario& s) { s.liquid.efflorescence = s.liquid.deliquescence = 0.5; }),  // likewise
      changed([](Scenario& s) { s.leaf.contact_angle = 1.2, s.leaf.receding_angle = 0.0; }),
      changed([](Scenario& s) {
        s.leaf.contact_angle = 1.2, s.leaf.receding_angle = 0.0, s.liquid.humectant = 0.2;
      }),
      changed([](Scenario& s) { s.leaf.receding_angle = s.leaf.contact_angle; }),
      changed([](Scenario& s) { s.leaf.receding_angle = s.leaf.contact_angle, s.liquid.humectant = 0.2; }),
      changed([](Scenario& s) { s.canopy.layers = 4; }),
      changed([](Scenario& s) { s.canopy.layers = 1; }),
      changed([](Scenario& s) { s.droplets.bins = 48; }),
      changed([](Scenario& s) { s.droplets.bins = 2; }),
      changed([](Scenario& s) { s.retention.underleaf = 0.0; }),
      changed([](Scenario& s) { s.canopy.stem_area = 0.0; }),
      changed([](Scenario& s) { s.house.sprayed_share = 0.0; }),
      changed([](Scenario& s) { s.house.enclosed = false; }),
      changed([](Scenario& s) { s.leaf.emissivity = 0.0; }),
      changed([](Scenario& s) { s.air.diffusivity = air::VapourDiffusivity::marrero_mason; }),
      // still air, in which cool and moist leaves are not just as light as the room
      changed([](Scenario& s) {
        s.air.speed = 0.0, s.air.relative_humidity = 0.7, s.air.shortwave = 400.0, s.house.enclosed = false;
      }),
  };
  for (std::size_t i = 0; i < cases.size(); ++i) {
    CAPTURE(i);
    for (const double tolerance : {1e-5, 1e-8}) {
      Case one = cases[i];
      one.scenario.numerics.tolerance = tolerance;
      CHECK(refusal(one).empty());
      const std::optional<WetSpan> clock = one.clock();
      REQUIRE(clock.has_value());
      CHECK(clock->status == Status::dry);
      CHECK(std::abs(clock->water_balance) < 1e-12);
      one.scenario.numerics.tolerance = 1e-10;
      const auto far = apart(one, *clock, one.reference());
      CHECK(far.at("wet_time") < std::max(3.0 * tolerance, 1e-7));
      CHECK(far.at("last_drop_time") < std::max(3.0 * tolerance, 1e-7));
      CHECK(largest(far) < std::max(20.0 * tolerance, 1e-6));
    }
  }
}

TEST_CASE("clocks: a record that ends with leaves still wet ends the span, whatever its times") {
  Case one = changed([](Scenario& s) { s.air.relative_humidity = 0.95, s.air.shortwave = 0.0; });
  std::mt19937_64 bits(7);
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  for (int i = 0; i < 300; ++i) {
    const AirState state = one.air.state.front();
    const double middle = 10.0 + 500.0 * uniform(bits), end = middle + 600.0 + 900.0 * uniform(bits);
    one.start = 9.0 * uniform(bits);
    one.air = {{0.0, middle, end}, {state, state, state}};
    const std::optional<WetSpan> clock = one.clock();
    REQUIRE(clock.has_value());
    CHECK(clock->status == Status::wet_at_end);
    CHECK(clock->end == end - one.start);
  }
}

TEST_CASE("clocks: a start outside the record and a load that does not fit are refused") {
  Case one = changed([](Scenario&) {});
  one.start = -500.0;
  CHECK_THROWS_WITH_AS(one.clock(), doctest::Contains("not within the air record"), InputError);
  one.start = 0.0;
  one.load.layers.pop_back();
  CHECK_THROWS_WITH_AS(one.clock(), doctest::Contains("leaf layers"), InputError);
}

TEST_CASE("clocks: a step ends where a class dries out, and not where it lets go of its edge") {
  Case many = changed([](Scenario& s) { s.droplets.bins = 48, s.numerics.tolerance = 1e-4; });
  const int classes = 2 * (48 + 24);  // two layers, upper and lower sides
  const std::optional<WetSpan> clock = many.clock();
  REQUIRE(clock.has_value());
  CHECK(clock->steps > classes);
  CHECK(clock->steps < 2 * classes);
  CHECK(clock->wet_time == Approx(many.reference().wet_time).epsilon(1e-5));
}

TEST_CASE("clocks: films that take up vapour before they dry") {
  // the spray's own vapour puts the house's air beyond saturation, while the sun keeps leaves above the dew
  // point
  Case one = changed([](Scenario& s) {
    s.air.relative_humidity = 0.95, s.air.shortwave = 900.0, s.house.sprayed_share = 1.0;
    s.canopy.layers = 1;  // leaves in the shade of others would have dew
  });
  one.load.air_vapour = 5e-6;
  const History history = one.reference({}, true).history;
  REQUIRE(*std::max_element(history.stem_water.begin(), history.stem_water.end()) > 1.01);
  for (const double tolerance : {1e-5, 1e-7}) {
    one.scenario.numerics.tolerance = tolerance;
    const std::optional<WetSpan> clock = one.clock();
    REQUIRE(clock.has_value());
    CHECK(std::abs(clock->water_balance) < 1e-12);
    one.scenario.numerics.tolerance = 1e-9;
    CHECK(largest(apart(one, *clock, one.reference())) < 20.0 * tolerance);
  }
}

TEST_CASE("clocks: leaves that count as dry only with their last droplet") {
  // the last class of a leaf is let go with 1e-3 of its water: below that, leaf and layer are dry in that
  // moment
  Case one =
      changed([](Scenario& s) { s.numerics.dry_share = 1e-6, s.canopy.layers = 3, s.droplets.bins = 3; });
  const std::optional<WetSpan> clock = one.clock();
  REQUIRE(clock.has_value());
  CHECK(clock->status == Status::dry);
  REQUIRE(clock->layer_wet_time.size() == 3);
  CHECK(*std::max_element(clock->layer_wet_time.begin(), clock->layer_wet_time.end()) == clock->wet_time);
  CHECK(clock->wet_time <= clock->last_drop_time);
  CHECK(clock->wet_time == Approx(clock->last_drop_time).epsilon(0.01));
  CHECK(clock->wet_time == Approx(one.reference().wet_time).epsilon(1e-5));
}

TEST_CASE("clocks: a drop whose edge would recede at next to no angle dries pinned") {
  for (const double tolerance : {1e-6, 3e-3, 1e-2}) {
    Scenario pinned;
    pinned.numerics.tolerance = tolerance;
    pinned.leaf.receding_angle = 0.0;
    const Outcome wanted = simulate(pinned);
    // of these, found by fuzzing, the shares of what was applied added up to as much as 1e296
    for (const double angle : {1e-24, 1.4e-23, 1e-22, 1e-21, 1e-13}) {
      Scenario scenario = pinned;
      scenario.leaf.receding_angle = angle;
      const Outcome found = simulate(scenario);
      CHECK(std::abs(found.account.sum() - 1.0) < 1e-12);
      CHECK(found.wet.wet_time == Approx(wanted.wet.wet_time).epsilon(1e-9));
    }
  }
}

TEST_CASE("clocks: isolated droplets last as exact diffusion has them last") {
  // few and far between, in a wind, on a leaf that its own heat holds at air temperature; the tolerance of
  // the rows, and as much again for what is not quite isolated and not quite isothermal
  const auto isolated = [](double volume, double contact, double receding, double temperature,
                           double humidity) {
    Case one = changed([&](Scenario& s) {
      s.canopy.layers = 1, s.canopy.wind_attenuation = 0.0, s.canopy.stem_area = 0.0,
      s.retention.underleaf = 0.0;
      s.house.enclosed = false;
      s.air.temperature = temperature, s.air.relative_humidity = humidity;
      s.air.speed = 10.0, s.air.shortwave = 0.0;
      s.leaf.emissivity = 0.0, s.leaf.stomatal_conductance = 0.0, s.leaf.heat_capacity = 1e4;
      s.leaf.contact_angle = contact, s.leaf.receding_angle = receding;
      s.numerics.tolerance = 1e-4;  // the steeper the drop, the poorer the polynomial of its course
    });
    const double diameter = std::cbrt(6.0 * volume / std::numbers::pi);
    one.load = {};
    one.load.layers.push_back({.liquid = 1e-10 * leaf_area_index(one.scenario.canopy),
                               .temperature = temperature,
                               .droplets = {{diameter}, {1.0}}});
    return one;
  };
  int rows = 0;
  for (const bool pinned : {true, false}) {
    for (const auto& row :
         reference::rows("drying", pinned ? "pinned lifetime" : "constant-angle lifetime")) {
      if (row["volume"] > 1e-10) continue;  // 1 uL is no spray droplet
      const double angle = row["angle"] * std::numbers::pi / 180.0;
      const Case one = isolated(row["volume"], angle, pinned ? 0.0 : angle, row["T"], row["rh"]);
      CAPTURE(angle);
      CAPTURE(row.value);
      if (refusal(one) == "a contact angle beyond the polynomial") {
        CHECK((pinned && angle > 1.9));
        continue;
      }
      const std::optional<WetSpan> span = one.clock();
      REQUIRE(span.has_value());
      CHECK(reference::within(row, span->last_drop_time, 2.0 * row.tolerance, "on a leaf, by clocks"));
      ++rows;
    }
  }
  CHECK(rows >= 10);
}
