// Finds the root of a function between two points at which it has different signs.
#pragma once

#include <limits>

#include "lanes.hpp"

namespace wetspan {
inline namespace WETSPAN_LANES_NAMESPACE {

/// The operations of Lanes for plain doubles.
struct Plain {
  using R = double;
  using Mask = bool;
  static double all(double value) { return value; }
  static double select(bool mask, double a, double b) { return mask ? a : b; }
  static double min(double a, double b) { return a < b ? a : b; }
  static double max(double a, double b) { return a > b ? a : b; }
  static double abs(double x) { return x < 0.0 ? -x : x; }
  static double inverse(double x) { return 1.0 / x; }
  static bool any(bool mask) { return mask; }
};

/// An interval in which a function changes its sign.
template <class R>
struct Bracket {
  R from, to, at_from, at_to;  // end points, and the values of the function there
};

/// Narrows a bracket to `tolerance`, or to a point at which the function is 0. The signs of the function at
/// `from` and `to` are preserved. With vector lanes only the lanes in `searches` are narrowed; a lane whose
/// end points have the same sign returns one of them.
///
/// The method uses inverse quadratic interpolation if the last three points make it safe, and bisection
/// otherwise: Chandrupatla 1997, Adv. Eng. Softw. 28:145-149 (from memory).
template <class L, class Function, class R = typename L::R, class Mask = typename L::Mask>
[[gnu::always_inline]] inline Bracket<R> narrowed(const Bracket<R>& bracket, const R& tolerance,
                                                  Mask searches, Function function) {
  constexpr int most = 100;
  const R zero = L::all(0.0), one = L::all(1.0), half = L::all(0.5);
  R newest = bracket.to, other = bracket.from, before = bracket.from;  // the root lies between the first two
  R at_newest = bracket.at_to, at_other = bracket.at_from, at_before = bracket.at_from;
  R step = half;  // from the newest point to the other, over their distance
  for (int i = 0; i < most; ++i) {
    const R width = L::abs(other - newest);
    searches = searches & (width > tolerance) & (at_newest != zero) & (at_other != zero);
    if (!L::any(searches)) break;
    const R place = newest + L::select(searches, step, zero) * (other - newest);
    const R value = function(place);
    const Mask same = (value > zero) == (at_newest > zero);
    before = L::select(searches, L::select(same, newest, other), before);
    at_before = L::select(searches, L::select(same, at_newest, at_other), at_before);
    other = L::select(searches & !same, newest, other);
    at_other = L::select(searches & !same, at_newest, at_other);
    newest = L::select(searches, place, newest);
    at_newest = L::select(searches, value, at_newest);

    const R a = newest, b = other, c = before, fa = at_newest, fb = at_other, fc = at_before;
    const R along = (a - b) * L::inverse(c - b), rise = (fa - fb) * L::inverse(fc - fb);
    const Mask safe = (rise * rise < along) & ((one - rise) * (one - rise) < one - along);
    const R quadratic = fa * L::inverse(fb - fa) * fc * L::inverse(fb - fc) +
                        (c - a) * L::inverse(b - a) * fa * L::inverse(fc - fa) * fb * L::inverse(fc - fb);
    const R least = L::min(half * tolerance * L::inverse(L::abs(b - a)), half);
    step = L::min(L::max(L::select(safe, quadratic, half), least), one - least);
  }
  const Mask swapped = (at_newest > zero) != (bracket.at_to > zero);
  return {.from = L::select(swapped, newest, other),
          .to = L::select(swapped, other, newest),
          .at_from = L::select(swapped, at_newest, at_other),
          .at_to = L::select(swapped, at_other, at_newest)};
}

/// The same for a single function. It must have different signs at the ends of the bracket.
template <class Function>
Bracket<double> narrowed(const Bracket<double>& bracket, double tolerance, Function function) {
  return narrowed<Plain>(bracket, tolerance, true, function);
}

}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan
