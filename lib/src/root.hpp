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

/// The search of a root within a bracket, one value of the function at a time. A caller that computes many
/// searches in one batch asks each for its next place.
///
/// The method uses inverse quadratic interpolation if the last three points make it safe, and bisection
/// otherwise: Chandrupatla 1997, Adv. Eng. Softw. 28:145-149 (from memory). The signs of the function at
/// `from` and `to` are preserved, except that both are the root if the function is met at 0. With vector
/// lanes only the lanes in `searches` are narrowed.
template <class L>
class Narrowing {
 public:
  using R = typename L::R;
  using Mask = typename L::Mask;
  static constexpr int most = 100;  // values of the function that a search takes

  [[gnu::always_inline]] Narrowing(const Bracket<R>& bracket, const R& tolerance, const Mask& searches)
      : tolerance_(tolerance),
        searches_(searches),
        newest_(bracket.to),
        other_(bracket.from),
        at_newest_(bracket.at_to),
        at_other_(bracket.at_from),
        at_to_(bracket.at_to),
        step_(L::all(0.5)) {}

  /// Whether a bracket is still wider than the tolerance, with a function that is not 0 at its ends.
  [[gnu::always_inline]] bool goes_on() {
    const R zero = L::all(0.0), width = L::abs(other_ - newest_);
    searches_ = searches_ & (width > tolerance_) & (at_newest_ != zero) & (at_other_ != zero);
    return L::any(searches_);
  }

  /// Where the value of the function is wanted next.
  [[gnu::always_inline]] R place() const {
    return newest_ + L::select(searches_, step_, L::all(0.0)) * (other_ - newest_);
  }

  /// Takes the function's `value` at `place`, which place() returned.
  [[gnu::always_inline]] void take(const R& place, const R& value) {
    const R zero = L::all(0.0), one = L::all(1.0), half = L::all(0.5);
    const Mask same = (value > zero) == (at_newest_ > zero);
    const R before = L::select(same, newest_, other_), at_before = L::select(same, at_newest_, at_other_);
    other_ = L::select(searches_ & !same, newest_, other_);
    at_other_ = L::select(searches_ & !same, at_newest_, at_other_);
    newest_ = L::select(searches_, place, newest_);
    at_newest_ = L::select(searches_, value, at_newest_);

    const R a = newest_, b = other_, c = before, fa = at_newest_, fb = at_other_, fc = at_before;
    const R along = (a - b) * L::inverse(c - b), rise = (fa - fb) * L::inverse(fc - fb);
    const Mask safe = (rise * rise < along) & ((one - rise) * (one - rise) < one - along);
    const R quadratic = fa * L::inverse(fb - fa) * fc * L::inverse(fb - fc) +
                        (c - a) * L::inverse(b - a) * fa * L::inverse(fc - fa) * fb * L::inverse(fc - fb);
    const R least = L::min(half * tolerance_ * L::inverse(L::abs(b - a)), half);
    step_ = L::min(L::max(L::select(safe, quadratic, half), least), one - least);
  }

  /// The bracket as it is now. A lane whose end points had the same sign holds one of them.
  [[gnu::always_inline]] Bracket<R> bracket() const {
    const R zero = L::all(0.0);
    const Mask met = at_newest_ == zero, other_met = at_other_ == zero;
    const R newest = L::select(other_met, other_, newest_), other = L::select(met, newest_, other_);
    const R at_newest = L::select(other_met, zero, at_newest_), at_other = L::select(met, zero, at_other_);
    const Mask swapped = (at_newest_ > zero) != (at_to_ > zero);
    return {.from = L::select(swapped, newest, other),
            .to = L::select(swapped, other, newest),
            .at_from = L::select(swapped, at_newest, at_other),
            .at_to = L::select(swapped, at_other, at_newest)};
  }

 private:
  R tolerance_;
  Mask searches_;
  R newest_, other_;  // the root lies between these two
  R at_newest_, at_other_, at_to_;
  R step_;  // from the newest point to the other, over their distance
};

/// Narrows a bracket to `tolerance`, or to a point at which the function is 0: see Narrowing.
template <class L, class Function, class R = typename L::R, class Mask = typename L::Mask>
[[gnu::always_inline]] inline Bracket<R> narrowed(const Bracket<R>& bracket, const R& tolerance,
                                                  const Mask& searches, Function function) {
  Narrowing<L> search(bracket, tolerance, searches);
  for (int i = 0; i < Narrowing<L>::most && search.goes_on(); ++i) {
    const R place = search.place();
    search.take(place, function(place));
  }
  return search.bracket();
}

/// The same for a single function. It must have different signs at the ends of the bracket.
template <class Function>
Bracket<double> narrowed(const Bracket<double>& bracket, double tolerance, Function function) {
  return narrowed<Plain>(bracket, tolerance, true, function);
}

}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan
