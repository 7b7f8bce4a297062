#define WETSPAN_LANES_NAMESPACE tested_lanes
#include "../../lib/src/lanes.hpp"
#include "../../lib/src/trigonometry.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <type_traits>
#include <vector>

using namespace wetspan;

namespace {

/// Puts a number into each lane in turn, another beside it, and requires that its lane alone decides.
template <int Width, class Function>
double in_every_lane(Function function, double x, double beside) {
  using L = Lanes<Width>;
  double result = 0.0;
  for (int lane = 0; lane < Width; ++lane) {
    typename L::R all = L::all(beside);
    L::set(all, lane, x);
    const double value = L::get(function(all), lane);
    if (lane == 0) result = value;
    CHECK(value == result);
  }
  return result;
}

std::vector<double> evenly(double from, double to, int count) {
  std::vector<double> result;
  for (int i = 0; i <= count; ++i) result.push_back(from + (to - from) * i / count);
  return result;
}
std::vector<double> by_ratio(double from, double to, int count) {
  std::vector<double> result;
  for (const double power : evenly(std::log(from), std::log(to), count)) result.push_back(std::exp(power));
  return result;
}

/// Largest error of a function of lanes, each over what `scale` says of the exact value.
template <class Function, class Exact, class Scale>
double largest_error(const std::vector<double>& range, Function function, Exact exact, Scale scale) {
  double largest = 0.0;
  for (const double x : range) {
    const double value = function(x), error = std::abs(value - exact(x)) / scale(exact(x));
    if (!(error <= largest)) largest = std::isnan(error) ? std::numeric_limits<double>::infinity() : error;
  }
  return largest;
}
double relative(double exact) { return std::abs(exact); }

}  // namespace

