// The multiply-add peak of one core: independent chains of fused multiply-adds on doubles at each vector
// width. Prints "name GFLOP/s" for each that this machine has; a multiply-add counts as two operations.

#include <algorithm>
#include <cstdio>

#include "report.hpp"

namespace {

constexpr int chains = 12;  // more than latency times throughput, no more than registers
constexpr int rounds = 4'000'000;

template <int width>
struct Vector {
  typedef double type __attribute__((vector_size(8 * width)));
};

#define WETSPAN_PEAK(name, width, instructions)                                                    \
  __attribute__((target(instructions), optimize("O2", "fp-contract=fast"), noinline)) double name( \
      double factor, double addend) {                                                              \
    typename Vector<width>::type x[chains], f = factor - typename Vector<width>::type{},           \
                                            a = addend - typename Vector<width>::type{};           \
    for (int c = 0; c < chains; ++c) x[c] = f * c;                                                 \
    for (int i = 0; i < rounds; ++i) {                                                             \
      _Pragma("GCC unroll 12") for (int c = 0; c < chains; ++c) x[c] = x[c] * f + a;               \
    }                                                                                              \
    double sum = 0.0;                                                                              \
    for (int c = 0; c < chains; ++c) sum += x[c][0];                                               \
    return sum;                                                                                    \
  }

WETSPAN_PEAK(two_lanes, 2, "sse2")
WETSPAN_PEAK(four_lanes, 4, "avx2,fma")
WETSPAN_PEAK(eight_lanes, 8, "avx512f,fma")

#undef WETSPAN_PEAK

double sink = 0.0;

void measure(const char* name, int width, double (*kernel)(double, double)) {
  double best = 1e9;
  for (int i = 0; i < 7; ++i) {
    const double begin = benchmark::thread_time();
    sink += kernel(0.999999, 1e-6);
    best = std::min(best, benchmark::thread_time() - begin);
  }
  std::printf("%s %.4g\n", name, 2e-9 * chains * static_cast<double>(rounds) * width / best);
}

}  // namespace

int main() {
  measure("baseline", 2, two_lanes);  // without fused multiply-adds: a product, then a sum
  if (__builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma")) measure("avx2", 4, four_lanes);
  if (__builtin_cpu_supports("avx512f")) measure("avx512", 8, eight_lanes);
  return sink == 1.0 ? 1 : 0;
}
