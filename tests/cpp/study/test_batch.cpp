#include "wetspan/study/batch.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <limits>
#include <map>
#include <numbers>
#include <numeric>
#include <random>
#include <span>
#include <string>
#include <string_view>
#include <thread>
#include <utility>
#include <vector>

#include "approx.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/study/outcomes.hpp"

using namespace wetspan;

namespace {

constexpr double missing = std::numeric_limits<double>::quiet_NaN();

/// Rows of one scenario, with the columns that they are views of.
struct Sprays {
  Scenario scenario;
  std::vector<std::pair<std::string, std::vector<double>>> columns;
  std::vector<CropAir> airs;
  std::vector<std::uint64_t> air_of;
  std::vector<double> starts;
  std::size_t count = 0;

  Rows rows() const {
    Rows rows{.count = count,
              .scenarios = {&scenario},
              .scenario_of = {},
              .inputs = {},
              .airs = {},
              .air_of = air_of,
              .starts = starts};
    for (const auto& [key, values] : columns) rows.inputs.push_back({parameter_index(key), values});
    for (const CropAir& air : airs) rows.airs.push_back(&air);
    return rows;
  }
  std::vector<double>& column(const std::string& key) {
    for (auto& [name, values] : columns) {
      if (name == key) return values;
    }
    return columns.emplace_back(key, std::vector<double>(count, get(scenario, parameter_index(key)))).second;
  }
  /// The rows at `places`, in that order.
  Sprays taken(const std::vector<std::size_t>& places) const {
    const auto take = [&](auto& values) {
      auto all = values;
      values.clear();
      if (!all.empty()) {
        for (const std::size_t i : places) values.push_back(all[i]);
      }
    };
    Sprays result = *this;
    result.count = places.size();
    for (auto& [key, values] : result.columns) take(values);
    take(result.air_of), take(result.starts);
    return result;
  }
  /// One row as a scenario of its own.
  Scenario alone(std::size_t row) const {
    Scenario result = scenario;
    for (const auto& [key, values] : columns) set(result, parameter_index(key), values[row]);
    return result;
  }
  CropAir air(std::size_t row) const {
    if (!airs.empty()) return airs[air_of.empty() ? 0 : air_of[row]];
    const Scenario own = alone(row);
    return steady_air(own.air, own.house, own.numerics.longest);
  }
  double start(std::size_t row) const { return starts.empty() ? 0.0 : starts[row]; }
};

/// What comes out of rows, a row at a time.
struct Results {
  std::size_t count;
  std::vector<double> values;
  std::vector<std::uint8_t> statuses, paths, refusals;
  std::vector<FailedRow> failed;

