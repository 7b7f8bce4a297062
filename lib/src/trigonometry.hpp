// Angles in vector lanes, in the ranges that the equations of droplets need.
#pragma once

#include <array>
#include <cstddef>
#include <numbers>

#include "lanes.hpp"

namespace wetspan {
inline namespace WETSPAN_LANES_NAMESPACE {

/// arcsin(x) for 0 <= x <= sqrt(1/2); relative error below 1e-15. Half the angle is at most pi/8, where the
/// series converges fast.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R arcsine_of_small(const R& x) {
  // arcsin x / x = 1 + 1/2 x^2/3 + (1 3)/(2 4) x^4/5 + ...
  static constexpr auto series = [] {
    std::array<double, 19> c{};
    double product = 1.0;
    for (std::size_t n = 0; n < c.size(); ++n) {
      const double two = 2.0 * static_cast<double>(n);
      c[n] = product / (two + 1.0);
      product *= (two + 1.0) / (two + 2.0);
    }
    return c;
  }();
  // sin^2(a/2) = (1 - cos a) / 2 = sin^2 a / (2 (1 + cos a))
  const R square = x * x;
  const R half_square = square * L::inverse(2.0 * (1.0 + L::sqrt(1.0 - square)));
  return 2.0 * L::sqrt(half_square) * L::polynomial(series, half_square);
}

/// arccos(x) for 0 <= x <= 1; absolute error below 1e-15.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R arccosine_of(const R& x) {
  return 2.0 * arcsine_of_small<L>(L::sqrt(L::max(0.5 * (1.0 - x), L::all(0.0))));
}

/// arctan(x) for x >= 0; relative error below 1e-15.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R arctangent_of(const R& x) {
  const R one = L::all(1.0), shorter = L::min(x, one), longer = L::max(x, one);
  const R angle =
      arcsine_of_small<L>(shorter * L::inverse(L::sqrt(L::fma(shorter, shorter, longer * longer))));
  return L::select(x > one, std::numbers::pi / 2.0 - angle, angle);
}

template <class R>
struct SineCosine {
  R sine, cosine;
};
/// sin(x) and cos(x) for 0 <= x <= pi/2; absolute error below 1e-15.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline SineCosine<R> sine_cosine(const R& x) {
  constexpr std::size_t terms = 9;
  static constexpr auto series = [] {  // of sin x / x, and of cos x, in powers of -x^2
    std::array<std::array<double, terms>, 2> c{};
    double factorial = 1.0;
    for (std::size_t n = 0; n < 2 * terms; ++n) {
      if (n > 0) factorial *= static_cast<double>(n);
      c[(n + 1) % 2][n / 2] = 1.0 / factorial;
    }
    return c;
  }();
  const R half = 0.5 * x, square = -(half * half);
  const R sine = half * L::polynomial(series[0], square), cosine = L::polynomial(series[1], square);
  return {.sine = 2.0 * sine * cosine, .cosine = (cosine - sine) * (cosine + sine)};
}

}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan
