#include "wetspan/study/bench.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <numeric>
#include <string>
#include <string_view>
#include <vector>

#include "../spray/footprints.hpp"
#include "approx.hpp"
#include "reference.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/spray/nozzle.hpp"
#include "wetspan/spray/tank.hpp"

using namespace wetspan;

namespace {

constexpr double no_number = std::numeric_limits<double>::quiet_NaN();

Layout small() { return {.rows = 3, .columns = 4}; }

Scenario in_open_air() {
  Scenario scenario;
  scenario.house.enclosed = false;
  return scenario;
}

CropAir air_of(const Scenario& scenario) {
  return steady_air(scenario.air, scenario.house, scenario.numerics.longest);
}

/// Plants of one size under a boom whose triangular fans overlap evenly, at an even speed.
BenchInput even(const Scenario& scenario) {
  Layout layout = small();
  layout.size_variation = 0.0;
  BenchInput input = bench_of(scenario, layout);
  const double half = scenario.nozzle.height * std::tan(0.5 * scenario.nozzle.fan_angle);
  input.passes = boom_passes({.height = scenario.nozzle.height,
                              .nozzles = 9,
                              .spacing = half,
                              .overrun = 1.0,
                              .speed_variation = 0.0,
                              .height_variation = 0.0,
                              .spacing_variation = 0.0},
                             bench_length(input.layout), bench_width(input.layout), 1.0, 1);
  return input;
}

Evenness lever(const Bench& bench, std::string_view cause) {
  for (const BenchLever& each : bench.levers) {
    if (each.cause == cause) return each.evenness;
  }
  FAIL("there is no such lever");
  return {};
}

}  // namespace

TEST_CASE("layouts") {
  const Layout square{.rows = 3, .columns = 5, .spacing = 0.2};
  CHECK(places(square).size() == 15);
  CHECK(places(square)[6].x == Approx(0.3));
  CHECK(places(square)[6].y == Approx(0.3));
  CHECK(places(square)[6].row == 1);
  CHECK(places(square)[6].column == 1);
  CHECK(bench_length(square) == Approx(1.0));
  CHECK(bench_width(square) == Approx(0.6));
  CHECK(plant_density(square) == Approx(25));
  Layout staggered = square;
  staggered.arrangement = Arrangement::staggered;
  const auto all = places(staggered);
  // every neighbour, in the row and in the next, is one spacing away
  CHECK(std::hypot(all[6].x - all[1].x, all[6].y - all[1].y) == Approx(0.2));
  CHECK(std::hypot(all[6].x - all[2].x, all[6].y - all[2].y) == Approx(0.2));
  CHECK(plant_density(staggered) == Approx(25 / std::sqrt(0.75)));
  for (const Place& place : all) {
    CHECK(place.x <= bench_length(staggered) - 0.1 + 1e-12);
    CHECK(place.y <= bench_width(staggered) - 0.08);
  }
  CHECK(bench_length(staggered) == Approx(1.1));  // every second row is shifted by half a spacing
  staggered.rows = 1;                             // nothing is shifted
  CHECK(bench_length(staggered) == Approx(1.0));
  for (const Arrangement arrangement : {Arrangement::square, Arrangement::staggered}) {
    const Layout spaced{.spacing = spacing_for(43.0, arrangement), .arrangement = arrangement};
    CHECK(plant_density(spaced) == Approx(43.0).epsilon(1e-12));
  }
  const auto varied = sizes({.rows = 100, .columns = 100, .size_variation = 0.15}, 3);
  CHECK(mean(varied) == Approx(1).epsilon(0.01));
  CHECK(variation(varied) == Approx(0.15).epsilon(0.03));
}

TEST_CASE("the same seed makes the same bits, another seed another bench") {
  const Grid grid{.length = 3, .width = 1.5, .columns = 60, .rows = 30, .margin = 2};
  const auto once = deposit_passes(grid, of(Shape::triangular), wand_passes({}, 3, 1.5, 1e-5, 42));
  const auto again = deposit_passes(grid, of(Shape::triangular), wand_passes({}, 3, 1.5, 1e-5, 42));
  const auto other = deposit_passes(grid, of(Shape::triangular), wand_passes({}, 3, 1.5, 1e-5, 43));
  CHECK(once.depth == again.depth);
  CHECK(once.depth != other.depth);
  CHECK(sizes({}, 42) == sizes({}, 42));
  CHECK(sizes({}, 42) != sizes({}, 43));
}

TEST_CASE("a mean plant that gets the mean deposit is the scenario itself") {
  const Scenario mean_plant;
  const Scenario same = plant_on_bench(mean_plant, mean_plant.application.volume_rate, 1.0,
                                       mean_plant.canopy.pot_diameter, mean_plant.canopy.plant_density);
  CHECK(same == mean_plant);
  // crown area is kept when the spacing changes, and covers the ground at most once
  const Scenario wide = plant_on_bench(mean_plant, 3e-4, 1.0, 0.14, 0.5 * mean_plant.canopy.plant_density);
  CHECK(wide.canopy.crown_cover == Approx(0.5 * mean_plant.canopy.crown_cover));
  CHECK(crown_diameter(wide.canopy) == Approx(crown_diameter(mean_plant.canopy)));
  CHECK(wide.application.volume_rate == 3e-4);
  const Scenario large = plant_on_bench(mean_plant, 3e-4, 1.5, 0.12, mean_plant.canopy.plant_density);
  CHECK(large.canopy.crown_cover == 1);
  CHECK(large.canopy.leaf_area == Approx(2.25 * mean_plant.canopy.leaf_area));
  CHECK(large.canopy.stem_area == Approx(2.25 * mean_plant.canopy.stem_area));
  CHECK(large.uptake.water_use == Approx(2.25 * mean_plant.uptake.water_use));
  CHECK(large.crop.half_amount == Approx(2.25 * mean_plant.crop.half_amount));
  CHECK(large.substrate.volume == Approx(std::pow(12.0 / 14, 3) * mean_plant.substrate.volume));
}

TEST_CASE("the table of inputs matches what the functions take") {
  int rows = 0;
  for (const Parameter& row : bench_parameters()) {
    ++rows;
    CHECK(row.low <= row.standard);
    CHECK(row.standard <= row.high);
    CHECK_FALSE(row.source.empty());
  }
  CHECK(rows == 5 + 11 + 11 + 5 + 3 + 2);
}

TEST_CASE("on an even bench every plant is the single simulation") {
  const Scenario alone = in_open_air();
  const BenchInput input = even(alone);
  const Bench bench = spray_bench(input, air_of(alone), 0.0, false);
  const Outcome single = simulate(alone, air_of(alone), 0.0);
  CHECK(bench.evenness.deposit < 1e-12);
  CHECK(bench.evenness.height < 1e-6);
  CHECK(bench.evenness.outside == 0.0);
  CHECK(bench.outcomes.count == 12);
  for (const double control : bench.outcomes.column("growth_control"))
    CHECK(control == Approx(single.growth.control).epsilon(1e-4));
  for (const double wet : bench.outcomes.column("wet_time"))
    CHECK(wet == Approx(single.wet.wet_time).epsilon(3e-3));
  // what is emitted is on and beside the bench, and along the path
  CHECK(bench.map.on_bench ==
        Approx(alone.application.volume_rate * bench.length * bench.width).epsilon(1e-12));
  CHECK(emitted(bench.passes) == Approx(bench.emitted()).epsilon(1e-12));
  CHECK(bench.flow() * duration(bench.passes) == Approx(bench.emitted()).epsilon(1e-12));
}

TEST_CASE(
    "a bench tells the dose of every plant by all three ways, and has the scenario's spacing and nozzle") {
  const Scenario alone = in_open_air();
  Layout layout = small();
  layout.spacing = 0.5;  // the plant density of the scenario holds
  const BenchInput input = bench_of(alone, layout, 5);
  CHECK(plant_density(input.layout) == Approx(alone.canopy.plant_density).epsilon(1e-12));
  const Bench bench = spray_bench(input, air_of(alone), 0.0, false);
  CHECK(bench.nozzle_flow == nozzle_flow(alone.nozzle.flow, alone.nozzle.pressure));
  // all crowns together cover what the canopy's crowns do, and a plant's has the plant's size
  const double crown = crown_diameter(alone.canopy);
  CHECK(0.25 * std::numbers::pi * crown * crown * alone.canopy.plant_density ==
        Approx(alone.canopy.crown_cover).epsilon(1e-12));
  for (std::size_t i = 0; i < bench.places.size(); ++i) {
    CHECK(bench.crown_diameters[i] == Approx(crown * bench.sizes[i]).epsilon(1e-14));
    CHECK(bench.outcomes.status[i] == static_cast<std::uint8_t>(Status::dry));
  }
  std::vector<double> sums;
  for (std::size_t i = 0; i < bench.outcomes.count; ++i)
    sums.push_back(bench.outcomes.column("tips.leaf")[i] + bench.outcomes.column("tips.stem")[i] +
                   bench.outcomes.column("tips.root")[i]);
  CHECK(bench.doses() == sums);
  double squares = 0.0;
  for (const double sum : sums) squares += (sum / mean(sums) - 1.0) * (sum / mean(sums) - 1.0);
  CHECK(bench.evenness.dose == Approx(std::sqrt(squares / static_cast<double>(sums.size()))).epsilon(1e-12));
}

TEST_CASE("plants that are all alike lie within a band of no width") {
  Scenario alone = in_open_air();
  alone.application.method = Method::drench;
  BenchInput input = bench_of(alone, {.rows = 2, .columns = 2, .size_variation = 0.0});
  input.pouring.pouring_variation = 0.0;
  input.settings.band = 0.0;
  const Bench bench = spray_bench(input, air_of(alone), 0.0, false);
  CHECK(bench.evenness.outside == 0.0);
  CHECK(bench.in_band(0.0) == std::vector<std::uint8_t>(4, 1));
}

TEST_CASE("a bench has the volume, the pots and the drench that are asked for") {
  const Scenario alone = in_open_air();
  BenchInput input = even(alone);
  input.volume = 2e-4;
  input.pot_diameters = {0.12, 0.14};
  const Bench bench = spray_bench(input, air_of(alone), 0.0);
  CHECK(bench.emitted() == Approx(2e-4).epsilon(1e-12));
  for (std::size_t i = 0; i < bench.places.size(); ++i)
    CHECK(bench.pot_diameters[i] == (bench.places[i].row % 2 == 0 ? 0.12 : 0.14));
  REQUIRE(bench.drench.has_value());  // rows of 0.12, 0.14 and 0.12 m
  CHECK(bench.drench->volume_per_pot == Approx(usual_drench_volume(0.38 / 3.0)).epsilon(1e-12));
}

TEST_CASE("plants share the air of one house, which the mean spray moves") {
  Scenario scenario;
  scenario.house.sprayed_share = 1.0;
  const Bench bench = spray_bench(bench_of(scenario, small()), air_of(scenario), 0.0, false);
  const auto wet = bench.outcomes.column("wet_time");
  const auto dry_later_alone = [&](std::size_t plant) {
    Scenario own = scenario;
    own.application.volume_rate = bench.deposits[plant];
    return simulate(own, air_of(scenario), 0.0).wet.wet_time > wet[plant];
  };
  const auto [least, most] = std::minmax_element(bench.deposits.begin(), bench.deposits.end());
  CHECK(dry_later_alone(static_cast<std::size_t>(most - bench.deposits.begin())));
  CHECK_FALSE(dry_later_alone(static_cast<std::size_t>(least - bench.deposits.begin())));
}

TEST_CASE("levers take one cause away") {
  const Scenario alone = in_open_air();
  BenchInput input = bench_of(alone, small(), 3);
  const Bench bench = spray_bench(input, air_of(alone), 0.0);
  REQUIRE(bench.levers.size() == 6);
  for (std::size_t i = 1; i < 6; ++i)
    CHECK(bench.levers[i - 1].evenness.height <= bench.levers[i].evenness.height);
  const auto anew = [&](const BenchInput& other) {
    return spray_bench(other, air_of(alone), 0.0, false).evenness;
  };
  const auto same = [](const Evenness& a, const Evenness& b) {
    for (const auto member : {&Evenness::deposit, &Evenness::dose, &Evenness::height, &Evenness::mean_height})
      CHECK(a.*member == Approx(b.*member).epsilon(1e-3));
  };
  BenchInput speed = input, height = input, size = input, volume = input;
  speed.passes = with_even_speed(input.passes);
  height.passes = with_even_height(input.passes);
  size.layout.size_variation = 0.0;
  volume.scenario.application.volume_rate *= 1.5;
  volume.scenario.application.concentration /= 1.5;
  same(lever(bench, "speed"), anew(speed));
  same(lever(bench, "height"), anew(height));
  same(lever(bench, "size"), anew(size));
  same(lever(bench, "volume"), anew(volume));

  // a path without noise is all that is uneven: without it the deposit is even
  input.passes = wand_passes({.period = 6.0,
                              .turning = 0.0,
                              .speed_variation = 0.0,
                              .height_variation = 0.0,
                              .spacing_variation = 0.0},
                             bench_length(input.layout), bench_width(input.layout), 1.0, 1);
  const Bench still = spray_bench(input, air_of(alone), 0.0);
  CHECK(still.evenness.deposit > 0.2);
  CHECK(lever(still, "overlap").deposit < 0.02);  // crowns of several sizes see the margin otherwise
  input.layout.size_variation = 0.0;
  CHECK(lever(spray_bench(input, air_of(alone), 0.0), "overlap").deposit < 1e-9);
}

TEST_CASE("a drench of the same mean height, poured with errors") {
  const Scenario alone = in_open_air();
  BenchInput input = bench_of(alone, {.rows = 5, .columns = 8}, 3);
  input.volume_per_pot = 59e-6;  // 2 fl oz
  const Bench sprayed = spray_bench(input, air_of(alone), 0.0);
  REQUIRE(sprayed.drench.has_value());
  CHECK(sprayed.drench->volume_per_pot == Approx(59e-6).epsilon(1e-12));

  BenchInput poured = input;
  poured.scenario.application.method = Method::drench;
  poured.scenario.application.concentration = sprayed.drench->concentration;
  const Bench drenched = spray_bench(poured, air_of(alone), 0.0);
  CHECK(drenched.evenness.height == Approx(lever(sprayed, "drench").height).epsilon(1e-9));
  CHECK(drenched.map.depth.empty());
  CHECK(drenched.emitted() == 0.0);
  const auto mean_of = [](const std::vector<double>& values) { return mean(values); };
  CHECK(std::abs(mean_of(drenched.heights()) - mean_of(sprayed.heights())) < 2e-6);
  // errors of pouring are those asked for, within what 40 pots tell, and the dose goes with them
  CHECK(drenched.evenness.deposit == Approx(Pouring{}.pouring_variation).epsilon(0.3));
  BenchInput alike = poured;
  alike.layout.size_variation = 0.0;
  const Evenness of_one_size = spray_bench(alike, air_of(alone), 0.0, false).evenness;
  // a larger volume reaches deeper, where roots draw more
  CHECK(of_one_size.dose > of_one_size.deposit);
  CHECK(of_one_size.dose < 1.1 * of_one_size.deposit);
  BenchInput exact = poured;
  exact.pouring.pouring_variation = 0.0;
  CHECK(lever(drenched, "pouring").mean_height ==
        Approx(spray_bench(exact, air_of(alone), 0.0, false).evenness.mean_height).epsilon(1e-9));
  CHECK(lever(drenched, "pouring").deposit < 1e-12);
  CHECK(lever(drenched, "pouring").height < drenched.evenness.height);

  // common practice, no source: a drench is the most even, then half as much liquid again, then the spray
  CHECK(drenched.evenness.height < lever(sprayed, "volume").height);
  CHECK(lever(sprayed, "volume").height < sprayed.evenness.height);
  alike.pouring.pouring_variation = 0.0;
  CHECK(spray_bench(alike, air_of(alone), 0.0, false).evenness.dose < 1e-12);

  // a spray that no drench can match, and one without active ingredient
  input.scenario.application.concentration = 0.0;
  const Bench plain = spray_bench(input, air_of(alone), 0.0);
  CHECK(plain.drench->concentration == 0.0);
  CHECK(lever(plain, "drench").mean_height == 1.0);
  input.scenario.application.concentration = 50.0;
  input.scenario.substrate.sorption_factor = 100.0;
  input.scenario.active.sorption = 50.0;
  const Bench strong = spray_bench(input, air_of(alone), 0.0);
  CHECK(strong.drench->concentration == 50.0);
  CHECK(lever(strong, "drench").mean_height > strong.evenness.mean_height);
}

TEST_CASE("the same bits for any number of threads, and plants that get nothing are missed") {
  const Scenario alone = in_open_air();
  BenchInput input = bench_of(alone, small(), 2);
  const Bench one = spray_bench(input, air_of(alone), 0.0, false, {.threads = 1});
  const Bench two = spray_bench(input, air_of(alone), 0.0, false, {.threads = 2});
  CHECK(one.outcomes.values == two.outcomes.values);
  input.passes = {{0.0, 0.05, 0.3, 0.05, 0.5, 0.1, 1.0}};
  const Bench part = spray_bench(input, air_of(alone), 0.0, false);
  const auto missed = std::count(part.missed.begin(), part.missed.end(), 1);
  CHECK(missed > 0);
  CHECK(missed < 12);
  for (std::size_t i = 0; i < 12; ++i) {
    if (part.missed[i]) CHECK(part.heights()[i] == 1.0);
  }
  std::size_t calls = 0;
  const BatchOptions stopping{
      .progress = [&](std::size_t) -> bool { return ++calls, throw InputError("stopped"), true; }};
  CHECK_THROWS_WITH_AS(spray_bench(input, air_of(alone), 0.0, false, stopping), "stopped", InputError);
  CHECK(calls == 1);
}

TEST_CASE("benches that cannot be are refused") {
  CHECK_THROWS_WITH_AS(places({.rows = 0}), doctest::Contains("layout.rows"), InputError);
  CHECK_THROWS_WITH_AS(plant_on_bench({}, 2e-4, 1, 0.3, 43), doctest::Contains("pots"), InputError);
  CHECK_THROWS_WITH_AS(plant_on_bench({}, no_number, 1, 0.14, 43), doctest::Contains("volume_rate"),
                       InputError);
  CHECK_THROWS_AS(plant_on_bench({}, 2e-4, 0, 0.14, 43), InputError);
  const Scenario alone = in_open_air();
  const auto refused = [&](auto change, const char* says) {
    BenchInput input = bench_of(alone, small());
    change(input);
    CHECK_THROWS_WITH_AS(spray_bench(input, air_of(alone), 0.0, false), doctest::Contains(says), InputError);
  };
  refused([](BenchInput& input) { input.passes.clear(); }, "nothing falls on the bench");
  refused([](BenchInput& input) { input.volume = 0.0; }, "bench.volume");
  refused([](BenchInput& input) { input.volume_per_pot = no_number; }, "drench.volume_per_pot");
  refused([](BenchInput& input) { input.pouring.pouring_variation = -1.0; }, "drench.pouring_variation");
  refused([](BenchInput& input) { input.settings.cell = 9.0; }, "bench.cell");
  refused([](BenchInput& input) { input.plant_density = 0.0; }, "canopy.plant_density");
  refused([](BenchInput& input) { input.pot_diameters = {0.5}; }, "pots");
  refused([](BenchInput& input) { input.scenario.application.method = Method::continuous; }, "continuous");
}