  explicit Results(std::size_t rows)
      : count(rows),
        values(rows * outcome_variables().size(), -1.0),
        statuses(rows, 99),
        paths(rows, 99),
        refusals(rows, 99) {}
  RowResults columns() { return {.values = values, .status = statuses, .path = paths, .refusal = refusals}; }
  Status status(std::size_t row) const { return static_cast<Status>(statuses[row]); }
  Path path(std::size_t row) const { return static_cast<Path>(paths[row]); }
  std::string_view refusal(std::size_t row) const { return clock_refusals()[refusals[row]]; }
  std::vector<double> row(std::size_t row) const {
    std::vector<double> result;
    for (std::size_t i = 0; i < outcome_variables().size(); ++i) result.push_back(values[i * count + row]);
    return result;
  }
  double of(std::string_view name, std::size_t row) const {
    const auto all = outcome_variables();
    const auto at =
        std::find_if(all.begin(), all.end(), [&](const auto& variable) { return variable.name == name; });
    REQUIRE(at != all.end());
    return values[static_cast<std::size_t>(at - all.begin()) * count + row];
  }
  bool empty(std::size_t row) const {
    const std::vector<double> numbers = this->row(row);
    return status(row) == Status::failed &&
           std::all_of(numbers.begin(), numbers.end(), [](double value) { return std::isnan(value); });
  }
  const std::string& reason(std::size_t row) const {
    static const std::string none;
    for (const FailedRow& one : failed) {
      if (one.row == row) return one.reason;
    }
    return none;
  }
};

Results run(const Rows& rows, const BatchOptions& options = {}) {
  Results results(rows.count);
  results.failed = simulate_rows(rows, results.columns(), options);
  return results;
}
Results run(const Sprays& sprays, const BatchOptions& options = {}) { return run(sprays.rows(), options); }

std::vector<double> numbers(const Outcome& outcome) {
  std::vector<double> result;
  for (const OutcomeVariable& variable : outcome_variables()) result.push_back(variable.value(outcome));
  return result;
}

template <class T>
bool same_bits(const std::vector<T>& one, const std::vector<T>& other) {
  return one.size() == other.size() && std::memcmp(one.data(), other.data(), one.size() * sizeof(T)) == 0;
}
bool same(const Results& one, const Results& other) {
  const auto same_failure = [](const FailedRow& a, const FailedRow& b) {
    return a.row == b.row && a.reason == b.reason;
  };
  return same_bits(one.values, other.values) && one.statuses == other.statuses && one.paths == other.paths &&
         std::equal(one.failed.begin(), one.failed.end(), other.failed.begin(), other.failed.end(),
                    same_failure);
}
bool same_row(const Results& one, std::size_t row, const Results& other, std::size_t other_row) {
  return same_bits(one.row(row), other.row(other_row)) && one.statuses[row] == other.statuses[other_row] &&
         one.paths[row] == other.paths[other_row] && one.reason(row) == other.reason(other_row);
}

/// Two days of a made-up house: a warm and a cool one.
CropAir two_days(double warmer) {
  CropAir air;
  for (double t = 0.0; t <= 2.0 * 86400.0; t += 1800.0) {
    const double sun = std::max(0.0, std::sin(2.0 * std::numbers::pi * (t / 86400.0 - 0.25)));
    const double temperature = 292.0 + warmer + 8.0 * sun;
    air.time.push_back(t);
    air.state.push_back({.temperature = temperature,
                         .vapour_pressure = 1300.0,
                         .pressure = 101325.0,
                         .speed = 0.2 + 0.2 * sun,
                         .shortwave = 400.0 * sun,
                         .radiant_temperature = temperature - 1.0,
                         .air_changes = 3e-4 + 5e-3 * sun});
  }
  return air;
}

/// Sprays of every kind: most for the clocks, with one to four leaf layers; every 7th hygroscopic, every 11th
/// a drench, every 13th re-wetted.
Sprays mixed(std::size_t count, bool in_weather) {
  Sprays sprays;
  sprays.count = count;
  sprays.scenario.droplets.bins = 6;
  sprays.scenario.numerics.tolerance = 1e-4;
  sprays.scenario.numerics.longest = 3.0 * 3600.0;
  sprays.scenario.liquid.kappa = 0.3;
  sprays.scenario.rewetting.delay = 1800.0;
  std::mt19937_64 bits(count);
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  const auto draw = [&](const std::string& key, double low, double high) {
    for (double& value : sprays.column(key)) value = low + (high - low) * uniform(bits);
  };
  draw("droplets.dv50", 150e-6, 400e-6);
  draw("application.volume_rate", 5e-5, 4e-4);
  draw("air.temperature", 290.0, 303.0);
  draw("air.relative_humidity", 0.3, 0.75);
  draw("air.speed", 0.05, 0.6);
  for (std::size_t i = 0; i < count; ++i) {
    sprays.column("canopy.layers")[i] = static_cast<double>(1 + (i * 5 + i / 3) % 4);
    sprays.column("liquid.humectant")[i] = i % 7 == 3 ? 0.02 : 0.0;
    sprays.column("application.method")[i] = i % 11 == 5 ? 1.0 : 0.0;
    sprays.column("rewetting.volume_rate")[i] = i % 13 == 6 ? 1e-4 : 0.0;
  }
  if (in_weather) {
    sprays.airs = {two_days(0.0), two_days(5.0)};
    for (std::size_t i = 0; i < count; ++i) {
      sprays.air_of.push_back(i % 3 == 0 ? 1 : 0);
      sprays.starts.push_back(30000.0 + 90.0 * static_cast<double>((i * 37) % 300));
    }
  }
  return sprays;
}
bool for_the_clocks(std::size_t row) { return row % 7 != 3 && row % 11 != 5 && row % 13 != 6; }

/// Plain sprays, none the same.
Sprays plain(std::size_t count) {
  Sprays sprays;
  sprays.count = count;
  for (std::size_t i = 0; i < count; ++i) {
    sprays.column("air.speed")[i] = 0.1 + 0.5 * static_cast<double>(i) / static_cast<double>(count);
  }
  return sprays;
}

template <class Action>
std::string refusal(Action action) {
  try {
    action();
  } catch (const InputError& error) {
    return error.what();
  }
  return "";
}

}  // namespace

