// Impact of droplets on leaves, and what a layer of leaves and stems does with them, which plant/impact.hpp
// states, with one droplet in each vector lane.
#pragma once

#include <numbers>

#include "../trigonometry.hpp"
#include "collection_equations.hpp"
#include "wetspan/plant/impact.hpp"

namespace wetspan {

/// Functions of a leaf's contact angle that an impact depends on.
struct Wetting {
  double repellence;  // 1 - cos(contact angle)
  double retraction;  // coefficient of the dissipation during recoil: Mao, Kuhn & Tran 1997
};

inline namespace WETSPAN_LANES_NAMESPACE {

template <class R>
[[gnu::always_inline]] inline R weber_number(double density, const R& speed, const R& diameter,
                                             double surface_tension) {
  return (density / surface_tension) * speed * speed * diameter;
}

template <class R>
[[gnu::always_inline]] inline R reynolds_number(double density, const R& speed, const R& diameter,
                                                double viscosity) {
  return (density / viscosity) * speed * diameter;
}

template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R splash(const R& We, const R& Re) {
  return L::sqrt(We) * L::sqrt(L::sqrt(Re));
}

/// Energy dissipated during recoil from the maximum spread, in units of pi d^2 sigma.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R retraction_loss(const R& spread, const Wetting& leaf) {
  return leaf.retraction * L::pow(spread, 2.3);
}

template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R spread_mao(const R& We, const R& Re, double repellence) {
  constexpr double least = 1e-100;  // smallest argument of the logarithms
  const R one = L::all(1.0);
  const R ln_loss = 0.83 * L::log(L::max(We, L::all(least))) - 0.33 * L::log(L::max(Re, L::all(least)));
  const R loss = L::select(We > L::all(0.0), 0.2 * L::exp(ln_loss), L::all(0.0));
  // b^3 - 3 p b + 2 q = 0, solved by trigonometry: the larger of its positive roots, if there are any.
  const R by_a = L::inverse(3.0 * (0.25 * repellence + loss));
  const R p = (We * (1.0 / 12.0) + 1.0) * by_a, q = by_a, cube = p * p * p;
  const R angle = arccosine_of<L>(L::min(q * L::inverse(L::sqrt(cube)), one));
  const R root = 2.0 * L::sqrt(p) * sine_cosine<L>((std::numbers::pi - angle) * (1.0 / 3.0)).cosine;
  return L::select(q * q > cube, one, L::max(root, one));
}

template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R spread_pasandideh_fard(const R& We, const R& Re, double repellence) {
  constexpr double least = 1e-100;  // of a Reynolds number in a denominator
  const R loss = 4.0 * We * L::inverse(L::sqrt(L::max(Re, L::all(least))));
  return L::max(L::sqrt((We + 12.0) * L::inverse(3.0 * repellence + loss)), L::all(1.0));
}

/// Surface energy of a droplet at its maximum spread, less the dissipation during recoil and the surface
/// energy of the sphere.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R rebound_energy(const R& spread, const R& loss, double repellence) {
  return 0.25 * repellence * spread * spread - loss + (2.0 / 3.0) * L::inverse(spread) - 1.0;
}

/// mean_incidence_cosine() of leaves inclined by an angle of this sine and cosine.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R incidence_cosine(const SineCosine<double>& leaf, const SineCosine<R>& path) {
  constexpr double least = 1e-300;
  const R level = leaf.cosine * path.cosine, steep = leaf.sine * path.sine, zero = L::all(0.0);
  if (!L::any(level < steep)) return level;
  // cot a cot b = level / steep; cos a cos b tan p = sqrt(steep^2 - level^2).
  const R angle = arccosine_of<L>(L::min(level * L::inverse(L::max(steep, L::all(least))), L::all(1.0)));
  const R both_faces = L::sqrt(L::max((steep - level) * (steep + level), zero)) - level * angle;
  return L::select(level < steep, level + 2.0 * std::numbers::inv_pi * both_faces, level);
}

/// The members of `Impact`, in lanes.
template <class L>
struct ImpactOf {
  using R = typename L::R;
  typename L::Mask shatters, rebounds;
  R weber, reynolds, splash_parameter, maximum_spread, excess_energy;
  R retained_share, leaving_diameter, leaving_number, leaving_speed, energy_in, energy_out;
};

