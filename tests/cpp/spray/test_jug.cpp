#include "wetspan/spray/jug.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <set>

#include "approx.hpp"
#include "reference.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/properties/water.hpp"

using namespace wetspan;

namespace {

constexpr double day = 86400;

/// A jug of plain water and one class that fills `fraction` of it.
JugInput plain(double fraction, double packing, int cells) {
  JugInput jug;
  jug.viscosity_ratio = 1;
  jug.yield_stress = 0;
  jug.packing = packing;
  jug.cells = cells;
  jug.classes = {{"grains", Role::active, 5e-6, 1220, fraction * 1220}};
  return jug;
}

JugInput default_suspension() {
  JugInput jug;
  jug.classes = particle_classes(4.0);
  return jug;
}

/// Kynch 1952 for the flux f(phi) = phi (1 - phi)^n below the packing and 0 at it: concentration as a
/// function of depth, in units of the height, at time t, in units of height over Stokes speed, before the
/// descending surface meets what rises from the bottom.
///
/// The surface is a shock from 0 to phi0 at speed (1 - phi0)^n. From the bottom rises either a shock from
/// phi0 to the packing, or, where phi0 lies beyond the inflection of f and short of the tangent point, a fan
/// f'(phi) = (x - 1)/t from phi0 to that point and then a shock. The tangent from (packing, 0) touches f
/// where n phi^2 - (n + 1) packing phi + packing = 0.
class Kynch {
 public:
  Kynch(double phi0, double packing) : phi0_(phi0), packing_(packing) {
    const double b = (n + 1) * packing, discriminant = b * b - 4 * n * packing;
    tangent_ = discriminant > 0 ? (b + std::sqrt(discriminant)) / (2 * n) : 0;
    fan_ = phi0 > 2 / (n + 1) && phi0 < tangent_;
  }
  bool fan() const { return fan_; }
  double surface_speed() const { return std::pow(1 - phi0_, n); }
  double sediment_speed() const {
    return fan_ ? slope(tangent_) : -phi0_ * std::pow(1 - phi0_, n) / (packing_ - phi0_);
  }
  double meeting_time() const { return 1 / (surface_speed() - (fan_ ? slope(phi0_) : sediment_speed())); }

  double operator()(double x, double t) const {
    if (x < surface_speed() * t) return 0;
    const double speed = (x - 1) / t;
    if (speed > sediment_speed()) return packing_;
    if (!fan_ || speed < slope(phi0_)) return phi0_;
    double low = phi0_, high = tangent_;  // f' rises between them
    for (int k = 0; k < 60; ++k) (slope(0.5 * (low + high)) < speed ? low : high) = 0.5 * (low + high);
    return low;
  }

 private:
  static constexpr double n = 4.65;
  static double slope(double phi) { return std::pow(1 - phi, n - 1) * (1 - (n + 1) * phi); }
  double phi0_, packing_, tangent_ = 0;
  bool fan_ = false;
};

/// Mean absolute error of the volume fraction over the column, over phi0.
double kynch_error(double phi0, double packing, int cells) {
  const JugInput jug = plain(phi0, packing, cells);
  const Kynch exact(phi0, packing);
  const double t = 0.8 * exact.meeting_time();
  const double seconds = t * jug.height / sinking_speed(jug.classes[0], jug);
  const JugResult result = settle(jug, std::vector{seconds});
  REQUIRE(result.status == JugStatus::done);
  double error = 0;
  const auto layers = result.profile(0, 0);
  constexpr int points = 256;  // per layer
  for (int cell = 0; cell < cells; ++cell) {
    double mean = 0;
    for (int k = 0; k < points; ++k) mean += exact((cell + (k + 0.5) / points) / cells, t) / points;
    error += std::abs(layers[static_cast<std::size_t>(cell)] / 1220 - mean);
  }
  return error / cells / phi0;
}

}  // namespace

TEST_CASE("Stokes' speed, Richardson and Zaki's hindrance and the critical yield stress") {
  for (const auto& row : reference::rows("jug", "Stokes speed"))
    CHECK(reference::holds(row,
                           stokes_speed(row["diameter"], row["excess_density"], row["viscosity"]) * 3.6e6));
  for (const auto& row : reference::rows("jug", "hindrance"))
    CHECK(reference::holds(row, richardson_zaki(row["fraction"], row["exponent"])));

  const double critical = reference::rows("jug", "critical yield")[0].value;
  const double holding = critical * 220 * 9.80665 * 2e-6;
  CHECK(gel_release(0, 2e-6, 220) == 1);
  CHECK(gel_release(holding / 2, 2e-6, 220) == Approx(0.5).epsilon(1e-12));
  CHECK(gel_release(holding * 0.999, 2e-6, 220) > 0);
  CHECK(gel_release(holding * 1.001, 2e-6, 220) == 0);
}

TEST_CASE("The classes of the active ingredient lie about its median, by equal masses") {
  double logarithms = 0, mass = 0;
  for (const ParticleClass& each : particle_classes(4.0)) {
    if (each.role != Role::active) continue;
    logarithms += std::log(each.diameter / Suspension{}.active_diameter);  // a lognormal law is even in them
    mass += each.concentration;
  }
  CHECK(std::abs(logarithms) < 1e-9);
  CHECK(mass == Approx(4.0).epsilon(1e-14));
}

TEST_CASE("A thin suspension's surface sinks at Stokes' speed in water at the jug's temperature") {
  for (const double temperature : {278.15, 293.15, 308.15}) {
    JugInput jug = plain(1e-7, 0.6, 200);
    jug.temperature = temperature;
    const double speed =
        stokes_speed(5e-6, 1220 - water::density(temperature), water::dynamic_viscosity(temperature));
    const JugResult result = settle(jug, std::vector{0.1 / speed});
    const auto layers = result.profile(0, 0);
    // what is gone from above the middle is a clear layer of this depth
    const double clear =
        0.2 - std::accumulate(layers.begin(), layers.end() - 1, 0.0) / layers[150] * 0.001 - 0.001;
    CHECK(clear == Approx(0.1).epsilon(1e-4));
    const auto half =
        std::find_if(layers.begin(), layers.end(), [&](double c) { return c > 0.5 * layers[150]; });
    CHECK(std::abs(static_cast<double>(half - layers.begin()) - 100) <= 1);
  }
}

TEST_CASE("One class follows Kynch's kinematic waves, and the error falls with the layers") {
  struct Case {
    double phi0, packing;
    bool fan;
    double error;  // at 400 layers
  };
  for (const Case& one :
       {Case{0.02, 0.60, false, 0.005}, Case{0.10, 0.60, false, 0.004}, Case{0.40, 0.64, true, 0.003}}) {
    CAPTURE(one.phi0);
    CHECK(Kynch(one.phi0, one.packing).fan() == one.fan);
    const double coarse = kynch_error(one.phi0, one.packing, 100),
                 fine = kynch_error(one.phi0, one.packing, 400);
    MESSAGE("phi0 " << one.phi0 << ": error " << coarse << ", " << kynch_error(one.phi0, one.packing, 200)
                    << ", " << fine << ", order " << 0.5 * std::log2(coarse / fine));
    CHECK(fine < one.error);
    CHECK(0.5 * std::log2(coarse / fine) > 0.75);
  }
}

TEST_CASE("In the end everything lies in a sediment at the packing") {
  JugInput jug = plain(0.10, 0.60, 120);
  const double seconds = 30 * jug.height / sinking_speed(jug.classes[0], jug);
  const JugResult result = settle(jug, std::vector{seconds});
  const auto layers = result.profile(0, 0);
  for (std::size_t k = 0; k < 99; ++k) CHECK(layers[k] < 1e-9);
  for (std::size_t k = 101; k < 120; ++k) CHECK(layers[k] / 1220 == Approx(0.60).epsilon(1e-9));
}

TEST_CASE("Mass closes to 1e-12, concentrations stay within 0 and the packing" *
          doctest::test_suite("long")) {
  JugInput jug = default_suspension();
  jug.classes.push_back({"silt", Role::carrier, 4e-6, 2650, 600});
  std::vector<double> times;
  for (int k = 0; k <= 40; k += 5) times.push_back(k * day);
  const JugResult result = settle(jug, times);
  REQUIRE(result.status == JugStatus::done);
  CHECK(result.mass_error < 1e-12);
  for (std::size_t t = 0; t < times.size(); ++t)
    for (std::size_t cell = 0; cell < result.cells; ++cell) {
      double fraction = 0;
      for (std::size_t i = 0; i < result.classes; ++i) {
        const double c = result.profile(t, i)[cell];
        CHECK(c >= 0);
        fraction += c / jug.classes[i].density;
      }
      CHECK(fraction <= jug.packing * (1 + 1e-12));
    }
}

TEST_CASE("The times asked for between do not change where things end up") {
  const JugInput jug = default_suspension();
  const JugResult once = settle(jug, std::vector{30 * day});
  const JugResult often = settle(jug, std::vector{1 * day, 2 * day, 11 * day, 30 * day});
  const auto a = profile(jug, once, 0, Role::active), b = profile(jug, often, 3, Role::active);
  CHECK(suspensibility(a) == Approx(suspensibility(b)).epsilon(1e-4));
}

TEST_CASE(
    "The calibrated suspension: active ingredient out of place within a week, carrier over two months") {
  // Calibration (grade C) of viscosity_ratio and carrier_diameter to two facts of the trade, not a
  // validation.
  const JugInput jug = default_suspension();
  const JugResult result = settle(jug, std::vector{0.0, 7 * day, 60 * day});
  const auto active = reference::rows("jug", "active ingredient afloat")[0];
  CHECK(reference::holds(active, suspensibility(profile(jug, result, 1, Role::active))));
  const auto carrier = reference::rows("jug", "carrier afloat")[0];
  CHECK(reference::holds(carrier, suspensibility(profile(jug, result, 2, Role::carrier))));
  CHECK(suspensibility(profile(jug, result, 1, Role::carrier)) >
        0.9);  // the jug still looks milky after a week
  CHECK(suspensibility(profile(jug, result, 0, Role::active)) == Approx(1).epsilon(1e-12));
}

TEST_CASE("Diluted in water, the same particles pass a suspensibility test") {
  const auto row = reference::rows("jug", "least suspensibility")[0];
  JugInput cylinder;
  cylinder.viscosity_ratio = 1;  // the gel is diluted away
  cylinder.yield_stress = 0;
  cylinder.temperature = row["temperature"];
  cylinder.classes = particle_classes(0.02 * 4.0);
  const JugResult result = settle(cylinder, std::vector{row["time"]});
  CHECK(reference::at_least(row, suspensibility(profile(cylinder, result, 0, Role::active))));
}

TEST_CASE("Pours: from the top weak, from the bottom strong, and the whole jug is the label") {
  const JugInput jug = default_suspension();
  const JugResult result = settle(jug, std::vector{30 * day});
  const auto layers = profile(jug, result, 0, Role::active);
  const std::vector<double> tenths(10, 0.1);
  const auto top = pours(layers, tenths, Draw::top, 0), bottom = pours(layers, tenths, Draw::bottom, 0);
  CHECK(top.front() < 0.2);
  CHECK(bottom.front() > 5);
  CHECK(std::is_sorted(top.begin(), top.end()));
  CHECK(std::accumulate(top.begin(), top.end(), 0.0) == Approx(10).epsilon(1e-12));
  for (std::size_t k = 0; k < 10; ++k) CHECK(top[k] == Approx(bottom[9 - k]).scale(1).epsilon(1e-9));

  SUBCASE("shaken is uniform, part-shaken lies between") {
    for (const double pour : pours(layers, tenths, Draw::top, 1)) CHECK(pour == Approx(1).epsilon(1e-12));
    const auto part = pours(layers, tenths, Draw::top, 0.5);
    CHECK(spread(part) == Approx(0.5 * spread(top)).epsilon(1e-12));
  }
  SUBCASE("pours that cut through layers") {
    const auto uneven = pours(std::vector{1.0, 2.0, 3.0}, std::vector{0.5, 0.25, 0.25}, Draw::top, 0);
    CHECK(uneven[0] == Approx(2.0 / 1.5 / 2));  // 1 and half of the layer of 2
    CHECK(uneven[1] == Approx(1.75 / 0.75 / 2));
    CHECK(uneven[2] == Approx(2.25 / 0.75 / 2));
    CHECK(spread(std::vector{1.0, 2.0, 3.0}) == Approx(0.5));  // sample deviation 1 over mean 2
    CHECK(spread(std::vector{2.0}) == 0);
  }
}

