// Droplets drying on a surface: sessile caps behind a boundary layer.
#pragma once

#include <span>
#include <vector>

#include "wetspan/parameters.hpp"

namespace wetspan {

/// Sessile evaporation factor f(theta) [1] of an isolated cap of base radius R with contact angle theta:
/// dm/dt = -pi R D (rho_s - rho_inf) f(theta), exact diffusion (Popov 2005, Phys. Rev. E 71:036313, integral
/// from memory). f -> 4/pi at 0, 2 at pi/2, 4 ln 2 / sin(theta) at pi. Here cos(theta/2) f(theta), which is
/// flat, is a polynomial fitted to the integral; relative error below 3e-9 over 0 <= theta < pi.
/// `half_tangent` is tan(theta/2) [1]; negative values mirror positive ones.
double evaporation_factor(double half_tangent);

/// Droplets of one size class on a surface.
struct DropletClass {
  double landed = 0;           ///< liquid per surface area when it landed [m]
  double number = 0;           ///< droplets per surface area [1/m2]
  double radius = 0;           ///< base radius as landed [m]
  double fullness = 0;         ///< t^3 + 3 t of the fresh cap, t the tangent of half its angle [1]
  double receding = 0;         ///< share of the landed volume below which the edge recedes [1]
  double receding_tan = 0;     ///< tan(receding angle / 2) [1]
  double receding_factor = 0;  ///< its evaporation factor [1]
};

/// What one class is at the moment.
struct Cap {
  double radius = 0;        ///< base radius [m]
  double half_tangent = 0;  ///< tan(contact angle / 2) [1]
  double factor = 0;        ///< evaporation factor [1]
};

/// The cap a class has when `share` of its landed volume is left: the edge stays pinned, the angle falling,
/// until the receding angle; from there the angle stays and the edge recedes. A volume grown by condensation
/// stays pinned. V = pi R^3 (3 t + t^3) / 6 with t = tan(theta/2), a cubic with one real root.
Cap cap(const DropletClass& droplets, double share);

/// The droplets that `landed` [m of liquid per surface area] leaves on a surface, class by class; spherical
/// caps at `contact_angle` [rad], pinned down to `receding_angle` [rad].
std::vector<DropletClass> deposit(const Spectrum& spectrum, double landed, double contact_angle,
                                  double receding_angle);

/// Volume of a spherical cap over its base radius cubed [1]: pi (3 t + t^3) / 6.
double cap_volume(double half_tangent);

/// Wet share of a surface [1] under caps placed at random, overlaps counted once: 1 - exp(-sum n pi R^2).
/// `disc_area` is the sum, per surface area [1].
double wet_share(double disc_area);

}  // namespace wetspan