/// What a shattering droplet becomes. Energies are in units of pi d^2 sigma.
template <class R>
struct Fragments {
  R number, diameter, surface;  // of all that leave; [m] of one; energy of their surfaces
  R spare;                      // energy left for their motion, per share of the volume that leaves
};
/// The fragments of droplets with splash parameters K above the threshold.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline Fragments<R> fragments_of(const R& diameter, const R& We, const R& K,
                                                        const ImpactSurface& surface) {
  constexpr double least = 1e-100;  // share that leaves, in a denominator
  const double share = surface.splashed_share, by_share = 1.0 / (share > least ? share : least);
  // K is proportional to the speed to the power 5/4: We is (K / K_c)^(8/5) times We at the threshold.
  const R over = L::pow(L::max(K * (1.0 / surface.splash_threshold), L::all(1.0)), 1.6);
  const R to_spend = We * (1.0 - L::inverse(over)) * (share / 12.0);
  const R one_surface = L::cbrt(L::all(share * share));  // of a single fragment
  const R fineness = L::min(L::cbrt(1.0 + 5.0 * (over - 1.0)),
                            1.0 + to_spend * L::inverse(L::max(one_surface, L::all(least))));
  return {.number = fineness * fineness * fineness,
          .diameter = diameter * L::cbrt(L::all(share)) * L::inverse(fineness),
          .surface = fineness * one_surface,
          .spare = (to_spend - (fineness - 1.0) * one_surface) * by_share};
}

/// The impact of droplets whose path has the given cosine to the leaf's normal.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline ImpactOf<L> impact_of(const R& diameter, const R& speed, const R& cosine,
                                                    const Wetting& leaf, const ImpactSurface& surface) {
  const R zero = L::all(0.0), one = L::all(1.0);
  const auto weber_of = [&](const R& v) {
    return weber_number(surface.density, v, diameter, surface.surface_tension);
  };
  const R normal = speed * cosine, along = speed * L::sqrt(L::max(1.0 - cosine * cosine, zero));
  ImpactOf<L> result;
  const R We = result.weber = weber_of(normal);
  const R Re = result.reynolds = reynolds_number(surface.density, normal, diameter, surface.viscosity);
  const R K = result.splash_parameter = splash<L>(We, Re);
  const R spread = result.maximum_spread = surface.spread_law == SpreadLaw::mao
                                               ? spread_mao<L>(We, Re, leaf.repellence)
                                               : spread_pasandideh_fard<L>(We, Re, leaf.repellence);
  const R loss = retraction_loss<L>(spread, leaf);
  result.excess_energy = L::min(rebound_energy<L>(spread, loss, leaf.repellence), We * (1.0 / 12.0) - loss);
  result.energy_in = weber_of(speed) * (1.0 / 12.0) + 1.0;
  result.shatters = K > L::all(surface.splash_threshold);
  result.rebounds = (!result.shatters) & (result.excess_energy > zero);

  Fragments<R> fragments{};
  if (L::any(result.shatters)) fragments = fragments_of<L>(diameter, We, K, surface);
  const R leaving =
      L::select(result.shatters, L::all(surface.splashed_share), L::select(result.rebounds, one, zero));
  const auto leaves = leaving > zero;
  const auto if_leaving = [&](const R& shattered, const R& rebounding) {
    return L::select(leaves, L::select(result.shatters, shattered, rebounding), zero);
  };
  result.retained_share = 1.0 - leaving;
  result.leaving_number = if_leaving(fragments.number, one);
  result.leaving_diameter = if_leaving(fragments.diameter, diameter);
  // the square of the speed at which a droplet carries an energy in units of pi d^2 sigma
  const R square = (12.0 * surface.surface_tension / surface.density) * L::inverse(diameter) *
                   L::max(if_leaving(fragments.spare, result.excess_energy), zero);
  const R leaving_along = surface.tangential_kept * along;
  result.leaving_speed = L::select(leaves, L::sqrt(square + leaving_along * leaving_along), zero);
  result.energy_out =
      if_leaving(fragments.surface, one) + leaving * weber_of(result.leaving_speed) * (1.0 / 12.0);
  return result;
}

}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan
