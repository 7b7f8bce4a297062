#include "wetspan/plant/uptake.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "../../../lib/src/plant/uptake_equations.hpp"
#include "approx.hpp"
#include "reference.hpp"

using namespace wetspan;

TEST_CASE("paclobutrazol's permeance by the correlation of Kerler and Schonherr") {
  const auto row = reference::rows("uptake", "cuticle permeance").front();
  CHECK(reference::holds(row, cuticle_permeance(row["log_kow"], row["molar_volume"])));
  CHECK(permeance(Active{}, Uptake{}, 298.15) ==
        Approx(cuticle_permeance(Active{}.log_kow, Active{}.molar_volume)).epsilon(1e-14));
}

TEST_CASE("the mobile rate gives a triazole's uptake into leaf discs, to which it was fitted") {
  // with the 70 % mobile that the rate and its activation energy were derived with: calibrated, no test of
  // the law; the abstract gives the shares as approximate
  constexpr double mobile = 0.7, day = 86400.0, approximately = 0.03;
  const auto rows = reference::rows("uptake", "share in 24 h");
  REQUIRE(rows.size() == 3);
  for (const auto& row : rows) {
    CAPTURE(row["T"]);
    const double ours = mobile * -std::expm1(-mobile_rate(Uptake{}, row["T"]) * day);
    CHECK(reference::within(row, ours, approximately));
  }
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

TEST_CASE(
    "the substrate gives by what sorption leaves in solution, what the plant drinks, and its exclusion") {
  Active active;
  const RootRates peat = root_rates(active, Uptake{}, Substrate{});
  const Substrate pot;
  const double held = pot.volume * (pot.water_content + active.sorption * pot.dry_density);
  CHECK(peat.up == Approx(Uptake{}.water_use * transpiration_factor(3.2, Transpiration::briggs) / held));
  CHECK(peat.loss == active.loss_rate);
  active.sorption = 0.0;
  CHECK(root_rates(active, Uptake{}, Substrate{}).up > 50.0 * peat.up);
}

TEST_CASE(
    "the mobile deposit: a share of what dries, linear in mass at low deposits, never more than it holds") {
  const Uptake uptake;
  const double low = 1e-3 * uptake.wax_capacity;
  CHECK(turns_mobile(uptake, low) == Approx(uptake.mobile_share * low).epsilon(1e-3));
  CHECK(turns_mobile(uptake, 2.0 * low) == Approx(2.0 * turns_mobile(uptake, low)).epsilon(1e-3));
  CHECK(turns_mobile(uptake, 1e3) == Approx(uptake.wax_capacity).epsilon(1e-3));
  CHECK(turns_mobile(uptake, 0.0) == 0.0);
  for (const double times : {0.3, 0.8, 1.5, 40.0}) {  // 1 / turned = 1 / (share of the mass) + 1 / capacity
    const double share = times * uptake.wax_capacity;
    CHECK(1.0 / turns_mobile(uptake, share / uptake.mobile_share) ==
          Approx(1.0 / share + 1.0 / uptake.wax_capacity).epsilon(1e-12));
  }
  const double full = uptake.wax_capacity / uptake.mobile_share;
  CHECK(turns_mobile(uptake, full) == Approx(0.5 * uptake.wax_capacity).epsilon(1e-12));
}

TEST_CASE("triazoles into leaf discs in 24 h, by temperature") {
  // O'Leary and Jones 1987 (seen as abstract): the mobile rate was set from flusilazol with 70 % mobile, so
  // its rows are calibrated; the same constants meet fenarimol at 20 and 30 degC within 10 points and not at
  // 10
  Uptake uptake;
  uptake.mobile_share = 0.7, uptake.wax_capacity = 1.0;
  const auto in_a_day = [&](double temperature) {
    const Deposit deposit{.mobile = turns_mobile(uptake, 1e-6)};
    return weathered(uptake, deposit, temperature, 86400.0).taken_up / 1e-6;
  };
  for (const auto& row : reference::rows("uptake", "share in 24 h")) {
    CAPTURE(row["T"]);
    CHECK(std::abs(in_a_day(row["T"]) - row.value) < 0.04);
  }
  CHECK(std::abs(in_a_day(293.15) - 0.40) < 0.10);
  CHECK(std::abs(in_a_day(303.15) - 0.60) < 0.10);
}

TEST_CASE("after drying uptake falls from day to day; wetted again it resumes, fully at low deposits only") {
  const Uptake uptake;
  // one day's step twice is a step of two days, and each day brings less
  const Deposit fresh{.mobile = 2e-7, .locked = 1.5e-6};
  CHECK(weathered(uptake, {.locked = 1.0}, 293.15, 864000.0).lost ==
        Approx(-std::expm1(-uptake.residue_loss * 864000.0)).epsilon(1e-12));
  const Weathered first = weathered(uptake, fresh, 293.15, 86400.0);
  const Weathered second = weathered(uptake, first.left, 293.15, 86400.0);
  const Weathered both = weathered(uptake, fresh, 293.15, 2.0 * 86400.0);
  CHECK(second.taken_up < first.taken_up);
  CHECK(both.taken_up == Approx(first.taken_up + second.taken_up).epsilon(1e-12));
  CHECK(both.lost == Approx(first.lost + second.lost).epsilon(1e-12));
  CHECK(both.left.mobile + both.taken_up == Approx(fresh.mobile).epsilon(1e-14));
  CHECK(both.left.locked + both.lost == Approx(fresh.locked).epsilon(1e-14));
  // 95 % of the pool by the fifth day (pyraoxystrobin on cucumber: RSC Adv. 2018, seen as abstract)
  CHECK(weathered(uptake, {.mobile = 1.0}, 293.15, 5.0 * 86400.0).taken_up == Approx(0.95).epsilon(0.03));
  // the water of a light pass, 0.05 mm, against deposits of 1 and 100 mg/m2
  const double holds = solubility(Active{}, 293.15);
  CHECK(redissolved(1e-6, 5e-5, holds) == 1.0);
  CHECK(redissolved(1e-4, 5e-5, holds) == Approx(0.013).epsilon(1e-9));
  CHECK(redissolved(0.0, 5e-5, holds) == 1.0);
  CHECK(redissolved(1e-6, 0.0, holds) == 0.0);
}

TEST_CASE("an accelerator speeds up both ways through the cuticle") {
  Uptake plain, helped;
  helped.accelerator = 40.0;
  CHECK(permeance(Active{}, helped, 293.15) == Approx(40.0 * permeance(Active{}, plain, 293.15)));
  CHECK(mobile_rate(helped, 293.15) == Approx(40.0 * mobile_rate(plain, 293.15)));
}

TEST_CASE("a liquid that holds all in solution gives at a constant rate of what is left, however fast") {
  for (const double rate : {1e-6, 1e-2, 1.0, 1e9}) {
    CHECK(liquid_after(0.7, {rate, rate, rate}, {1e12, 1e12, 1e12}, 10.0) ==
          Approx(0.7 * std::exp(-10.0 * rate)).epsilon(1e-14));
  }
}

TEST_CASE("a saturated liquid gives steadily, until what is left dissolves; then ever less") {
  constexpr double rate = 0.5, flow = 0.1;  // all dissolves from 0.2 down, which is reached after 8 s
  const auto after = [&](double time) {
    return liquid_after(1.0, {rate, rate, rate}, {flow, flow, flow}, time);
  };
  CHECK(after(5.0) == Approx(0.5).epsilon(1e-14));
  CHECK(after(8.0) == Approx(0.2).epsilon(1e-9));
  CHECK(after(20.0) == Approx(0.2 * std::exp(-rate * 12.0)).epsilon(1e-9));
  CHECK(after(1e9) == 0.0);
}

TEST_CASE("a drying liquid saturates on the way") {
  // the rate in solution rises as 1 + t, the flow is steady: 1 = (1 + t) exp(-(t + t^2 / 2)) / flow
  const auto rate = [](double t) { return 1.0 + t; };
  constexpr double flow = 0.6, time = 2.0;
  double left = 1.0;  // by small steps of the equation itself
  constexpr int steps = 2'000'000;
  for (int i = 0; i < steps; ++i) {
    const double h = time / steps, t = (i + 0.5) * h;
    const double halfway = left - 0.5 * h * std::min(rate(t) * left, flow);
    left -= h * std::min(rate(t) * halfway, flow);
  }
  CHECK(liquid_after(1.0, {rate(0.0), rate(1.0), rate(2.0)}, {flow, flow, flow}, time) ==
        Approx(left).epsilon(1e-6));
}

TEST_CASE("uptake from a liquid falls to its equation's own solution with the fourth power of its steps") {
  // rates that grow as exp(t): dL/dt = -min(e L, s); unsaturated, saturated, and first one, then the other
  constexpr double time = 2.0;
  const auto after = [&](double start, double e, double s, int steps) {
    double left = start;
    for (int i = 0; i < steps; ++i) {
      const double h = time / steps, t = i * h;
      const auto grown = [&](double rate) {
        return std::array{rate * std::exp(t), rate * std::exp(t + 0.5 * h), rate * std::exp(t + h)};
      };
      left = liquid_after(left, grown(e), grown(s), h);
    }
    return left;
  };
  const double grows = std::expm1(time);
  struct Case {
    double e, s, exact;
  };
  // the third dissolves at L = s / e = 0.5, when exp(t) = 6
  for (const Case& of : {Case{0.3, 10.0, std::exp(-0.3 * grows)}, Case{10.0, 0.1, 1.0 - 0.1 * grows},
                         Case{0.2, 0.1, 0.5 * std::exp(-0.2 * (std::exp(time) - 6.0))}}) {
    CAPTURE(of.e);
    const double coarse = after(1.0, of.e, of.s, 2), fine = after(1.0, of.e, of.s, 8);
    const double order = std::log(std::abs(coarse - of.exact) / std::abs(fine - of.exact)) / std::log(4.0);
    CHECK(std::abs(fine - of.exact) < 1e-4);
    CHECK(order > 3.5);
  }
}

TEST_CASE("what is left in a liquid that dries at a steady rate is the equation's own solution") {
  const Active active;
  constexpr double temperature = 295.0, water = 1e-4, wet_time = 3600.0;
  constexpr int steps = 400'000;
  for (const double accelerator :
       {0.1, 1.0, 1e3, 1e6}) {  // enters too slowly to follow, or faster than it dries
    Uptake uptake;
    uptake.accelerator = accelerator;
    const double most = most_dissolved(active, uptake, temperature);
    const double speed = permeance(active, uptake, temperature);
    for (const double strength : {0.01, 0.5, 1.0, 3.0}) {  // of the full depth, over saturation
      const double mass = strength * most * water;
      double left = mass;
      for (int i = 0; i < steps; ++i) {
        const double h = wet_time / steps, depth = water * (1.0 - (i + 0.5) / steps);
        const auto rate = [&](double held) { return speed * std::min(held / depth, most); };
        left -= std::min(left, h * rate(left - 0.5 * h * rate(left)));
        if (i + 1 == steps / 2) {
          CHECK(left_in_liquid(active, uptake, mass, water, temperature, wet_time, wet_time / 2) ==
                Approx(left).epsilon(1e-6).scale(mass));
        }
      }
      CHECK(left_in_liquid(active, uptake, mass, water, temperature, wet_time, wet_time) ==
            Approx(left).epsilon(1e-5).scale(mass));
      CHECK(left_in_liquid(active, uptake, mass, water, temperature, wet_time, 0.0) == mass);
    }
  }
}
