// Uptake from what is wet and from dry residue: the equation once, for both ways of following a wet crop.
//
// What is left on a surface, in solution or dry, decays at
//
//   P (wet area) min(1 / depth, S / mass in solution) + (1 - wet) P min(c, S) cover / fresh mass / wet_to_dry
//
// with P the permeance, S the solubility, c the concentration of the liquid that came. plant/uptake.hpp has
// both.
#pragma once

#include "leaf_equations.hpp"

namespace wetspan {

/// exp(a - b / T) of permeance [m/s] and solubility [kg/m3].
template <class Number>
struct UptakeTerms {
  Number permeance[2], solubility[2];
};
/// Active ingredient on a surface, per area of it.
template <class Number>
struct DepositTerms {
  Number takes_up;  // 1 with active ingredient, else 0
  Number fresh;     // when it landed [kg/m2]
  Number dilute;    // the same over the liquid it came in [kg/m3]
  Number residue;   // cover / fresh / wet_to_dry, 0 without [m2/kg]
};

UptakeTerms<double> uptake_terms(const Active& active, const Uptake& uptake);
/// `fresh` [kg/m2] came in `liquid` [m] over `cover` [1] of a surface.
DepositTerms<double> deposit_terms(double fresh, double liquid, double cover, double wet_to_dry);

inline namespace WETSPAN_LANES_NAMESPACE {

template <class L, class Air, class R = typename L::R>
[[gnu::always_inline]] inline R arrhenius(const Air& of, const R (&terms)[2], const R& by_temperature) {
  return of.exponential(terms[0] - terms[1] * by_temperature);
}

/// Rate of uptake over what is left [1/s]: `left` is the share of the fresh deposit that remains, `wet` that
/// of it in solution over the area `covered` [1], `depth` the liquid per area of surface [m].
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R uptake_rate(const DepositTerms<R>& deposit, const R& permeance,
                                            const R& solubility, const R& left, const R& wet,
                                            const R& covered, const R& depth) {
  const R from_residue = (1.0 - wet) * L::min(deposit.dilute, solubility) * deposit.residue;
  const R mass = deposit.fresh * left * wet;
  const R largest = L::max(L::max(solubility * depth, mass), no_zero);
  const R dissolves = covered * wet * solubility * L::inverse(largest);
  return permeance * (from_residue + L::select(depth > L::all(0.0), dissolves, L::all(0.0)));
}

}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan
