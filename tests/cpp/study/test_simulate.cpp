#include "wetspan/study/simulate.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <atomic>
#include <cmath>
#include <mutex>
#include <random>
#include <string>
#include <thread>
#include <vector>

#include "approx.hpp"
#include "drawn.hpp"
#include "reference.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/plant/canopy.hpp"
#include "wetspan/plant/uptake.hpp"
#include "wetspan/properties/water.hpp"
#include "wetspan/study/clock.hpp"

using namespace wetspan;

namespace {

constexpr double quart_per_100_square_feet = 0.946352946e-3 / 9.290304;  // US qt / (100 ft2) [m]

/// A scenario anywhere within the bounds of the table: log-uniform where they span a decade, now and then on
/// a bound. Inputs that would contradict each other are drawn within each other's reach. Few droplet classes,
/// a loose tolerance and at most a quarter of an hour keep ten thousand of them affordable.
Scenario anywhere(std::uint64_t seed) {
  std::mt19937_64 bits(seed);
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  const auto within = [&](double low, double high) { return drawn_within(bits, low, high); };
  Scenario scenario;
  for (std::size_t i = 0; i < parameters().size(); ++i) {
    const Parameter& row = parameters()[i];
    double value = within(row.low, row.high);
    if (row.kind != Kind::number)
      value = std::min(row.high, std::floor(row.low + (row.high - row.low + 1.0) * uniform(bits)));
    set(scenario, i, std::clamp(value, row.low, row.high));
  }
  scenario.application.method = uniform(bits) < 0.9 ? Method::spray : Method::drench;
  scenario.leaf.receding_angle = within(0.0, scenario.leaf.contact_angle);
  scenario.liquid.efflorescence = within(0.0, scenario.liquid.deliquescence);
  scenario.crop.initial_height = within(0.005, 0.99 * scenario.crop.final_height);
  scenario.house.heating_temperature =
      within(263.15, std::min(313.15, scenario.house.vent_temperature - 0.1));
  Canopy& canopy = scenario.canopy;
  canopy.pot_diameter = within(0.01, std::min(0.6, 1.12 / std::sqrt(canopy.plant_density)));
  canopy.stem_area = within(0.0, std::min(0.2, 20.0 * canopy.crown_cover / canopy.plant_density));
  scenario.droplets.bins = 2 + static_cast<int>(5.0 * uniform(bits));
  scenario.numerics.tolerance = 1e-4;
  scenario.numerics.longest = within(60.0, 900.0);
  scenario.numerics.follow = std::min(scenario.numerics.follow, scenario.numerics.longest);
  if (uniform(bits) < 0.7) scenario.rewetting.volume_rate = 0.0;
  scenario.rewetting.delay = within(0.0, 2.0 * scenario.numerics.longest);
  return scenario;
}

/// What is wrong with an outcome; nothing if nothing.
std::string flaw(const Scenario& scenario, const Outcome& outcome) {
  constexpr double closed = 1e-12;
  const Split& split = outcome.landing.split;
  if (!(std::abs(split.sum() - 1.0) < closed)) return "split";
  for (const double share :
       {split.leaf, split.stem, split.substrate, split.bench, split.airborne, split.evaporated}) {
    if (!(share > -closed && share < 1.0 + closed)) return "a share of the split";
  }
  const Account& account = outcome.account;
  if (scenario.application.concentration > 0.0 && !(std::abs(account.sum() - 1.0) < closed)) return "account";
  for (const double share :
       {account.leaf_surface, account.leaf, account.stem_surface, account.stem, account.substrate,
        account.root, account.lost, account.bench, account.airborne, account.weathered}) {
    if (!(share > -closed && share < 1.0 + closed)) return "a share of the account";
  }
  for (const WetSpan* span : {&outcome.wet, &outcome.rewet}) {
    if (!(std::abs(span->water_balance) < closed))
      return "water " + std::to_string(span->water_balance * 1e12);
    if (!(span->leaf_uptake > -closed && span->leaf_uptake < 1.0 + closed)) return "leaf uptake";
    if (!(span->stem_uptake > -closed && span->stem_uptake < 1.0 + closed)) return "stem uptake";
    if (!(span->wet_time >= 0.0 && span->last_drop_time >= 0.0 && span->stem_wet_time >= 0.0)) return "times";
    if (!(span->wet_duration >= 0.0 && span->wet_duration <= span->end * (1.0 + 1e-9))) return "duration";
    if (span->end > 0.0 && !(span->mean_leaf_temperature > 200.0 && span->mean_leaf_temperature < 400.0)) {
      return "leaf temperature";
    }
    if (span->status == Status::dry && !std::isfinite(span->wet_time)) return "dry, but never";
    if (span->status == Status::failed) return "status";
  }
  const Growth& growth = outcome.growth;
  const Crop& crop = scenario.crop;
  if (!(growth.control >= 0.0 && growth.control <= 1.0 - 0.999 * crop.initial_height / crop.final_height)) {
    return "control";
  }
  if (!(std::abs(growth.plant.sum() - growth.uptake.sum()) <= closed * outcome.applied)) {
    return "what the plant took up";
  }
  if (!(growth.tips.sum() <= growth.uptake.sum() + closed * outcome.applied)) return "tips";
  return "";
}

double wet_time(const Scenario& scenario) { return simulate(scenario).wet.wet_time; }

}  // namespace

TEST_CASE("ten thousand scenarios from anywhere within the bounds: all closes, nothing breaks" *
          doctest::test_suite("long")) {
#ifdef __SANITIZE_ADDRESS__
  constexpr int wanted = 100;
#else
  constexpr int wanted = 10'000;
#endif
  std::atomic<std::uint64_t> next{0};
  std::atomic<int> valid{0}, refused{0}, given_up{0}, dry{0}, wet{0}, none{0};
  std::mutex door;
  std::vector<std::string> flaws;
  const auto work = [&] {
    while (valid < wanted) {
      const std::uint64_t seed = next++;
      const Scenario scenario = anywhere(seed);
      std::string what;
      try {
        const Outcome outcome = simulate(scenario);
        what = flaw(scenario, outcome);
        ++valid;
        ++(outcome.wet.status == Status::dry ? dry : outcome.wet.status == Status::wet_at_end ? wet : none);
      } catch (const InputError&) {
        ++refused;
      } catch (const IntegrationError&) {
        ++given_up;
      } catch (const std::exception& error) {
        what = error.what();
        ++valid;
      }
      if (what.empty()) continue;
      const std::lock_guard lock(door);
      flaws.push_back("seed " + std::to_string(seed) + ": " + what);
    }
  };
  std::vector<std::thread> crew;
  for (unsigned i = 0; i < std::max(1u, std::thread::hardware_concurrency()); ++i) crew.emplace_back(work);
  for (std::thread& one : crew) one.join();
  MESSAGE(valid.load(), " scenarios: ", dry.load(), " dried, ", wet.load(), " stayed wet, ", none.load(),
          " had nothing on leaves; ", refused.load(), " more refused as contradictory, ", given_up.load(),
          " given up");
  for (const std::string& what : flaws) FAIL_CHECK(what);
  CHECK(dry > wanted / 10);
  CHECK(wet > wanted / 10);
  CHECK(refused < 2 * valid);
  CHECK(given_up == 0);
}

TEST_CASE("more volume goes to stems and substrate, as the trade sets its volumes for") {
  // 2 and 3 US qt per 100 ft2: common practice, no source
  Scenario two, three;
  two.application.volume_rate = 2.0 * quart_per_100_square_feet;
  three.application.volume_rate = 3.0 * quart_per_100_square_feet;
  const Split less = simulate(two).landing.split, more = simulate(three).landing.split;
  CHECK(more.stem + more.substrate > less.stem + less.substrate + 0.01);
  CHECK(more.leaf < less.leaf);
}

TEST_CASE("a drench puts all on the substrate and wets no leaf") {
  Scenario drench;
  drench.application.method = Method::drench;
  const Outcome outcome = simulate(drench);
  CHECK(outcome.landing.split == Split{.substrate = 1.0});
  CHECK(outcome.wet.status == Status::nothing_wet);
  CHECK(outcome.growth.uptake.leaf == 0.0);
  CHECK(outcome.growth.uptake.stem == 0.0);
  CHECK(outcome.growth.uptake.root > 0.0);
}

TEST_CASE("a younger crop lets more through to the substrate") {
  Scenario older, younger;
  younger.canopy.leaf_area = 0.3 * older.canopy.leaf_area;
  younger.canopy.crown_cover = 0.5 * older.canopy.crown_cover;
  CHECK(simulate(younger).landing.split.substrate > simulate(older).landing.split.substrate + 0.05);
  // early sprays act more (Gilbertz 1992): by what roots get, and because more growth is to come
  CHECK(simulate(younger).growth.uptake.root > 1.2 * simulate(older).growth.uptake.root);
}

TEST_CASE("late sprays and drenches do less, and none more than the growth to come") {
  for (const Method method : {Method::spray, Method::drench}) {
    double before = 1.0, to_come = 1.0;
    for (const double days : {0.0, 14.0, 28.0, 42.0}) {
      Scenario scenario;
      scenario.application.method = method;
      scenario.applications = {{.at = days * 86400.0, .changes = {}}};
      const Growth growth = simulate(scenario).growth;
      CAPTURE(days);
      CHECK(growth.control < before);
      CHECK(growth.applications[0].to_come < to_come);
      CHECK(growth.control * growth.untreated < growth.applications[0].to_come);
      before = growth.control, to_come = growth.applications[0].to_come;
    }
    CHECK(before < 0.08);  // Latimer and Thomas (seen as abstract): no effect at 8 weeks; here 6
  }
}

TEST_CASE("warm weeks weaken: the published sign") {
  // paclobutrazol at 15, 30 and 45 mg/L, means of 16, 22 and 28 degC, four crops: an abstract in HortScience
  for (const double concentration : {15e-3, 30e-3, 45e-3}) {
    double before = 1.0;
    for (const double celsius : {16.0, 22.0, 28.0}) {
      Scenario scenario;
      scenario.application.concentration = concentration;
      scenario.crop.mean_temperature = 273.15 + celsius;
      const double control = simulate(scenario).growth.control;
      CHECK(control < before);
      before = control;
    }
  }
}

TEST_CASE("a calendar: its applications add up, each with its own method and amount") {
  constexpr double day = 86400.0;
  const std::size_t method = parameter_index("application.method");
  const std::size_t concentration = parameter_index("application.concentration");
  Scenario scenario;
  scenario.applications = {
      {.at = 0.0, .changes = {}},
      {.at = 10.0 * day, .changes = {{method, static_cast<double>(Method::drench)}, {concentration, 0.5e-3}}},
      {.at = 21.0 * day, .changes = {{concentration, 0.015}}}};
  HeightCourse course;
  const Outcome outcome = simulate(scenario, false, &course);
  CHECK(std::abs(outcome.account.sum() - 1.0) < 1e-12);
  REQUIRE(outcome.growth.applications.size() == 3);
  double saved = 0.0;
  for (const Effect& effect : outcome.growth.applications) {
    CHECK(effect.saved > 0.0);
    CHECK(effect.saved < effect.to_come);
    saved += effect.saved;
  }
  CHECK(saved == Approx(outcome.growth.untreated - outcome.growth.treated).epsilon(1e-12));
  CHECK(outcome.growth.applications[1].uptake.leaf == 0.0);
  CHECK(outcome.growth.applications[2].uptake.leaf ==
        Approx(0.5 * outcome.growth.applications[0].uptake.leaf).epsilon(0.1));
  // one at the start is the scenario as it stands, bit for bit
  Scenario one;
  one.applications = {{.at = 0.0, .changes = {}}};
  CHECK(simulate(one).growth.control == simulate(Scenario{}).growth.control);
  CHECK(simulate(one).wet.wet_time == simulate(Scenario{}).wet.wet_time);
  // the same in three parts of a third each: published, repeated small against one large is about the same
  Scenario three, large;
  three.applications = {{0.0, {}}, {7.0 * day, {}}, {14.0 * day, {}}};
  large.application.concentration *= 3.0;
  const double ratio = simulate(three).growth.control / simulate(large).growth.control;
  CHECK(ratio > 0.7);
  CHECK(ratio < 1.4);

  scenario.applications[1].at = 30.0 * day;
  CHECK_THROWS_WITH_AS(simulate(scenario), doctest::Contains("in the order of their time"), InputError);
  scenario.applications.pop_back();
  scenario.applications[1].at = 70.0 * day;
  CHECK_THROWS_WITH_AS(simulate(scenario), doctest::Contains("uptake.horizon"), InputError);
  scenario.applications[1].at = day;
  scenario.applications[1].changes = {{parameter_index("crop.half_amount"), 1e-10}};
  CHECK_THROWS_WITH_AS(simulate(scenario), doctest::Contains("the same for all"), InputError);
}

