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
#include <string>
#include <thread>
#include <vector>

#include "reference.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/plant/canopy.hpp"
#include "wetspan/properties/air.hpp"
#include "wetspan/spray/droplets.hpp"

using namespace wetspan;
using doctest::Approx;

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

/// A span that both paths can follow, drawn widely: log-uniform where bounds span a decade, now and then on a bound.
/// Air is never below 0.02 m/s: in dead still air a leaf whose moist air is just as light as the room's exchanges
/// nothing, and what then becomes of it hangs on the last digit. Leaves count as dry at no less than the 1e-3 of its
/// water at which a class is let go.
Case drawn(std::uint64_t seed, double tolerance) {
  std::mt19937_64 bits(seed);
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  const auto within = [&](double low, double high) {
    const double where = uniform(bits), edge = uniform(bits);
    if (edge < 0.02) return low;
    if (edge > 0.98) return high;
    return low > 0.0 && high > 10.0 * low ? low * std::pow(high / low, where) : low + (high - low) * where;
  };
  const auto now_and_then = [&](double share) { return uniform(bits) < share; };

  Case drawn;
  Scenario& s = drawn.scenario;
  constexpr std::array<std::string_view, 6> sections{"house", "canopy", "retention", "leaf", "stem", "uptake"};
  for (std::size_t i = 0; i < parameters().size(); ++i) {
    const Parameter& row = parameters()[i];
    if (std::find(sections.begin(), sections.end(), row.section) == sections.end()) continue;
    const double value = row.kind == Kind::number
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
  s.numerics.dry_share = within(1e-3, 0.5);
  s.numerics.longest = within(600.0, 2e4);
  s.air = {.temperature = within(276.15, 318.15),
           .relative_humidity = within(0.05, 0.95),
           .pressure = within(7e4, 1.1e5),
           .speed = within(0.02, 15.0),
           .shortwave = within(0.0, 1000.0),
           .surroundings_offset = within(-10.0, 25.0),
           .diffusivity = now_and_then(0.5) ? air::VapourDiffusivity::massman
                                            : air::VapourDiffusivity::marrero_mason};

  const Spectrum sizes =
      spectrum(s.droplets.distribution, s.droplets.dv50, s.droplets.relative_span, s.droplets.bins);
  const double leaves = leaf_area_index(canopy) / canopy.layers;
  for (int k = 0; k < canopy.layers; ++k) {
    const double film = k > 0 && now_and_then(0.1) ? 0.0 : leaves * within(1e-6, s.retention.leaf_store);
    drawn.load.layers.push_back({.liquid = film,
                                 .strength = now_and_then(0.8) ? 1.0 : within(0.2, 3.0),
                                 .active = film * within(0.0, 20.0 * s.active.solubility),
                                 .temperature = now_and_then(0.8) ? 0.0 : s.air.temperature + within(-1.0, 5.0),
                                 .droplets = sizes});
  }
  drawn.load.stem_liquid = stem_area_index(canopy) * within(0.0, s.retention.stem_store);
  drawn.load.stem_active = drawn.load.stem_liquid * within(0.0, 20.0 * s.active.solubility);
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
      next.speed = std::max(0.02, next.speed * within(0.5, 2.0));
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

/// How far a span is from another in each of its numbers: times over the time, temperatures over 10 K, the warmth
/// while wet over 10 K in that time, water over what came to its place, active ingredient likewise; the house's vapour
/// over all water that came.
std::map<std::string, double> apart(const Case& of, const WetSpan& one, const WetSpan& other) {
  std::map<std::string, double> result;
  const auto note = [&](const char* what, double a, double b, double scale) {
    const double far = a == b ? 0.0 : std::abs(a - b) / scale;
    double& largest = result[what];
    largest = far > largest || std::isnan(far) ? far : largest;
  };
  const auto time = [&](const char* what, double a, double b) { note(what, a, b, std::max(a, b)); };
  constexpr double warmth = 10.0, tiny = 1e-300;
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
  note("wet_share", one.wet_share, other.wet_share, std::max(other.wet_share, tiny));
  note("cover", one.cover, other.cover, std::max(other.cover, tiny));
  note("left.stem_liquid", one.left.stem_liquid, other.left.stem_liquid, std::max(of.load.stem_liquid, tiny));
  note("left.stem_active", one.left.stem_active, other.left.stem_active, std::max(of.load.stem_active, tiny));
  note("left.bench_liquid", one.left.bench_liquid, other.left.bench_liquid, std::max(of.load.bench_liquid, tiny));
  note("left.air_heat", one.left.air_heat, other.left.air_heat, warmth);
  double came = of.load.stem_liquid + of.load.bench_liquid + of.load.air_vapour;
  for (const Load::Layer& layer : of.load.layers) came += layer.liquid;
  note("left.air_vapour", one.left.air_vapour, other.left.air_vapour, came);
  REQUIRE(one.layer_wet_time.size() == other.layer_wet_time.size());
  REQUIRE(one.left.layers.size() == other.left.layers.size());
  for (std::size_t k = 0; k < other.left.layers.size(); ++k) {
    time("layer_wet_time", one.layer_wet_time[k], other.layer_wet_time[k]);
    const Load::Layer &a = one.left.layers[k], &b = other.left.layers[k], &fresh = of.load.layers[k];
    note("left.liquid", a.liquid, b.liquid, std::max(fresh.liquid, tiny));
    note("left.strength", a.strength * a.liquid, b.strength * b.liquid, std::max(fresh.liquid, tiny));
    note("left.active", a.active, b.active, std::max(fresh.active, tiny));
    note("left.dew", a.dew, b.dew, tiny);
    note("left.temperature", a.temperature, b.temperature, warmth);
    note("left.droplets", a.droplets.diameter == b.droplets.diameter, 1.0, tiny);
    note("left.droplets", a.droplets.volume_share == b.droplets.volume_share, 1.0, tiny);
  }
  return result;
}

/// What two paths may be apart, over the tolerance: always, and 99 times in 100.
struct Limit {
  double largest, usual;
};
using Limits = std::map<std::string, Limit>;

/// Follows drawn spans on the clocks at `tolerance` and by the full system at `finer`, and holds the one against the
/// other.
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
      for (const auto& [what, value] : far) {
        const double over = value / tolerance;
        all[what].push_back(over);
        if (!(over <= limits.at(what).largest)) complain(what + " apart by tolerances " + std::to_string(over));
      }
    }
  };
  std::vector<std::thread> crew;
  for (unsigned i = 0; i < std::max(1u, std::thread::hardware_concurrency()); ++i) crew.emplace_back(work);
  for (std::thread& one : crew) one.join();

  MESSAGE(followed.load(), " spans: ", dry.load(), " dried, ", wet.load(), " stayed wet; ", refused.load(),
          " more refused, ", given_up.load(), " given up on the way");
  for (const std::string& what : flaws) FAIL_CHECK(what);
  for (auto& [what, values] : all) {
    const auto at = values.begin() + static_cast<std::ptrdiff_t>(values.size() * 99 / 100);
    std::nth_element(values.begin(), at, values.end());
    CAPTURE(what);
    CHECK(*at <= limits.at(what).usual);
    MESSAGE(what, ": 99 in 100 within ", *at, " tolerances, all within ", *std::max_element(at, values.end()));
  }
  CHECK(dry > wanted / 4);
  CHECK(wet > wanted / 4);
  // there is little dew in what is drawn
  CHECK(given_up < 0.1 * (followed + given_up));
}

}  // namespace

TEST_CASE("clocks: ten thousand spans from anywhere, as the full system has them") {
#ifdef __SANITIZE_ADDRESS__
  constexpr int wanted = 300;
#else
  constexpr int wanted = 10'000;
#endif
  const Limit time{10.0, 2.0}, warmth{30.0, 3.0}, share{30.0, 2.0}, exact{1e-6, 1e-6};
  hold_against_reference(wanted, 1e-5, 1e-6, 0,
                         {{"status", exact},
                          {"wet_time", time},
                          {"last_drop_time", time},
                          {"layer_wet_time", time},
                          {"wet_duration", time},
                          {"stem_wet_time", time},
                          {"end", time},
                          {"degree_seconds", time},
                          {"mean_leaf_temperature", time},
                          {"end_temperature", warmth},
                          {"left.temperature", warmth},
                          {"leaf_uptake", share},
                          {"stem_uptake", share},
                          {"left.active", share},
                          {"left.stem_active", share},
                          {"left.liquid", time},
                          {"left.stem_liquid", time},
                          {"left.bench_liquid", time},
                          {"left.air_vapour", time},
                          {"left.air_heat", time},
                          {"wet_share", exact},
                          {"cover", exact},
                          {"left.strength", exact},
                          {"left.dew", exact},
                          {"left.droplets", exact}});
}
