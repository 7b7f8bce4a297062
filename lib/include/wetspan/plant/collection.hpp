// Collection of passing droplets by stems.
#pragma once

#include "wetspan/spray/flight.hpp"

namespace wetspan {

/// Stokes number on the *diameter* of the cylinder [-]: St = rho_w d^2 U / (18 mu D).
/// Half of Langmuir & Blodgett's K, which takes the cylinder's radius.
/// @param diameter of the droplet [m] @param speed across the cylinder [m/s] @param cylinder diameter [m]
/// @throws InputError for an argument that is negative or not finite, and outside 1e-9 .. 1e9 m or Pa s
double stokes_number(double diameter, double speed, double cylinder, double liquid_density,
                     double air_viscosity);

/// The law for the collection efficiency of a cylinder.
enum class Collection {
  langmuir_blodgett,  ///< fit to trajectories at every drop size
  landahl_herrmann,   ///< one-line fit to trajectories of drops in Stokes' range
  aylor,              ///< one-line fit to measurements
  trajectory          ///< droplet trajectories computed in potential flow
};

/// Share of the droplets in a cylinder's swept area that hit it [-], from the fits of Langmuir & Blodgett
/// 1946 to their own trajectories in potential flow:
///   E = min(0.466 log10(8 K0)^2, K / (K + pi/2 + 0.1124 Re^0.63 + 0.754e-4 Re^1.38)), nothing up to K = 1/8,
///   K0 = 1/8 + (K - 1/8) lambda / lambda_s, Re = sqrt(K phi) of the droplet,
/// their equations 33 and 42 with 43 and 22. lambda / lambda_s is the stopping distance of the droplet over
/// that in Stokes flow. They give it as a table; here it is 3 (1 - atan(y) / y) / y^2, y = Re^(1/3) /
/// sqrt(6), which is exact for the drag factor 1 + Re^(2/3) / 6 (Putnam 1961, from memory) and within 1.8 %
/// of the table up to Re 1000. Grade B.
///
/// E is within 0.026 of every value of their table II up to phi = 1e5, and within 0.034 at 1e6; it is mostly
/// lower.
/// @param K 2 St, 0 .. 1e9 (table: 1000) @param phi Re^2 / K = 9 rho_a^2 U D / (mu rho_w), 0 .. 1e6
/// @throws InputError outside these ranges
double collection_langmuir_blodgett(double K, double phi);

/// Collection efficiency [-] for droplets in Stokes flow, where it does not depend on phi:
///   E = St^3 / (St^3 + 0.77 St^2 + 0.22).
/// Landahl & Herrmann 1949 (from memory). Compared with Langmuir & Blodgett at phi <= 100, it is within 0.09
/// for St >= 0.75, and too low by up to 0.17 for smaller St. Grade B.
/// @param St 0 .. 1e6
double collection_landahl_herrmann(double St);

/// Collection efficiency [-]: E = 0.86 / (1 + 0.442 St^-1.967), Aylor 1982 (from memory). It is a fit to the
/// measurements of May & Clifford 1967: droplets of 20 .. 40 um at 2 .. 6 m/s on objects of 1 .. 29 mm. E
/// approaches 0.86 for large St. It is within 0.15 of Langmuir & Blodgett at phi <= 100. Grade A.
/// @param St 0 .. 1e6
double collection_aylor(double St);

/// Collection efficiency [-] from droplet trajectories in potential flow across the cylinder, the method of
/// Langmuir & Blodgett 1946:
///   K dv/dt = drag_factor(Re) (u - v),  K = 2 St,  Re = sqrt(phi K) |u - v| in units of U and the radius.
/// The outermost trajectory that still touches the cylinder gives E. E is 0 up to K = 1/8. Droplets are
/// points and gravity is neglected. E is within 0.018 of their table II up to phi = 1e5, both with their drag
/// and with the default; at phi = 1e6 it is within 0.030 and 0.024.
/// @param K 0 .. 1e4 @param phi Re^2 / K, 0 .. 1e6
/// @throws InputError outside these ranges; IntegrationError if a trajectory needs more than 20000 steps
double collection_trajectory(double K, double phi, Drag drag = Drag::turton_levenspiel);

/// A stand of stems, and the properties of the liquid and the air.
struct StemStand {
  double area = 0.1;              ///< lateral area of stems per ground area [-], 0 .. 20
  double diameter = 4e-3;         ///< of the stems [m], 1e-4 .. 0.1
  double lean = 0.0;              ///< of the stems from upright, in all directions [rad], 0 .. 1.57
  double liquid_density = 998.0;  ///< [kg/m3]
  double air_density = 1.2;       ///< [kg/m3]
  double air_viscosity = 1.8e-5;  ///< [Pa s]
  Collection collection = Collection::langmuir_blodgett;
};

/// Mean number of stems that a droplet hits on its path through a stand [-]:
///   (A / pi) mean over azimuth of E(U sin g) sin g / cos(angle),
/// with g the angle between stem and path. A stem of diameter D and length l contributes pi D l to the
/// lateral area A. It shades an area D l sin g across the path, that is D l sin g / cos(angle) on the ground.
/// Upright stems collect no droplets that fall straight down.
/// @param diameter of the droplet [m], 1e-6 .. 6e-3 @param speed of the droplet [m/s], 0 .. 100
/// @param angle of its path from straight down [rad], 0 .. 1.5
/// @throws InputError outside these ranges
double stem_hits(const StemStand& stand, double diameter, double speed, double angle);

}  // namespace wetspan
