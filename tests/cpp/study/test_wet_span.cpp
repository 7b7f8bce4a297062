#include "wetspan/study/wet_span.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <vector>

#include "../plant/boundary_layers.hpp"
#include "approx.hpp"
#include "reference.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/plant/canopy.hpp"
#include "wetspan/plant/leaf.hpp"
#include "wetspan/plant/uptake.hpp"
#include "wetspan/properties/water.hpp"
#include "wetspan/study/clock.hpp"

using namespace wetspan;
using std::numbers::pi;

namespace {

double radians(double degrees) { return degrees * pi / 180.0; }

/// One layer of leaves in the open: no sun, no longwave, no transpiration, no house.
Scenario bare() {
  Scenario scenario;
  scenario.canopy.layers = 1;
  scenario.canopy.wind_attenuation = 0.0;
  scenario.canopy.stem_area = 0.0;
  scenario.house.enclosed = false;
  scenario.air.shortwave = 0.0;
  scenario.leaf.emissivity = 0.0;
  scenario.leaf.stomatal_conductance = 0.0;
  return scenario;
}

/// `film` [m per leaf area] in drops of one size on the leaves.
Load drops(const Scenario& scenario, double film, double diameter, double temperature = 0.0) {
  Load load;
  load.layers.push_back({.liquid = film * leaf_area_index(scenario.canopy),
                         .temperature = temperature,
                         .droplets = {{diameter}, {1.0}}});
  return load;
}

CropAir steady(const Scenario& scenario) {
  return steady_air(scenario.air, scenario.house, scenario.numerics.longest);
}

/// Few and far between, in a wind, on a leaf that its own heat holds at air temperature: drops dry by
/// diffusion alone, as if isolated. What is left of the boundary layer and of cooling is below 0.5 %.
double isolated(double diameter, double contact, double receding, double temperature, double rh) {
  Scenario scenario = bare();
  scenario.air.temperature = temperature;
  scenario.air.relative_humidity = rh;
  scenario.air.speed = 10.0;
  scenario.leaf.heat_capacity = 1e4;
  scenario.leaf.contact_angle = contact;
  scenario.leaf.receding_angle = receding;
  scenario.retention.underleaf = 0.0;
  return wet_span(scenario, drops(scenario, 1e-10, diameter, temperature), steady(scenario), 0.0)
      .last_drop_time;
}

}  // namespace

TEST_CASE("a wet leaf without radiation and transpiration settles at its wet bulb") {
  for (const double rh : {0.2, 0.5, 0.8}) {
    for (const double celsius : {10.0, 20.0, 30.0}) {
      for (const double speed : {0.5, 2.0}) {
        Scenario scenario = bare();
        scenario.air.temperature = 273.15 + celsius;
        scenario.air.relative_humidity = rh;
        scenario.air.speed = speed;
        scenario.retention.underleaf = 0.5;
        const CropAir record = steady(scenario);
        // 0.2 mm in drops of 30 um: thousands of caps per mm2, a film in all but name
        const WetSpan span = wet_span(scenario, drops(scenario, 2e-4, 30e-6), record, 0.0, {}, true);
        REQUIRE(span.status == Status::dry);
        std::size_t half = 0;
        while (span.history.leaf_water[half] > 0.5) ++half;
        const double leaf = span.history.leaf_temperature[half];

        // the temperature at which its own boundary layers bring the heat that their evaporation takes
        const AirState air = record.at(0.0);
        double low = air.temperature - 25.0, high = air.temperature;
        for (int i = 0; i < 60; ++i) {
          const double middle = 0.5 * (low + high), pressure = air::saturation_pressure(middle);
          const auto [upper, lower] = boundary_layers(middle, pressure, air, scenario.leaf.width,
                                                      scenario.leaf.turbulence, scenario.air.diffusivity);
          const double deficit = air::vapour_density(pressure, middle) -
                                 air::vapour_density(air.vapour_pressure, air.temperature);
          ((upper.heat + lower.heat) * (air.temperature - middle) >
                   water::latent_heat(middle) * (upper.vapour + lower.vapour) * deficit
               ? low
               : high) = middle;
        }
        CAPTURE(rh);
        CAPTURE(celsius);
        CAPTURE(speed);
        CHECK(std::abs(leaf - low) < 0.3);
        // The thermodynamic wet bulb has heat and vapour travel alike; by a laminar layer vapour travels the
        // faster, (Sc/Pr)^(2/3) = 0.91, and cools the leaf by 4 to 8 % more.
        const double bulb = air::wet_bulb(air.temperature, air.vapour_pressure, air.pressure);
        if (rh >= 0.5) CHECK(std::abs(leaf - bulb) < 0.6);
        CHECK(std::abs(leaf - bulb) < 0.08 * (air.temperature - bulb));
      }
    }
  }
}

TEST_CASE("sun keeps a wet leaf warmer, one wet face keeps it warmer than two") {
  Scenario scenario = bare();
  const auto coolest = [](const Scenario& of) {
    const WetSpan span = wet_span(of, drops(of, 1e-4, 50e-6), steady(of), 0.0, {}, true);
    return *std::min_element(span.history.leaf_temperature.begin(), span.history.leaf_temperature.end());
  };
  scenario.retention.underleaf = 0.5;
  const double both = coolest(scenario);
  scenario.retention.underleaf = 0.0;
  const double one = coolest(scenario);
  scenario.air.shortwave = 500.0;
  CHECK(both < one - 0.5);
  CHECK(one < coolest(scenario) - 0.5);
}

TEST_CASE("isolated droplets on a leaf last as exact diffusion has them last") {
  // the tolerance of the rows, and as much again for what is not quite isolated and not quite isothermal
  for (const auto& row : reference::rows("drying", "pinned lifetime")) {
    if (row["volume"] > 1e-10) continue;  // 1 uL is no spray droplet
    const double diameter = std::cbrt(6.0 * row["volume"] / pi);
    const double value = isolated(diameter, radians(row["angle"]), 0.0, row["T"], row["rh"]);
    CAPTURE(value);
    CAPTURE(row.value);
    CHECK(reference::within(row, value, 2.0 * row.tolerance, "on a leaf"));
  }
  for (const auto& row : reference::rows("drying", "constant-angle lifetime")) {
    if (row["volume"] > 1e-10) continue;
    const double diameter = std::cbrt(6.0 * row["volume"] / pi), angle = radians(row["angle"]);
    const double value = isolated(diameter, angle, angle, row["T"], row["rh"]);
    CAPTURE(value);
    CAPTURE(row.value);
    CHECK(reference::within(row, value, 2.0 * row.tolerance, "on a leaf"));
  }
}

TEST_CASE("isolated droplets: time goes with d squared and with 1 / (1 - RH)") {
  const double reference = isolated(200e-6, radians(80.0), radians(20.0), 293.15, 0.5);
  for (const double diameter : {50e-6, 100e-6, 400e-6}) {
    CHECK(isolated(diameter, radians(80.0), radians(20.0), 293.15, 0.5) ==
          Approx(reference * std::pow(diameter / 200e-6, 2)).epsilon(0.01));
  }
  for (const double rh : {0.05, 0.3, 0.8, 0.95}) {
    CHECK(isolated(200e-6, radians(80.0), radians(20.0), 293.15, rh) ==
          Approx(reference * 0.5 / (1.0 - rh)).epsilon(0.01));
  }
}

TEST_CASE("a dense deposit dries at the rate of the boundary layer, however fine its droplets") {
  Scenario scenario = bare();
  scenario.retention.underleaf = 0.0;
  scenario.air.speed = 1.0;
  scenario.leaf.heat_capacity = 1e4;
  const auto evaporated = [&](double diameter) {  // in the first second, over the landed film
    return 1.0 - wet_span(scenario, drops(scenario, 2e-4, diameter, scenario.air.temperature),
                          steady(scenario), 0.0, {.at_most = 1.0})
                         .left.layers[0]
                         .liquid /
                     (2e-4 * leaf_area_index(scenario.canopy));
  };
  const AirState air = steady(scenario).at(0.0);
  // the leaf mixes with liquid at the wet bulb of the air
  const double liquid = water::specific_heat(air.temperature) * water::density(air.temperature) * 2e-4;
  const double wet_bulb = air::wet_bulb(air.temperature, air.vapour_pressure, air.pressure);
  const double surface = air.temperature + liquid / (1e4 + liquid) * (wet_bulb - air.temperature);
  const auto layers = boundary_layers(surface, air::saturation_pressure(surface), air, scenario.leaf.width,
                                      scenario.leaf.turbulence, scenario.air.diffusivity);
  const double deficit =
      air::saturation_vapour_density(surface) - air::vapour_density(air.vapour_pressure, air.temperature);
  const double film = layers.upper.vapour * deficit / water::density(air.temperature) / 2e-4;
  CHECK(evaporated(20e-6) == Approx(film).epsilon(0.02));
  CHECK(evaporated(20e-6) / evaporated(40e-6) == Approx(1.0).epsilon(0.01));
}

TEST_CASE("water is kept: what is left, in the air and gone adds up to what came") {
  for (const bool house : {false, true}) {
    Scenario scenario;
    scenario.house.enclosed = house;
    scenario.canopy.layers = 1;
    Load load = drops(scenario, 5e-5, 200e-6);
    load.layers[0].stem_liquid = 1e-6, load.bench_liquid = 5e-5;
    for (const double until : {10.0, 300.0, 1e6}) {
      const WetSpan span = wet_span(scenario, load, steady(scenario), 0.0, {.at_most = until});
      CHECK(std::abs(span.water_balance) < 1e-12);
      CHECK(span.left.layers[0].liquid >= 0.0);
      CHECK(span.left.layers[0].liquid <= load.layers[0].liquid);
      if (until < 1e6) CHECK(span.end == Approx(until));
    }
  }
}

TEST_CASE("uptake that is fastest just before a liquid dries is followed to its end, on both paths") {
  // Drops of one size with pinned edges, of whose active ingredient two thirds enter while they dry. They
  // come to saturation when half a percent of their water is left. One step of the water may cover three
  // quarters of the drying.
  Scenario scenario = bare();
  scenario.air.temperature = 300.0, scenario.air.relative_humidity = 0.3, scenario.air.speed = 5.0;
  scenario.leaf.heat_capacity = 1e4, scenario.leaf.receding_angle = 0.0;
  scenario.retention.underleaf = 0.0, scenario.numerics.dry_share = 1e-6;
  scenario.uptake.accelerator = 100.0, scenario.uptake.cuticle = 5.0;
  Load load = drops(scenario, 5e-6, 30e-6);
  load.layers[0].upper.liquid =
      load.layers[0].liquid * most_dissolved(scenario.active, scenario.uptake, 295.0) / 80.0;
  const CropAir air = steady(scenario);
  const auto uptake = [&](double tolerance) {
    scenario.numerics.tolerance = tolerance;
    return wet_span(scenario, load, air, 0.0).leaf_uptake;
  };
  const double exact = uptake(1e-10);
  CHECK(exact > 0.5);
  CHECK(exact < 0.8);
  // Near dryness a small error of the water is a large relative error of the depth, and so of the uptake.
  // With no more than 64 parts in a step the uptake was wrong by 0.02.
  constexpr double by_water = 3e-4;
  for (const double tolerance : {1e-4, 1e-5, 1e-6}) {
    CAPTURE(tolerance);
    CHECK(std::abs(uptake(tolerance) - exact) < by_water);
    const SpanJob job{&scenario, &load, &air, 0.0};
    const std::optional<WetSpan> clock = clock_spans({&job, 1}, instructions_here().back()).spans.front();
    REQUIRE(clock.has_value());
    CHECK(std::abs(clock->leaf_uptake - exact) < 1e-4);
  }
  CHECK(std::abs(uptake(1e-8) - exact) < 1e-6);
}

TEST_CASE("a span cut short hands on what is on the crop and in the air") {
  Scenario scenario;
  scenario.canopy.layers = 1;
  scenario.numerics.tolerance = 1e-8;
  Load load = drops(scenario, 5e-5, 200e-6);
  load.bench_liquid = 5e-5;
  const WetSpan whole = wet_span(scenario, load, steady(scenario), 0.0);
  const WetSpan first = wet_span(scenario, load, steady(scenario), 0.0, {.at_most = 0.25 * whole.wet_time});
  CHECK(first.status == Status::wet_at_end);
  CHECK(first.left.air_vapour > 0.0);
  CHECK(first.left.air_heat < 0.0);
}

TEST_CASE("a span ends with its last water or where it is followed to, wherever its steps end") {
  Scenario scenario = bare();
  scenario.canopy.layers = 1;
  const Load load = drops(scenario, 5e-5, 200e-6);
  const CropAir air = steady(scenario);
  const double dry = wet_span(scenario, load, air, 0.0).end;
  for (const double tolerance : {1e-4, 1e-6, 1e-8}) {
    scenario.numerics.tolerance = tolerance;
    CHECK(wet_span(scenario, load, air, 0.0, {.at_least = 2.0 * dry}).end == 2.0 * dry);
    CHECK(wet_span(scenario, load, air, 0.0, {.at_least = 0.5 * dry}).end == Approx(dry).epsilon(1e-3));
    Load dewy = load;  // which dries after the droplets
    dewy.layers[0].dew = 3e-4;
    const WetSpan span = wet_span(scenario, dewy, air, 0.0);
    CHECK(span.last_drop_time < span.wet_time);
    CHECK(span.end == span.wet_time);
  }
}

namespace {

/// What a tolerance comes to, and in how many steps.
struct Observed {
  std::vector<double> values;
  double steps;
};

/// Order of a method as observed: how fast errors fall with the number of steps, as a line through
/// logarithms.
double observed_order(const std::vector<double>& steps, const std::vector<double>& errors) {
  double n = 0, x = 0, y = 0, xx = 0, xy = 0;
  for (std::size_t i = 0; i < steps.size(); ++i) {
    const double a = std::log(steps[i]), b = std::log(errors[i]);
    n += 1, x += a, y += b, xx += a * a, xy += a * b;
  }
  return -(n * xy - x * y) / (n * xx - x * x);
}

}  // namespace

TEST_CASE(
    "the errors of explicit and implicit steps and of clocks fall with their number as of fourth order") {
  // all are of fifth order; pieces of polynomials in their equations, and the clocks' other limits of steps,
  // take some of it
  for (const bool house : {false, true}) {
    Scenario scenario;
    scenario.canopy.layers = 1;
    scenario.canopy.stem_area = 0.0;
    scenario.house.enclosed = house;
    const Load load = drops(scenario, 5e-5, 200e-6);
    const CropAir air = steady(scenario);
    // while all is wet, so that no event cuts a step; at three moments, since an error may pass through zero
    const auto water_at = [&](double tolerance) {
      scenario.numerics.tolerance = tolerance;
      Observed found{{}, 0.0};
      for (const double end : {100.0, 200.0, 300.0}) {
        const WetSpan span = wet_span(scenario, load, air, 0.0, {.at_most = end});
        found.values.push_back(span.left.layers[0].liquid), found.steps += span.steps;
      }
      return found;
    };
    const auto dry_at = [&](double tolerance) {
      scenario.numerics.tolerance = tolerance;
      const SpanJob job{&scenario, &load, &air, 0.0};
      const ClockRun run = clock_spans({&job, 1}, instructions_here().back());
      REQUIRE(run.spans[0]);
      return Observed{{run.spans[0]->wet_time}, static_cast<double>(run.evaluations)};
    };
    const auto order = [&](const auto& at, const std::vector<double>& exact, double coarse, double fine) {
      std::vector<double> steps, errors;
      for (double tolerance = coarse; tolerance > 0.5 * fine; tolerance *= 0.1) {
        const Observed found = at(tolerance);
        double worst = 0.0;
        for (std::size_t i = 0; i < exact.size(); ++i)
          worst = std::max(worst, std::abs(found.values[i] / exact[i] - 1.0));
        steps.push_back(found.steps), errors.push_back(worst);
      }
      return observed_order(steps, errors);
    };
    scenario.numerics.tolerance = 1e-12;
    const double exact = wet_span(scenario, load, air, 0.0).wet_time;
    const double clocks = order(dry_at, {exact}, 1e-2, 1e-7);
    const double of_explicit = order(water_at, water_at(1e-12).values, 1e-3, 1e-8);
    scenario.liquid.humectant = 0.02, scenario.liquid.kappa = 0.5;
    const double of_implicit = order(water_at, water_at(1e-9).values, 1e-3, 1e-8);
    MESSAGE("house " << house << ": order of explicit steps " << of_explicit << ", of implicit ones "
                     << of_implicit << ", of clocks " << clocks);
    CHECK(of_explicit > 4.0);
    CHECK(of_implicit > 4.0);
    CHECK(clocks > 4.0);
  }
}

TEST_CASE("mean leaf temperature and degree seconds are those under the curve of leaf temperature") {
  Scenario scenario;
  scenario.canopy.layers = 1;
  scenario.air.relative_humidity = 0.3;
  const Load load = drops(scenario, 5e-5, 200e-6);
  const CropAir air = steady(scenario);
  const auto span_at = [&](double tolerance) {
    scenario.numerics.tolerance = tolerance;
    return wet_span(scenario, load, air, 0.0, {.at_least = 3600.0}, true);
  };
  const WetSpan fine = span_at(1e-12);
  REQUIRE(fine.wet_time < 3000.0);  // a part of the span is dry
  double all = 0.0, wet = 0.0;
  const History& history = fine.history;
  for (std::size_t i = 1; i < history.time.size(); ++i) {
    const double part = 0.5 * (history.time[i] - history.time[i - 1]) *
                        (history.leaf_temperature[i] + history.leaf_temperature[i - 1] - 2.0 * 273.15);
    all += part;
    if (history.time[i] <= fine.wet_time) wet += part;
  }
  for (const double tolerance : {1e-4, 1e-6, 1e-8}) {
    const WetSpan span = span_at(tolerance);
    CHECK(span.mean_leaf_temperature - 273.15 == Approx(all / fine.end).epsilon(1e-4));
    CHECK(span.degree_seconds == Approx(wet).epsilon(1e-4));
    CHECK(span.wet_duration == Approx(fine.wet_time).epsilon(1e-4));
  }
}

TEST_CASE("at 100 % humidity in the dark nothing dries, and that is said in bounded time") {
  Scenario scenario;
  scenario.air.relative_humidity = 1.0;
  scenario.air.shortwave = 0.0;
  scenario.canopy.layers = 1;
  for (const bool house : {false, true}) {
    scenario.house.enclosed = house;
    const WetSpan span = wet_span(scenario, drops(scenario, 5e-5, 200e-6), steady(scenario), 0.0);
    CHECK(span.status == Status::wet_at_end);
    CHECK(std::isinf(span.wet_time));
    CHECK(std::isinf(span.last_drop_time));
    CHECK(span.end == scenario.numerics.longest);
    CHECK(span.steps < 20'000);
  }
}

TEST_CASE("a record that ends early ends the span, a start outside of it is refused") {
  Scenario scenario;
  scenario.canopy.layers = 1;
  const CropAir record = steady_air(scenario.air, scenario.house, 1000.0);
  const Load load = drops(scenario, 5e-5, 200e-6);
  const WetSpan span = wet_span(scenario, load, record, 900.0);
  CHECK(span.status == Status::wet_at_end);
  CHECK(span.end == Approx(100.0));
  for (const double start : {-1.0, 1000.0, 1e6, std::nan("")}) {
    CHECK_THROWS_WITH_AS(wet_span(scenario, load, record, start),
                         doctest::Contains("not within the air record"), InputError);
  }
}

TEST_CASE("a load that does not fit is refused; sizes without volume are none") {
  Scenario scenario;
  scenario.canopy.layers = 1;
  const CropAir record = steady(scenario);
  const Load good = drops(scenario, 5e-5, 200e-6);
  const auto span = [&](const Load& load) { return wet_span(scenario, load, record, 0.0); };
  Load load = good;
  load.layers.push_back(load.layers.front());
  CHECK_THROWS_WITH_AS(span(load), doctest::Contains("2 leaf layers, the canopy 1"), InputError);
  load = good;
  load.layers.front().droplets = {{200e-6, 100e-6}, {0.5, 0.5}};
  CHECK_THROWS_WITH_AS(span(load), doctest::Contains("must increase"), InputError);
  load.layers.front().droplets = {};
  CHECK_THROWS_AS(span(load), InputError);
  load.layers.front().droplets = {{100e-6, 200e-6, 300e-6}, {0.0, 1.0, 0.0}};
  CHECK(span(load).wet_time == span(good).wet_time);
  CHECK(span(load).last_drop_time == span(good).last_drop_time);
}

TEST_CASE("leaves that count as dry with less than what is let go are dry when it goes") {
  Scenario scenario;
  const CropAir record = steady(scenario);
  Load load = drops(scenario, 5e-5, 200e-6);
  load.layers.push_back(load.layers.front());
  scenario.numerics.dry_share = 1e-6;
  const WetSpan span = wet_span(scenario, load, record, 0.0);
  CHECK(span.status == Status::dry);
  CHECK(span.wet_time <= span.last_drop_time);
  CHECK(span.wet_time == *std::max_element(span.layer_wet_time.begin(), span.layer_wet_time.end()));
  CHECK(span.end == std::max(span.wet_time, span.stem_wet_time));
}

TEST_CASE("still air counts as air that hardly moves") {
  Scenario scenario;
  const Load load = [&] {
    Load two = drops(scenario, 5e-5, 200e-6);
    two.layers.push_back(two.layers.front());
    return two;
  }();
  const auto wet_time = [&](double speed) {
    scenario.air.speed = speed;
    return wet_span(scenario, load, steady(scenario), 0.0).wet_time;
  };
  const double least = wet_time(0.002);
  CHECK(wet_time(0.0) == least);
  CHECK(wet_time(0.003) < least);
}

TEST_CASE("dew wets a leaf under a clear sky and dries after sunrise") {
  Scenario scenario = bare();
  scenario.leaf.emissivity = 0.96;
  scenario.air.relative_humidity = 0.98;
  scenario.air.surroundings_offset = -15.0;
  const AirState night = steady(scenario).at(0.0);
  AirState day = night;
  day.shortwave = 500.0, day.radiant_temperature = day.temperature;
  const CropAir record{{0.0, 20000.0, 20600.0, 60000.0}, {night, night, day, day}};
  Load none;
  none.layers.push_back({.droplets = {{2e-4}, {1.0}}});
  const WetSpan span = wet_span(scenario, none, record, 0.0, {.at_least = 60000.0}, true);
  CHECK(span.status == Status::nothing_wet);
  CHECK(span.wet_duration > 10000.0);
  CHECK(span.wet_duration < 59000.0);
  CHECK(span.left.layers[0].dew < 1e-9);
  CHECK(std::abs(span.water_balance) < 1e-12);
}

TEST_CASE("a hygroscopic residue keeps the water that its activity balances with the air") {
  Scenario scenario = bare();
  scenario.liquid.humectant = 0.05;
  scenario.liquid.kappa = 0.2;
  scenario.air.relative_humidity = 0.8;
  scenario.numerics.longest = 20000.0;
  const Load load = drops(scenario, 2e-5, 200e-6);
  const WetSpan span = wet_span(scenario, load, steady(scenario), 0.0, {.at_least = 20000.0}, true);
  // a_w = 1 / (1 + kappa V_s / V_w) = RH: Petters and Kreidenweis 2007; classes stand still within 0.005 of
  // it
  const double balance = 0.2 * (0.05 / 0.95) * 0.8 / 0.2;
  CHECK(span.history.leaf_water.back() == Approx(balance).epsilon(0.05));
  CHECK(span.status == Status::dry);
}