TEST_CASE_TEMPLATE("lanes: functions as the C library has them", Width, std::integral_constant<int, 1>,
                   std::integral_constant<int, 2>) {
  constexpr int width = Width::value;
  using L = Lanes<width>;
  using R = typename L::R;
  const auto lanes = [](auto function, double beside) {
    return [=](double x) { return in_every_lane<width>(function, x, beside); };
  };
  const std::vector<double> normal = by_ratio(1e-300, 1e300, 20'001);

  const auto exp = lanes([](const R& x) { return L::exp(x); }, -3.0);
  const auto exact_exp = [](double x) { return std::exp(x); };
  CHECK(largest_error(evenly(-700.0, 700.0, 50'001), exp, exact_exp, relative) < 3e-15);
  CHECK(largest_error(evenly(-1.0, 1.0, 10'001), exp, exact_exp, relative) < 1e-15);
  CHECK(exp(0.0) == 1.0);
  CHECK(exp(1e4) == exp(700.0));  // beyond, as at the end
  CHECK(exp(-1e4) == exp(-700.0));

  const auto exp_within = lanes([](const R& x) { return L::exp_within(x); }, -3.0);
  CHECK(largest_error(evenly(-700.0, 700.0, 50'001), exp_within, exact_exp, relative) < 3e-10);
  CHECK(exp_within(0.0) == 1.0);
  for (const double beyond : {-1e5, -1e3, 1e3, 1e5, 1e15}) exp_within(beyond);  // gives anything, but does it

  const auto log = lanes([](const R& x) { return L::log(x); }, 7.0);
  const auto exact_log = [](double x) { return std::log(x); };
  const auto to_one = [](double exact) { return std::max(1.0, std::abs(exact)); };
  CHECK(largest_error(normal, log, exact_log, to_one) < 1e-14);
  CHECK(largest_error(evenly(0.5, 2.0, 10'001), log, exact_log, to_one) < 1e-15);
  CHECK(log(1.0) == 0.0);

  for (const double power : {-0.2, 0.625, 0.8, 2.0}) {
    CAPTURE(power);
    const auto pow = lanes([=](const R& x) { return L::pow(x, power); }, 0.3);
    CHECK(largest_error(
              by_ratio(1e-30, 1e30, 10'001), pow, [=](double x) { return std::pow(x, power); }, relative) <
          1e-13);
  }

  const auto inverse = lanes([](const R& x) { return L::inverse(x); }, 3.0);
  CHECK(largest_error(normal, inverse, [](double x) { return 1.0 / x; }, relative) < 3e-16);
  CHECK(inverse(-0.25) == -4.0);
  const auto exact_root = [](double x) { return std::sqrt(x); };
  CHECK(largest_error(normal, lanes([](const R& x) { return L::sqrt(x); }, 3.0), exact_root, relative) ==
        0.0);
  const auto cube_root = lanes([](const R& x) { return L::cbrt(x); }, 3.0);
  CHECK(largest_error(
            by_ratio(1e-280, 1e280, 20'001), cube_root, [](double x) { return std::cbrt(x); }, relative) <
        1e-15);
  CHECK(cube_root(0.0) == 0.0);
}

TEST_CASE_TEMPLATE("lanes: angles as the C library has them", Width, std::integral_constant<int, 1>,
                   std::integral_constant<int, 2>) {
  constexpr int width = Width::value;
  using L = Lanes<width>;
  using R = typename L::R;
  const auto lanes = [](auto function, double beside) {
    return [=](double x) { return in_every_lane<width>(function, x, beside); };
  };
  const auto absolute = [](double) { return 1.0; };
  const auto arcsine = lanes([](const R& x) { return arcsine_of_small<L>(x); }, 0.4);
  std::vector<double> small = by_ratio(1e-150, std::sqrt(0.5), 10'001);
  small.back() = std::sqrt(0.5);
  CHECK(largest_error(small, arcsine, [](double x) { return std::asin(x); }, relative) < 1e-15);
  CHECK(arcsine(0.0) == 0.0);

  const auto arccosine = lanes([](const R& x) { return arccosine_of<L>(x); }, 0.4);
  CHECK(largest_error(
            evenly(0.0, 1.0, 10'001), arccosine, [](double x) { return std::acos(x); }, absolute) < 1e-15);
  CHECK(arccosine(1.0) == 0.0);

  const auto arctangent = lanes([](const R& x) { return arctangent_of<L>(x); }, 0.4);
  CHECK(largest_error(
            by_ratio(1e-150, 1e150, 20'001), arctangent, [](double x) { return std::atan(x); }, relative) <
        1e-15);
  CHECK(arctangent(0.0) == 0.0);

  const double right_angle = std::acos(0.0);
  const std::vector<double> angles = evenly(0.0, right_angle, 10'001);
  const auto sine = lanes([](const R& x) { return sine_cosine<L>(x).sine; }, 0.4);
  const auto cosine = lanes([](const R& x) { return sine_cosine<L>(x).cosine; }, 0.4);
  CHECK(largest_error(angles, sine, [](double x) { return std::sin(x); }, absolute) < 1e-15);
  CHECK(largest_error(angles, cosine, [](double x) { return std::cos(x); }, absolute) < 1e-15);
  CHECK(largest_error(
            by_ratio(1e-150, right_angle, 10'001), sine, [](double x) { return std::sin(x); }, relative) <
        1e-15);
  CHECK(sine(0.0) == 0.0);
  CHECK(cosine(0.0) == 1.0);
}

TEST_CASE_TEMPLATE("lanes: polynomials of every length, by Horner", Width, std::integral_constant<int, 1>,
                   std::integral_constant<int, 2>) {
  using L = Lanes<Width::value>;
  const auto hold = [](const auto& powers) {
    for (const double x : evenly(-1.0, 1.0, 201)) {
      double exact = 0.0;
      for (std::size_t i = powers.size(); i-- > 0;) exact = exact * x + powers[i];
      const double value =
          in_every_lane<Width::value>([&](const auto& at) { return L::polynomial(powers, at); }, x, 0.5);
      CHECK(std::abs(value - exact) < 1e-14);
    }
  };
  hold(std::array{2.0});
  hold(std::array{2.0, -3.0});
  hold(std::array{1.0, 0.5, -0.7});
  hold(std::array{1.0, 0.5, -0.7, 0.2});
  hold(std::array{0.1, -0.2, 0.3, -0.4, 0.5, -0.6, 0.7});
  hold(std::array{0.1, -0.2, 0.3, -0.4, 0.5, -0.6, 0.7, -0.8, 0.9, -1.0, 1.1, -1.2, 1.3});
}

TEST_CASE("lanes: comparisons lane by lane") {
  using L = Lanes<2>;
  typename L::R a{1.0, -2.0}, b{0.5, 3.0};
  const auto more = a > b;
  CHECK(L::holds(more, 0));
  CHECK_FALSE(L::holds(more, 1));
  CHECK(L::bits_of(more) == 1U);
  CHECK(L::any(more));
  CHECK(L::get(L::max(a, b), 0) == 1.0);
  CHECK(L::get(L::max(a, b), 1) == 3.0);
  CHECK(L::get(L::min(a, b), 0) == 0.5);
  CHECK(L::get(L::min(a, b), 1) == -2.0);
  CHECK(L::get(L::abs(a), 1) == 2.0);
  CHECK(L::get(L::fma(a, b, L::all(1.0)), 1) == -5.0);
}