TEST_CASE("batch: the same bits on any number of threads, in any order and any cut" *
          doctest::test_suite("long")) {
  for (const bool in_weather : {false, true}) {
    CAPTURE(in_weather);
    Sprays sprays = mixed(91, in_weather);
    sprays.column("air.speed")[17] = missing;  // a row that fails is the same, too
    const Results one = run(sprays, {.threads = 1});
    REQUIRE(one.failed.size() == 1);
    REQUIRE_FALSE(same_bits(one.row(0), one.row(1)));
    for (const unsigned threads : {0u, 2u, 3u}) {
      CAPTURE(threads);
      CHECK(same(run(sprays, {.threads = threads}), one));
    }

    std::vector<std::size_t> order(sprays.count);
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::shuffle(order.begin(), order.end(), std::mt19937_64(3));
    const Results shuffled = run(sprays.taken(order), {.threads = 2});
    for (std::size_t i = 0; i < order.size(); ++i) CHECK(same_row(shuffled, i, one, order[i]));

    for (const std::size_t length : {std::size_t{1}, std::size_t{2}, std::size_t{17}, std::size_t{90}}) {
      CAPTURE(length);
      for (std::size_t first = 0; first < sprays.count; first += length) {
        std::vector<std::size_t> cut(std::min(length, sprays.count - first));
        std::iota(cut.begin(), cut.end(), first);
        const Results part = run(sprays.taken(cut), {.threads = 2});
        for (std::size_t i = 0; i < cut.size(); ++i) CHECK(same_row(part, i, one, first + i));
      }
    }
  }
}

TEST_CASE("batch: a row is what simulate() has of its scenario, to the bit" * doctest::test_suite("long")) {
  for (const bool in_weather : {false, true}) {
    CAPTURE(in_weather);
    const Sprays sprays = mixed(60, in_weather);
    const Results rows = run(sprays);
    REQUIRE(rows.failed.empty());
    std::vector<Scenario> scenarios;
    std::vector<CropAir> airs;
    std::vector<Job> jobs;
    for (std::size_t i = 0; i < sprays.count; ++i)
      scenarios.push_back(sprays.alone(i)), airs.push_back(sprays.air(i));
    for (std::size_t i = 0; i < sprays.count; ++i) jobs.push_back({&scenarios[i], &airs[i], sprays.start(i)});
    const Batch batch = simulate_all(jobs, {.threads = 2});
    REQUIRE(batch.outcomes.size() == sprays.count);
    REQUIRE(batch.reasons.size() == sprays.count);
    for (std::size_t i = 0; i < sprays.count; ++i) {
      CAPTURE(i);
      const Outcome alone = simulate(scenarios[i], airs[i], sprays.start(i));
      CHECK(same_bits(rows.row(i), numbers(alone)));
      CHECK(rows.status(i) == alone.wet.status);
      CHECK(rows.path(i) == alone.wet.path);
      CHECK(same_bits(numbers(batch.outcomes[i]), numbers(alone)));
      CHECK(batch.outcomes[i].account.sum() == Approx(1.0).epsilon(1e-12));
      CHECK(batch.outcomes[i].wet.path == alone.wet.path);
      CHECK(batch.reasons[i].empty());
      if (!in_weather) CHECK(same_bits(numbers(simulate(scenarios[i])), numbers(alone)));
    }
  }
}

TEST_CASE("batch: rows may start from several scenarios") {
  Scenario fine, coarse;
  fine.droplets.dv50 = 180e-6, coarse.droplets.dv50 = 400e-6, coarse.canopy.layers = 4;
  const std::vector<double> speeds{0.1, 0.2, 0.3, 0.4, 0.5};
  const std::vector<std::uint64_t> which{1, 0, 0, 1, 0};
  const Results results = run(Rows{.count = 5,
                                   .scenarios = {&fine, &coarse},
                                   .scenario_of = which,
                                   .inputs = {{parameter_index("air.speed"), speeds}},
                                   .airs = {},
                                   .air_of = {},
                                   .starts = {}});
  for (std::size_t i = 0; i < 5; ++i) {
    Scenario own = which[i] == 1 ? coarse : fine;
    own.air.speed = speeds[i];
    CHECK(same_bits(results.row(i), numbers(simulate(own))));
  }
}

TEST_CASE("batch: each row tells how it was followed") {
  const Sprays sprays = mixed(120, false);
  const Results results = run(sprays), full = run(sprays, {.reference_only = true});
  int clocks = 0;
  for (std::size_t i = 0; i < sprays.count; ++i) {
    CAPTURE(i);
    CHECK(results.path(i) == (for_the_clocks(i) ? Path::clock : Path::reference));
    CHECK(full.path(i) == Path::reference);
    CHECK(results.refusal(i).empty() == for_the_clocks(i));
    CHECK(full.refusal(i) == "the caller asks for it");
    CHECK((results.refusal(i) == "no liquid on leaves") == (results.status(i) == Status::nothing_wet));
    CHECK((results.status(i) == Status::nothing_wet) == (i % 11 == 5));
    // the same answer either way, about to the tolerance asked for; where there are no clocks, the same bits
    if (for_the_clocks(i)) {
      ++clocks;
      CHECK(results.status(i) == full.status(i));
      if (full.status(i) == Status::dry) {
        CHECK(results.of("wet_time", i) == Approx(full.of("wet_time", i)).epsilon(3e-3));
      }
      CHECK(results.of("growth_control", i) == Approx(full.of("growth_control", i)).epsilon(1e-3));
      CHECK_FALSE(same_bits(results.row(i), full.row(i)));
    } else {
      CHECK(same_row(results, i, full, i));
    }
  }
  CHECK(clocks > 60);
  CHECK(clocks < 110);
}

TEST_CASE("batch: spans that the clocks give up on the way are followed by the full system") {
  // a clear, humid night, under which dew forms
  Sprays sprays;
  sprays.count = 24;
  Scenario& s = sprays.scenario;
  s.house.enclosed = false, s.air.shortwave = 0.0, s.numerics.longest = 7200.0,
  s.air.surroundings_offset = -20.0;
  for (std::size_t i = 0; i < sprays.count; ++i) {
    sprays.column("air.relative_humidity")[i] = i % 2 == 0 ? 0.98 : 0.4;
    sprays.column("canopy.layers")[i] = static_cast<double>(1 + i % 3);
  }
  const Results results = run(sprays, {.threads = 2}), full = run(sprays, {.reference_only = true});
  CHECK(results.failed.empty());
  for (std::size_t i = 0; i < sprays.count; ++i) {
    CAPTURE(i);
    CHECK(results.path(i) == (i % 2 == 0 ? Path::reference : Path::clock));
    CHECK(results.refusal(i) == (i % 2 == 0 ? "dew, or the like, on the way" : ""));
    if (i % 2 == 0) CHECK(same_row(results, i, full, i));
    CHECK(same_bits(results.row(i), numbers(simulate(sprays.alone(i)))));
  }
}

