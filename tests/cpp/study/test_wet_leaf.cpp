// Leaves that are wet again, stay moist, or lie in the shade of others: dew, humectants, salts, re-wetting,
// layers, and what all of that does to uptake.
#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <cmath>
#include <mutex>
#include <numbers>
#include <random>
#include <string>
#include <thread>
#include <vector>

#include "approx.hpp"
#include "reference.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/plant/canopy.hpp"
#include "wetspan/plant/uptake.hpp"
#include "wetspan/study/simulate.hpp"

using namespace wetspan;

namespace {

constexpr double hour = 3600.0, minute = 60.0;
constexpr double quart_per_100_square_feet = 0.946352946e-3 / 9.290304;  // US qt / (100 ft2) [m]; exact

/// In the open and in the dark, leaves as warm as their air: what the air is, leaves feel.
Scenario in_the_dark() {
  Scenario scenario;
  scenario.house.enclosed = false;
  scenario.air.shortwave = 0.0;
  return scenario;
}

CropAir steady(const Scenario& scenario, double duration) {
  return steady_air(scenario.air, scenario.house, duration);
}

/// Air whose humidity follows `humidity(t)`, every ten minutes.
template <class Humidity>
CropAir varying(const Scenario& scenario, double duration, Humidity humidity) {
  CropAir air;
  for (double t = 0.0; t <= duration; t += 600.0) {
    AirState state = steady(scenario, 1.0).state.front();
    state.vapour_pressure = humidity(t) * air::saturation_pressure(state.temperature);
    air.time.push_back(t), air.state.push_back(state);
  }
  return air;
}

/// `film` [m per leaf area] of every layer, in drops of 200 and 300 um.
Load equal_load(const Scenario& scenario, double film) {
  Load load;
  for (const LeafLayer& layer : leaf_layers(scenario.canopy)) {
    load.layers.push_back({.liquid = film * layer.area, .droplets = {{200e-6, 300e-6}, {0.5, 0.5}}});
  }
  return load;
}

double liquid_on(const WetSpan& span) {
  double sum = 0.0;
  for (const Load::Layer& layer : span.left.layers) sum += layer.liquid;
  return sum;
}

/// kappa of one published activity: a_w = 1 / (1 + kappa V_s / V_w), water at 997 kg/m3 (25 degC).
double kappa_of(double mass_share, double activity, double solute_density) {
  return (1.0 / activity - 1.0) * ((1.0 - mass_share) / 997.0) / (mass_share / solute_density);
}

double activity_of(double kappa, double mass_share, double solute_density) {
  return 1.0 / (1.0 + kappa * (mass_share / solute_density) / ((1.0 - mass_share) / 997.0));
}

// densities of the dry solutes at 25 degC (handbooks, from memory)
constexpr double glycerol_density = 1258.0, calcium_chloride_density = 2150.0,
                 ammonium_sulfate_density = 1770.0;
// the one kappa that fits the activities best, by least squares
constexpr double glycerol_kappa = 0.314, calcium_chloride_kappa = 3.45;

}  // namespace

// Humectants and salts -----------------------------------------------------------------------------------

TEST_CASE("one kappa fits glycerol, and not calcium chloride") {
  for (const auto& row : reference::rows("water_activity", "water activity, glycerol")) {
    CAPTURE(row.inputs.at("mass_share"));
    CHECK(reference::holds(row, activity_of(glycerol_kappa, row["mass_share"], glycerol_density)));
    CHECK(kappa_of(row["mass_share"], row.value, glycerol_density) == Approx(glycerol_kappa).epsilon(0.13));
  }
  double least = 10.0, largest = 0.0, worst = 0.0;
  for (const auto& row : reference::rows("water_activity", "water activity, calcium chloride")) {
    const double ours = activity_of(calcium_chloride_kappa, row["mass_share"], calcium_chloride_density);
    const double off = std::abs(ours - row.value);
    CHECK(reference::holds(row, ours));
    const double kappa = kappa_of(row["mass_share"], row.value, calcium_chloride_density);
    least = std::min(least, kappa), largest = std::max(largest, kappa), worst = std::max(worst, off);
  }
  CHECK(largest > 5.0 * least);  // 0.9 in dilute solution to 6 near saturation
  CHECK(worst > 0.1);
}

TEST_CASE("a moist residue keeps the water at which its activity is the humidity") {
  for (const double humidity : {0.3, 0.5, 0.7, 0.9, 0.97}) {
    Scenario scenario = in_the_dark();
    scenario.air.relative_humidity = humidity;
    scenario.liquid.humectant = 0.01, scenario.liquid.kappa = glycerol_kappa;
    const Outcome outcome = simulate(scenario, steady(scenario, 36.0 * hour), 0.0);
    const double solute = 0.01 * outcome.landing.split.leaf * scenario.application.volume_rate;
    const double water = liquid_on(outcome.wet) - solute;
    CAPTURE(humidity);
    CHECK(water / solute == Approx(glycerol_kappa * humidity / (1.0 - humidity)).epsilon(0.1));
    CHECK(std::abs(water / (water + glycerol_kappa * solute) - humidity) < 0.025);
    CHECK(outcome.wet.status == Status::dry);  // in balance counts as dry
    CHECK(std::abs(outcome.wet.water_balance) < 1e-12);
  }
}

