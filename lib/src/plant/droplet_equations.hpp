// Shape and evaporation factor of a sessile droplet, for one droplet or for several in vector lanes.
//
// A droplet of volume V on a base of radius R is a cap of contact angle theta; with t = tan(theta / 2)
//
//   V = pi R^3 (t^3 + 3 t) / 6
//
// a cubic in t with one real root. The contact line is pinned while the angle falls with the volume to the
// receding angle; then the angle is constant and the contact line recedes. plant/drying.hpp gives ranges and
// sources.
#pragma once

#include <array>

#include "../lanes.hpp"
#include "wetspan/plant/drying.hpp"

namespace wetspan {

/// Constants that all droplets of a leaf have in common.
struct DropletAngles {
  double fullness = 0;         // t^3 + 3 t of the fresh cap [1]
  double receding = 0;         // share of the landed volume below which the edge recedes [1]
  double receding_tan = 0;     // t while it recedes [1]
  double receding_factor = 0;  // evaporation factor at the receding angle [1]
};
DropletAngles angles_of(const DropletClass& droplets);

inline namespace WETSPAN_LANES_NAMESPACE {

/// The evaporation factor f of a cap, t >= 0.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R evaporation_factor_of(const R& t) {
  // cos(theta/2) f in powers of tan(theta/2 - pi/4) = (t - 1) / (t + 1); see evaporation_factor()
  static constexpr std::array<double, 24> c{
      1.414213562268,    -1.910121035648e-08, -0.1480603988828,   0.1262198135895,   0.1218522951578,
      -0.1395048659141,  -0.1139656651287,    0.1363661093118,    0.1090325116437,   -0.129070448281,
      -0.1030621560688,  0.1199796438065,     0.09294291615446,   -0.1065347054391,  -0.07509927194793,
      0.08451420489972,  0.04969754433007,    -0.05460882063427,  -0.02413241360784, 0.02577735979788,
      0.007406505076818, -0.00767474185684,   -0.001058473545121, 0.001063879216093};
  return L::polynomial(c, (t - 1.0) * L::inverse(t + 1.0)) * L::sqrt(L::fma(t, t, L::all(1.0)));
}

/// Current shape of a cap, relative to the fresh cap.
template <class R>
struct CapShape {
  R radius;        // base radius over that of the fresh cap [1]
  R half_tangent;  // t [1]
  R factor;        // evaporation factor [1]
};
/// The cap of a droplet that has `share` of its landed volume; a negative share gives a negative angle.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline CapShape<R> cap_shape(const DropletAngles& angles, const R& share) {
  const auto recedes = share < L::all(angles.receding);
  // t^3 + 3 t = q has the one real root u - 1/u with u^3 = q/2 + sqrt(q^2/4 + 1), here without cancellation
  const R half = (0.5 * angles.fullness) * L::abs(share);
  const R by_receding = L::all(angles.receding > 0.0 ? 1.0 / angles.receding : 0.0);
  const R root = L::cbrt(
      L::select(recedes, L::max(share, 0.0) * by_receding, half + L::sqrt(L::fma(half, half, L::all(1.0)))));
  CapShape<R> shape{
      .radius = root, .half_tangent = L::all(angles.receding_tan), .factor = L::all(angles.receding_factor)};
  if (!L::any(!recedes)) return shape;
  const R square = root * root;
  const R t = 2.0 * half * square * L::inverse(L::fma(square, square + 1.0, L::all(1.0)));
  return {.radius = L::select(recedes, root, L::all(1.0)),
          .half_tangent = L::select(recedes, shape.half_tangent, L::select(share < L::all(0.0), -t, t)),
          .factor = L::select(recedes, shape.factor, evaporation_factor_of<L>(t))};
}

}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan
