#include "wetspan/plant/substrate.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <random>

#include "approx.hpp"
#include "reference.hpp"
#include "wetspan/errors.hpp"

using namespace wetspan;

TEST_CASE("what is applied to a pot is held, leached or not taken up") {
  std::mt19937_64 bits(5);
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  for (int i = 0; i < 20000; ++i) {
    Substrate pot;
    pot.volume = 1e-6 * std::pow(1e5, uniform(bits));
    pot.container_capacity = 0.05 + 0.93 * uniform(bits);
    pot.moisture = i % 7 == 0 ? 1.0 : i % 11 == 0 ? 0.0 : uniform(bits);
    pot.upper_root_share = 0.25 + 0.5 * uniform(bits);
    const double volume = i % 13 == 0 ? 0.0 : pot.volume * std::pow(10.0, 3.0 * uniform(bits) - 2.0);
    for (const Method method : {Method::spray, Method::drench, Method::continuous, Method::sub_irrigation}) {
      const Placement placed = place(pot, method, volume);
      CAPTURE(i);
      REQUIRE(std::abs(placed.held + placed.leached + placed.not_taken_up - 1.0) < 1e-12);
      for (const double share : {placed.held, placed.leached, placed.not_taken_up, placed.depth}) {
        REQUIRE(share >= 0.0);
        REQUIRE(share <= 1.0);
      }
      REQUIRE(placed.availability >= 0.0);
      REQUIRE(placed.availability <= 2.0);
    }
  }
}

TEST_CASE("a pot holds a drench up to its room, and mixes in what displaces its water") {
  Substrate pot;
  const double room = free_pore_water(pot), capacity = pot.volume * pot.container_capacity;
  CHECK(place(pot, Method::drench, 0.999 * room).leached == 0.0);
  double before = 0.0;
  for (const double volume : {1.5 * room, 3.0 * room, 6.0 * room, 30.0 * room}) {
    // percolation step by step: water of the mixed pot leaves as solution runs in
    double held = room, left = 0.0;
    constexpr int steps = 20000;
    const double step = (volume - room) / steps;
    for (int i = 0; i < steps; ++i) {
      const double middle = held + 0.5 * step * (1.0 - held / capacity);
      const double drains = step * middle / capacity;
      held += step - drains, left += drains;
    }
    const Placement placed = place(pot, Method::drench, volume);
    CHECK(placed.leached == Approx(left / volume).epsilon(1e-6));
    CHECK(placed.leached > before);
    // between displacing the old water first and running past it
    CHECK(placed.leached > 1.0 - capacity / volume);
    CHECK(placed.leached < 1.0 - room / volume);
    before = placed.leached;
  }
}

TEST_CASE("a flood or dip gives what free pores take up") {
  Substrate pot;
  pot.moisture = 1.0;
  double before = 0.0;
  // a petunia liner of 20 mL in a dip of 1 L; control falls with moisture: Schnelle and Barrett 2010
  pot.volume = 20e-6;
  double control_before = 0.0;
  for (const auto& row : reference::rows("substrate", "control by a liner dip")) {
    pot.moisture = row["moisture"];
    const Placement placed = place(pot, Method::sub_irrigation, 1e-3);
    CHECK(placed.held * 1e-3 == Approx(free_pore_water(pot)).epsilon(1e-12));
    CHECK(placed.held + placed.not_taken_up == Approx(1.0).epsilon(1e-15));
    CHECK(placed.held >= before);
    CHECK(row.value + row.tolerance > control_before);  // so does what is published, within its scatter
    before = placed.held, control_before = row.value;
  }
  // Missed: a liner at capacity is still controlled by 11 %. Solution clings to it and mixes in.
  pot.moisture = 1.0;
  CHECK(place(pot, Method::sub_irrigation, 1e-3).held == 0.0);
}

TEST_CASE("the default pot takes up in a flood what pots take up") {
  const double taken_up = free_pore_water(Substrate{});
  CHECK(taken_up > reference::rows("substrate", "water taken up in a flood")[0].value);
  CHECK(taken_up < reference::rows("substrate", "water taken up in a flood")[1].value);
}

TEST_CASE("equal amounts from below act at least as strongly as from above") {
  // Niu, Heins and Carlson 2002: stronger, by how much could not be read
  const double published = reference::rows("substrate", "sub-irrigation over drench").front().value;
  Substrate pot;
  double ratio = 10.0;
  for (const double volume : {2e-5, 6e-5, 1.2e-4, 2e-4}) {
    const double below = place(pot, Method::sub_irrigation, volume).availability;
    const double above = place(pot, Method::drench, volume).availability;
    CHECK(below / above > published);
    CHECK(below / above < ratio);  // the more of the pot is filled, the less it matters from where
    ratio = below / above;
  }
  CHECK(place(pot, Method::sub_irrigation, 1e-3).availability == 1.0);
  CHECK(place(pot, Method::drench, 1e-3).availability == 1.0);
  pot.upper_root_share = 0.5;
  CHECK(place(pot, Method::drench, 1e-5).availability == 1.0);
}

TEST_CASE("roots draw as much as they do, wherever it lies") {
  // two halves of a pot, one filled from above and one from below, are the whole
  Substrate pot;
  for (const double upper : {0.25, 0.4, 0.5, 0.7}) {
    pot.upper_root_share = upper;
    const double half = 0.5 * free_pore_water(pot);
    const Placement above = place(pot, Method::drench, half),
                    below = place(pot, Method::sub_irrigation, half);
    CHECK(0.5 * (above.availability + below.availability) == Approx(1.0).epsilon(1e-14));
    CHECK(0.5 * above.availability == Approx(upper).epsilon(1e-14));
  }
}

TEST_CASE("density alone does not make bark what it is") {
  // published: 3 to 4 times the drench of peat. Batches sorb no more on bark than on peat, by mass, so at
  // most the densities' ratio is explained; substrates/pine_bark.toml holds a factor that is set to the
  // drenches.
  const auto density = reference::rows("substrate", "bulk density of a growing medium");
  const auto water = reference::rows("substrate", "water volume of a growing medium");
  const auto medium = [&](std::size_t i) {
    Substrate substrate;
    substrate.dry_density = density[i].value;
    substrate.water_content = 0.8 * water[i].value;
    return substrate;
  };
  const Substrate peat = medium(0), bark = medium(3);
  const auto ratio = [&](const Active& active) {
    return pot_capacity(bark, active) / pot_capacity(peat, active);
  };
  CHECK(ratio(Active{}) < reference::rows("substrate", "dose in pine bark over peat")[0].value);
  CHECK(ratio(Active{}) > 1.5);
  Active mobile;  // what does not sorb is stronger in bark, which holds less water
  mobile.sorption = 0.0;
  CHECK(ratio(mobile) < 1.0);
}

TEST_CASE("impossible pots are refused") {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  CHECK_THROWS_WITH_AS(place({.moisture = 1.1}, Method::drench, 1e-4),
                       doctest::Contains("substrate.moisture"), InputError);
  CHECK_THROWS_AS(place({}, Method::drench, nan), InputError);
  CHECK_THROWS_AS(place({}, Method::drench, -1e-9), InputError);
  CHECK_THROWS_AS(free_pore_water({.volume = 0.0}), InputError);
  CHECK_THROWS_AS(pot_capacity({.dry_density = nan}, Active{}), InputError);
}
