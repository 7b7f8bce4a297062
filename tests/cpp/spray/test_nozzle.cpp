#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <map>
#include <numbers>
#include <string>

#include "approx.hpp"
#include "reference.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/spray/nozzle.hpp"

using namespace wetspan;

namespace {
constexpr double litre_per_minute = 1e-3 / 60;
// The reference table writes sizes as numbers (01 reads as 1): back to their names.
const std::map<double, std::string> named{{1, "01"}, {15, "015"}, {2, "02"}, {25, "025"}, {3, "03"},
                                          {4, "04"}, {5, "05"},   {6, "06"}, {8, "08"}};
}  // namespace

TEST_CASE("nozzle flows agree with the standard's and with printed tables") {
  for (const auto& row : reference::rows("nozzle", "flow")) {
    const double flow = nozzle_flow(nozzle_size(named.at(row["size"])).flow, row["pressure"]);
    CHECK(reference::holds(row, flow / litre_per_minute));
  }
}

TEST_CASE("flow goes with the square root of pressure, as printed charts do") {
  for (const auto& row : reference::rows("nozzle", "flow over flow at 40 psi")) {
    const double flow = nozzle_flow(row["flow40"] * litre_per_minute, row["pressure"], 275790);
    CHECK(reference::holds(row, flow / litre_per_minute));
  }
  CHECK(nozzle_flow(1e-5, 4e5, 1e5) == Approx(2e-5).epsilon(1e-14));
}

TEST_CASE("flow, pace and swath make the volume rate, and back") {
  // 0.8 L/min at 0.13 m/s over 0.5 m is 0.205 L/m2: a walk along the bench at the usual 2 US qt per 100 ft2.
  CHECK(volume_rate(0.8 * litre_per_minute, 0.13, 0.5) == Approx(2.0513e-4).epsilon(1e-4));
  CHECK(volume_rate(1e-5, pace_for(1e-5, 2e-4, 0.7), 0.7) == Approx(2e-4).epsilon(1e-14));
  CHECK(fan_width(0.5, 110 * std::numbers::pi / 180) == Approx(1.42815).epsilon(1e-4));
}

TEST_CASE("exit speed is Bernoulli's, and the spray's momentum bounds the air jet") {
  CHECK(exit_speed(3e5, 1000, 1) == Approx(std::sqrt(600)).epsilon(1e-14));
  const double flow = 0.8 * litre_per_minute, speed = exit_speed(3e5, 998), fan = 1.9, thickness = 0.3;
  const double length = jet_length(flow, speed, fan, thickness, 998, 1.2);
  // Far downstream (s >> L) momentum of the air, rho_a U^2 A, is the liquid's rho_w Q V.
  const double s = 1e6, air = speed * length / (length + s);
  const double section = 4 * s * s * std::tan(fan / 2) * std::tan(thickness / 2);
  CHECK(1.2 * air * air * section == Approx(998 * flow * speed).epsilon(1e-6));
}

TEST_CASE("impossible nozzles are refused") {
  CHECK_THROWS_AS(nozzle_flow(1e-5, -1), InputError);
  CHECK_THROWS_AS(nozzle_flow(std::numeric_limits<double>::quiet_NaN(), 3e5), InputError);
  CHECK_THROWS_AS(exit_speed(3e5, 998, 1.2), InputError);
  CHECK_THROWS_AS(volume_rate(1e-5, 0, 1), InputError);
  CHECK_THROWS_WITH_AS(nozzle_size("07"), doctest::Contains("'06'"), InputError);
}
