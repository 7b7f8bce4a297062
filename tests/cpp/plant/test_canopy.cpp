#include "wetspan/plant/canopy.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "approx.hpp"
#include "reference.hpp"
#include "wetspan/errors.hpp"

using namespace wetspan;

TEST_CASE("leaves intercept by the exponential law") {
  Canopy canopy;
  canopy.crown_cover = 1.0;
  canopy.clumping = 1.0;
  for (const char* quantity : {"extinction", "extinction of spherical leaves"}) {
    const auto row = reference::rows("canopy", quantity).front();
    canopy.extinction = row.value;
    for (const double area : {0.001, 0.05, 0.2}) {
      canopy.leaf_area = area;
      CHECK(leaf_interception(canopy) ==
            Approx(1.0 - std::exp(-row.value * canopy.plant_density * area)).epsilon(1e-12));
    }
  }
  CHECK(reference::holds(reference::rows("canopy", "extinction of spherical leaves").front(),
                         Canopy{}.extinction));
}

TEST_CASE("crowns bound what leaves intercept, and little leaf area is met in proportion") {
  Canopy canopy;
  canopy.leaf_area = 2.0;
  CHECK(leaf_interception(canopy) == Approx(canopy.crown_cover).epsilon(1e-9));
  canopy.leaf_area = 1e-4;
  CHECK(leaf_interception(canopy) ==
        Approx(canopy.extinction * canopy.clumping * leaf_area_index(canopy)).epsilon(2e-3));
}

TEST_CASE("pots lie below crowns first") {
  Canopy canopy;
  const double pots = pot_cover(canopy);
  CHECK(pots ==
        Approx(canopy.plant_density * 0.25 * 3.14159265358979 * canopy.pot_diameter * canopy.pot_diameter));
  for (const double crowns : {0.01, 0.3, 0.6628, 0.9, 1.0}) {
    CAPTURE(crowns);
    canopy.crown_cover = crowns;
    const Ground ground = ground_of(canopy);
    CHECK(crowns * ground.pot_below_crowns + (1.0 - crowns) * ground.pot_between ==
          Approx(pots).epsilon(1e-12));
    if (crowns > pots) CHECK(ground.pot_between == 0.0);
    if (crowns < pots) CHECK(ground.pot_below_crowns == 1.0);
  }
}

TEST_CASE("pots that do not fit are refused") {
  Canopy canopy;
  canopy.pot_diameter = 0.2;
  CHECK_THROWS_WITH_AS(pot_cover(canopy), doctest::Contains("canopy.pot_diameter"), InputError);
}