TEST_CASE("the weeks' temperatures come from where they are given, and from the mean beyond") {
  const Scenario scenario;
  const CropAir air = steady_air(scenario);
  const std::vector<double> warm(60, 301.15), some(5, scenario.crop.mean_temperature);
  const double as_is = simulate(scenario, air, 0.0).growth.control;
  CHECK(simulate(scenario, air, 0.0, false, some).growth.control == as_is);
  CHECK(simulate(scenario, air, 0.0, false, warm).growth.control < as_is);
  // of a record, whole days only
  CropAir record;
  for (int hour = 0; hour <= 60; ++hour) {
    record.time.push_back(hour * 3600.0);
    record.state.push_back(air.state.front());
    record.state.back().temperature = 290.0 + hour % 24;
  }
  const std::vector<double> means = daily_temperatures(record, 6.0 * 3600.0, 5.0 * 86400.0);
  REQUIRE(means.size() == 2);
  CHECK(means[0] == Approx(301.5).epsilon(1e-3));
  CHECK(means[1] == Approx(means[0]).epsilon(1e-12));
  // between edges, of which the record covers at least half
  const std::vector<double> edges{-13.0 * 3600.0, 11.0 * 3600.0, 35.0 * 3600.0, 59.0 * 3600.0, 83.0 * 3600.0};
  const std::vector<double> between = mean_temperatures(record, edges);
  REQUIRE(between.size() == 4);
  CHECK(std::isnan(between[0]));  // eleven hours of it
  CHECK(between[1] == daily_temperatures(record, edges[1], 86400.0).front());
  CHECK(std::isnan(between[3]));
  const double half = mean_temperatures(record, std::vector{48.0 * 3600.0, 72.0 * 3600.0}).front();
  CHECK(half == Approx(296.0).epsilon(1e-12));  // the mean over the twelve hours that are known
  CHECK_THROWS_AS(mean_temperatures(record, std::vector{1.0, 1.0}), InputError);
}

// Calibrations: half_amount, leaf_tip_share and mobile_share were set (grade C) so that these three come out.
// They show that the defaults still meet them, and are no evidence for the model.
TEST_CASE("calibrated: a 1 mg/L drench of 118 mL shortens chrysanthemum by 20-25 %") {
  const auto low = reference::rows("response", "drench control, low").front();
  const auto high = reference::rows("response", "drench control, high").front();
  Scenario scenario;
  scenario.application.method = Method::drench;
  scenario.application.volume_rate = low["volume"] * scenario.canopy.plant_density;
  scenario.application.concentration = low["concentration"];
  const double control = simulate(scenario).growth.control;
  CAPTURE(control);
  CHECK(control > low.value);
  CHECK(control < high.value);
}

TEST_CASE("calibrated: a spray of 30 to 50 mg/L controls chrysanthemum") {
  // Menhenett 1984, Sci. Hortic. 24:349 (seen as abstract); that control is a fifth or so is our reading
  Scenario scenario;
  scenario.application.concentration = 0.030;
  CHECK(simulate(scenario).growth.control > 0.12);
  scenario.application.concentration = 0.050;
  CHECK(simulate(scenario).growth.control > 0.18);
  CHECK(simulate(scenario).growth.control < 0.35);
}

TEST_CASE("calibrated: a light re-wetting on the next morning raises control by about a tenth") {
  // common practice, no source: read as 5 to 15 % of the control
  const double low = reference::rows("response_facts", "height control added by a light re-wetting")[0].value;
  const double high =
      reference::rows("response_facts", "height control added by a light re-wetting")[1].value;
  Scenario scenario;
  const double once = simulate(scenario).growth.control;
  scenario.rewetting.volume_rate = 5e-5;
  const double gain = simulate(scenario).growth.control / once - 1.0;
  CAPTURE(gain);
  CHECK(gain > low);
  CHECK(gain < high);
  // and hardly at a high rate: water takes back what it can hold
  scenario.application.concentration = 0.300;
  const double much = simulate(scenario).growth.control;
  scenario.rewetting.volume_rate = 0.0;
  CHECK(much / simulate(scenario).growth.control - 1.0 < 0.3 * gain);
}

TEST_CASE("stem and root bring more to the tips per amount taken up than leaves") {
  const Outcome outcome = simulate(Scenario{});
  CHECK(outcome.growth.tips.stem / outcome.growth.uptake.stem >
        outcome.growth.tips.leaf / outcome.growth.uptake.leaf);
  CHECK(outcome.growth.tips.root + outcome.growth.tips.stem > outcome.growth.tips.leaf);
}

TEST_CASE("a spray holds more water than the air of the house takes up") {
  // a 4 m column at 20 degC takes up 0.07 L/m2 from dry to saturation; a spray of 2 qt per 100 ft2 is 0.2
  // L/m2
  const double column = 4.0 * air::saturation_vapour_density(293.15) / 1000.0;
  CHECK(column == Approx(0.07e-3).epsilon(0.02));
  CHECK(2.0 * quart_per_100_square_feet > 2.5 * column);
}

TEST_CASE("the tighter the house and the more of it is sprayed, the longer all stays wet") {
  Scenario scenario;
  double before = 0.0;
  for (const double changes : {1e-2, 1e-3, 3e-4, 5e-5}) {
    scenario.house.air_changes = changes;
    const double now = wet_time(scenario);
    CHECK(now > before);
    before = now;
  }
  scenario = {};
  before = 0.0;
  for (const double share : {0.0, 0.1, 0.4, 0.8}) {
    scenario.house.sprayed_share = share;
    const double now = wet_time(scenario);
    CHECK(now > before);
    before = now;
  }
}

TEST_CASE("one bench in a large house dries as in the open") {
  Scenario open, bench;
  open.house.enclosed = false;
  for (const double share : {1e-2, 1e-3, 1e-5}) {
    bench.house.sprayed_share = share;
    CHECK(std::abs(wet_time(bench) / wet_time(open) - 1.0) < 10.0 * share);
  }
  bench.house.sprayed_share = 0.0;
  CHECK(wet_time(bench) == Approx(wet_time(open)).epsilon(1e-9));
}

TEST_CASE("a spray moistens and cools the air of a closed house, to saturation and hardly beyond") {
  Scenario scenario;
  scenario.house.sprayed_share = 1.0;
  scenario.house.air_changes = 1e-5;
  const History history = simulate(scenario, true).wet.history;
  CHECK(*std::max_element(history.relative_humidity.begin(), history.relative_humidity.end()) > 0.9);
  // a sunlit leaf goes on giving a little to saturated air until leaves and cover take it back
  CHECK(*std::max_element(history.relative_humidity.begin(), history.relative_humidity.end()) < 1.05);
  CHECK(*std::min_element(history.air_temperature.begin(), history.air_temperature.end()) <
        scenario.air.temperature - 0.5);
}

TEST_CASE("the heat of all water that evaporates, in flight and on the crop, comes from the house") {
  Scenario scenario;
  scenario.droplets.dv50 = 6e-5;
  scenario.house.sprayed_share = 0.1;
  scenario.house.air_changes = 0.0, scenario.house.cover_conductance = 0.0;  // nothing leaves the house
  scenario.house.heat_loss = 0.1;
  const CropAir air = steady_air(scenario);
  const double volume = scenario.application.volume_rate;
  const Landing landing = land(scenario, air.at(0.0));
  const Load load = load_of(scenario, landing);
  const double latent =
      water::latent_heat(scenario.air.temperature) * water::density(scenario.air.temperature);
  CHECK(landing.split.evaporated > 0.1);
  CHECK(landing.heat < latent * landing.split.evaporated);  // the droplets' own warmth gave the rest
  CHECK(load.air_vapour == Approx(landing.split.evaporated * volume));
  CHECK(-load.air_heat * scenario.house.heat_capacity ==
        Approx(landing.heat * volume * scenario.house.sprayed_share));
  const SpanJob job{&scenario, &load, &air, 0.0};
  const auto by_clocks = clock_spans({&job, 1}, instructions_here().back()).spans.front();
  REQUIRE(by_clocks);
  for (const WetSpan& span : {wet_span(scenario, load, air, 0.0), *by_clocks}) {
    const double on_crop = span.left.air_vapour - load.air_vapour;  // evaporated there [m]
    const double heat = (landing.heat * volume + latent * on_crop) * scenario.house.sprayed_share;
    CAPTURE(static_cast<int>(span.path));
    CHECK(on_crop > 0.0);
    CHECK(-span.left.air_heat * scenario.house.heat_capacity ==
          Approx(heat).epsilon(0.01));  // some passes through the cover
    CHECK(landing.heat * volume * scenario.house.sprayed_share >
          0.05 * heat);  // far above what is allowed here
  }
  scenario.house.enclosed = false;
  CHECK(load_of(scenario, landing).air_heat == 0.0);
}

TEST_CASE("a spray whose flight would cool the house below its wet bulb is refused") {
  Scenario scenario;
  scenario.droplets.dv50 = 4e-5;
  scenario.house.heat_capacity = 5e3;
  scenario.house.height = 10.0;
  CHECK_THROWS_WITH_AS(simulate(scenario), doctest::Contains("wet bulb"), InputError);
}

TEST_CASE("the weather's common sense: drier, warmer, windier and sunnier is sooner dry") {
  const auto changed = [](auto change) {
    Scenario scenario;
    change(scenario);
    return wet_time(scenario);
  };
  const double reference = wet_time({});
  CHECK(changed([](Scenario& s) { s.air.relative_humidity = 0.4; }) < reference);
  CHECK(changed([](Scenario& s) { s.air.temperature = 303.15; }) < reference);
  CHECK(changed([](Scenario& s) { s.air.speed = 1.0; }) < reference);
  CHECK(changed([](Scenario& s) { s.air.shortwave = 400.0; }) < reference);
  CHECK(changed([](Scenario& s) { s.air.diffusivity = air::VapourDiffusivity::marrero_mason; }) > reference);
}

TEST_CASE("leaf uptake per wet hour at 20 degC, and more of it the longer the leaf is wet") {
  // cool humid night in the open: wet for hours
  Scenario scenario;
  scenario.house.enclosed = false;
  scenario.air.temperature = 293.15;
  scenario.air.shortwave = 0.0;
  scenario.air.relative_humidity = 0.95;
  scenario.application.concentration = 0.020;  // dissolved wholly
  const WetSpan span = simulate(scenario).wet;
  REQUIRE(span.status == Status::dry);
  const double per_hour = span.leaf_uptake / (span.wet_time / 3600.0);
  CAPTURE(per_hour);
  CAPTURE(span.wet_time);
  CHECK(reference::at_least(reference::rows("uptake", "uptake per wet hour, low").front(), per_hour,
                            "a spray"));
  CHECK(reference::at_most(reference::rows("uptake", "uptake per wet hour, high").front(), per_hour,
                           "a spray"));

  double time = 0.0, uptake = 0.0;
  for (const double rh : {0.3, 0.6, 0.8, 0.9, 0.95, 0.98}) {
    scenario.air.relative_humidity = rh;
    const Outcome outcome = simulate(scenario);
    CHECK(outcome.wet.wet_time > time);
    CHECK(outcome.growth.uptake.leaf > uptake);
    time = outcome.wet.wet_time, uptake = outcome.growth.uptake.leaf;
  }
}

TEST_CASE("uptake goes with mass at low deposits, falls behind at high ones, and has no ceiling") {
  // linear: O'Leary and Jones 1987; Morrison, Lownds and Sterling 1995 over 12-fold; the share absorbed falls
  // at high concentrations: Huang et al. 2000 (all seen as abstract)
  const auto through_leaf = [](double concentration) {
    Scenario scenario;
    scenario.application.concentration = concentration;
    return simulate(scenario).growth.uptake.leaf;
  };
  double before = through_leaf(1e-3), share = before / 1e-3;
  for (const double concentration : {2e-3, 10e-3, 30e-3, 100e-3, 300e-3, 1.0, 3.0}) {
    const double now = through_leaf(concentration);
    CAPTURE(concentration);
    CHECK(now > before);
    CHECK(now / concentration <= share * (1.0 + 1e-9));
    before = now, share = now / concentration;
  }
  CHECK(through_leaf(2e-3) / through_leaf(1e-3) == Approx(2.0).epsilon(0.02));
  CHECK(through_leaf(10.0) / through_leaf(1.0) < 8.0);
}

TEST_CASE("a light re-wetting the next morning adds to the uptake") {
  // +5 to +10 % growth control: common practice, no source; here the direction only
  Scenario scenario, again;
  again.rewetting.volume_rate = 5e-5;
  CHECK(simulate(again).growth.uptake.leaf > simulate(scenario).growth.uptake.leaf);
  CHECK(simulate(again).growth.control > simulate(scenario).growth.control);
  CHECK(simulate(again).rewet.status == Status::dry);
}

TEST_CASE("nothing dries at 100 % humidity at night: said so, with what there is") {
  Scenario night;
  night.air.relative_humidity = 1.0;
  night.air.shortwave = 0.0;
  const Outcome outcome = simulate(night);
  CHECK(outcome.wet.status == Status::wet_at_end);
  CHECK(std::isinf(outcome.wet.wet_time));
  CHECK(outcome.account.leaf > simulate({}).account.leaf);
  CHECK(outcome.account.sum() == Approx(1.0).epsilon(1e-12));
}

TEST_CASE("the default tolerance gives the wet time to 1e-6") {
  std::vector<Scenario> scenarios(5);
  scenarios[1].house.enclosed = false;
  scenarios[2].house.enclosed = false, scenarios[2].air.speed = 2.0,
  scenarios[2].application.volume_rate *= 0.3;
  scenarios[3].air.shortwave = 0.0;
  scenarios[4].leaf.receding_angle = 0.0;
  for (Scenario& scenario : scenarios) {
    const double as_is = wet_time(scenario);
    scenario.numerics.tolerance = 1e-10;
    const double exact = wet_time(scenario);
    CHECK(std::abs(as_is / exact - 1.0) < 1e-6);
    scenario.numerics.tolerance = 1e-4;
    CHECK(std::abs(wet_time(scenario) / exact - 1.0) < 1e-4);
  }
}

TEST_CASE("very thin leaves in strong wind are followed for a month, dry or with dew") {
  Scenario scenario;  // stability would hold explicit steps at two seconds
  scenario.leaf.heat_capacity = 100.0, scenario.canopy.layers = 1, scenario.air.shortwave = 0.0;
  scenario.numerics.follow = scenario.numerics.longest = 2.6e6;
  for (const bool dew : {false, true}) {
    scenario.air.speed = dew ? 3.0 : 13.0, scenario.house.enclosed = !dew;
    if (dew) scenario.air.relative_humidity = 0.98, scenario.air.surroundings_offset = -20.0;
    CAPTURE(dew);
    const WetSpan wet = simulate(scenario).wet;
    CHECK(wet.steps < 6'000);
    CHECK(wet.end == Approx(2.6e6));
    CHECK(std::abs(wet.water_balance) < 1e-12);
    // the same as where the span ends before implicit steps begin, or after it in explicit ones: measured
    // with explicit steps alone over two days
    if (dew) CHECK(wet.wet_time == Approx(40421.25).epsilon(3e-6));
  }
}

TEST_CASE("the default number of droplet classes gives the wet time to about 1 %") {
  std::vector<Scenario> scenarios(3);
  scenarios[1].house.enclosed = false;
  scenarios[2].house.enclosed = false, scenarios[2].air.speed = 2.0,
  scenarios[2].application.volume_rate *= 0.3;
  for (Scenario& scenario : scenarios) {
    const Outcome as_is = simulate(scenario);
    scenario.droplets.bins = 150;
    const Outcome fine = simulate(scenario);
    CHECK(std::abs(as_is.wet.wet_time / fine.wet.wet_time - 1.0) < 0.011);
    CHECK(std::abs(as_is.growth.uptake.leaf / fine.growth.uptake.leaf - 1.0) < 0.01);
    CHECK(std::abs(as_is.growth.control / fine.growth.control - 1.0) < 0.01);
  }
}

TEST_CASE("the same scenario gives the same outcome, bit for bit") {
  const Outcome one = simulate({}), two = simulate({});
  CHECK(one.wet.path == Path::clock);
  CHECK(one.wet.wet_time == two.wet.wet_time);
  CHECK(one.growth.control == two.growth.control);
  CHECK(one.wet.history.time.empty());
  // a history takes the full system, which agrees within the tolerance
  const Outcome told = simulate({}, true);
  CHECK(told.wet.path == Path::reference);
  CHECK(std::abs(told.wet.wet_time / one.wet.wet_time - 1.0) < 3e-6);
  CHECK(std::abs(told.growth.control / one.growth.control - 1.0) < 3e-6);
  CHECK(told.wet.history.time.size() > 10);
}

TEST_CASE("inputs next to zero are answered or refused, and shares next to nothing are none") {
  Scenario base;
  base.droplets.bins = 3, base.canopy.layers = 1;
  base.numerics.tolerance = 1e-4;
  int answered = 0, refused = 0;
  for (std::size_t input = 0; input < parameters().size(); ++input) {
    const Parameter& row = parameters()[input];
    if (row.kind != Kind::number || row.low > 0.0) continue;
    const std::string key = key_of(row);
    CAPTURE(key);
    for (const double value : {5e-324, 1e-310, 1e-307, 1e-200, 1e-30}) {
      CAPTURE(value);
      Scenario scenario = base;
      set(scenario, input, value);
      Outcome outcome;
      try {
        outcome = simulate(scenario);
      } catch (const InputError&) {  // less than a molecule, or against another input
        ++refused;
        continue;
      }
      ++answered;
      CHECK(std::isfinite(outcome.growth.control));
      CHECK(std::abs(outcome.account.sum() - 1.0) < 1e-12);
      if (key == "house.sprayed_share" || key == "retention.underleaf") {
        set(scenario, input, 0.0);
        CHECK(outcome.wet.wet_time == simulate(scenario).wet.wet_time);
      }
    }
  }
  CHECK(answered > 100);
  CHECK(refused < answered / 5);
}
