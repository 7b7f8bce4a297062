#include "wetspan/plant/collection.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "../../../lib/src/plant/collection_equations.hpp"
#include "approx.hpp"
#include "reference.hpp"
#include "wetspan/errors.hpp"

using namespace wetspan;

namespace {

/// Share of the droplets that stems placed at random collect.
double stem_share(const StemStand& stand, double diameter, double speed, double angle) {
  return 1.0 - std::exp(-stem_hits(stand, diameter, speed, angle));
}

}  // namespace

TEST_CASE("trajectories through potential flow agree with Langmuir and Blodgett's") {
  for (const auto& row : reference::rows("collection", "cylinder collection"))
    for (Drag drag : {Drag::langmuir_blodgett, Drag::turton_levenspiel})
      CHECK(reference::holds(row, collection_trajectory(row["K"], row["phi"], drag),
                             drag == Drag::langmuir_blodgett ? "trajectory, their drag" : "trajectory"));
  for (const auto& row : reference::rows("collection", "critical K")) {
    CHECK(collection_trajectory(row.value, row["phi"]) == 0);
    CHECK(collection_trajectory(1.2 * row.value, row["phi"]) < 1e-3);
    CHECK(collection_trajectory(1.6 * row.value, row["phi"]) > 1e-3);
  }
  double before = 0;
  for (double K : {0.2, 0.5, 1.0, 3.0, 10.0, 100.0, 1e4}) {
    const double efficiency = collection_trajectory(K, 10);
    CHECK(efficiency > before);
    before = efficiency;
  }
  CHECK(before < 1);
  CHECK(before > 0.998);
}

TEST_CASE("the fit that knows the drop's Reynolds number follows the whole table") {
  for (const auto& row : reference::rows("collection", "cylinder collection"))
    CHECK(reference::within(row, collection_langmuir_blodgett(row["K"], row["phi"]),
                            row["phi"] < 1e6 ? 0.027 : 0.035, "their fit"));
  for (double phi : {0.0, 1e-9, 1.0, 30.0, 1e3, 1e5}) {
    CHECK(collection_langmuir_blodgett(0, phi) == 0);
    CHECK(collection_langmuir_blodgett(0.125, phi) == 0);
    double before = 0;
    for (double K = 0.1251; K < 1e4; K *= 1.02) {  // rises without jumps, less the higher the drag
      const double efficiency = collection_langmuir_blodgett(K, phi);
      CHECK(efficiency > before);
      CHECK(efficiency < before + 0.01);
      CHECK(efficiency <= collection_langmuir_blodgett(K, 0.5 * phi));
      before = efficiency;
    }
    CHECK(before < 1);
  }
}

TEST_CASE("the one-line fits are their formulas, and near the table for the stems of a greenhouse") {
  for (const auto& row : reference::rows("collection", "Landahl-Herrmann"))
    CHECK(reference::holds(row, collection_landahl_herrmann(row["St"])));
  for (const auto& row : reference::rows("collection", "Aylor"))
    CHECK(reference::holds(row, collection_aylor(row["St"])));
  for (const auto& row : reference::rows("collection", "cylinder collection")) {
    if (row["phi"] > 100) continue;
    const double St = row["K"] / 2;
    CHECK(reference::within(row, collection_landahl_herrmann(St), St < 0.75 ? 0.165 : 0.09,
                            "Landahl-Herrmann"));
    CHECK(reference::within(row, collection_aylor(St), 0.145, "Aylor"));
  }
  CHECK(collection_landahl_herrmann(0) == 0);
  CHECK(collection_aylor(0) == 0);
}

TEST_CASE("the Stokes number takes the cylinder's diameter") {
  CHECK(stokes_number(1e-4, 2, 4e-3, 1000, 1.8e-5) ==
        Approx(1000 * 1e-8 * 2 / (18 * 1.8e-5 * 4e-3)).epsilon(1e-14));
}

TEST_CASE("upright stems catch nothing of what falls straight down, and more the more slanted it comes") {
  constexpr double d = 2e-4, speed = 1.0;
  for (Collection collection : {Collection::langmuir_blodgett, Collection::landahl_herrmann,
                                Collection::aylor, Collection::trajectory}) {
    StemStand stand{.collection = collection};
    CHECK(stem_share(stand, d, speed, 0) == 0);
    double before = 0;
    for (double angle : {0.2, 0.5, 0.9, 1.3}) {
      const double share = stem_share(stand, d, speed, angle);
      CHECK(share > before);
      before = share;
    }
    CHECK(before < 1);
    // Leaning petioles do catch what falls straight down, and more of large drops than of small ones.
    stand.lean = 0.6;
    const double large = stem_share(stand, d, speed, 0), small = stem_share(stand, 5e-5, speed, 0);
    CHECK(small < large);
    CHECK(small > 0);
  }
}

TEST_CASE("the default sees what the trajectories see") {
  const StemStand fitted, followed{.collection = Collection::trajectory};
  constexpr double angle = 0.5;
  for (double d : {5e-5, 1e-4, 3e-4})
    for (double speed : {0.3, 1.5, 6.0}) {
      // 0.03 of an efficiency of 1, on the shade of the stand
      CHECK(std::abs(stem_share(fitted, d, speed, angle) - stem_share(followed, d, speed, angle)) <
            0.04 * fitted.area / std::numbers::pi * std::tan(angle));
    }
}

TEST_CASE("trajectories around stems have the droplet's Reynolds number") {
  const StemStand stand{.collection = Collection::trajectory};
  constexpr double d = 2e-4, speed = 1.5, angle = 0.5;
  const double across = speed * std::sin(angle);
  const double Re = stand.air_density * across * d / stand.air_viscosity;
  const double K = 2.0 * stokes_number(d, across, stand.diameter, stand.liquid_density, stand.air_viscosity);
  CHECK(stem_hits(stand, d, speed, angle) ==
        Approx(collection_trajectory(K, Re * Re / K) * stand.area / std::numbers::pi * std::tan(angle))
            .epsilon(1e-4));
}

TEST_CASE("where every droplet in the way hits, the share is the shade of the stand") {
  StemStand stand;
  const double upright = stand.area / std::numbers::pi * std::tan(0.7);
  CHECK(stem_hits(stand, 4e-3, 80, 0.7) == Approx(upright).epsilon(1e-3));
  CHECK(stem_share(stand, 4e-3, 80, 0.7) == Approx(1 - std::exp(-upright)).epsilon(1e-3));
  // Lying stems under vertical fall shade their whole width.
  stand.lean = std::numbers::pi / 2;
  CHECK(stem_share(stand, 4e-3, 80, 0) == Approx(1 - std::exp(-stand.area / std::numbers::pi)).epsilon(1e-3));
}

TEST_CASE("leaning stems shade what their mean over all directions of lean does") {
  // Every droplet that meets a stem hits it: the shade is the mean sine of the angle between path and stem.
  // It is computed here on 20 000 directions around the upright, with vectors.
  constexpr int count = 20000;
  for (const double lean : {0.4, 1.0}) {
    for (const double angle : {0.2, 0.7, 1.2}) {
      StemStand stand;
      const double most = stem_hits(stand, 4e-3, 80, 1.2) / (stand.area / std::numbers::pi * std::tan(1.2));
      stand.lean = lean;
      double shade = 0.0;
      for (int i = 0; i < count; ++i) {
        const double azimuth = 2.0 * std::numbers::pi * (i + 0.5) / count;
        const double x = std::sin(lean) * std::cos(azimuth), y = std::sin(lean) * std::sin(azimuth),
                     z = std::cos(lean);                               // along the stem
        const double px = std::sin(angle), pz = -std::cos(angle);      // along the path
        const double cx = y * pz, cy = z * px - x * pz, cz = -y * px;  // their cross product
        shade += std::sqrt(cx * cx + cy * cy + cz * cz) / count;
      }
      CAPTURE(lean);
      CAPTURE(angle);
      CHECK(stem_hits(stand, 4e-3, 80, angle) ==
            Approx(most * stand.area / std::numbers::pi * shade / std::cos(angle)).epsilon(2e-3));
    }
  }
}

TEST_CASE("the stopping distance goes over from its series to its closed form") {
  for (const double y : {0.03, 0.049, 0.0499999, 0.0500001, 0.06}) {
    const long double exact = y, closed = 3.0L * (exact - std::atan(exact)) / (exact * exact * exact);
    CHECK(stop_share<Lanes<1>>(std::pow(y * std::sqrt(6.0), 3.0)) ==
          Approx(static_cast<double>(closed)).epsilon(1e-8));
  }
}

TEST_CASE("impossible stems are refused") {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  CHECK_THROWS_AS(stem_share({.area = -1}, 2e-4, 1, 0.5), InputError);
  CHECK_THROWS_AS(stem_share({}, 2e-4, nan, 0.5), InputError);
  CHECK_THROWS_AS(stem_hits({}, 2e-4, 1, 1.6), InputError);
  CHECK_THROWS_AS(stokes_number(1e-4, 1, 0, 1000, 1.8e-5), InputError);
  CHECK_THROWS_AS(collection_trajectory(nan, 0), InputError);
  CHECK_THROWS_AS(collection_langmuir_blodgett(1, nan), InputError);
  CHECK_THROWS_AS(collection_langmuir_blodgett(-1, 1), InputError);
  CHECK_THROWS_AS(collection_aylor(-1), InputError);
}
