// Collection of droplets by stems, which plant/collection.hpp states, with one droplet in each vector lane.
#pragma once

#include <numbers>

#include "../trigonometry.hpp"
#include "wetspan/plant/collection.hpp"
#include "wetspan/properties/constants.hpp"

namespace wetspan {

/// Up to this K even a droplet on the axis stops ahead of the cylinder [1].
inline constexpr double critical_K = 0.125;

inline namespace WETSPAN_LANES_NAMESPACE {

/// Stopping distance over that by Stokes' law [-], for the drag factor 1 + Re^(2/3) / 6.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R stop_share(const R& Re) {
  // below, the closed form would cancel, and its series takes over, good to 1e-8
  constexpr double small_root = 0.05;
  const R y = L::cbrt(Re) * (1.0 / __builtin_sqrt(6.0)), y2 = y * y, some = L::max(y, L::all(small_root));
  return L::select(y < L::all(small_root), 1.0 - y2 * (0.6 - y2 * (3.0 / 7.0)),
                   3.0 * (some - arctangent_of<L>(some)) * L::inverse(some * some * some));
}

/// collection_langmuir_blodgett() for K and phi in its ranges.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R langmuir_blodgett(const R& K, const R& phi) {
  constexpr double least = 1e-30;  // smallest argument of the logarithms
  if (!L::any(K > L::all(critical_K))) return L::all(0.0);
  const R Re = L::sqrt(K * phi), ln_Re = L::log(L::max(Re, L::all(least)));
  const R K0 = critical_K + (K - critical_K) * stop_share<L>(Re);
  const R slow = std::numbers::log10e * L::log(L::max(8.0 * K0, L::all(least)));
  const R resistance =
      std::numbers::pi / 2.0 + 0.1124 * L::exp(0.63 * ln_Re) + 0.754e-4 * L::exp(1.38 * ln_Re);
  return L::select(K > L::all(critical_K), L::min(0.466 * slow * slow, K * L::inverse(K + resistance)),
                   L::all(0.0));
}

/// Langmuir & Blodgett's efficiency of stems for droplets that move with a speed `across` them.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R stem_efficiency(const StemStand& stand, const R& diameter, const R& across) {
  const R K =
      (stand.liquid_density / (9.0 * stand.air_viscosity * stand.diameter)) * diameter * diameter * across;
  const R phi = (9.0 * stand.air_density * stand.air_density * stand.diameter /
                 (stand.air_viscosity * stand.liquid_density)) *
                across;
  return langmuir_blodgett<L>(K, phi);
}

/// stem_hits() for a path of a given sine and cosine; `efficiency(across)` gives the share that a stem
/// collects at a speed across it.
template <class L, class Efficiency, class R = typename L::R>
[[gnu::always_inline]] inline R hits_of_stems(const StemStand& stand, const R& speed,
                                              const SineCosine<R>& path, Efficiency efficiency) {
  constexpr int azimuths = 16;
  constexpr double pi = std::numbers::pi;
  R shade = L::all(0.0);
  if (stand.lean == 0.0) {
    shade = efficiency(speed * path.sine) * path.sine;
  } else {
    const double upright = __builtin_cos(stand.lean), leaning = __builtin_sin(stand.lean);
    for (int i = 0; i < azimuths; ++i) {
      const double azimuth = pi * (i + 0.5) / azimuths;
      const R cosine = path.cosine * upright - path.sine * (leaning * __builtin_cos(azimuth));
      const R sine = L::sqrt(L::max(L::all(0.0), 1.0 - cosine * cosine));
      shade += efficiency(speed * sine) * sine * (1.0 / azimuths);
    }
  }
  return (stand.area / pi) * shade * L::inverse(path.cosine);
}

}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan
