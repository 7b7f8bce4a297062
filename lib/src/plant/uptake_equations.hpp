// Uptake from liquid. The reference path and the clock path of a wet crop both use this equation.
//
//   dL/dt = -P A min(L / h, sigma S)       L active ingredient in the liquid, h its depth, A the wet share
//
// per area of the surface, with P the permeance and sigma S the largest dissolved concentration in a drying
// liquid. plant/uptake.hpp describes drying and the dry deposit. Permeance and mobile rate k_B have the same
// temperature dependence, so that k_B / P is a constant.
#pragma once

#include <array>

#include "leaf_equations.hpp"

namespace wetspan {

template <class Number>
struct UptakeTerms {
  Number permeance[2];           // exp(a - b / T): P [m/s]
  Number most_dissolved[2];      // exp(a - b / T): sigma S [kg/m3]
  Number mobile_over_permeance;  // k_B / P [1/m]
};
UptakeTerms<double> uptake_terms(const Active& active, const Uptake& uptake);

inline namespace WETSPAN_LANES_NAMESPACE {

template <class L, class Air, class R = typename L::R>
[[gnu::always_inline]] inline R arrhenius(const Air& of, const R (&terms)[2], const R& by_temperature) {
  return of.exponential(terms[0] - terms[1] * by_temperature);
}

/// Rate of uptake from the liquid relative to `left` [1/s]. `left` is its active ingredient over the `fresh`
/// deposit [kg/m2]; `covered` is the wet share of the surface [1], and `depth` the volume of liquid per area
/// of the whole surface [m].
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline Quotient<R> uptake_quotient(const R& permeance, const R& most_dissolved,
                                                          const R& fresh, const R& left, const R& covered,
                                                          const R& depth) {
  constexpr double none = 1e-100;  // [kg/m2]: lower bound; see Quotient
  return {L::select(depth > L::all(0.0), permeance * covered * most_dissolved, L::all(0.0)),
          L::max(L::max(most_dissolved * depth, fresh * left), none)};
}
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R uptake_rate(const R& permeance, const R& most_dissolved, const R& fresh,
                                            const R& left, const R& covered, const R& depth) {
  const Quotient<R> its = uptake_quotient<L>(permeance, most_dissolved, fresh, left, covered, depth);
  return its.dividend * L::inverse(its.divisor);
}

}  // namespace WETSPAN_LANES_NAMESPACE

/// The two branches of this equation: the rate [1/s] for an unsaturated liquid, and the flux [kg/m2/s] for a
/// saturated liquid.
inline double uptake_of_dissolved(double permeance, double covered, double depth) {
  return depth > 0.0 ? permeance * covered / depth : 0.0;
}
inline double uptake_of_saturated(double permeance, double covered, double depth, double most_dissolved) {
  return depth > 0.0 ? permeance * covered * most_dissolved : 0.0;
}

/// Active ingredient left in a liquid after a time [s], from `left` at the beginning. Both rates are given at
/// beginning, middle and end of the step: `dissolved` [1/s] of an unsaturated liquid, relative to the amount
/// left, and `saturated` of a saturated liquid, in the unit of `left` per s.
double liquid_after(double left, const std::array<double, 3>& dissolved,
                    const std::array<double, 3>& saturated, double time);

}  // namespace wetspan