TEST_CASE("batch: rows that cannot be computed are empty and say why; the others do not feel it") {
  for (const bool in_weather : {false, true}) {
    CAPTURE(in_weather);
    const Sprays good = mixed(64, in_weather);
    const Results before = run(good);
    REQUIRE(before.failed.empty());
    Sprays sprays = good;
    std::map<std::size_t, std::string> bad;
    const auto spoil = [&](std::size_t row, const std::string& key, double value, const std::string& reason) {
      sprays.column(key)[row] = value;
      bad[row] = reason;
    };
    spoil(2, "air.speed", 16.0, "air.speed = 16 m/s is above 15 m/s");
    spoil(5, "droplets.dv50", missing, "droplets.dv50");
    spoil(9, "canopy.layers", 5.0, "canopy.layers");
    spoil(12, "canopy.layers", 2.5, "whole number");
    spoil(15, "canopy.layers", missing, "canopy.layers");
    spoil(18, "canopy.layers", 1e300, "canopy.layers");
    spoil(21, "application.method", 4.0, "application.method");
    spoil(25, "leaf.receding_angle", 2.0, "leaf.receding_angle is larger than leaf.contact_angle");
    spoil(28, "application.volume_rate", std::numeric_limits<double>::infinity(), "application.volume_rate");
    spoil(31, "droplets.dv50", 1900e-6, "larger ones break up");
    spoil(35, "air.relative_humidity", -0.1, "air.relative_humidity");
    if (in_weather) {
      const auto misplace = [&](std::size_t row, double start, const std::string& reason) {
        sprays.starts[row] = start;
        bad[row] = reason;
      };
      misplace(40, -1.0, "is not within the air record");
      misplace(42, 2.0 * 86400.0, "is not within the air record");
      misplace(44, missing, "is not within the air record");
      REQUIRE(45 % 13 == 6);
      misplace(45, 2.0 * 86400.0 - 1800.0, "lies beyond the air record");
      CropAir broken = two_days(0.0), empty;
      broken.state[7].temperature = missing;
      sprays.airs.push_back(broken), sprays.airs.push_back(empty);
      for (const std::size_t row : {47, 50}) sprays.air_of[row] = 2, bad[row] = "temperature";
      sprays.air_of[52] = 3, bad[52] = "";
    }
    for (const unsigned threads : {1u, 3u}) {
      const Results after = run(sprays, {.threads = threads});
      REQUIRE(after.failed.size() == bad.size());
      auto failed = after.failed.begin();
      for (const auto& each : bad) {
        const auto row = each.first;
        CAPTURE(row);
        CAPTURE(failed->reason);
        CHECK(failed->row == row);
        CHECK_FALSE(failed->reason.empty());
        CHECK(failed->reason.find(each.second) != std::string::npos);
        CHECK(after.empty(row));
        ++failed;
      }
      for (std::size_t i = 0; i < sprays.count; ++i) {
        if (!bad.contains(i)) CHECK(same_row(after, i, before, i));
      }
    }
  }
}

TEST_CASE("batch: jobs that cannot be computed are empty and say why; simulate() throws it") {
  const Scenario good;
  const CropAir air = two_days(0.0);
  Scenario out_of_bounds = good, contradictory = good;
  out_of_bounds.air.speed = -0.1;
  contradictory.leaf.receding_angle = 2.0;
  CropAir broken = air;
  broken.state[3].pressure = missing;
  CropAir backwards = air;
  std::swap(backwards.time[1], backwards.time[2]);
  const std::vector<Job> jobs{{&good, &air, 36000.0},          {&out_of_bounds, &air, 36000.0},
                              {&contradictory, &air, 36000.0}, {&good, &broken, 36000.0},
                              {&good, &backwards, 36000.0},    {&good, &air, 1e9},
                              {&good, &air, missing},          {&good, &air, 36000.0}};
  const Batch batch = simulate_all(jobs, {.threads = 2});
  for (std::size_t i = 0; i < jobs.size(); ++i) {
    CAPTURE(i);
    const std::vector<double> told = numbers(batch.outcomes[i]);
    if (i == 0 || i == 7) {
      CHECK(batch.reasons[i].empty());
      CHECK(same_bits(told, numbers(simulate(good, air, 36000.0))));
      continue;
    }
    CHECK(batch.outcomes[i].wet.status == Status::failed);
    CHECK(std::all_of(told.begin(), told.end(), [](double value) { return std::isnan(value); }));
    CHECK(std::isnan(batch.outcomes[i].account.sum()));
    for (const WetSpan* span : {&batch.outcomes[i].wet, &batch.outcomes[i].rewet}) {
      CHECK(
          std::isnan(span->end + span->cover + span->leaf_uptake + span->stem_uptake + span->water_balance));
    }
    CHECK_FALSE(batch.reasons[i].empty());
    CHECK(refusal([&] { simulate(*jobs[i].scenario, *jobs[i].air, jobs[i].start); }) == batch.reasons[i]);
  }
}

TEST_CASE("batch: any of this machine's instructions, and no others") {
  const Sprays sprays = mixed(50, false);
  const std::span<const Instructions> here = instructions_here();
  const Results fastest = run(sprays, {.instructions = here.back()});
  CHECK(same(run(sprays), fastest));
  for (const Instructions instructions : {Instructions::baseline, Instructions::avx2, Instructions::avx512}) {
    CAPTURE(name_of(instructions));
    const BatchOptions options{.threads = 1, .instructions = instructions};
    if (std::find(here.begin(), here.end(), instructions) == here.end()) {
      CHECK(refusal([&] { run(sprays, options); }).find(name_of(instructions)) != std::string::npos);
      CHECK(refusal([&] { simulate_all({}, options); }).find(name_of(instructions)) != std::string::npos);
      continue;
    }
    const Results results = run(sprays, options);
    CHECK(results.paths == fastest.paths);
    CHECK(results.statuses == fastest.statuses);
    CHECK(same(run(sprays, {.threads = 3, .instructions = instructions}), results));
    const std::vector<std::size_t> last{sprays.count - 1};
    CHECK(same_row(run(sprays.taken(last), options), 0, results, last.front()));
    for (std::size_t i = 0; i < sprays.count; ++i) {
      CHECK(results.of("growth_control", i) == Approx(fastest.of("growth_control", i)).epsilon(1e-3));
    }
  }
}

TEST_CASE("batch: progress is told on the calling thread, in rising counts, up to the end" *
          doctest::test_suite("long")) {
  const Sprays sprays = plain(2500);
  for (const unsigned threads : {1u, 3u}) {
    std::vector<std::size_t> told;
    bool elsewhere = false;
    const auto here = std::this_thread::get_id();
    const Results results = run(sprays, {.threads = threads, .progress = [&](std::size_t done) {
                                           told.push_back(done);
                                           elsewhere = elsewhere || std::this_thread::get_id() != here;
                                           return true;
                                         }});
    CHECK(results.failed.empty());
    REQUIRE(told.size() >= 2);
    CHECK(std::is_sorted(told.begin(), told.end()));
    CHECK(told.front() < sprays.count);
    CHECK(told.back() == sprays.count);
    CHECK_FALSE(elsewhere);
  }
}

TEST_CASE("batch: a row carries the exception that it would have thrown by itself") {
  Scenario scenario;
  scenario.canopy.layers = 9;
  const CropAir air = steady_air(Scenario{});
  const Job job{&scenario, &air};
  const Batch batch = simulate_all({&job, 1});
  REQUIRE(batch.errors.front());
  CHECK_THROWS_WITH_AS(std::rethrow_exception(batch.errors.front()), batch.reasons.front().c_str(),
                       InputError);
}

TEST_CASE("batch: a long row can be ended on the way") {
  Scenario scenario;
  scenario.liquid.humectant = 1e-5, scenario.liquid.kappa = 1.0, scenario.droplets.bins = 200;
  scenario.canopy.layers = 4, scenario.numerics.tolerance = 1e-11;
  const CropAir air = steady_air(scenario);
  struct Ended {};
  for (const bool history : {false, true}) {
    int looks = 0;
    const auto watch = [&] {
      if (++looks == 2) throw Ended{};
    };
    CHECK_THROWS_AS(simulate(scenario, air, 0.0, history, {}, nullptr, watch), Ended);
    CHECK(looks == 2);
  }
  // with progress that says false the row is left undone
  const Job job{&scenario, &air};
  const Batch batch = simulate_all({&job, 1}, {.threads = 1, .progress = [](std::size_t) { return false; }});
  CHECK(batch.outcomes.front().wet.status == Status::failed);
  CHECK_FALSE(batch.errors.front());
}

