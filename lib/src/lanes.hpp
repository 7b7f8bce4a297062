// Vector arithmetic: one number per vector lane, with an independent computation in each lane.
//
// The code uses the vector extensions of the compilers, so that one source serves every instruction set. The
// result of a lane depends on that lane alone and is the same for any number of lanes: multiplication and
// addition are fused only where `fma` is called.
//
// A source that is compiled for several instruction sets defines a different WETSPAN_LANES_NAMESPACE for
// each, so that the copies are distinct; all other sources share `plain_lanes`. WETSPAN_LANES names a header
// that replaces this one (a benchmark uses it to count operations).
#pragma once

#ifndef WETSPAN_LANES_NAMESPACE
#define WETSPAN_LANES_NAMESPACE plain_lanes
#endif

#ifdef WETSPAN_LANES
#include WETSPAN_LANES
#else

#include <array>
#include <cstddef>
#include <cstdint>

#if defined(__SSE2__)
#include <immintrin.h>
#elif defined(__aarch64__)
#include <arm_neon.h>
#endif

#define WETSPAN_INLINE [[gnu::always_inline]]  // without inlining, lanes are passed through memory

namespace wetspan {
inline namespace WETSPAN_LANES_NAMESPACE {

template <int Width>
struct LanesOf {
  typedef double Reals __attribute__((vector_size(Width * sizeof(double))));
  typedef std::int64_t Wholes __attribute__((vector_size(Width * sizeof(double))));
};
template <>
struct LanesOf<1> {
  using Reals = double;
  using Wholes = std::int64_t;
};
template <int Width>
using Reals = typename LanesOf<Width>::Reals;
template <int Width>
using Wholes = typename LanesOf<Width>::Wholes;

/// Operations on a given number of lanes. A comparison of Reals gives a Mask; `select` chooses values by it.
template <int Width>
struct Lanes {
  using R = Reals<Width>;
  using I = Wholes<Width>;
  using Mask = decltype(R{} < R{});

  WETSPAN_INLINE static R all(double value) { return value - R{}; }  // x - 0 = x for all x

  static double get(const R& x, int lane) {
    if constexpr (Width == 1) return x;
    else return x[lane];
  }
  static void set(R& x, int lane, double value) {
    if constexpr (Width == 1) x = value;
    else x[lane] = value;
  }
  static bool holds(const Mask& mask, int lane) {
    if constexpr (Width == 1) return mask;
    else return mask[lane] != 0;
  }

  /// One bit per lane.
  static unsigned bits_of(const Mask& mask) {
#if defined(__AVX512DQ__)
    if constexpr (Width == 8) return _mm512_movepi64_mask((__m512i)mask);
#endif
#if defined(__AVX2__)
    if constexpr (Width == 4) return static_cast<unsigned>(_mm256_movemask_pd((__m256d)mask));
#endif
#if defined(__SSE2__)
    if constexpr (Width == 2) return static_cast<unsigned>(_mm_movemask_pd((__m128d)mask));
#endif
    unsigned result = 0;
    for (int i = 0; i < Width; ++i) result |= static_cast<unsigned>(holds(mask, i)) << i;
    return result;
  }
  static bool any(const Mask& mask) { return bits_of(mask) != 0; }

  /// a b + c, with a single rounding if the machine has a fused operation.
  WETSPAN_INLINE static R fma(const R& a, const R& b, const R& c) {
#if defined(__AVX512F__)
    if constexpr (Width == 8) return _mm512_fmadd_pd(a, b, c);
#endif
#if defined(__FMA__)
    if constexpr (Width == 4) return _mm256_fmadd_pd(a, b, c);
    if constexpr (Width == 1) return __builtin_fma(a, b, c);
#elif defined(__aarch64__)
    if constexpr (Width == 2) return (R)vfmaq_f64((float64x2_t)c, (float64x2_t)a, (float64x2_t)b);
    if constexpr (Width == 1) return __builtin_fma(a, b, c);
#endif
    return a * b + c;
  }
  WETSPAN_INLINE static R fma(const R& a, const R& b, double c)
    requires(Width > 1)
  {
    return fma(a, b, all(c));
  }

  static R sqrt(const R& x) {
#if defined(__AVX512F__)
    if constexpr (Width == 8) return _mm512_sqrt_pd(x);
#endif
#if defined(__AVX2__)
    if constexpr (Width == 4) return _mm256_sqrt_pd(x);
#endif
#if defined(__SSE2__)
    if constexpr (Width == 2) return _mm_sqrt_pd(x);
#endif
    if constexpr (Width == 1) {
      return __builtin_sqrt(x);
    } else {
      R result;
      for (int i = 0; i < Width; ++i) result[i] = __builtin_sqrt(x[i]);
      return result;
    }
  }
  static R inverse(const R& x) { return 1.0 / x; }

  WETSPAN_INLINE static R select(const Mask& mask, const R& a, const R& b) { return mask ? a : b; }
  // the semantics of the machine instructions: the result is b if a is NaN
  WETSPAN_INLINE static R max(const R& a, const R& b) {
#if defined(__AVX512F__)
    if constexpr (Width == 8) return _mm512_max_pd(a, b);
#endif
#if defined(__AVX__)
    if constexpr (Width == 4) return _mm256_max_pd(a, b);
#endif
#if defined(__SSE2__)
    if constexpr (Width == 2) return _mm_max_pd(a, b);
#endif
    return select(a > b, a, b);
  }
  WETSPAN_INLINE static R min(const R& a, const R& b) {
#if defined(__AVX512F__)
    if constexpr (Width == 8) return _mm512_min_pd(a, b);
#endif
#if defined(__AVX__)
    if constexpr (Width == 4) return _mm256_min_pd(a, b);
#endif
#if defined(__SSE2__)
    if constexpr (Width == 2) return _mm_min_pd(a, b);
#endif
    return select(a < b, a, b);
  }
  WETSPAN_INLINE static R max(const R& a, double b)
    requires(Width > 1)
  {
    return max(a, all(b));
  }
  WETSPAN_INLINE static R min(const R& a, double b)
    requires(Width > 1)
  {
    return min(a, all(b));
  }
  WETSPAN_INLINE static R abs(const R& x) { return select(x < all(0.0), -x, x); }

  // the compilers' builtin of std::bit_cast, which some versions of libc++ lack
  static I bits(const R& x) {
    if constexpr (Width == 1) return __builtin_bit_cast(I, x);
    else return (I)x;
  }
  static R from_bits(const I& x) {
    if constexpr (Width == 1) return __builtin_bit_cast(R, x);
    else return (R)x;
  }

  static I wrapped_sum(const I& a, const I& b) {
    if constexpr (Width == 1) {
      return static_cast<I>(static_cast<std::uint64_t>(a) + static_cast<std::uint64_t>(b));
    } else {
      typedef std::uint64_t U __attribute__((vector_size(Width * sizeof(double))));
      return (I)((U)a + (U)b);
    }
  }

  /// c[0] + c[1] x + c[2] x^2 + ..., by Estrin's scheme, because latency limits Horner's scheme, not
  /// throughput.
  template <class Coefficient, std::size_t N>
  WETSPAN_INLINE static R polynomial(const Coefficient (&c)[N], const R& x) {
    return in_pairs<N>(c, x);
  }
  template <class Coefficient, std::size_t N>
  WETSPAN_INLINE static R polynomial(const std::array<Coefficient, N>& c, const R& x) {
    return in_pairs<N>(c.data(), x);
  }

  /// e^x for -700 < x < 700 (outside, the value at the nearer end); relative error below 3e-15.
  WETSPAN_INLINE static R exp(const R& given) {
    static constexpr auto inverse_factorials = [] {
      std::array<double, 13> c{1.0};
      for (std::size_t i = 1; i < c.size(); ++i) c[i] = c[i - 1] / static_cast<double>(i);
      return c;
    }();
    constexpr double ln2_high = 0.693147180369123816490, ln2_low = 1.90821492927058770002e-10;
    const R x = min(max(given, -700.0), 700.0), shifted = fma(x, all(log2e), magic), n = shifted - magic;
    return polynomial(inverse_factorials, fma(n, all(-ln2_low), fma(n, all(-ln2_high), x))) * two_to(shifted);
  }
  /// e^x for -700 < x < 700 (outside, undefined); relative error below 3e-10, exact at 0.
  WETSPAN_INLINE static R exp_within(const R& x) {
    // the polynomial of degree 7 with the smallest maximum relative error from -ln 2 / 2 to ln 2 / 2
    static constexpr std::array c{1.0,
                                  1.0000000047009046,
                                  0.5000000046825582,
                                  0.16666635154293544,
                                  0.04166635384518075,
                                  0.008338579595642081,
                                  0.0013941046889574282,
                                  0.00017378916496506498};
    const R shifted = fma(x, all(log2e), magic);
    return polynomial(c, fma(shifted - magic, all(-ln2), x)) * two_to(shifted);
  }

  /// ln x for a normal x > 0; relative error below 1e-14 away from 1, absolute error below 1e-14 near 1.
  WETSPAN_INLINE static R log(const R& x) {
    constexpr std::int64_t mantissa = 0x000fffffffffffff, one = 0x3ff0000000000000,
                           half_way = 0x6a09e667f3bcd;
    const I b = bits(x);
    const I upper = (b & mantissa) + (I{} + (std::int64_t{1} << 52) - half_way);  // carries from sqrt 2 on
    const I exponent = (b >> 52) + (upper >> 52) - 1023;
    const R m = from_bits((b & mantissa) + (one - ((upper >> 52) << 52)));  // [1/sqrt 2, sqrt 2)
    const R e = from_bits(exponent + bits(all(magic))) - magic;
    const R s = (m - 1.0) * inverse(m + 1.0), z = s * s;
    // artanh s = s (1 + s^2/3 + s^4/5 ...), s^2 below 0.0295
    static constexpr double c[] = {1.0,      1.0 / 3,  1.0 / 5,  1.0 / 7, 1.0 / 9,
                                   1.0 / 11, 1.0 / 13, 1.0 / 15, 1.0 / 17};
    return fma(e, all(ln2), 2.0 * s * polynomial(c, z));
  }

  static constexpr double log2e = 1.4426950408889634, ln2 = 0.6931471805599453,
                          magic = 0x1.8p52;  // the low bits of x + magic hold the integer nearest to x
  /// 2^n, with n in the low bits of a sum with `magic`.
  WETSPAN_INLINE static R two_to(const R& shifted) {
    return from_bits(wrapped_sum(bits(shifted) << 52, bits(all(1.0))));
  }

  WETSPAN_INLINE static R lift(const R& value) { return value; }
  WETSPAN_INLINE static R lift(double value)
    requires(Width > 1)
  {
    return all(value);
  }
  template <std::size_t N, class Coefficient>
  WETSPAN_INLINE static R in_pairs(const Coefficient* c, const R& x) {
    if constexpr (N == 1) {
      return lift(c[0]);
    } else {
      R halves[(N + 1) / 2];
      for (std::size_t i = 0; i < N / 2; ++i) halves[i] = fma(lift(c[2 * i + 1]), x, lift(c[2 * i]));
      if constexpr (N % 2 == 1) halves[N / 2] = lift(c[N - 1]);
      return in_pairs<(N + 1) / 2>(halves, x * x);
    }
  }

  /// The cube root of x > 1e-290 or x = 0; relative error below 1e-15.
  WETSPAN_INLINE static R cbrt(const R& given) {
    const R x = max(given, all(1e-290));  // its powers are normal numbers, with which machines are fast
    // r = x^(-1/3) within 4 %: the upper half of the bits of x, an integer of 32 bits that magic converts to
    // a real number, is approximately linear in log x and is divided by 3.
    constexpr double third = -1.0 / 3.0, of_1 = 1072693248.0 * 4.0 / 3.0 - 69000.0;
    const R upper = from_bits(wrapped_sum(bits(x) >> 32, bits(all(magic)))) - magic;
    R root = from_bits(bits(fma(upper, all(third), all(of_1 + magic))) << 32);
    for (int i = 0; i < 2; ++i) {  // (1 - h)^(-1/3) = 1 + h/3 + 2 h^2/9 + 14 h^3/81 ..., h = 1 - x r^3
      const R h = 1.0 - (x * root) * (root * root);
      const R series = fma(fma(h, all(14.0 / 81.0), all(2.0 / 9.0)), h, all(1.0 / 3.0));
      root = fma(root * h, series, root);
    }
    return select(given > all(0.0), x * root * root, all(0.0));
  }

  /// x^p, x > 0.
  WETSPAN_INLINE static R pow(const R& x, double p) { return exp(p * log(x)); }
};

}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan

#undef WETSPAN_INLINE

#endif
