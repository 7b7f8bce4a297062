#include "wetspan/plant/uptake.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "reference.hpp"

using namespace wetspan;
using doctest::Approx;

TEST_CASE("paclobutrazol's permeance by the correlation of Kerler and Schonherr") {
  const auto row = reference::rows("uptake", "cuticle permeance").front();
  CHECK(reference::holds(row, cuticle_permeance(row["log_kow"], row["molar_volume"])));
  CHECK(permeance(Active{}, Uptake{}, 298.15) ==
        Approx(cuticle_permeance(Active{}.log_kow, Active{}.molar_volume)).epsilon(1e-14));
}

TEST_CASE("permeance rises with temperature as a triazole's uptake into leaf discs does") {
  // first-order rates from the shares taken up in 24 h; 5 % is what the activation energy, fitted to three
  // points, leaves of them, and the rounding of the published shares
  const auto rows = reference::rows("uptake", "share in 24 h");
  REQUIRE(rows.size() == 3);
  const auto rate = [](double share) { return -std::log(1.0 - share); };
  const auto model = [](double temperature) { return permeance(Active{}, Uptake{}, temperature); };
  for (const auto& row : rows) {
    CAPTURE(row["T"]);
    // the share that the rate of the middle temperature becomes at this one; 8 % of the rate
    const double ours = model(row["T"]) / model(rows[1]["T"]) * rate(rows[1].value);
    const auto share = [](double of_rate) { return -std::expm1(-of_rate); };
    CHECK(reference::holds(row, share(ours), share(rate(row.value) * 0.92), share(rate(row.value) * 1.08)));
  }
  CHECK(model(303.15) / model(283.15) == Approx(rate(rows[2].value) / rate(rows[0].value)).epsilon(0.02));
}

TEST_CASE("leaf uptake of a film per wet hour at 20 degC lies where two estimates put it") {
  // paclobutrazol at 30 mg/L, of which 26 dissolve, under a film of 0.1 mm
  const double taken = 3600.0 * permeance(Active{}, Uptake{}, 293.15) *
                       dissolved(0.030 * 1e-4, 1e-4, solubility(Active{}, 293.15)) / (0.030 * 1e-4);
  CAPTURE(taken);
  CHECK(reference::at_least(reference::rows("uptake", "uptake per wet hour, low").front(), taken, "a film"));
  CHECK(reference::at_most(reference::rows("uptake", "uptake per wet hour, high").front(), taken, "a film"));
}

TEST_CASE("what exceeds the solubility stays solid") {
  const double limit = solubility(Active{}, 293.15);
  CHECK(limit == Approx(0.026).epsilon(1e-12));
  CHECK(solubility(Active{}, 303.15) > limit);
  CHECK(dissolved(1e-3, 1.0, limit) == 1e-3);
  CHECK(dissolved(1.0, 1.0, limit) == limit);
  CHECK(dissolved(1e-6, 1e-9, limit) == limit);  // a drop that dries
}

TEST_CASE("dry residue gives by the measured factor more slowly than the wet deposit") {
  CHECK(reference::within(reference::rows("uptake", "wet over dry rate").front(), Uptake{}.wet_to_dry, 0));
  constexpr double film = 1e-4, concentration = 0.020;
  const double through = permeance(Active{}, Uptake{}, 293.15);
  const double wet = through * concentration / (concentration * film);
  const double dry = residue_rate(through, concentration, concentration * film, Uptake{}.wet_to_dry);
  CHECK(wet / dry == Approx(Uptake{}.wet_to_dry).epsilon(1e-12));
}

TEST_CASE("transpiration stream factors peak where published, and part at paclobutrazol by 1.8") {
  const auto briggs = reference::rows("uptake", "stream concentration factor, Briggs").front();
  const auto burken = reference::rows("uptake", "stream concentration factor, Burken and Schnoor").front();
  CHECK(reference::holds(briggs, transpiration_factor(briggs["log_kow"], Transpiration::briggs)));
  CHECK(reference::holds(burken, transpiration_factor(burken["log_kow"], Transpiration::burken_schnoor)));
  for (const double away : {-2.0, -0.5, 0.5, 2.0}) {
    CHECK(transpiration_factor(briggs["log_kow"] + away, Transpiration::briggs) < briggs.value);
    CHECK(transpiration_factor(burken["log_kow"] + away, Transpiration::burken_schnoor) < burken.value);
  }
  CHECK(transpiration_factor(3.2, Transpiration::burken_schnoor) /
            transpiration_factor(3.2, Transpiration::briggs) ==
        Approx(1.8).epsilon(0.02));
}

TEST_CASE("root uptake in closed form is the integral of its equation") {
  const Active active;
  const Uptake uptake;
  const Substrate substrate;
  // solution, sorbed and taken up, step by step (midpoint rule)
  const double tscf = transpiration_factor(active.log_kow, uptake.transpiration);
  double left = 1.0, root = 0.0, lost = 0.0;
  constexpr int steps = 20000;
  const double dt = uptake.horizon / steps;
  for (int i = 0; i < steps; ++i) {
    const auto rates = [&](double mass) {
      const double water = substrate.volume * substrate.water_content;
      const double sorbing = substrate.volume * substrate.dry_density;
      const double concentration = mass / (water + active.sorption * sorbing);
      return std::pair{uptake.water_use * tscf * concentration, active.loss_rate * mass};
    };
    const auto [up, gone] = rates(left);
    const auto [up2, gone2] = rates(left - 0.5 * dt * (up + gone));
    root += dt * up2, lost += dt * gone2, left -= dt * (up2 + gone2);
  }
  const RootUptake closed = root_uptake(active, uptake, substrate, uptake.horizon);
  CHECK(closed.root == Approx(root).epsilon(1e-6));
  CHECK(closed.lost == Approx(lost).epsilon(1e-6));
  CHECK(closed.left == Approx(left).epsilon(1e-6));
  CHECK(closed.root + closed.lost + closed.left == Approx(1.0).epsilon(1e-14));
}

TEST_CASE("root uptake at the ends of its inputs") {
  Active active;
  active.sorption = 0.0, active.loss_rate = 0.0;
  const RootUptake mobile = root_uptake(active, Uptake{}, Substrate{}, 1e9);
  CHECK(mobile.root == Approx(1.0).epsilon(1e-6));
  CHECK(mobile.lost == 0.0);
  const RootUptake at_once = root_uptake(Active{}, Uptake{}, Substrate{}, 0.0);
  CHECK(at_once.left == 1.0);
  CHECK(root_uptake(Active{}, Uptake{}, Substrate{}, 2.4e6).root < mobile.root);
}

TEST_CASE("supply with every irrigation in closed form is the mean of single supplies") {
  const Active active;
  const Uptake uptake;
  const Substrate substrate;
  double root = 0.0;
  constexpr int parts = 2000;
  for (int i = 0; i < parts; ++i) {
    root += root_uptake(active, uptake, substrate, uptake.horizon * (i + 0.5) / parts).root / parts;
  }
  const RootUptake closed = root_uptake(active, uptake, substrate, uptake.horizon, Supply::evenly);
  CHECK(closed.root == Approx(root).epsilon(1e-6));
  CHECK(closed.root + closed.lost + closed.left == Approx(1.0).epsilon(1e-14));
  CHECK(root_uptake(active, uptake, substrate, 1.0, Supply::evenly).root ==
        Approx(0.5 * root_uptake(active, uptake, substrate, 1.0).root).epsilon(1e-6));
}

TEST_CASE("one sub-irrigation needs several times the concentration of continuous feeding") {
  // Million, Barrett, Nell and Clark 2002 (authors from memory): 30 % smaller plants from one supply at 2
  // (begonia) to 6 (petunia) times the concentration of continuous supply. How often must a plant drink what
  // the pot took up once? A 15 cm pot takes up 100-250 mL at a flood (from memory); small plants drink 50 mL
  // a day (assumption).
  Uptake uptake;
  uptake.water_use = 50e-6 / 86400.0;
  const double drunk = uptake.water_use * uptake.horizon;
  for (const double taken_up : {150e-6, 250e-6}) {
    const double once = taken_up * root_uptake(Active{}, uptake, Substrate{}, uptake.horizon).root;
    const double fed =
        drunk * root_uptake(Active{}, uptake, Substrate{}, uptake.horizon, Supply::evenly).root;
    CHECK(fed / once > 2.0);
    CHECK(fed / once < 6.0);
  }
}
