// Impact of droplets on leaves (adhesion, rebound, shatter), and their passage through layers of a canopy.
#pragma once

#include <optional>
#include <string_view>
#include <vector>

#include "wetspan/instructions.hpp"
#include "wetspan/plant/collection.hpp"

namespace wetspan {

/// Splash parameter K = We^1/2 Re^1/4 [-] of the normal speed above which droplets splash on a dry smooth
/// wall: water, ethanol and their mixtures, 60 .. 150 um at 12 .. 18 m/s. Mundo, Sommerfeld & Tropea 1995
/// (from memory). Grade A for that wall; a leaf's threshold is not known to better than a factor of 2.
inline constexpr double mundo_threshold = 57.7;

/// The law for the maximum spread diameter b of a droplet over its own diameter [-], at least 1.
///   mao: the larger root b of (1/4 (1 - cos theta) + 0.2 We^0.83 / Re^0.33) b^3 - (We/12 + 1) b + 2/3 = 0.
///     It is an energy balance whose viscous loss is fitted to drops of 1.5 .. 3.5 mm, theta 30 .. 120 deg.
///     If there is no such root (slow droplets on very repellent leaves) the droplet hardly spreads, and b
///     is 1. It is within 10 % of its data. Mao, Kuhn & Tran 1997 (from memory); grade A; it is extrapolated
///     to the size of spray droplets.
///   pasandideh_fard: sqrt((We + 12) / (3 (1 - cos theta) + 4 We / sqrt(Re))), with theta the advancing
///     contact angle. It is within 15 % of measurements on drops of 2 mm. Pasandideh-Fard, Qiao, Chandra &
///     Mostaghimi 1996 (from memory); grade A.
enum class SpreadLaw { mao, pasandideh_fard };

// One impact ---------------------------------------------------------------------------------------------

enum class ImpactOutcome { stick, rebound, shatter };  ///< what becomes of a droplet that hits a leaf

// clang-format off
/// Properties of liquid and leaf in an impact. Grades and sources follow the ranges.
struct ImpactSurface {
  double density = 998.2;           ///< of the liquid [kg/m3], 500 .. 2000
  double viscosity = 1.0016e-3;     ///< of the liquid [Pa s], 1e-4 .. 0.1
  double surface_tension = 0.0727;  ///< of the liquid, fresh [N/m], 0.015 .. 0.08
  double splash_threshold = mundo_threshold;  ///< K above which a droplet shatters [-], 5 .. 500; D on leaves
  double splashed_share = 0.5;      ///< volume share of a shattering droplet that leaves [-], 0 .. 1; D,
                                    ///< 0.2 .. 0.8 on dry walls (Bai & Gosman 1995, from memory)
  double tangential_kept = 5.0 / 7; ///< tangential speed after / before impact [-], 0 .. 1; D, a rolling sphere
  SpreadLaw spread_law = SpreadLaw::mao;
};
// clang-format on

/// Result of an impact. Energies are in units of pi d^2 sigma, the surface energy of the incoming droplet.
struct Impact {
  ImpactOutcome outcome = ImpactOutcome::stick;
  double weber = 0;     ///< rho v^2 d / sigma [-], with v the component of the speed normal to the leaf
  double reynolds = 0;  ///< rho v d / mu [-], likewise
  double splash_parameter = 0;  ///< We^1/2 Re^1/4 [-]
  double maximum_spread = 1;    ///< over the droplet's diameter [-]
  double excess_energy = 0;     ///< excess rebound energy
  double retained_share = 1;    ///< share of the volume that stays on the leaf
  double leaving_diameter = 0;  ///< [m] of each droplet that leaves; 0 if none does
  double leaving_number = 0;    ///< mean number of droplets that leave per incoming droplet
  double leaving_speed = 0;     ///< [m/s]
  double energy_in = 0;         ///< kinetic and surface energy of the incoming droplet
  double energy_out = 0;        ///< kinetic and surface energy of the leaving droplets, at most energy_in
};

/// Impact of one droplet on one leaf.
///
/// - Shatter, if K > splash_threshold. The share r = `splashed_share` of the volume leaves in
///   n = 1 + 5 (We/We_c - 1) droplets (Bai & Gosman 1995, from memory; We_c is We at the threshold). The
///   energy r (We - We_c) / 12 above the threshold supplies the additional surface energy of dividing one
///   fragment into n; if it does not suffice, n is smaller. The remainder becomes kinetic energy. The rest of
///   the liquid adheres. Grade D.
/// - Rebound, if not shattered and the excess energy is above 0. The whole droplet leaves, and the excess
///   energy becomes its kinetic energy normal to the leaf. At the maximum spread b the excess over the
///   droplet's surface energy pi d^2 sigma is
///     1/4 b^2 (1 - cos theta) - 0.12 b^2.3 (1 - cos theta)^0.63 + 2 / (3 b) - 1
///   (Mao, Kuhn & Tran 1997, from memory; grade A), limited to We/12 less the dissipation during recoil,
///   because pasandideh_fard can give a spread for which the droplet lacks the energy.
/// - Adhesion in all other cases.
///
/// Forster, Kimberley & Zabkiewicz 2005 measured adhesion of droplets of 109 .. 912 um at 1 .. 3.5 m/s; other
/// sizes and speeds are an extrapolation. Hairs, veins and bending of the leaf are neglected.
/// @param diameter 1e-6 .. 1e-2 m @param speed 0 .. 100 m/s
/// @param incidence between path and leaf normal, 0 .. pi/2 rad @param contact_angle 0.02 .. 3.14 rad
/// @throws InputError outside these ranges
Impact impact(double diameter, double speed, double incidence, double contact_angle,
              const ImpactSurface& surface = {});

/// Wettability class of a leaf by the contact angle of water [rad]: super-hydrophilic below 40 deg, highly
/// wettable to 90, wettable to 110, non-wettable to 130, highly non-wettable to 150, super-hydrophobic above.
/// Wang, Shi & Wang 2015.
std::string_view wettability_class(double contact_angle);

/// Mean of |cos(incidence)| over the azimuth of a leaf inclined at a = `leaf_angle` from horizontal, for a
/// path inclined at b = `path_angle` from straight down [rad, 0 .. pi/2]: cos a cos b; or, if the path can
/// hit either face of the leaf, cos a cos b (1 + (2/pi)(tan p - p)), p = acos(cot a cot b). Warren Wilson
/// 1960 derived it for light.
double mean_incidence_cosine(double leaf_angle, double path_angle);

// A canopy of leaves and stems in layers ----------------------------------------------------------------

/// Droplets of one size and speed.
struct Parcel {
  double diameter = 0;   ///< [m]
  double speed = 0;      ///< [m/s]
  double angle = 0;      ///< of the path from straight down [rad]
  double volume = 0;     ///< in any unit, such as volume per bench area
  bool touched = false;  ///< whether it has already hit a leaf
};

/// Diameter [m] below which droplets follow the air around leaves and stems and do not deposit. Grade D.
inline constexpr double finest_settling = 5e-6;

/// A layer of leaves with the stems and petioles among them; layers run from the top down.
struct CanopyLayer {
  double interception = 0;       ///< share of the flux that hits a leaf if there are no stems [-]
  double leaf_angle = 0.7;       ///< from level [rad], 0 .. pi/2
  double contact_angle = 1;      ///< [rad]
  StemStand stems{.area = 0.0};  ///< per area of crown
};

/// Fate of the droplets in one layer; volumes in the unit of the parcels.
struct LayerDeposit {
  double met = 0;                ///< hit a leaf: retained + rebounded + shattered
  double retained = 0;           ///< adhered to leaves
  double rebounded = 0;          ///< left leaves as whole droplets
  double shattered = 0;          ///< left leaves as fragments
  double on_stems = 0;           ///< hit a stem, to which all of it adheres (grade D)
  std::vector<Parcel> droplets;  ///< retained on leaves, by size
};
/// Deposition of droplets that fall through layers of leaves and stems; volumes in the unit of the parcels.
struct Cascade {
  std::vector<LayerDeposit> layers;
  std::vector<Parcel> through;  ///< droplets that reach the ground
  double ground = 0;            ///< volume that reaches the ground
  double untouched = 0;         ///< volume that reaches the ground without touching a leaf or stem
  double adrift = 0;            ///< volume of the fragments finer than `finest_settling`
};

/// Computes the deposition of droplets that fall through layers of leaves and stems. In a layer, the mean
/// number of hits of a parcel is the sum of -ln(1 - interception) for leaves and `stem_hits` for stems, with
/// path angles limited to 1.5 rad. Impacts on leaves have the mean incidence. Droplets that leave a leaf fall
/// straight down into the next layer at their leaving speed. Retained + on stems + adrift + ground = volume
/// given, within 1e-12. Droplets meet a layer side by side in vector lanes; by default with the fastest
/// instructions, and in bits the same for any number of lanes with fused operations.
/// @throws InputError for impossible layers or parcels, or more than 16 layers
Cascade cascade(const std::vector<Parcel>& droplets, const std::vector<CanopyLayer>& layers,
                const ImpactSurface& surface = {}, std::optional<Instructions> instructions = std::nullopt);

}  // namespace wetspan
