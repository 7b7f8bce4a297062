// Sums over the classes of droplets, compiled once for each instruction set: WETSPAN_WIDTH is the number of
// classes side by side; WETSPAN_LANES_NAMESPACE and WETSPAN_CLASSES_KERNEL distinguish the copies.
//
// This file must not emit a function that the rest of the library shares (DEVELOPERS.md).

#ifndef WETSPAN_WIDTH
#define WETSPAN_WIDTH 2
#define WETSPAN_LANES_NAMESPACE baseline_lanes
#define WETSPAN_CLASSES_KERNEL baseline_classes
#endif

#include "classes_kernel.hpp"

#include <cstring>

namespace wetspan::classes {
inline namespace WETSPAN_LANES_NAMESPACE {
namespace {

using L = Lanes<WETSPAN_WIDTH>;
using R = L::R;
constexpr std::size_t width = WETSPAN_WIDTH;

/// Consecutive numbers from index `i` out of `count`; 0 beyond the end.
[[gnu::always_inline]] inline R some_of(const double* numbers, std::size_t i, std::size_t count) {
  R some{};
  if (i + width <= count) {
    std::memcpy(&some, numbers + i, sizeof some);
  } else {
    for (std::size_t j = i; j < count; ++j) L::set(some, static_cast<int>(j - i), numbers[j]);
  }
  return some;
}
[[gnu::always_inline]] inline void put(const R& some, double* numbers, std::size_t i, std::size_t count) {
  if (i + width <= count) {
    std::memcpy(numbers + i, &some, sizeof some);
  } else {
    for (std::size_t j = i; j < count; ++j) numbers[j] = L::get(some, static_cast<int>(j - i));
  }
}
[[gnu::always_inline]] inline double sum_of(const R& some) {
  double sum = L::get(some, 0);
  for (int j = 1; j < static_cast<int>(width); ++j) sum += L::get(some, j);
  return sum;
}

SideSums sum(const Classes& of, std::size_t from, std::size_t to, const double* left_of) {
  const bool hygroscopic = of.hygroscopicity > 0.0;
  R shells{}, drive{}, discs{};
  for (std::size_t i = from; i < to; i += width) {
    const R lies = some_of(of.lies, i, to);
    if (!L::any(lies > L::all(0.0))) {
      put(R{}, of.shell, i, to);
      continue;
    }
    const R now = some_of(left_of, i, to), left = L::max(now, L::all(0.0));
    const CapShape<R> shape =
        cap_shape<L>(of.angles, L::fma(left, L::all(1.0 - of.solute), L::all(of.solute)));
    const R shell = some_of(of.edge, i, to) * lies * shape.radius * shape.factor;
    shells += shell;
    discs += some_of(of.disc, i, to) * lies * shape.radius * shape.radius;
    put(shell, of.shell, i, to);
    if (!hygroscopic) continue;
    const R floored = L::max(now, some_of(of.floor, i, to));
    const R activity =
        floored * L::inverse(floored + of.hygroscopicity) + (now - floored) * some_of(of.slope, i, to);
    drive += shell * activity;
    put(activity, of.activity, i, to);
  }
  const double all = sum_of(shells);
  return {.shells = all, .drive = hygroscopic ? sum_of(drive) : all, .discs = sum_of(discs)};
}

Given give(const Classes& of, std::size_t from, std::size_t to, const Around& around, const double* by_mass,
           double* rates) {
  R evaporation{}, dripping{};
  for (std::size_t i = from; i < to; i += width) {
    const R flux = around.diffusivity * some_of(of.shell, i, to) *
                   (some_of(of.activity, i, to) * around.saturated - around.vapour);
    const R drips = L::max(-flux, L::all(0.0)) * around.full;  // full leaves cannot retain more
    put(-(flux + drips) * some_of(by_mass, i, to), rates, i, to);
    evaporation += flux, dripping += drips;
  }
  return {.evaporation = sum_of(evaporation), .dripping = sum_of(dripping)};
}

double water(std::size_t from, std::size_t to, const double* left, const double* lies, const double* water) {
  R sum{};
  for (std::size_t i = from; i < to; i += width) {
    sum += some_of(water, i, to) * some_of(lies, i, to) * L::max(some_of(left, i, to), L::all(0.0));
  }
  return sum_of(sum);
}

}  // namespace
}  // namespace WETSPAN_LANES_NAMESPACE

extern const Kernel WETSPAN_CLASSES_KERNEL;
const Kernel WETSPAN_CLASSES_KERNEL{sum, give, water};

}  // namespace wetspan::classes
