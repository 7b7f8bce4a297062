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
  for (const auto& [air, name] : {std::pair{CropAir{}, "two moments"}, std::pair{cut, "one state for each"},
                                  std::pair{single, "two moments"}}) {
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

}  // namespace
