// Public functions given what nobody should give them: a clear InputError, never a signal and never NaN in
// silence.
#include <doctest/doctest.h>

#include <algorithm>
#include <limits>
#include <string>
#include <vector>

#include "wetspan/wetspan.hpp"

namespace {

using namespace wetspan;
constexpr double nan = std::numeric_limits<double>::quiet_NaN();

/// Calls `door` and checks that it refuses in one line that names `name`.
template <class Door>
void refused(Door door, const std::string& name) {
  CAPTURE(name);
  try {
    door();
    FAIL_CHECK("it was let in");
  } catch (const InputError& error) {
    const std::string message = error.what();
    CAPTURE(message);
    CHECK(message.find(name) != std::string::npos);
    CHECK(message.find('\n') == std::string::npos);
  }
}

struct Given {
  Scenario scenario;
  CropAir air = steady_air(scenario.air, scenario.house, scenario.numerics.longest);
  AirState state = air.at(0.0);
  Spectrum droplets = spectrum(scenario.droplets.distribution, scenario.droplets.dv50,
                               scenario.droplets.relative_span, scenario.droplets.bins);
  Landing landing = land(scenario, state);
  Load load = load_of(scenario, landing);
};

TEST_CASE("doors: a canopy without layers is refused by all that lays leaves in layers") {
  Given given;
  for (const int layers : {0, -1, 5}) {
    Scenario bare = given.scenario;
    bare.canopy.layers = layers;
    refused([&] { simulate(bare); }, "canopy.layers");
    refused([&] { land(bare, given.state); }, "canopy.layers");
    refused([&] { land(bare, given.state, 2e-4, given.droplets); }, "canopy.layers");
    refused([&] { wet_span(bare, given.load, given.air, 0.0); }, "canopy.layers");
    const SpanJob span{&bare, &given.load, &given.air, 0.0};
    refused([&] { clock_spans({&span, 1}, Instructions::baseline); }, "canopy.layers");
    const Job job{&bare, &given.air, 0.0};
    CHECK(simulate_all({&job, 1}).reasons.front().find("canopy.layers") != std::string::npos);
  }
  for (const int layers : {0, -1}) {
    Canopy bare = given.scenario.canopy;
    bare.layers = layers;
    refused([&] { leaf_layers(bare); }, "canopy.layers");
  }
  Canopy bald = given.scenario.canopy;
  bald.crown_cover = 0.0;
  refused([&] { leaf_layers(bald); }, "canopy.crown_cover");
}

TEST_CASE("doors: an air record that is empty, or has fewer states than times, is refused") {
  Given given;
  CropAir cut = given.air, single = given.air;
  cut.state.pop_back();
  single.time.pop_back(), single.state.pop_back();
  for (const auto& each : {std::pair{CropAir{}, "two moments"}, std::pair{cut, "one state for each"},
                           std::pair{single, "two moments"}}) {
    const CropAir& air = each.first;
    const char* const name = each.second;
    refused([&] { wet_span(given.scenario, given.load, air, 0.0); }, name);
    refused([&] { simulate(given.scenario, air, 0.0); }, name);
    refused([&] { air.at(0.0); }, name);
    const SpanJob span{&given.scenario, &given.load, &air, 0.0};
    refused([&] { clock_spans({&span, 1}, Instructions::baseline); }, name);
    const Job job{&given.scenario, &air, 0.0};
    CHECK(simulate_all({&job, 1}).reasons.front().find(name) != std::string::npos);
  }
  Outdoor outdoor{{0.0, 3600.0}, {OutdoorState{293.15, 1200.0, 101325.0, 1.0, 0.0}}};
  refused([&] { air_at_crop(given.scenario, outdoor); }, "one state for each");
  refused([&] { air_at_crop(given.scenario, Outdoor{}); }, "two moments");
}

TEST_CASE("doors: every impossible value of an air's state is named") {
  Given given;
  const std::vector<std::pair<std::string, double AirState::*>> members{
      {"temperature", &AirState::temperature}, {"vapour_pressure", &AirState::vapour_pressure},
      {"pressure", &AirState::pressure},       {"speed", &AirState::speed},
      {"shortwave", &AirState::shortwave},     {"radiant_temperature", &AirState::radiant_temperature},
      {"air_changes", &AirState::air_changes}};
  for (const auto& [name, member] : members) {
    for (const double value : {nan, -1.0, 1e9}) {
      AirState state = given.state;
      state.*member = value;
      refused([&] { check(state); }, name);
      refused([&] { land(given.scenario, state); }, name);
      refused([&] { land(given.scenario, state, 2e-4, given.droplets); }, name);
    }
  }
}

TEST_CASE("doors: a landing of no volume, of a broken spectrum or on too many layers is refused") {
  Given given;
  for (const double volume : {0.0, -1e-4, nan, 2.0}) {
    refused([&] { land(given.scenario, given.state, volume, given.droplets); }, "volume");
  }
  Spectrum cut = given.droplets;
  cut.volume_share.pop_back();
  refused([&] { land(given.scenario, given.state, 2e-4, cut); }, "volume shares");
  refused([&] { land(given.scenario, given.state, 2e-4, Spectrum{}); }, "volume shares");
  refused([&] { merged(cut, 5); }, "volume shares");
  refused([&] { merged(given.droplets, 0); }, "bins");
  const std::size_t layers = given.landing.layers.size();
  const auto on = [&](const Held& held, const std::string& name) {
    refused([&] { land(given.scenario, given.state, 2e-4, given.droplets, held); }, name);
  };
  on({.leaves = std::vector<double>(layers + 1), .stems = {}}, "held.leaves");
  on({.leaves = std::vector<double>(layers, nan), .stems = {}}, "held.leaves");
  on({.leaves = {}, .stems = std::vector<double>(layers, -1.0)}, "held.stems");
}

TEST_CASE("doors: a load that cannot lie on a crop is refused") {
  Given given;
  const auto with = [&](auto change, const std::string& name) {
    Load load = given.load;
    change(load);
    refused([&] { wet_span(given.scenario, load, given.air, 0.0); }, name);
    const SpanJob span{&given.scenario, &load, &given.air, 0.0};
    refused([&] { clock_spans({&span, 1}, Instructions::baseline); }, name);
  };
  with([](Load& load) { load.layers.clear(); }, "0 leaf layers");
  with([](Load& load) { load.layers.front().liquid = nan; }, "liquid on leaves");
  with([](Load& load) { load.layers.front().upper.mobile = -1.0; }, "active ingredient on leaves");
  with([](Load& load) { load.layers.front().dew = -1.0; }, "dew");
  with([](Load& load) { load.layers.front().strength = nan; }, "strength");
  with([](Load& load) { load.layers.front().temperature = 20.0; }, "leaf temperature");
  with([](Load& load) { load.layers.front().droplets = {}; }, "volume shares");
  with([](Load& load) { load.layers.back().stem_liquid = nan; }, "water on stems");
  with([](Load& load) { load.layers.back().stem.locked = nan; }, "active ingredient on stems");
  with([](Load& load) { load.bench_liquid = nan; }, "water on the bench");
  with([](Load& load) { load.air_vapour = nan; }, "vapour in the house");
  with([](Load& load) { load.air_heat = nan; }, "warmth of the house");
  refused([&] { wet_span(given.scenario, given.load, given.air, nan); }, "within the air record");
  refused([&] { wet_span(given.scenario, given.load, given.air, 0.0, {.at_least = nan}); }, "not a number");
}

TEST_CASE("doors: instructions that the machine has not are refused, with those that it has") {
  Given given;
  const auto here = instructions_here();
  std::vector<Instructions> lacking{static_cast<Instructions>(99)};
  for (const Instructions each : {Instructions::baseline, Instructions::avx2, Instructions::avx512}) {
    if (std::find(here.begin(), here.end(), each) == here.end()) lacking.push_back(each);
  }
  const Job job{&given.scenario, &given.air, 0.0};
  const SpanJob span{&given.scenario, &given.load, &given.air, 0.0};
  for (const Instructions each : lacking) {
    refused([&] { clock_spans({&span, 1}, each); }, "it has: baseline");
    refused([&] { simulate_all({&job, 1}, {.instructions = each}); }, "it has: baseline");
  }
  for (const Instructions each : here) {
    CHECK(clock_spans({&span, 1}, each).spans.front().has_value());
    CHECK(simulate_all({&job, 1}, {.instructions = each}).reasons.front().empty());
  }
}

TEST_CASE("doors: jobs and rows without a scenario or an air are refused") {
  Given given;
  for (const Job& job : {Job{nullptr, &given.air, 0.0}, Job{&given.scenario, nullptr, 0.0}}) {
    refused([&] { simulate_all({&job, 1}); }, "needs a scenario");
  }
  const SpanJob span{&given.scenario, nullptr, &given.air, 0.0};
  refused([&] { clock_spans({&span, 1}, Instructions::baseline); }, "needs a scenario");
  std::vector<double> values(outcome_variables().size());
  std::vector<std::uint8_t> status(1), path(1);
  const RowResults results{values, status, path};
  Rows rows;
  rows.count = 1;
  rows.scenarios = {nullptr};
  refused([&] { simulate_rows(rows, results); }, "a scenario");
  rows.scenarios = {&given.scenario}, rows.airs = {nullptr};
  refused([&] { simulate_rows(rows, results); }, "airs that there are");
}

TEST_CASE("doors: an input that the table has not is refused") {
  Scenario scenario;
  const std::size_t beyond = parameters().size();
  refused([&] { get(scenario, beyond); }, "there is no input");
  refused([&] { set(scenario, beyond, 1.0); }, "there is no input");
  scenario.applications = {{.at = 0.0, .changes = {{.input = beyond, .value = 1.0}}}};
  refused([&] { check(scenario); }, "there is no input");
  refused([&] { applications_of(scenario); }, "there is no input");
  CHECK(!may_change(beyond));
}

TEST_CASE("doors: tables and results whose columns do not fit are refused") {
  RowTable table;
  table.count = 3;
  refused([&] { table.column("wet_time"); }, "one value a row");
  refused([&] { best_time(table); }, "one value a row");
  const std::vector<double> control{0.1, 0.2};
  refused([&] { best_time(control, std::vector<std::uint8_t>{0}); }, "same length");
  refused([&] { best_time({}, {}); }, "without rows");
  JugInput jug;
  jug.classes = particle_classes(100.0);
  const std::vector<double> times{0.0, 3600.0};
  JugResult result = settle(jug, times);
  refused([&] { result.profile(2, 0); }, "there is no time 2");
  refused([&] { profile(JugInput{}, result, 0, Role::active); }, "another jug");
  result.concentration.pop_back();
  refused([&] { result.profile(0, 0); }, "one concentration for each");
}

TEST_CASE("doors: rates, days and equivalents without a scenario or an air are refused") {
  Given given;
  const Job job{&given.scenario, &given.air, 0.0};
  for (const Job& bare : {Job{nullptr, &given.air, 0.0}, Job{&given.scenario, nullptr, 0.0}}) {
    refused([&] { rates_for_height({&bare, 1}, 0.2); }, "needs a scenario");
    refused([&] { sprays_as_drenches({&bare, 1}, 1e-4); }, "needs a scenario");
  }
  const Scenario* none = nullptr;
  refused([&] { drenches_as_sprays({&job, 1}, {&none, 1}); }, "wants a spray");
  for (const double height : {0.0, -1.0, nan}) {
    refused([&] { rates_for_height({&job, 1}, height); }, "must be above 0");
  }
  for (const double volume : {0.0, -1e-4, nan}) {
    refused([&] { sprays_as_drenches({&job, 1}, volume); }, "must be above 0");
  }
  const std::vector<double> starts{0.0};
  refused([&] { compare_times(given.scenario, {}, {}, starts); }, "an air record");
  const CropAir* missing = nullptr;
  refused([&] { compare_times(given.scenario, {&missing, 1}, {}, starts); }, "airs that there are");
  refused([&] { daily_temperatures(CropAir{}, 0.0, 86400.0); }, "two moments");
}

TEST_CASE("doors: what a landing is made of refuses impossible air") {
  Given given;
  AirState broken = given.state;
  broken.temperature = nan;
  refused([&] { flight_input(given.scenario, broken); }, "temperature");
  refused([&] { impact_surface(given.scenario, broken); }, "temperature");
  refused([&] { canopy_layers(given.scenario, broken); }, "temperature");
  refused([&] { falling_below(given.scenario, broken, given.droplets, 1); }, "temperature");
  for (const int below : {-1, given.scenario.canopy.layers + 1}) {
    refused([&] { falling_below(given.scenario, given.state, given.droplets, below); }, "below = ");
  }
  refused([&] { falling_below(given.scenario, given.state, {}, 1); }, "volume shares");
}

TEST_CASE("doors: a bench, its levers and its map refuse what cannot be") {
  Given given;
  const BenchInput good = bench_of(given.scenario, {.rows = 2, .columns = 2});
  const auto with = [&](auto change, const std::string& name) {
    BenchInput input = good;
    change(input);
    refused([&] { spray_bench(input, given.air, 0.0, false); }, name);
  };
  with([](BenchInput& input) { input.passes.clear(); }, "nothing falls");
  with([](BenchInput& input) { input.pattern.clear(); }, "nothing falls");
  with([](BenchInput& input) { input.passes.front().speed = nan; }, "speed");
  with([](BenchInput& input) { input.pattern.front().left = nan; }, "bar");
  with([](BenchInput& input) { input.pot_diameters = {nan}; }, "pot");
  with([](BenchInput& input) { input.weeks = {nan}; }, "daily mean temperature");
  with([](BenchInput& input) { input.volume = nan; }, "volume");
  with([](BenchInput& input) { input.plant_density = nan; }, "plant_density");
  with([](BenchInput& input) { input.layout.rows = 0; }, "rows");
  with([](BenchInput& input) { input.settings.cell = 0.0; }, "cell");
  refused([&] { spray_bench(good, given.air, nan, false); }, "within the air record");
  const Grid grid = grid_over(1.0, 1.0, 0.1, 0.1);
  const Disc disc{0.5, 0.5, 0.2};
  refused([&] { mean_over(grid, {}, {&disc, 1}); }, "one depth for each cell");
  refused(
      [&] { mean_over(grid, std::vector<double>(grid.all_columns() * grid.all_rows(), nan), {&disc, 1}); },
      "depth");
  const Lever unknown{"nothing", {{"no.such", 1.0, true}}};
  Scenario scenario;
  refused([&] { moved(scenario, unknown); }, "unknown input");
  const Lever broken{"nothing", {{"air.speed", nan, true}}};
  refused([&] { moved(scenario, broken); }, "air.speed");
}

}  // namespace
