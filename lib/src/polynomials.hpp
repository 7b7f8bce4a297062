// Polynomial interpolation of a function at Chebyshev nodes.
#pragma once

#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>

namespace wetspan {

/// Chebyshev's nodes between -1 and 1.
template <std::size_t N>
std::array<double, N> nodes() {
  std::array<double, N> x{};
  for (std::size_t i = 0; i < N; ++i) {
    x[i] = -std::cos(std::numbers::pi * (static_cast<double>(i) + 0.5) / static_cast<double>(N));
  }
  return x;
}

template <std::size_t N>
struct Polynomial {
  std::array<double, N> powers{};
  double tail = 0;  // magnitude of the last two Chebyshev coefficients: an estimate of the error
};

/// The polynomial through `values` at nodes<N>(), in powers of x.
template <std::size_t N>
Polynomial<N> through(const std::array<double, N>& values) {
  static const std::array<double, N> x = nodes<N>();
  std::array<double, N> before{}, now{};  // Chebyshev polynomials, in powers of x
  Polynomial<N> result;
  before[0] = 1.0, now[1] = 1.0;
  for (std::size_t degree = 0; degree < N; ++degree) {
    double sum = 0.0;
    for (std::size_t i = 0; i < N; ++i) {
      sum += values[i] * std::cos(static_cast<double>(degree) * std::acos(x[i]));
    }
    sum *= (degree == 0 ? 1.0 : 2.0) / static_cast<double>(N);
    if (degree + 2 >= N) result.tail += std::abs(sum);
    for (std::size_t i = 0; i < N; ++i) result.powers[i] += sum * before[i];
    std::array<double, N> next{};
    for (std::size_t i = 0; i < N; ++i) next[i] = (i > 0 ? 2.0 * now[i - 1] : 0.0) - before[i];
    before = now, now = next;
  }
  return result;
}

/// Expands a polynomial in 2 z - 1 in powers of z.
template <std::size_t N>
std::array<double, N> shifted(std::array<double, N> powers) {
  std::array<double, N> result{};
  for (std::size_t i = N; i-- > 0;) {  // Horner's scheme with polynomials as values
    std::array<double, N> next{};
    for (std::size_t j = 0; j + 1 < N; ++j) next[j + 1] = 2.0 * result[j];
    for (std::size_t j = 0; j < N; ++j) next[j] -= result[j];
    next[0] += powers[i];
    result = next;
  }
  return result;
}

/// Approximates a function from middle - half_width to middle + half_width by a polynomial in
/// (x - middle) / half_width.
template <std::size_t N, class Function>
std::array<double, N> fit(Function function, double middle, double half_width) {
  std::array<double, N> values = nodes<N>();
  for (double& value : values) value = function(middle + half_width * value);
  return through(values).powers;
}

}  // namespace wetspan