TEST_CASE("batch: progress that says false ends it with the rows that are done") {
  const Sprays sprays = plain(50'000);
  const Sprays first = [&] {
    std::vector<std::size_t> places(20);
    std::iota(places.begin(), places.end(), std::size_t{0});
    return sprays.taken(places);
  }();
  for (const unsigned threads : {1u, 2u}) {
    int calls = 0;
    const Results results =
        run(sprays, {.threads = threads, .progress = [&](std::size_t) { return ++calls < 2; }});
    CHECK(calls == 2);
    std::size_t reached = 0;
    for (std::size_t i = 0; i < sprays.count; ++i) {
      if (results.status(i) != Status::failed) ++reached;
      else REQUIRE(results.empty(i));
    }
    CHECK(reached > 0);
    CHECK(reached < sprays.count);
    CHECK(results.failed.empty());  // not reached is not computed in vain
    const Results whole = run(first);
    for (std::size_t i = 0; i < first.count; ++i) {
      if (results.status(i) != Status::failed) CHECK(same_row(results, i, whole, i));
    }
  }
}

TEST_CASE("batch: after false progress is not called again") {
  const Sprays sprays = plain(1000);
  int calls = 0;
  run(sprays, {.threads = 1, .progress = [&](std::size_t) {
                 ++calls;
                 std::this_thread::sleep_for(std::chrono::milliseconds(120));
                 return false;
               }});
  CHECK(calls == 1);
}

TEST_CASE("batch: columns that do not fit are refused") {
  const Sprays sprays = mixed(10, true);
  const auto refused = [&](auto change) {
    Rows rows = sprays.rows();
    Results results(rows.count);
    RowResults columns = results.columns();
    change(rows, columns);
    const std::string why = refusal([&] { simulate_rows(rows, columns); });
    CAPTURE(why);
    // nothing is written
    CHECK(std::all_of(results.values.begin(), results.values.end(),
                      [](double value) { return value == -1.0; }));
    return !why.empty();
  };
  const std::vector<double> short_column(9, 0.3), right(10, 0.3);
  const std::vector<std::uint64_t> far_off(10, 2), short_positions(9, 0), zeros(10, 0);
  CHECK_FALSE(refusal([&] {
                Rows rows = sprays.rows();
                rows.inputs.push_back({parameter_index("air.speed"), short_column});
                run(rows);
              }).empty());
  CHECK(refused([&](Rows& rows, RowResults&) { rows.inputs.push_back({0, short_column}); }));
  CHECK(refused([&](Rows& rows, RowResults&) { rows.inputs.push_back({parameters().size(), right}); }));
  CHECK(refused([&](Rows& rows, RowResults&) { rows.scenarios.clear(); }));
  CHECK(refused([&](Rows& rows, RowResults&) { rows.starts = short_column; }));
  CHECK(refused([&](Rows& rows, RowResults&) { rows.air_of = short_positions; }));
  CHECK(refused([&](Rows& rows, RowResults&) { rows.air_of = far_off; }));
  CHECK(refused([&](Rows& rows, RowResults&) { rows.airs.clear(), rows.air_of = zeros; }));
  CHECK(refused([&](Rows& rows, RowResults&) { rows.scenario_of = far_off; }));
  CHECK(refused([&](Rows& rows, RowResults&) { rows.scenario_of = short_positions; }));
  const std::vector<std::uint64_t> beyond{3, 10};
  CHECK(refused([&](Rows& rows, RowResults&) { rows.which = beyond; }));
  std::vector<double> too_few(49);
  CHECK(refused([&](Rows&, RowResults& columns) { columns.conditions = too_few; }));
  CHECK(refused(
      [&](Rows&, RowResults& columns) { columns.values = columns.values.first(columns.values.size() - 1); }));
  CHECK(refused([&](Rows&, RowResults& columns) { columns.status = columns.status.first(9); }));
  CHECK(refused([&](Rows&, RowResults& columns) { columns.path = {}; }));
  CHECK(refused([&](Rows&, RowResults& columns) { columns.refusal = columns.refusal.first(9); }));
  CHECK_FALSE(refusal([&] {
                Rows rows = sprays.rows();
                rows.scenario_of = far_off;
                run(rows);
              }).empty());
}

TEST_CASE("batch: some rows are computed into the columns of all, and the others stay as they are") {
  const Sprays sprays = mixed(40, true);
  const Results whole = run(sprays);
  Results some(sprays.rows().count);
  std::vector<double> conditions_told(5 * some.count, -1.0);
  RowResults columns = some.columns();
  columns.conditions = conditions_told;
  const std::vector<std::uint64_t> first{31, 2, 17, 9}, second{0, 39, 18};
  for (const std::vector<std::uint64_t>& which : {first, second}) {
    Rows rows = sprays.rows();
    rows.which = which;
    for (const FailedRow& failed : simulate_rows(rows, columns)) some.failed.push_back(failed);
  }
  for (std::size_t row = 0; row < some.count; ++row) {
    CAPTURE(row);
    const bool computed = std::find(first.begin(), first.end(), row) != first.end() ||
                          std::find(second.begin(), second.end(), row) != second.end();
    if (!computed) {
      CHECK(some.statuses[row] == 99);
      CHECK(some.row(row) == std::vector<double>(outcome_variables().size(), -1.0));
      CHECK(conditions_told[row] == -1.0);
      continue;
    }
    CHECK(same_bits(some.row(row), whole.row(row)));
    CHECK(some.statuses[row] == whole.statuses[row]);
    CHECK(some.refusals[row] == whole.refusals[row]);
    if (some.status(row) == Status::failed) {
      CHECK(std::isnan(conditions_told[row]));
      continue;
    }
    const Conditions then = conditions(sprays.air(row).at(sprays.start(row)));
    CHECK(conditions_told[row] == then.temperature);
    CHECK(conditions_told[some.count + row] == then.relative_humidity);
    CHECK(conditions_told[2 * some.count + row] == then.vapour_pressure_deficit);
    CHECK(conditions_told[3 * some.count + row] == then.shortwave);
    CHECK(conditions_told[4 * some.count + row] == then.air_changes);
  }
}

TEST_CASE("batch: no rows at all") {
  const Scenario scenario;
  Rows rows;
  rows.scenarios = {&scenario};
  std::vector<std::size_t> told;
  const Results results = run(rows, {.progress = [&](std::size_t done) {
                                told.push_back(done);
                                return true;
                              }});
  CHECK(results.failed.empty());
  CHECK(told == std::vector<std::size_t>{0});
  const Batch batch = simulate_all({});
  CHECK(batch.outcomes.empty());
  CHECK(batch.reasons.empty());
}

TEST_CASE("batch: flights from a table give the same bits on any threads, in any order" *
          doctest::test_suite("long")) {
  Sprays sprays;
  sprays.count = 120;
  sprays.scenario.numerics.flights = Flights::table;
  sprays.scenario.droplets.dv50 = 233e-6;  // no other test's table
  std::mt19937_64 bits(5);
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  for (double& value : sprays.column("air.temperature")) value = 288.0 + 18.0 * uniform(bits);
  for (double& value : sprays.column("air.relative_humidity")) value = 0.25 + 0.6 * uniform(bits);
  for (double& value : sprays.column("air.speed")) value = 0.05 + 0.6 * uniform(bits);
  const Results many = run(sprays, {.threads = 3});
  REQUIRE(many.failed.empty());
  std::vector<std::size_t> backwards(sprays.count);
  std::iota(backwards.rbegin(), backwards.rend(), std::size_t{0});
  // another nozzle in between puts the table out of memory
  for (const double dv50 : {301e-6, 302e-6, 303e-6, 304e-6}) {
    Sprays other = sprays.taken({0});
    other.scenario.droplets.dv50 = dv50;
    REQUIRE(run(other).failed.empty());
  }
  const Results one = run(sprays.taken(backwards), {.threads = 1});
  for (std::size_t i = 0; i < sprays.count; ++i) CHECK(same_row(one, i, many, backwards[i]));
  CHECK(same_bits(many.row(7), numbers(simulate(sprays.alone(7)))));
}
