#include "wetspan/spray/pattern.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <numbers>
#include <span>
#include <vector>

#include "approx.hpp"
#include "footprints.hpp"
#include "reference.hpp"
#include "wetspan/errors.hpp"

using namespace wetspan;
using std::numbers::pi;

namespace {

constexpr double no_number = std::numeric_limits<double>::quiet_NaN();

}  // namespace

TEST_CASE("patterns hold the whole flow, and spread it as their shape says") {
  for (const Shape shape : all_shapes) {
    double sum = 0, moment = 0;
    for (const Bar& bar : of(shape)) {
      sum += share(bar);
      moment += share(bar) * (bar.left + bar.right);
      CHECK(bar.left < bar.right);
      CHECK(bar.back < bar.front);
    }
    CHECK(sum == Approx(1).epsilon(1e-14));
    CHECK(std::abs(moment) < 1e-14);
  }
  const double half = std::tan(0.5 * PatternInput{}.angle);
  CHECK(of(Shape::triangular).size() == 2);
  CHECK(of(Shape::triangular)[0].at_right == Approx(1 / half));
  CHECK(of(Shape::uniform).size() == 1);
  CHECK(of(Shape::uniform)[0].at_left == Approx(0.5 / half));

  // fans: variance across, per half width squared: 1/3 uniform, 1/6 triangle, 1/4 ellipse; a disc is 1/4 too,
  // and a ring (1 + hollow^2) / 4
  const auto spread = [&](Shape shape) {
    double sum = 0;
    for (const Bar& bar : of(shape)) {
      const double middle = 0.5 * (bar.left + bar.right), width = bar.right - bar.left;
      const double slope = bar.at_right - bar.at_left, level = 0.5 * (bar.at_left + bar.at_right);
      sum += level * width * (middle * middle + width * width / 12) + slope * middle * width * width / 6;
    }
    return sum / (half * half);
  };
  CHECK(spread(Shape::uniform) == Approx(1.0 / 3));
  CHECK(spread(Shape::triangular) == Approx(1.0 / 6));
  CHECK(spread(Shape::elliptical) == Approx(0.25).epsilon(5e-3));
  CHECK(spread(Shape::cone) == Approx(0.25).epsilon(5e-3));
  CHECK(spread(Shape::ring) == Approx(0.25 * (1 + 0.36)).epsilon(5e-3));

  // cones: as wide along as across, and even
  for (const Bar& bar : of(Shape::cone))
    CHECK(std::hypot(0.5 * (bar.left + bar.right), bar.front) == Approx(half));
  CHECK(density(of(Shape::ring), 0.0, 0.3 * half, 1) == 0);
  for (const double radius : {0.65, 0.8, 0.95})
    for (const double turn : {0.3, 1.2, 2.0, 4.4})
      CHECK(density(of(Shape::ring), radius * half * std::cos(turn), radius * half * std::sin(turn), 1) ==
            Approx(1 / (pi * half * half * (1 - 0.36))).epsilon(0.08));
}

TEST_CASE("the ends of the trapezoid are the triangle and the uniform fan") {
  for (const auto& [top, shape] : {std::pair{0.0, Shape::triangular}, std::pair{1.0, Shape::uniform}}) {
    const Pattern trapezoid = pattern({.shape = Shape::trapezoid, .top = top});
    for (const double a : {-0.8, -0.5, -0.1, 0.0, 0.3, 0.79})
      CHECK(density(trapezoid, a, 0.01, 1) == Approx(density(of(shape), a, 0.01, 1)));
  }
}

TEST_CASE("a measured table is a pattern") {
  const double half = std::tan(0.5 * PatternInput{}.angle), h = 0.5;
  const std::vector<double> offsets{-half * h, 0, half * h}, amounts{0, 17, 0};
  const Pattern measured = measured_pattern(offsets, amounts, h, PatternInput{}.thickness_angle);
  for (const double a : {-0.7, -0.2, 0.0, 0.4})
    CHECK(density(measured, a, 0.01, 1) == Approx(density(of(Shape::triangular), a, 0.01, 1)));
}

TEST_CASE("patterns that cannot be are refused") {
  CHECK_THROWS_AS(pattern({.angle = 3.0}), InputError);
  CHECK_THROWS_AS(pattern({.thickness_angle = no_number}), InputError);
  const std::vector<double> offsets{0, 1, 2}, falling{0, 2, 1}, none{0, 0, 0}, negative{0, 1, -1},
      some{0, 1, 0};
  CHECK_THROWS_WITH_AS(measured_pattern(falling, some, 0.5, 0.3), doctest::Contains("must increase"),
                       InputError);
  CHECK_THROWS_WITH_AS(measured_pattern(offsets, none, 0.5, 0.3), doctest::Contains("all 0"), InputError);
  CHECK_THROWS_AS(measured_pattern(offsets, negative, 0.5, 0.3), InputError);
  CHECK_THROWS_AS(measured_pattern(std::span(offsets).first(1), std::span(some).first(1), 0.5, 0.3),
                  InputError);
}
