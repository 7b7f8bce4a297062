// The droplets of a leaf side as functions of their clock, in vector lanes: their sums within a step.
//
// The state of a droplet of base radius R_0 is a function of sigma = clock / R_0^2 alone. While its edge is
// pinned, its evaporation factor f is a polynomial of sigma, so that the sum over all pinned classes of a
// side is one polynomial of the clock. Once the edge recedes, the contact angle is constant and the base area
// decreases linearly with sigma. Within a step, which takes the clock from one value to another, the sums
//
//   shell = sum of n pi R f [1/m]   (evaporation of the side over diffusivity and deficit)
//   disc  = sum of n pi R^2 [1]     (covered area)
//
// are replaced by the cubics of x = (clock - from) / length, 0 to 1, that have the same moments: the
// integrals of x^j shell dx, j = 0 to 3. The moments of base areas are known in closed form. Those of shell
// are computed by Gauss-Legendre quadrature; for receding classes the variable is the radius, in which the
// integrand is a polynomial. No class dries out within a step. See "Steps" in docs/science/clocks.md.
//
//   n  droplets per leaf area [1/m2]     R  base radius [m]
//   clock  in units of its value when the largest class has dried [1]
#pragma once

#include "clock_kernel.hpp"

namespace wetspan::clocks {
inline namespace WETSPAN_LANES_NAMESPACE {
namespace {  // in the kernel alone

constexpr int moments = 4;  // of the droplets' evaporation that a step keeps
/// Shortest length of a cubic, in its clock. In saturated air the clock stands still and the length would be
/// 0. With this bound the third power of the inverse is finite, so that its product with 0 is 0 and not a
/// NaN.
constexpr double shortest = 1e-60;

/// The cubics of (clock - from) x by_length that stand for a side's droplets along a step.
template <class L>
struct SideCubics {
  using R = typename L::R;
  R from, by_length;
  R shell[moments], disc[moments];

  R place(const R& clock) const { return (clock - from) * by_length; }
  static R at(const R (&c)[moments], const R& x) {
    return L::fma(L::fma(L::fma(c[3], x, c[2]), x, c[1]), x, c[0]);
  }
  void accept(const SideCubics& newer, const typename L::Mask& accepted) {
    from = L::select(accepted, newer.from, from);
    by_length = L::select(accepted, newer.by_length, by_length);
    for (int j = 0; j < moments; ++j) {
      shell[j] = L::select(accepted, newer.shell[j], shell[j]);
      disc[j] = L::select(accepted, newer.disc[j], disc[j]);
    }
  }
};

/// The classes of a side that recede before the end of a step, beginning with the next to dry, and the sums
/// over the others.
template <class L>
struct SideClasses {
  using R = typename L::R;
  R square[most_classes], by_square[most_classes], shell[most_classes], disc[most_classes];
  R receding, were_receding;  // their number, and their number at the beginning of the step
  R lets_go,
      let_go;   // the clocks at which the edge of the next class begins to recede, for the two numbers above
  R most_fall;  // largest relative decrease of the first one's base area in a step [1]
  R pinned_shell[course_terms], pinned_disc;  // sums over all others, in powers of the clock
};

/// One side of a leaf layer.
template <class L>
struct LeafSide {
  using R = typename L::R;
  SideClasses<L> classes;
  SideCubics<L> now, before;  // of this step, and of the last accepted step
  R end, before_end;          // the clocks at their ends
  R rate;                     // rate of the clock at the state [1/s]
  R stretch;                  // advance of the clock in a step over its rate times the step
  R next;                     // the clock when the next class dries out
};

/// Gauss and Legendre's points and weights on 0 to 1.
constexpr int few_points = 3, many_points = 4;
constexpr double points[few_points] = {0.1127016653792583, 0.5, 0.8872983346207417},
                 point_weights[few_points] = {5.0 / 18.0, 8.0 / 18.0, 5.0 / 18.0};
constexpr double four_points[many_points] = {0.06943184420297371, 0.33000947820757187, 0.66999052179242813,
                                             0.93056815579702629},
                 four_weights[many_points] = {0.17392742256872693, 0.32607257743127307, 0.32607257743127307,
                                              0.17392742256872693};

/// Moments of functions over 0 to 1.
template <class L>
struct Moments {
  using R = typename L::R;
  R sums[moments] = {};

  /// Adds a point at x with this weight.
  void add(const R& x, R weight) {
    sums[0] += weight;
    for (int j = 1; j < moments; ++j) sums[j] += (weight *= x);
  }
  /// The cubic with these moments.
  void to_cubic(R (&cubic)[moments]) const {
    constexpr double inverse[moments][moments] = {{16.0, -120.0, 240.0, -140.0},
                                                  {-120.0, 1200.0, -2700.0, 1680.0},
                                                  {240.0, -2700.0, 6480.0, -4200.0},
                                                  {-140.0, 1680.0, -4200.0, 2800.0}};
    for (int i = 0; i < moments; ++i) {
      cubic[i] = sums[0] * inverse[i][0];
      for (int j = 1; j < moments; ++j) cubic[i] = L::fma(sums[j], L::all(inverse[i][j]), cubic[i]);
    }
  }
};
/// The moments of the function that is 0 before x and 1 from x on, and one more moment.
template <class L, class R = typename L::R>
void moments_from(const R& x, R (&sums)[moments + 1]) {
  R power = L::all(1.0);
  for (int j = 0; j <= moments; ++j) sums[j] = (1.0 - (power *= x)) * (1.0 / (j + 1));
}

/// Adds the classes of a side that recede before the end of `now`, over the part of its length from `begin`
/// on. Returns the area that they cover while pinned, and subtracts from `disc` the area that they lose.
template <class L, class R = typename L::R>
R add_receding(const LeafSide<L>& side, const CourseTerms<R>& course, const LayerTerms<R>& layer,
               const R& begin, const R& length, Moments<L>& shell, Moments<L>& disc) {
  const SideClasses<L>& classes = side.classes;
  const SideCubics<L>& now = side.now;
  const auto clock = [&](const R& x) { return L::fma(x, length, now.from); };
  constexpr double well_below = 0.25;  // no class recedes to so small a base area over that of a dried class
  const R least = well_below * layer.last_square;  // keeps the root real
  R full{}, later[moments + 1];
  for (std::size_t i = 0; i < most_classes; ++i) {
    const auto its = L::all(static_cast<double>(i)) < classes.receding;
    if (!L::any(its)) break;
    const R of_shell = L::select(its, classes.shell[i], R{}), of_disc = L::select(its, classes.disc[i], R{});
    const R lets_go = L::min(L::max(now.place(layer.lets_go * classes.square[i]), begin), 1.0);
    const R falls = course.receding * classes.by_square[i];
    const R square = L::fma(-falls, now.from, course.at_release), slope = -falls * length;
    const auto radius = [&](const R& x) { return L::sqrt(L::max(L::fma(slope, x, square), least)); };
    const R first = radius(lets_go), last = radius(L::all(1.0)),
            per_radius = (1.0 - lets_go) * L::inverse(first + last);
    for (int j = 0; j < many_points; ++j) {
      const R u = L::fma(first - last, L::all(-four_points[j]), first);
      const R x = L::fma(per_radius * four_points[j], first + u, lets_go);
      shell.add(x, of_shell * (2.0 * four_weights[j]) * per_radius * squared(u));
    }
    full += of_disc;
    moments_from<L>(lets_go, later);
    for (int j = 0; j < moments; ++j) {
      disc.sums[j] = L::fma(of_disc, L::fma(square - 1.0, later[j], slope * later[j + 1]), disc.sums[j]);
    }
    // the edge is pinned at first
    const auto holds = its & (lets_go > begin);
    if (!L::any(holds)) continue;
    const R held = L::select(holds, lets_go - begin, R{});
    for (int j = 0; j < few_points; ++j) {
      const R x = L::fma(held, L::all(points[j]), begin);
      const R along = L::min(clock(x) * classes.by_square[i] * course.by_pinned, 1.0);
      shell.add(x, of_shell * (point_weights[j] * held) * L::polynomial(course.factor, along));
    }
  }
  return full;
}

/// Sums up a side's droplets over a step that takes its clock from `from` to `side.end`; no class dries out
/// before.
template <class L, class R = typename L::R>
void sum_up(LeafSide<L>& side, const CourseTerms<R>& course, const LayerTerms<R>& layer, const R& from) {
  const SideClasses<L>& classes = side.classes;
  const SideCubics<L>& before = side.before;
  SideCubics<L>& now = side.now;
  now.from = from;
  const R length = L::max(side.end - now.from, shortest);
  now.by_length = L::inverse(length);
  const auto clock = [&](const R& x) { return L::fma(x, length, now.from); };
  Moments<L> shell, disc;

  // what the last step has summed up ahead of where it ended
  const R begin = L::max(now.place(side.before_end), 0.0), rest = 1.0 - begin;
  if (L::any(begin > L::all(0.0))) {
    for (int j = 0; j < few_points; ++j) {
      const R x = begin * points[j], there = before.place(clock(x)), weight = begin * point_weights[j];
      shell.add(x, weight * SideCubics<L>::at(before.shell, there));
      disc.add(x, weight * SideCubics<L>::at(before.disc, there));
    }
  }
  // classes that stay pinned
  for (int j = 0; j < few_points; ++j) {
    const R x = L::fma(rest, L::all(points[j]), begin);
    shell.add(x, rest * point_weights[j] * L::polynomial(classes.pinned_shell, clock(x)));
  }
  // and those that let go of their edge and recede
  const R full = classes.pinned_disc + add_receding<L>(side, course, layer, begin, length, shell, disc);
  R later[moments + 1];
  moments_from<L>(begin, later);
  for (int j = 0; j < moments; ++j) disc.sums[j] = L::fma(full, later[j], disc.sums[j]);
  shell.to_cubic(now.shell);
  disc.to_cubic(now.disc);
}

/// The clock of a side at which a step must end: where its next class dries out, or has receded as far as a
/// cubic can describe; if drops recede abruptly, also where the edge begins to recede.
template <class L, class R = typename L::R>
R next_stop(const LeafSide<L>& side, const CourseTerms<R>& course, const LayerTerms<R>& layer,
            const R& clock) {
  constexpr double has_let_go = 1.0 - 1e-9;  // share of that clock at which it counts as reached, so that
                                             // rounding does not end two steps there
  const SideClasses<L>& classes = side.classes;
  const R lets_go = layer.lets_go * classes.square[0];
  const R now = L::fma(-course.receding * classes.by_square[0], clock, course.at_release);
  const R falls = classes.most_fall * L::min(L::max(now, layer.last_square), 1.0);
  const auto stops = (clock < lets_go * has_let_go) & (course.abrupt > L::all(0.0));
  const R far =
      L::max(clock, lets_go) + L::select(stops, R{}, falls * classes.square[0] * course.by_receding);
  const R& dries = side.next;
  const R never = L::all(std::numeric_limits<double>::infinity());
  return L::select(dries < never, L::min(dries, far), dries);
}

}  // namespace
}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan::clocks
