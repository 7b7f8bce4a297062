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

void slopes(const Classes& of, std::size_t from, std::size_t to, const double* left_of, const Around& around,
            const double* by_mass_of, const double* water_of, const Slopes& slopes) {
  const double driven = around.diffusivity * around.saturated, outside = around.diffusivity * around.vapour;
  for (std::size_t i = from; i < to; i += width) {
    const R now = some_of(left_of, i, to), lies = some_of(of.lies, i, to);
    const R shell = some_of(of.shell, i, to), activity = some_of(of.activity, i, to);
    const auto some = now > L::all(0.0);
    // shapes now and a little larger
    const R volume = L::fma(L::max(now, L::all(0.0)), L::all(1.0 - of.solute), L::all(of.solute));
    const CapShape<R> is = cap_shape<L>(of.angles, volume),
                      next = cap_shape<L>(of.angles, volume * (1.0 + step_of));
    const R per_left = lies * (1.0 - of.solute) * L::inverse(step_of * volume);
    const R none{};
    const R changes = L::select(
        some, some_of(of.edge, i, to) * per_left * (next.radius * next.factor - is.radius * is.factor), none);
    const R over = now + of.hygroscopicity;
    const R drives = L::select(now > some_of(of.floor, i, to), of.hygroscopicity * L::inverse(over * over),
                               some_of(of.slope, i, to));  // d activity / d left
    const R driving = changes * activity + shell * drives;
    const R flux = shell * (activity * driven - outside), by_mass = some_of(by_mass_of, i, to);
    const auto condenses = flux < none;
    const R by = -by_mass * L::select(condenses, L::all(1.0 - around.full), L::all(1.0));
    put(changes, slopes.shell, i, to);
    put(driving, slopes.driving, i, to);
    put(L::select(some,
                  some_of(of.disc, i, to) * per_left * (next.radius * next.radius - is.radius * is.radius),
                  none),
        slopes.disc, i, to);
    put(L::select(some, lies * some_of(water_of, i, to), none), slopes.water, i, to);
    put(by * (driving * driven - changes * outside), slopes.own, i, to);
    put(by * shell * activity, slopes.by_drive, i, to);
    put(-by * shell, slopes.by_around, i, to);
    put(L::select(condenses, flux * by_mass, none), slopes.by_full, i, to);
  }
}

FourSums eliminate(const Slopes& slopes, std::size_t from, std::size_t to, const double* inverse,
                   const double* r, double* kept) {
  R shells{}, driving{}, discs{}, water{};
  for (std::size_t i = from; i < to; i += width) {
    const R now = some_of(r, i, to) * some_of(inverse, i, to);
    put(now, kept, i, to);
    shells += some_of(slopes.shell, i, to) * now, driving += some_of(slopes.driving, i, to) * now;
    discs += some_of(slopes.disc, i, to) * now, water += some_of(slopes.water, i, to) * now;
  }
  return {sum_of(shells), sum_of(driving), sum_of(discs), sum_of(water)};
}

void substitute(const Slopes& slopes, std::size_t from, std::size_t to, const double* inverse,
                const double* kept, double drive, double around, double full, double* r) {
  for (std::size_t i = from; i < to; i += width) {
    const R changes = some_of(slopes.by_drive, i, to) * drive + some_of(slopes.by_around, i, to) * around +
                      some_of(slopes.by_full, i, to) * full;
    put(some_of(kept, i, to) + some_of(inverse, i, to) * changes, r, i, to);
  }
}

}  // namespace
}  // namespace WETSPAN_LANES_NAMESPACE

extern const Kernel WETSPAN_CLASSES_KERNEL;
const Kernel WETSPAN_CLASSES_KERNEL{sum, give, water, slopes, eliminate, substitute};

}  // namespace wetspan::classes
