// Drying of droplets on a surface: sessile spherical caps under a boundary layer.
//
// Explicit formulas (all but `deposit`) do not check their arguments, because integrations evaluate them
// often; a NaN gives a NaN.
#pragma once

#include <span>
#include <vector>

#include "wetspan/parameters.hpp"

namespace wetspan {

/// Sessile evaporation factor f(theta) [1] of an isolated cap of base radius R with contact angle theta:
/// dm/dt = -pi R D (rho_s - rho_inf) f(theta), exact diffusion (Popov 2005, Phys. Rev. E 71:036313, integral
/// from memory). f -> 4/pi at 0, 2 at pi/2, 4 ln 2 / sin(theta) at pi. The code evaluates a polynomial that
/// was fitted to cos(theta/2) f(theta), which varies little; relative error below 3e-9 over 0 <= theta < pi.
/// `half_tangent` is tan(theta/2) [1]; negative values mirror positive ones.
double evaporation_factor(double half_tangent);

/// Droplets of one size class on a surface.
struct DropletClass {
  double landed = 0;           ///< liquid per surface area when it landed [m]
  double number = 0;           ///< droplets per surface area [1/m2]
  double radius = 0;           ///< base radius when it landed [m]
  double fullness = 0;         ///< t^3 + 3 t of the fresh cap, t = tan(contact angle / 2) [1]
  double receding = 0;         ///< share of the landed volume below which the edge recedes [1]
  double receding_tan = 0;     ///< tan(receding angle / 2) [1]
  double receding_factor = 0;  ///< evaporation factor at the receding angle [1]
};

/// Current geometry of the droplets of one class.
struct Cap {
  double radius = 0;        ///< base radius [m]
  double half_tangent = 0;  ///< tan(contact angle / 2) [1]
  double factor = 0;        ///< evaporation factor [1]
};

/// The cap of a class when `share` of its landed volume is left. The contact line is pinned while the contact
/// angle falls to the receding angle; then the angle is constant and the contact line recedes. It also stays
/// pinned when condensation increases the volume. V = pi R^3 (3 t + t^3) / 6 with t = tan(theta/2), a cubic
/// with one real root.
Cap cap(const DropletClass& droplets, double share);

/// Size classes of the droplets of a deposit `landed` [m3 of liquid per m2 of surface = m]. The droplets are
/// spherical caps at `contact_angle` [rad, 1e-3 .. 3.14], pinned down to `receding_angle` [rad, 0 .. 3.14].
/// Without liquid there are none. Throws InputError outside these ranges, for a deposit that is not finite,
/// and for a spectrum without a diameter above 0 for each share.
std::vector<DropletClass> deposit(const Spectrum& spectrum, double landed, double contact_angle,
                                  double receding_angle);

/// Volume of a spherical cap over its base radius cubed [1]: pi (3 t + t^3) / 6.
double cap_volume(double half_tangent);

/// Wet share of a surface [1] under caps at random positions, with overlaps counted once:
/// 1 - exp(-sum n pi R^2). `disc_area` is the sum n pi R^2 per surface area [1].
double wet_share(double disc_area);

}  // namespace wetspan