TEST_CASE("ammonium sulfate crystallises in dry air, stays dry until it deliquesces, and is wet above") {
  double deliquescence = 0.0, efflorescence = 0.0, kappa = 0.0;
  const auto rows = reference::rows("water_activity", "deliquescence, ammonium sulfate");
  for (const auto& row : rows) {
    CHECK(std::abs(row.value - rows.front().value) < 0.01);  // the sources agree
  }
  deliquescence = rows.front().value;
  for (const auto& row : reference::rows("water_activity", "efflorescence, ammonium sulfate"))
    efflorescence = row.value;
  for (const auto& row : reference::rows("water_activity", "saturated solution, ammonium sulfate"))
    kappa =
        kappa_of(row.value, deliquescence, ammonium_sulfate_density);  // at saturation, where it deliquesces
  CHECK(kappa == Approx(0.58).epsilon(0.02));

  Scenario scenario = in_the_dark();
  scenario.liquid = {
      .humectant = 0.01, .kappa = kappa, .efflorescence = efflorescence, .deliquescence = deliquescence};
  scenario.numerics.follow = 48.0 * hour;
  scenario.numerics.longest = 48.0 * hour;
  // a day: 28 % at noon, 92 % at midnight
  const auto humidity = [](double t) {
    return 0.6 - 0.32 * std::cos(2.0 * std::numbers::pi * (t / hour - 12.0) / 24.0);
  };
  const Outcome outcome = simulate(scenario, varying(scenario, 48.0 * hour, humidity), 12.0 * hour, true);
  const History& history = outcome.wet.history;
  bool crystallised = false, wetted_again = false, dry_between = true;
  for (std::size_t i = 0; i < history.time.size(); ++i) {
    const double now = history.relative_humidity[i], water = history.leaf_water[i];
    if (history.time[i] < 6.0 * hour) continue;  // sprayed into dry air at noon of the first day
    if (now > efflorescence + 0.02 && now < deliquescence - 0.02 && !wetted_again)
      dry_between &= water == 0.0;
    if (water == 0.0) crystallised = true;
    if (now > deliquescence + 0.02) wetted_again |= water > 0.0;
  }
  CHECK(crystallised);
  CHECK(dry_between);
  CHECK(wetted_again);
  // it crystallises again the next noon
  const auto noon = static_cast<std::size_t>(
      std::lower_bound(history.time.begin(), history.time.end(), 24.0 * hour) - history.time.begin());
  CHECK(history.leaf_water[noon] == 0.0);
  CHECK(std::abs(outcome.wet.water_balance) < 1e-12);
}

TEST_CASE("calcium chloride is moist at 60 % humidity and dry below its deliquescence") {
  for (const auto& row : reference::rows("water_activity", "deliquescence, calcium chloride")) {
    Scenario scenario = in_the_dark();
    // kappa at its bound: an underestimate of what this salt holds at 60 % (docs/science/wet_leaf.md)
    scenario.liquid = {.humectant = 0.01, .kappa = 2.0, .efflorescence = 0.2, .deliquescence = row.value};
    scenario.numerics.longest = 24.0 * hour;
    const auto sprayed_at = [&](double humidity) {
      scenario.air.relative_humidity = humidity;
      return simulate(scenario, steady(scenario, 24.0 * hour), 0.0, true);
    };
    const Outcome moist = sprayed_at(0.6), dry = sprayed_at(0.15);
    CHECK(moist.wet.history.leaf_water.back() > 0.02);
    CHECK(moist.wet.history.wet_share.back() > 0.1);
    CHECK(dry.wet.history.leaf_water.back() == 0.0);
    CHECK(dry.wet.history.wet_share.back() == 0.0);
    scenario.liquid = {};
    CHECK(moist.account.leaf > 2.0 * sprayed_at(0.6).account.leaf);  // it goes on giving
  }
}

// Dew ----------------------------------------------------------------------------------------------------

TEST_CASE("a clear night wets leaves again, and the wet duration says so") {
  Scenario scenario = in_the_dark();
  scenario.numerics.follow = 24.0 * hour;
  AirState day = steady(scenario, 1.0).state.front(), night = day;
  day.shortwave = 300.0;
  night.temperature -= 8.0, night.radiant_temperature = night.temperature - 20.0;
  night.vapour_pressure = 0.97 * air::saturation_pressure(night.temperature), night.speed = 0.1;
  // sprayed at three in the afternoon; dusk at seven, dawn at six
  const CropAir air{{0.0, 3.5 * hour, 4.5 * hour, 15.0 * hour, 16.0 * hour, 26.0 * hour},
                    {day, day, night, night, day, day}};
  const Outcome outcome = simulate(scenario, air, 0.0, true);
  CHECK(outcome.wet.status == Status::dry);
  CHECK(outcome.wet.wet_time < hour);
  CHECK(outcome.wet.wet_duration > outcome.wet.wet_time + 8.0 * hour);
  CHECK(outcome.wet.wet_duration < outcome.wet.wet_time + 13.0 * hour);
  CHECK(outcome.wet.end >= 24.0 * hour);
  CHECK(std::abs(outcome.wet.water_balance) < 1e-12);
  double at_three = 0.0;  // dry in the afternoon, wet at night, dry the next morning
  const History& history = outcome.wet.history;
  for (std::size_t i = 0; i < history.time.size(); ++i) {
    const double t = history.time[i];
    if (t > 2.0 * hour && t < 3.4 * hour) CHECK(history.leaf_water[i] < 0.01);
    if (t > 12.0 * hour && t < 12.5 * hour) at_three = history.leaf_water[i];
    if (t > 20.0 * hour) CHECK(history.leaf_water[i] < 0.01);
  }
  CHECK(at_three > 0.1);
  // dew dissolves residue: more is taken up than without
  scenario.numerics.follow = 0.0;
  CHECK(outcome.account.leaf > 1.2 * simulate(scenario, air, 0.0).account.leaf);
}

TEST_CASE("dew of a clear calm night outside is of the measured order") {
  // a field crop, ten hours at 10 degC, sky 20 K colder than the air. The nights of the measurement are known
  // as clear and calm only: humidity and wind were picked where the model makes dew. At 90 % it makes none.
  Scenario scenario = in_the_dark();
  scenario.canopy.crown_cover = 1.0;
  scenario.air.temperature = 283.15;
  scenario.air.surroundings_offset = -20.0;
  scenario.air.relative_humidity = 0.95;
  scenario.retention.leaf_store = 5e-4;
  const auto bounds = reference::rows("retention", "dew on leaves at sunrise");
  double last = 1.0;
  for (const double speed : {0.05, 0.1, 0.2}) {
    scenario.air.speed = speed;
    const WetSpan night = wet_span(scenario, equal_load(scenario, 0.0), steady(scenario, 10.0 * hour + 1.0),
                                   0.0, {.at_least = 10.0 * hour});
    double dew = 0.0;
    for (const Load::Layer& layer : night.left.layers) dew += layer.dew;
    dew *= 1000.0 / leaf_area_index(scenario.canopy);  // [kg per m2 of leaf]
    CAPTURE(speed);
    CHECK(reference::holds(bounds[0], dew, 0.5 * bounds[0].value, 2.0 * bounds[1].value,
                           "wind of " + std::to_string(std::lround(100.0 * speed)) + " cm/s"));
    CHECK(dew < last);  // wind warms the leaf
    last = dew;
    CHECK(night.status == Status::nothing_wet);
    CHECK(night.wet_duration > 9.0 * hour);
  }
}

