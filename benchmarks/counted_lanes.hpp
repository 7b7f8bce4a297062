// Numbers that count what is done with them: the clock path's kernel, compiled with these for its lanes
// (WETSPAN_LANES), tells how many operations an event takes. The interface is that of lib/src/lanes.hpp
// at width 1. What the kernel does lane by lane in plain doubles, such as finding the moment within a step,
// is not counted.
#pragma once

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstddef>
#include <cstdint>

namespace benchmark {

struct Operations {
  long additions = 0, products = 0, multiply_adds = 0, divisions = 0, roots = 0, comparisons = 0;

  /// Operations on numbers, a multiply-add as two.
  long floating_point() const { return additions + products + 2 * multiply_adds + divisions + roots; }
  /// Vector instructions that they take.
  long issued() const { return additions + products + multiply_adds + divisions + roots + comparisons; }
};
inline thread_local Operations operations;

struct Counted {
  double value = 0.0;

  Counted() = default;
  Counted(double of) : value(of) {}  // as a double turns into a lane

  friend Counted operator+(const Counted& a, const Counted& b) {
    ++operations.additions;
    return a.value + b.value;
  }
  friend Counted operator-(const Counted& a, const Counted& b) {
    ++operations.additions;
    return a.value - b.value;
  }
  friend Counted operator*(const Counted& a, const Counted& b) {
    ++operations.products;
    return a.value * b.value;
  }
  friend Counted operator/(const Counted& a, const Counted& b) {
    ++operations.divisions;
    return a.value / b.value;
  }
  Counted operator-() const { return -value; }  // goes into the instruction that uses it
  Counted& operator+=(const Counted& other) { return *this = *this + other; }
  Counted& operator*=(const Counted& other) { return *this = *this * other; }

#define WETSPAN_COUNTED_COMPARISON(sign)                          \
  friend bool operator sign(const Counted& a, const Counted& b) { \
    ++operations.comparisons;                                     \
    return a.value sign b.value;                                  \
  }
  WETSPAN_COUNTED_COMPARISON(<)
  WETSPAN_COUNTED_COMPARISON(>)
  WETSPAN_COUNTED_COMPARISON(<=)
  WETSPAN_COUNTED_COMPARISON(>=)
  WETSPAN_COUNTED_COMPARISON(==)
  WETSPAN_COUNTED_COMPARISON(!=)
#undef WETSPAN_COUNTED_COMPARISON
};
static_assert(sizeof(Counted) == sizeof(double));

}  // namespace benchmark

namespace wetspan {
inline namespace WETSPAN_LANES_NAMESPACE {

template <int Width>
struct Lanes {
  static_assert(Width == 1);
  using R = benchmark::Counted;
  using I = std::int64_t;
  using Mask = bool;

  static R all(double value) { return value; }
  static double get(const R& x, int) { return x.value; }
  static void set(R& x, int, double value) { x.value = value; }
  static bool holds(Mask mask, int) { return mask; }
  static unsigned bits_of(Mask mask) { return mask; }
  static bool any(Mask mask) { return mask; }

  static R select(Mask mask, const R& a, const R& b) { return mask ? a : b; }

  static R fma(const R& a, const R& b, const R& c) {
    ++benchmark::operations.multiply_adds;
    return std::fma(a.value, b.value, c.value);
  }
  static R sqrt(const R& x) {
    ++benchmark::operations.roots;
    return std::sqrt(x.value);
  }
  static R inverse(const R& x) { return 1.0 / x; }
  static R max(const R& a, const R& b) { return a > b ? a : b; }
  static R min(const R& a, const R& b) { return a < b ? a : b; }
  static R abs(const R& x) { return x < all(0.0) ? -x : x; }

  static I bits(const R& x) { return std::bit_cast<I>(x.value); }
  static R from_bits(I x) { return std::bit_cast<double>(x); }

  /// In pairs (Estrin).
  template <class Coefficient, std::size_t N>
  static R polynomial(const Coefficient (&c)[N], const R& x) {
    return in_pairs<N>(c, x);
  }
  template <class Coefficient, std::size_t N>
  static R polynomial(const std::array<Coefficient, N>& c, const R& x) {
    return in_pairs<N>(c.data(), x);
  }
  /// For one lane's own numbers, uncounted.
  template <std::size_t N>
  static double polynomial(const std::array<double, N>& c, double x) {
    double sum = c[N - 1];
    for (std::size_t i = N - 1; i-- > 0;) sum = sum * x + c[i];
    return sum;
  }

  static R exp(const R& given) { return power<13>(min(max(given, -700.0), 700.0)); }
  static R exp_within(const R& x) { return power<9>(x); }
  template <std::size_t Terms>
  static R power(const R& x) {
    const R shifted = fma(x, 1.4426950408889634, 0x1.8p52), n = shifted - 0x1.8p52;
    const R r = fma(n, -1.90821492927058770002e-10, fma(n, -0.693147180369123816490, x));
    std::array<double, Terms> c{1.0};
    for (std::size_t i = 1; i < Terms; ++i) c[i] = c[i - 1] / static_cast<double>(i);
    return polynomial(c, r) * std::ldexp(1.0, static_cast<int>(std::clamp(n.value, -1100.0, 1100.0)));
  }
  static R log(const R& x) {
    int exponent = 0;
    double m = std::frexp(x.value, &exponent);  // shifts and masks of the lane's bits
    if (m < 0.7071067811865476) m *= 2.0, --exponent;
    const R e = R(exponent + 0x1.8p52) - 0x1.8p52;
    const R s = (R(m) - 1.0) * inverse(R(m) + 1.0), z = s * s;
    static constexpr double c[] = {1.0,      1.0 / 3,  1.0 / 5,  1.0 / 7, 1.0 / 9,
                                   1.0 / 11, 1.0 / 13, 1.0 / 15, 1.0 / 17};
    return fma(e, 0.6931471805599453, 2.0 * s * polynomial(c, z));
  }
  static R pow(const R& x, double p) { return exp(p * log(x)); }

 private:
  template <std::size_t N, class Coefficient>
  static R in_pairs(const Coefficient* c, const R& x) {
    if constexpr (N == 1) {
      return c[0];
    } else {
      R halves[(N + 1) / 2];
      for (std::size_t i = 0; i < N / 2; ++i) halves[i] = fma(c[2 * i + 1], x, c[2 * i]);
      if constexpr (N % 2 == 1) halves[N / 2] = c[N - 1];
      return N <= 2 ? halves[0] : in_pairs<(N + 1) / 2>(halves, x * x);
    }
  }
};

}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan
