// Uptake from liquid: the equation once, for both ways of following a wet crop.
//
//   dL/dt = -P A min(L / h, sigma S)       L what is in the liquid, h its depth, A the area it covers
//
// per area of the surface that carries it, with P the permeance and sigma S the most that a drying liquid
// holds in solution. What becomes of L when liquid dries, and of what has dried, stands in plant/uptake.hpp.
// Permeance and mobile rate k_B go alike with temperature, so that k_B / P is a constant.
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

/// Rate at which the liquid loses its active ingredient into the plant [1/s, of `left`]: `left` is what it
/// holds over the `fresh` deposit [kg/m2]; it covers `covered` [1] to a depth of `depth` [m] over the whole
/// surface.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R uptake_rate(const R& permeance, const R& most_dissolved, const R& fresh,
                                            const R& left, const R& covered, const R& depth) {
  const R largest = L::max(L::max(most_dissolved * depth, fresh * left), no_zero);
  return L::select(depth > L::all(0.0), permeance * covered * most_dissolved * L::inverse(largest),
                   L::all(0.0));
}

}  // namespace WETSPAN_LANES_NAMESPACE

/// Its two branches, each on its own: of liquid that holds all in solution, the rate [1/s]; of liquid that
/// holds more than it can dissolve, the flow [kg/m2/s].
inline double uptake_of_dissolved(double permeance, double covered, double depth) {
  return depth > 0.0 ? permeance * covered / depth : 0.0;
}
inline double uptake_of_saturated(double permeance, double covered, double depth, double most_dissolved) {
  return depth > 0.0 ? permeance * covered * most_dissolved : 0.0;
}

/// What is left of a liquid's active ingredient after a time [s], of `left` at its beginning. Both rates are
/// given at beginning, middle and end [1/s]: `dissolved` is that of a liquid with all in solution, of what is
/// left; `saturated` is that of one which holds more than it can dissolve, of the same unit as `left`.
double liquid_after(double left, const std::array<double, 3>& dissolved,
                    const std::array<double, 3>& saturated, double time);

}  // namespace wetspan