TEST_CASE("leaves never hold more than their store, however long it condenses") {
  for (const int layers : {1, 3}) {
    for (const double kappa : {0.0, 0.6}) {
      Scenario scenario = in_the_dark();
      scenario.canopy.layers = layers;
      scenario.air.relative_humidity = 1.0;
      scenario.air.surroundings_offset = -25.0;
      scenario.retention.leaf_store = 5e-5;
      scenario.liquid = {.humectant = kappa > 0.0 ? 0.02 : 0.0, .kappa = kappa};
      scenario.numerics.follow = scenario.numerics.longest = 30.0 * hour;
      scenario.numerics.tolerance = 1e-4;
      const Outcome outcome = simulate(scenario, steady(scenario, 30.0 * hour), 0.0);
      const double store = 5e-5 * leaf_area_index(scenario.canopy) / layers;
      for (const Load::Layer& layer : outcome.wet.left.layers) {
        CHECK(layer.liquid + layer.dew < store * 1.001);
        CHECK(layer.liquid + layer.dew > 0.9 * store);
      }
      CHECK(outcome.wet.status == Status::wet_at_end);
      CHECK(std::abs(outcome.wet.water_balance) < 1e-12);
    }
  }
}

// Layers -------------------------------------------------------------------------------------------------

TEST_CASE("at equal load the bottom layer dries last; one layer is the mean of many") {
  reference::rows("response_facts", "order of drying by layer");  // Jacobs, Heusinkveld and Klok
  for (const double shortwave : {0.0, 150.0, 500.0}) {
    for (const double sky : {0.0, -10.0}) {
      Scenario scenario = in_the_dark();
      scenario.air.shortwave = shortwave, scenario.air.surroundings_offset = sky;
      scenario.canopy.layers = 3;
      const WetSpan three =
          wet_span(scenario, equal_load(scenario, 4e-5), steady(scenario, 10.0 * hour), 0.0);
      CAPTURE(shortwave);
      CAPTURE(sky);
      CHECK(three.layer_wet_time[0] < three.layer_wet_time[1]);
      CHECK(three.layer_wet_time[1] < three.layer_wet_time[2]);
      const double mean = (three.layer_wet_time[0] + three.layer_wet_time[1] + three.layer_wet_time[2]) / 3.0;
      scenario.canopy.layers = 1;
      const WetSpan one = wet_span(scenario, equal_load(scenario, 4e-5), steady(scenario, 10.0 * hour), 0.0);
      CHECK(one.wet_time == Approx(mean).epsilon(0.02));
    }
  }
}

// Wetness and uptake --------------------------------------------------------------------------------------

TEST_CASE("a leaf kept wet takes up 1 to 3 % an hour at 20 degC, and as measured over temperature") {
  const auto first_hour = [](double temperature, double concentration) {
    Scenario scenario = in_the_dark();
    scenario.air.temperature = temperature;
    scenario.air.relative_humidity = 0.999;
    scenario.application.concentration = concentration;
    scenario.canopy.growing_share = 0.0;  // both published values are of mature leaves
    return simulate(scenario, steady(scenario, hour), 0.0).wet.leaf_uptake;
  };
  const auto bounds = reference::rows("response_facts", "leaf uptake per wet hour");
  for (const double concentration : {0.010, 0.020, 0.030}) {
    const std::string by = std::to_string(static_cast<int>(1000 * concentration)) + " mg/L";
    const double taken = first_hour(293.15, concentration);
    CHECK(reference::holds(bounds[0], taken, bounds[0].value, bounds[1].value, by));
  }
  // another triazole, on leaf discs of another crop: the same order, and the same rise with temperature
  for (const auto& row : reference::rows("response_facts", "first-order rate of leaf uptake, flusilazol")) {
    CAPTURE(row.inputs.at("temperature"));
    CHECK(reference::holds(row, -std::log1p(-first_hour(row["temperature"], 0.010))));
  }
}

TEST_CASE("young leaves take up more, wet and dry, on both paths") {
  // the sign: fenarimol and flusilazol in partially unfolded against fully expanded apple leaves, over 24 h
  // (O'Leary and Jones 1987, Phytopathology 77:1564, seen as abstract; no size given there)
  Scenario scenario;
  scenario.numerics.follow = 24.0 * hour;
  const auto entered = [&](double growing, double share) {
    scenario.canopy.growing_share = growing, scenario.uptake.mobile_share = share;
    return simulate(scenario, steady(scenario, 25.0 * hour), 0.0).wet.leaf_uptake;
  };
  for (const double share : {0.0, 0.12, 0.7}) CHECK(entered(1.0, share) > 1.3 * entered(0.0, share));
  // of two layers the upper one holds all growing blades
  scenario = {};
  scenario.canopy.growing_share = 0.5;
  CHECK(growing_share(scenario.canopy, 0) == 1.0);
  CHECK(growing_share(scenario.canopy, 1) == 0.0);
  scenario.canopy.layers = 4;
  CHECK(growing_share(scenario.canopy, 1) == 1.0);
  CHECK(growing_share(scenario.canopy, 2) == 0.0);
  scenario.canopy.growing_share = 0.3;
  CHECK(growing_share(scenario.canopy, 1) == Approx(0.2));
  CHECK(leaf_cuticle(scenario.uptake, 0.2) == Approx(1.2));
  CHECK(enters_growing(scenario.uptake, 0.2) == Approx(0.4 / 1.2));
}

TEST_CASE("once dry, mobile deposit enters at its rate and locked deposit is lost at its own") {
  Scenario scenario = in_the_dark();
  scenario.air.temperature = 293.15;
  scenario.air.speed = 1.0, scenario.air.relative_humidity = 0.3;
  scenario.leaf.stomatal_conductance = 0.0, scenario.leaf.emissivity = 0.0;  // leaves as warm as the air
  scenario.numerics.follow = 30.0 * hour;
  scenario.house.enclosed = false;
  const Load load = load_of(scenario, land(scenario, steady(scenario, 1.0).at(0.0)));
  const auto after = [&](double time) {
    return wet_span(scenario, load, steady(scenario, 48.0 * hour), 0.0, {.at_least = time, .at_most = time});
  };
  const WetSpan early = after(3.0 * hour), late = after(27.0 * hour);
  const double rate = mobile_rate(scenario.uptake, scenario.air.temperature) * 24.0 * hour;
  const double loss = scenario.uptake.residue_loss * 24.0 * hour;
  for (std::size_t k = 0; k < early.left.layers.size(); ++k) {
    for (const auto on : {&Load::Layer::upper, &Load::Layer::lower, &Load::Layer::stem}) {
      const OnSurface &was = early.left.layers[k].*on, &is = late.left.layers[k].*on;
      CHECK(was.liquid == 0.0);
      const double cuticle =
          on == &Load::Layer::stem ? 1.0 : leaf_cuticle(scenario.uptake, growing_share(scenario.canopy, k));
      CHECK(is.mobile == Approx(was.mobile * std::exp(-cuticle * rate)).epsilon(1e-4));
      CHECK(is.locked == Approx(was.locked * std::exp(-loss)).epsilon(1e-4));
    }
  }
}

TEST_CASE("dew takes back into solution what it covers, and it enters") {
  Scenario scenario = in_the_dark();
  scenario.house.enclosed = false;
  scenario.air.relative_humidity = 1.0, scenario.air.surroundings_offset = -20.0;
  scenario.uptake.mobile_rate = 0.0;
  Load load;
  for (const LeafLayer& layer : leaf_layers(scenario.canopy)) {
    load.layers.push_back({.upper = {.locked = 1e-6 * layer.area}, .lower = {.locked = 1e-7 * layer.area}});
  }
  const auto night = [&](double offset) {
    scenario.air.surroundings_offset = offset;
    return wet_span(scenario, load, steady(scenario, 12.0 * hour), 0.0,
                    {.at_least = 10.0 * hour, .at_most = 10.0 * hour});
  };
  const WetSpan dewy = night(-20.0), dry = night(20.0);
  REQUIRE(dewy.left.layers[0].dew > 0.0);
  REQUIRE(dry.left.layers[0].dew < 1e-9);
  CHECK(dry.leaf_uptake < 1e-9);
  CHECK(dewy.leaf_uptake > 0.01);
  CHECK(dewy.left.layers[0].upper.locked < dry.left.layers[0].upper.locked);
  // where dew dries again a part of what it held is mobile
  CropAir air = steady(scenario, 12.0 * hour);
  air = {{0.0, 4.0 * hour, 5.0 * hour, 12.0 * hour},
         {air.state[0], air.state[0], air.state[0], air.state[0]}};
  for (std::size_t i = 0; i < 2; ++i) air.state[i].radiant_temperature = air.state[i].temperature - 20.0;
  for (std::size_t i = 2; i < 4; ++i) air.state[i].vapour_pressure *= 0.5;
  const WetSpan morning =
      wet_span(scenario, load, air, 0.0, {.at_least = 11.0 * hour, .at_most = 11.0 * hour});
  CHECK(morning.left.layers[0].dew < 1e-3 * scenario.leaf.dew_film);
  CHECK(morning.left.layers[0].upper.mobile > 0.0);
  CHECK(morning.left.layers[0].upper.mobile <
        scenario.uptake.mobile_share * load.layers[0].upper.locked * 1.001);
}

TEST_CASE("stems dry in their own layer's wind and sun") {
  Scenario scenario;
  scenario.canopy.layers = 3;
  const auto stems_dry = [&](double sun, double attenuation, double air_speed) {
    scenario.air.shortwave = sun, scenario.canopy.wind_attenuation = attenuation,
    scenario.air.speed = air_speed;
    const CropAir air = steady(scenario, 10.0 * hour);
    const Load load = load_of(scenario, land(scenario, air.at(0.0)));
    return wet_span(scenario, load, air, 0.0).stem_wet_time;
  };
  const double as_is = stems_dry(400.0, 2.0, 0.3);
  CHECK(stems_dry(0.0, 2.0, 0.3) > 1.1 * as_is);
  CHECK(stems_dry(400.0, 0.0, 0.3) < 0.9 * as_is);  // as windy below as above
  CHECK(stems_dry(400.0, 2.0, 1.5) < 0.9 * as_is);
}

TEST_CASE("longer wet, more taken up") {
  // the same leaves in the dark at 20 degC, damper from case to case
  double wet_time = 0.0, taken = 0.0;
  for (const double humidity : {0.1, 0.4, 0.6, 0.8, 0.9, 0.95}) {
    Scenario scenario = in_the_dark();
    scenario.air.temperature = 293.15;
    scenario.air.relative_humidity = humidity;
    const Outcome outcome = simulate(scenario, steady(scenario, 48.0 * hour), 0.0);
    CHECK(outcome.wet.wet_time > wet_time);
    CHECK(outcome.wet.leaf_uptake > taken);
    wet_time = outcome.wet.wet_time, taken = outcome.wet.leaf_uptake;
  }
  // twice as long wet: about twice as much while wet
  const auto at = [](double humidity) {
    Scenario scenario = in_the_dark();
    scenario.air.temperature = 293.15;
    scenario.air.relative_humidity = humidity;
    return simulate(scenario, steady(scenario, 48.0 * hour), 0.0).wet;
  };
  const WetSpan once = at(0.9), twice = at(0.95);
  CHECK(twice.wet_time / once.wet_time == Approx(2.0).epsilon(0.05));
  CHECK(twice.leaf_uptake / once.leaf_uptake > 1.8);
  CHECK(twice.leaf_uptake / once.leaf_uptake < 2.4);
  // five minutes against an hour
  const WetSpan fast = at(0.02), slow = at(0.895);
  CHECK(fast.wet_time < 7.0 * minute);
  CHECK(slow.wet_time == Approx(hour).epsilon(0.05));
  CHECK(slow.leaf_uptake > 15.0 * fast.leaf_uptake);
}

// Re-wetting ---------------------------------------------------------------------------------------------

TEST_CASE("re-wetting: more control; what is washed off goes to stems and ground") {
  Scenario scenario = in_the_dark();
  scenario.air.relative_humidity = 0.8;
  const CropAir air = steady(scenario, 48.0 * hour);
  const Outcome once = simulate(scenario, air, 0.0);
  scenario.rewetting.delay = 18.0 * hour;
  double control = once.growth.control, ground = once.account.substrate + once.account.bench;
  for (const double quarts : {0.25, 0.5, 1.0, 2.0, 4.0}) {
    scenario.rewetting.volume_rate = quarts * quart_per_100_square_feet;
    const Outcome again = simulate(scenario, air, 0.0);
    CAPTURE(quarts);
    if (quarts < 4.0)
      CHECK(again.growth.control > control);  // so heavy a pass washes off what it would bring in
    CHECK(again.account.leaf > once.account.leaf);
    CHECK(again.account.substrate + again.account.bench > ground);
    CHECK(std::abs(again.account.sum() - 1.0) < 1e-12);
    CHECK(std::abs(again.rewet.water_balance) < 1e-12);
    CHECK(again.wet.wet_time == Approx(once.wet.wet_time));  // the first span is as it was
    CHECK(again.rewet.wet_time > 0.0);
    control = again.growth.control, ground = again.account.substrate + again.account.bench;
  }
  // a stem that is wetted again keeps what ran down from the leaves
  scenario.rewetting.volume_rate = 0.5 * quart_per_100_square_feet;
  const Outcome light = simulate(scenario, air, 0.0);
  CHECK(light.account.stem_surface + light.account.stem > once.account.stem_surface + once.account.stem);
}

TEST_CASE("re-wetting a crop that is still wet makes one longer wet span") {
  Scenario scenario = in_the_dark();
  scenario.rewetting.volume_rate = 1.0 * quart_per_100_square_feet;
  const CropAir air = steady(scenario, 48.0 * hour);
  Scenario without = scenario;
  without.rewetting.volume_rate = 0.0;
  const double alone = simulate(without, air, 0.0).wet.wet_time;
  scenario.rewetting.delay = 0.4 * alone;
  const Outcome outcome = simulate(scenario, air, 0.0, true);
  CHECK(outcome.wet.status == Status::dry);
  CHECK(outcome.wet.wet_time > 1.2 * alone);
  CHECK(outcome.wet.wet_time == Approx(scenario.rewetting.delay + outcome.rewet.wet_time));
  CHECK(outcome.wet.stem_wet_time > outcome.wet.wet_time);
  CHECK(std::abs(outcome.account.sum() - 1.0) < 1e-12);
  CHECK(std::is_sorted(outcome.wet.history.time.begin(), outcome.wet.history.time.end()));
  // after the record: refused, not forgotten
  scenario.rewetting.delay = 47.0 * hour;
  CHECK_THROWS_WITH_AS(simulate(scenario, air, 2.0 * hour), doctest::Contains("beyond the air record"),
                       InputError);
}

TEST_CASE("a humectant stays through a re-wetting, but for what runs off") {
  Scenario scenario = in_the_dark();
  scenario.liquid.humectant = 0.02, scenario.liquid.kappa = glycerol_kappa;
  scenario.air.relative_humidity = 0.7;
  const CropAir air = steady(scenario, 48.0 * hour);
  const Outcome once = simulate(scenario, air, 0.0);
  scenario.rewetting = {.volume_rate = 0.5 * quart_per_100_square_feet, .delay = 10.0 * hour};
  const Outcome again = simulate(scenario, air, 0.0);
  // at the end both residues are in balance with the same air: water goes with solute
  CHECK(liquid_on(again.rewet) < 0.99 * liquid_on(once.wet));
  CHECK(liquid_on(again.rewet) > 0.80 * liquid_on(once.wet));
  scenario.rewetting.volume_rate = 3.0 * quart_per_100_square_feet;
  CHECK(liquid_on(simulate(scenario, air, 0.0).rewet) < liquid_on(again.rewet));
}

// Sites of uptake ----------------------------------------------------------------------------------------

TEST_CASE("the same amount on mature leaves alone does least; stem, whole plant and drench do more") {
  // published order (Barrett, Bartuska and Nell 1994, uniconazole on chrysanthemum); what makes it here is
  // measured elsewhere: mature blades export nothing (Richardson and Quinlan 1986), 23 % of what enters the
  // xylem reaches the tips (Sterrett 1985)
  reference::rows("response_facts", "order of sites");
  const auto tip_share =
      reference::rows("response_facts", "share of a stem-injected dose at the growing tips").front();
  const Scenario scenario;
  CHECK(reference::within(tip_share, scenario.crop.tip_share, 0));
  const Outcome whole = simulate(scenario);
  const double amount = whole.applied, cover = whole.wet.cover;
  const auto control = [&](const Arrival& arrival, double leaf_tip_share) {
    Growing growing{.crop = scenario.crop,
                    .uptake = scenario.uptake,
                    .roots = root_rates(scenario.active, scenario.uptake, scenario.substrate)};
    growing.crop.leaf_tip_share = leaf_tip_share;
    constexpr Applied at_start;
    return grow(growing, {&at_start, 1}, {&arrival, 1}).control;
  };
  const auto mobile = [&](double area) { return area * turns_mobile(scenario.uptake, amount / area); };
  const double on_leaf = mobile(cover * scenario.canopy.leaf_area),
               on_stem = mobile(scenario.canopy.stem_area);
  const double as_is = scenario.crop.leaf_tip_share;
  const double growing = scenario.canopy.growing_share;
  const double mature = control({.leaf_mobile = on_leaf}, as_is),
               leaves = control(
                   {.leaf_mobile = (1.0 - growing) * on_leaf, .growing_mobile = growing * on_leaf}, as_is);
  const double stem = control({.stem_mobile = on_stem}, as_is),
               drench = control({.substrate = amount}, as_is);
  CHECK(mature == 0.0);  // by the form of the model; docs/science/sites_of_uptake.md
  CHECK(mature < leaves);
  CHECK(leaves < stem);
  CHECK(leaves < whole.growth.control);
  CHECK(leaves < drench);
  CHECK(whole.growth.control < drench);
  // per amount that enters, stem counts more than growing and mature leaves together
  const double by_leaf = control({.entered = {.leaf = 1e-9}, .entered_growing = growing * 1e-9}, as_is);
  CHECK(control({.entered = {.stem = 1e-9}}, as_is) > 5.0 * by_leaf);
}

// All at once --------------------------------------------------------------------------------------------

TEST_CASE("wet time at the default bins and tolerance") {
  for (const double dv50 : {150e-6, 300e-6, 450e-6}) {
    Scenario scenario;
    scenario.droplets.dv50 = dv50;
    const double as_is = simulate(scenario).wet.wet_time;
    scenario.droplets.bins = 100;
    CAPTURE(dv50);
    CHECK(as_is == Approx(simulate(scenario).wet.wet_time).epsilon(0.01));
    scenario.droplets.bins = Droplets{}.bins;
    scenario.numerics.tolerance = 1e-9;
    CHECK(as_is == Approx(simulate(scenario).wet.wet_time).epsilon(1e-5));
  }
}

namespace {

struct MoistCase {
  double humectant, kappa, humidity, speed, dv50, volume_rate;
  bool salt = false, enclosed = true;
};
Scenario moist_scenario(const MoistCase& of, int bins, int layers) {
  Scenario s;
  s.liquid.humectant = of.humectant, s.liquid.kappa = of.kappa;
  if (of.salt) s.liquid.efflorescence = 0.45, s.liquid.deliquescence = 0.75;
  s.air.relative_humidity = of.humidity, s.air.speed = of.speed;
  s.droplets.dv50 = of.dv50, s.droplets.bins = bins, s.application.volume_rate = of.volume_rate;
  s.canopy.layers = layers, s.house.enclosed = of.enclosed;
  return s;
}

}  // namespace

TEST_CASE("moist deposits of two hundred classes a side on four layers take few steps" *
          doctest::test_suite("long")) {
  // in explicit steps, class by class, these took 5 s to over a minute each, some more than the steps there
  // are
  struct Case {
    MoistCase moist;
    double tolerance;
  };
  for (const Case& each :
       {Case{{0.05, 1.0, 0.6, 0.3, 2e-4, 2e-4}, 1e-6}, Case{{0.2, 0.01, 0.4, 0.0, 1e-4, 5e-5}, 1e-6},
        Case{{0.01, 1.4, 0.999, 3.0, 5e-5, 2e-4}, 1e-6}, Case{{0.05, 1.0, 0.6, 1.0, 4e-4, 2e-4, true}, 1e-6},
        Case{{3.46e-4, 0.358, 0.218, 0.55, 2e-4, 1e-4}, 1e-4}, Case{{0.05, 1.0, 0.6, 0.3, 2e-4, 2e-4}, 1e-9},
        // so dilute that the balance of every class is sudden, and hidden by the tolerance
        Case{{1e-4, 0.01, 0.22, 0.3, 2e-4, 2e-4}, 1e-5}, Case{{1e-6, 0.05, 0.7, 0.3, 2e-4, 2e-4}, 1e-4}}) {
    CAPTURE(each.moist.humectant);
    CAPTURE(each.tolerance);
    Scenario s = moist_scenario(each.moist, 200, 4);
    s.numerics.tolerance = each.tolerance;
    const WetSpan wet = simulate(s).wet;
    CHECK(wet.steps > 50);
    CHECK(wet.steps < 4'000);
    CHECK(std::abs(wet.water_balance) < 1e-12);
  }
}

TEST_CASE(
    "a moist residue in steady air is followed for a month in few steps, by no finer tolerance than the "
    "smallest") {
  Scenario s = moist_scenario({0.01, 0.3, 0.6, 0.3, 2e-4, 2e-4}, 12, 2);
  s.numerics.longest = 2.6e6;
  const WetSpan wet = simulate(s).wet;
  CHECK(wet.end == Approx(2.6e6));
  CHECK(wet.steps < 1'500);  // with none above ten minutes 4500
  s.numerics.longest = 7200.0;
  const auto steps_at = [&](double tolerance) {
    s.numerics.tolerance = tolerance;
    return simulate(s).wet.steps;
  };
  constexpr double smallest = 36 * 36 * 4e-13;  // 12 classes on upper sides of two layers, 6 on lower ones
  CHECK(steps_at(1e-12) <
        1.1 * steps_at(smallest));  // flights have the finer tolerance, and land a little else
  CHECK(steps_at(smallest) > steps_at(3.0 * smallest));
}

TEST_CASE("so little humectant that its film is thinner than a molecule is none") {
  Scenario s = moist_scenario({1e-3, 0.0, 0.7, 0.3, 2e-4, 2e-4}, 12, 2);
  const Outcome inert = simulate(s);
  for (const double kappa : {1e-300, 1e-188, 0.99e-7}) {  // hygroscopicities, over a thousandth
    for (const double efflorescence : {0.0, 0.5}) {       // with the first kappa a slope was infinite
      s.liquid.kappa = kappa, s.liquid.efflorescence = efflorescence, s.liquid.deliquescence = efflorescence;
      CAPTURE(kappa);
      const Outcome outcome = simulate(s);
      CHECK(outcome.wet.wet_time == Approx(inert.wet.wet_time).epsilon(1e-9));
      CHECK(outcome.growth.control == Approx(inert.growth.control).epsilon(1e-9));
    }
  }
}

TEST_CASE("with a humectant or a salt the results converge with the tolerance, and rest on no last digit" *
          doctest::test_suite("long")) {
  for (const MoistCase& each :
       {MoistCase{0.01, 0.4, 0.7, 0.3, 2e-4, 2e-4}, MoistCase{0.02, 0.6, 0.4, 0.3, 2e-4, 2e-4},
        MoistCase{0.02, 0.6, 0.7, 0.3, 2e-4, 2e-4}, MoistCase{0.05, 1.0, 0.6, 0.3, 2e-4, 2e-4},
        MoistCase{0.2, 0.01, 0.4, 0.0, 1e-4, 5e-5}, MoistCase{0.01, 1.4, 0.999, 3.0, 5e-5, 2e-4},
        MoistCase{0.05, 1.0, 0.6, 1.0, 4e-4, 2e-4, true}, MoistCase{3.46e-4, 0.358, 0.218, 0.55, 2e-4, 1e-4},
        MoistCase{0.003, 0.31, 0.9, 0.2, 3e-4, 2e-4, false, false},
        MoistCase{0.03, 2.0, 0.85, 0.1, 1e-4, 1e-4}, MoistCase{0.01, 0.58, 0.5, 0.3, 2e-4, 2e-4, true},
        MoistCase{0.001, 0.31, 0.95, 0.3, 1e-4, 3e-5, false, false}}) {
    CAPTURE(each.humectant);
    CAPTURE(each.humidity);
    Scenario s = moist_scenario(each, 12, 2);
    const auto at = [&](double tolerance) {
      s.numerics.tolerance = tolerance;
      const Outcome outcome = simulate(s);
      return std::array{outcome.wet.wet_time, outcome.wet.stem_wet_time, outcome.wet.leaf_uptake,
                        outcome.growth.control};
    };
    const auto exact = at(1e-10);
    const auto difference = [](const auto& a, const auto& b) {
      double largest = 0.0;
      for (std::size_t i = 0; i < a.size(); ++i) largest = std::max(largest, std::abs(a[i] / b[i] - 1.0));
      return largest;
    };
    CHECK(difference(at(1e-4), exact) < 2e-3);
    CHECK(difference(at(1e-6), exact) < 6e-5);
    CHECK(difference(at(1e-8), exact) < 2e-6);
    const auto as_is = at(1e-6);
    s.air.temperature *= 1.0 + 1e-13;
    CHECK(difference(at(1e-6), as_is) < 2e-5);
  }
}

TEST_CASE("the uptake from a balance that the tolerance hides is that from the liquid of the balance") {
  Scenario s = moist_scenario({1e-6, 0.05, 0.7, 0.3, 2e-4, 2e-4}, 12, 2);
  const auto at = [&](double tolerance) {
    s.numerics.tolerance = tolerance;
    return simulate(s).wet.leaf_uptake;
  };
  const double exact = at(1e-9);
  for (const double tolerance : {1e-4, 1e-5, 1e-6}) CHECK(at(tolerance) == Approx(exact).epsilon(1e-4));
}

TEST_CASE(
    "uptake from a very dilute solution does not depend on the tolerance, nor on the number of classes") {
  // with an error of a class that was allowed to grow with the number of classes, these differed by 3 to 5 %
  for (const double hygroscopicity : {5e-7, 5e-6, 3e-5, 1e-4}) {
    CAPTURE(hygroscopicity);
    for (const int bins : {12, 200}) {
      Scenario s = moist_scenario({hygroscopicity / 0.05, 0.05, 0.7, 0.3, 2e-4, 2e-4}, bins, 1);
      const auto at = [&](double tolerance) {
        s.numerics.tolerance = tolerance;
        return simulate(s).wet;
      };
      const WetSpan exact = at(1e-7), loose = at(1e-4);
      CHECK(loose.leaf_uptake == Approx(exact.leaf_uptake).epsilon(2e-4));
      CHECK(loose.wet_time == Approx(exact.wet_time).epsilon(1e-4));
    }
  }
}

TEST_CASE("the rest of a salt's water goes soon after its crystals appear") {
  // beside crystals the activity is that of deliquescence; that of the solution just before is near the
  // air's, and the time by its rate was a tenth of all that had passed
  Scenario s = moist_scenario({0.02, 0.6, 0.4, 0.3, 3e-4, 2e-4, true, false}, 8, 2);
  const WetSpan wet = simulate(s, steady_air(s), 0.0, true).wet;
  double crystallised = 0.0;
  for (std::size_t i = 0; i < wet.history.time.size(); ++i) {
    if (wet.history.leaf_water[i] > 0.0) crystallised = wet.history.time[i];
  }
  CHECK(wet.last_drop_time > crystallised);
  CHECK(wet.last_drop_time < 1.03 * crystallised);
}

TEST_CASE("less and less humectant comes to none") {
  Scenario s = moist_scenario({0.0, 0.0, 0.7, 0.3, 2e-4, 2e-4}, 12, 2);
  const Outcome none = simulate(s);
  s.liquid.humectant = 1e-7, s.liquid.kappa = 1e-3;
  const Outcome little = simulate(s);
  // a class of water is let go a little before its end, one of a solution comes to its balance there
  CHECK(little.wet.wet_time == Approx(none.wet.wet_time).epsilon(2e-3));
  // what has dried enters from its mobile part at once, what is left in a solution later
  CHECK(little.wet.leaf_uptake == Approx(none.wet.leaf_uptake).epsilon(0.05));
  CHECK(little.growth.control == Approx(none.growth.control).epsilon(2e-3));
}

TEST_CASE("the last of the dew does not keep the steps short") {
  // dew fades on the upper leaves while the lower ones are wet; the slope of the power law of its cover is
  // infinite at nothing, and such a spray needed more steps than there are
  Scenario s;
  s.application.volume_rate = 4e-5, s.droplets.dv50 = 3.25e-4, s.droplets.bins = 40;
  s.rewetting = {.volume_rate = 3e-3, .delay = 0.0, .dv50 = 1.515e-4};
  s.liquid.humectant = 0.005, s.liquid.kappa = 1.3;
  s.air = {.temperature = 290.67, .relative_humidity = 0.54, .pressure = 6.06e4, .speed = 11.6};
  s.air.shortwave = 815.0, s.air.surroundings_offset = -40.0, s.house.heating_temperature = 294.63;
  s.canopy.layers = 4, s.canopy.stem_area = 0.11, s.canopy.pot_diameter = 0.08;
  s.retention.underleaf = 0.34, s.leaf.receding_angle = 0.89;
  s.numerics.follow = s.numerics.longest, s.numerics.dry_share = 1.2e-5, s.numerics.tolerance = 5e-9;
  const WetSpan wet = simulate(s).rewet;
  CHECK(wet.status == Status::dry);
  CHECK(wet.steps > 100);
  CHECK(wet.steps < 5'000);
}

TEST_CASE("two thousand crops with every option on: all accounts close" * doctest::test_suite("long")) {
  const auto draw = [](std::uint64_t seed) {
    std::mt19937_64 bits(seed);
    std::uniform_real_distribution<double> uniform(0.0, 1.0);
    const auto by = [&](double& value, double factor) {
      value *= std::pow(factor, 2.0 * uniform(bits) - 1.0);
    };
    const auto chance = [&](double share) { return uniform(bits) < share; };
    Scenario s;
    s.application.method = chance(0.03) ? Method::drench : Method::spray;
    by(s.application.volume_rate, 4.0), by(s.application.concentration, 5.0), by(s.application.angle, 2.0);
    by(s.droplets.dv50, 2.0), s.droplets.bins = 2 + static_cast<int>(3.0 * uniform(bits));
    by(s.nozzle.pressure, 2.0), by(s.nozzle.height, 2.0);
    s.air.temperature = 283.15 + 20.0 * uniform(bits);
    s.air.relative_humidity = 0.2 + 0.79 * uniform(bits);
    by(s.air.speed, 4.0), by(s.air.shortwave, 4.0);
    if (chance(0.3)) s.air.shortwave = 0.0, s.air.surroundings_offset = -20.0 * uniform(bits);
    s.house.enclosed = chance(0.6);
    s.house.sprayed_share = 0.1 + 0.3 * uniform(bits);
    by(s.house.air_changes, 4.0);
    by(s.canopy.leaf_area, 3.0);
    s.canopy.crown_cover = chance(0.2) ? 1.0 : 0.3 + 0.7 * uniform(bits);
    s.canopy.layers = 1 + static_cast<int>(4.0 * uniform(bits));
    s.canopy.stem_area = chance(0.15) ? 0.0 : 0.005 * uniform(bits);
    by(s.retention.leaf_store, 2.0), by(s.retention.stem_store, 2.0), by(s.leaf.dew_film, 2.0);
    s.leaf.contact_angle = 0.5 + 2.0 * uniform(bits),
    s.leaf.receding_angle = 0.9 * uniform(bits) * s.leaf.contact_angle;
    by(s.leaf.width, 2.0), by(s.active.solubility, 10.0), by(s.uptake.cuticle, 5.0);
    if (chance(0.25)) {
      s.liquid.humectant = 0.03 * uniform(bits), s.liquid.kappa = 2.0 * uniform(bits);
      if (chance(0.5))
        s.liquid.deliquescence = 0.3 + 0.6 * uniform(bits),
        s.liquid.efflorescence = 0.6 * s.liquid.deliquescence;
    }
    if (chance(0.3))
      s.rewetting = {.volume_rate = 3e-4 * uniform(bits), .delay = 20.0 * hour * uniform(bits)};
    if (chance(0.15)) s.numerics.follow = 24.0 * hour;
    s.numerics.longest = 24.0 * hour;
    s.numerics.tolerance = 1e-4;
    return s;
  };
  const auto flaw = [](const Scenario& s, const Outcome& o) -> std::string {
    if (!(std::abs(o.landing.split.sum() - 1.0) < 1e-12)) return "split";
    const Account& a = o.account;
    if (!(std::abs(a.sum() - 1.0) < 1e-12)) return "account";
    for (const double share : {a.leaf_surface, a.leaf, a.stem_surface, a.stem, a.weathered, a.substrate,
                               a.root, a.lost, a.bench, a.airborne}) {
      if (!(share > -1e-12 && share < 1.0 + 1e-12)) return "a share of the account";
    }
    for (const WetSpan* span : {&o.wet, &o.rewet}) {
      if (!(std::abs(span->water_balance) < 1e-12)) return "water";
      if (span->status == Status::failed) return "status";
      if (span->status == Status::dry &&
          !(std::isfinite(span->wet_time) && std::isfinite(span->stem_wet_time)))
        return "dry, but never";
      if (!(span->wet_duration <= span->end * (1.0 + 1e-9))) return "duration";
      for (const Load::Layer& layer : span->left.layers) {
        const double store = s.retention.leaf_store * leaf_area_index(s.canopy) / s.canopy.layers;
        if (!(layer.liquid + layer.dew < 1.002 * store)) return "store";
        if (!(layer.liquid > -1e-15 && layer.upper.sum() + layer.lower.sum() > -1e-18)) return "what is left";
        if (!(layer.dew > -1e-3 * s.leaf.dew_film)) return "dew";
        if (span->steps > 0 && !(layer.temperature > 250.0 && layer.temperature < 330.0))
          return "leaf temperature";
      }
    }
    if (o.wet.status == Status::nothing_wet && s.application.method == Method::spray) return "status";
    if (!(o.growth.control > 0.0 && o.growth.control < 1.0 - s.crop.initial_height / s.crop.final_height))
      return "growth control";
    return "";
  };
#if defined(__SANITIZE_ADDRESS__) || !defined(NDEBUG)
  constexpr std::uint64_t count = 100;
#else
  constexpr std::uint64_t count = 2000;
#endif
  std::atomic<std::uint64_t> next{0};
  std::mutex door;
  std::vector<std::string> flaws;
  const auto work = [&] {
    for (std::uint64_t seed = next++; seed < count; seed = next++) {
      const Scenario scenario = draw(seed);
      std::string what;
      try {
        what = flaw(scenario, simulate(scenario));
      } catch (const std::exception& error) {
        what = error.what();
      }
      const std::lock_guard lock(door);
      if (!what.empty()) flaws.push_back("seed " + std::to_string(seed) + ": " + what);
    }
  };
  {
    std::vector<std::jthread> crew;
    for (unsigned i = 0; i < std::max(1u, std::thread::hardware_concurrency()); ++i) crew.emplace_back(work);
  }
  CHECK(flaws.empty());
  for (std::size_t i = 0; i < std::min<std::size_t>(flaws.size(), 10); ++i) MESSAGE(flaws[i]);
}

TEST_CASE("leaves in the saturated air of a closed house need no more steps than dew elsewhere") {
  Scenario s;
  s.air.temperature = 319.3, s.air.relative_humidity = 1.0, s.air.speed = 3.85;
  s.house.height = 13.9, s.house.sprayed_share = 0.48, s.house.air_changes = 0.034, s.house.heat_loss = 6.1;
  s.house.heat_capacity = 10933.0;
  s.canopy.plant_density = 2116.0, s.canopy.leaf_area = 0.32, s.canopy.leaf_angle = 1.118;
  s.canopy.pot_diameter = 0.015;
  s.leaf.width = 0.0049, s.leaf.turbulence = 1.48, s.leaf.contact_angle = 2.558,
  s.leaf.receding_angle = 2.188;
  s.leaf.dew_film = 3.087e-4, s.leaf.stomatal_conductance = 0.0283, s.leaf.stomatal_half_light = 3.85;
  s.droplets.bins = 8, s.numerics.longest = s.numerics.follow = 20'000.0;
  const Outcome outcome = simulate(s);
  CHECK(outcome.wet.status == Status::wet_at_end);
  CHECK(outcome.wet.steps < 2500);  // 5487 while the rates had a corner at saturation
  CHECK(std::abs(outcome.wet.water_balance) < 1e-12);
}