TEST_CASE("A microemulsion stays uniform always") {
  JugInput jug;
  jug.formulation = Formulation::solution;
  jug.temperature = 313.15;
  jug.classes = particle_classes(40.0);
  const JugResult result = settle(jug, std::vector{0.0, 730 * day});
  CHECK(result.steps == 0);
  for (std::size_t i = 0; i < result.classes; ++i)
    for (const double c : result.profile(1, i)) CHECK(c == jug.classes[i].concentration);
}

TEST_CASE("A warm store settles faster, a stronger gel holds") {
  const auto afloat = [](const JugInput& jug) {
    return suspensibility(profile(jug, settle(jug, std::vector{7 * day}), 0, Role::active));
  };
  JugInput warm = default_suspension(), held = default_suspension();
  warm.temperature = 303.15;
  held.yield_stress = 1e-3;
  CHECK(afloat(warm) < afloat(default_suspension()) - 0.02);
  CHECK(afloat(held) == 1);
}

TEST_CASE("Work is bounded, and the status says so") {
  JugInput jug = default_suspension();
  jug.max_steps = 200;
  const JugResult result = settle(jug, std::vector{0.0, 1 * day, 60 * day});
  CHECK(result.status == JugStatus::step_limit);
  CHECK(result.time == std::vector{0.0, 1 * day});
  CHECK(result.steps <= 200);
  CHECK_THROWS_AS(result.profile(2, 0), InputError);
}

TEST_CASE("What the jug refuses") {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const std::vector<double> week{7 * day};
  const auto refuses = [&](auto change) {
    JugInput jug = default_suspension();
    change(jug);
    CHECK_THROWS_AS(settle(jug, week), InputError);
  };
  refuses([](JugInput& jug) { jug.classes.clear(); });
  refuses([&](JugInput& jug) { jug.height = nan; });
  refuses([](JugInput& jug) { jug.temperature = 20; });
  refuses([](JugInput& jug) { jug.classes[0].density = 900; });        // would float
  refuses([](JugInput& jug) { jug.classes[0].diameter = 1e-4; });      // beyond Stokes' law
  refuses([](JugInput& jug) { jug.classes[0].concentration = 900; });  // no room
  refuses([](JugInput& jug) { jug.classes[0].concentration = 0; });
  CHECK_THROWS_AS(settle(default_suspension(), std::vector{2 * day, 1 * day}), InputError);
  CHECK_THROWS_AS(settle(default_suspension(), std::vector{-1.0}), InputError);
  CHECK_THROWS_AS(particle_classes(nan), InputError);
  CHECK_THROWS_AS(particle_classes(4.0, {.active_span = 9}), InputError);

  const std::vector<double> layers{1, 2};
  CHECK_THROWS_AS(pours(layers, std::vector{0.7, 0.7}, Draw::top, 0), InputError);
  CHECK_THROWS_AS(pours(layers, std::vector{0.5, 0.0}, Draw::top, 0), InputError);
  CHECK_THROWS_AS(pours(layers, std::vector{0.5}, Draw::top, 1.5), InputError);
  CHECK_THROWS_AS(pours(std::vector{0.0, 0.0}, std::vector{0.5}, Draw::top, 0), InputError);
  // found by fuzzing: layers below zero or without bound, and pours so small that they were rounding
  CHECK_THROWS_AS(pours(std::vector{-1.0, 5.0}, std::vector{0.5}, Draw::top, 0), InputError);
  CHECK_THROWS_AS(pours(std::vector{1e308, 1e308}, std::vector{0.5}, Draw::top, 0), InputError);
  CHECK_THROWS_AS(pours(layers, std::vector{0.5, 1e-30}, Draw::top, 0), InputError);
  CHECK_THROWS_AS(suspensibility(std::vector{0.0, 0.0}), InputError);
}

TEST_CASE("Every input of the jug is inside its own bounds and says where it comes from") {
  std::set<std::string_view> names;
  for (const Parameter& row : jug_parameters()) {
    CAPTURE(row.name);
    CHECK(row.low <= row.standard);
    CHECK(row.standard <= row.high);
    CHECK(row.spread >= 1);
    CHECK(!row.source.empty());
    if (row.grade == Grade::C) CHECK(row.source.starts_with("calibrated"));
    CHECK(names.insert(row.name).second);
  }
  CHECK(names.size() == 15);
}
