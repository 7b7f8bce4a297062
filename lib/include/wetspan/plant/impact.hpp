// A droplet meets a leaf: it sticks, bounces or shatters, and what does not stay goes on down.
#pragma once

#include <string_view>
#include <vector>

#include "wetspan/plant/collection.hpp"

namespace wetspan {

// Numbers of an impact, with the speed along the leaf's normal ----------------------------------------------

/// Weber number [-]: rho v^2 d / sigma.
double weber(double density, double speed, double diameter, double surface_tension);
/// Reynolds number [-]: rho v d / mu.
double reynolds(double density, double speed, double diameter, double viscosity);

/// Splash parameter K = We^1/2 Re^1/4 [-]. Droplets of water, ethanol and their mixtures, 60 .. 150 um at 12
/// .. 18 m/s, splash on a dry smooth wall above K = 57.7: Mundo, Sommerfeld & Tropea 1995 (from memory).
/// Grade A for that wall; a leaf's threshold is not known to better than a factor of 2.
double splash_parameter(double We, double Re);
inline constexpr double mundo_threshold = 57.7;  ///< of the splash parameter [1], on a dry smooth wall

/// Greatest spread on impact over the droplet's diameter [-], by
enum class SpreadLaw {
  mao,              ///< Mao, Kuhn & Tran 1997
  pasandideh_fard,  ///< Pasandideh-Fard, Qiao, Chandra & Mostaghimi 1996
};

/// Larger root b of (1/4 (1 - cos theta) + 0.2 We^0.83 / Re^0.33) b^3 - (We/12 + 1) b + 2/3 = 0, at least 1:
/// an energy balance whose viscous loss is fitted to drops of 1.5 .. 3.5 mm, theta 30 .. 120 deg. Without
/// such a root (slow droplets on very repellent leaves) the droplet hardly spreads, 1. Within 10 % of its
/// data. Mao, Kuhn & Tran 1997 (from memory); grade A; for spray droplets an extrapolation in size.
/// @param contact_angle 0.02 .. 3.14 rad
double maximum_spread_mao(double We, double Re, double contact_angle);

/// sqrt((We + 12) / (3 (1 - cos theta) + 4 We / sqrt(Re))), theta the advancing angle; within 15 % of drops
/// of 2 mm. Pasandideh-Fard et al. 1996 (from memory); grade A.
double maximum_spread_pasandideh_fard(double We, double Re, double contact_angle);

/// Excess rebound energy over the droplet's surface energy pi d^2 sigma [-], at maximum spread b:
///   1/4 b^2 (1 - cos theta) - 0.12 b^2.3 (1 - cos theta)^0.63 + 2 / (3 b) - 1.
/// Above 0 the droplet leaves the surface. Mao, Kuhn & Tran 1997 (from memory); grade A.
double excess_rebound_energy(double spread, double contact_angle);

// One impact ---------------------------------------------------------------------------------------------

enum class ImpactOutcome { stick, rebound, shatter };  ///< what becomes of a droplet that hits a leaf

// clang-format off
/// Liquid and leaf in an impact. Grades and sources behind the ranges.
struct ImpactSurface {
  double density = 998.2;           ///< of the liquid [kg/m3], 500 .. 2000
  double viscosity = 1.0016e-3;     ///< of the liquid [Pa s], 1e-4 .. 0.1
  double surface_tension = 0.0727;  ///< of the liquid, fresh [N/m], 0.015 .. 0.08
  double splash_threshold = mundo_threshold;  ///< K above which a droplet shatters [-], 5 .. 500; D on leaves
  double splashed_share = 0.5;      ///< of a shattering droplet's volume that leaves [-], 0 .. 1; D, 0.2 .. 0.8
                                    ///< on dry walls (Bai & Gosman 1995, from memory)
  double tangential_kept = 5.0 / 7; ///< of the speed along the leaf, on leaving it [-], 0 .. 1; D, a rolling sphere
  SpreadLaw spread_law = SpreadLaw::mao;
};
// clang-format on

/// What an impact does. Energies are in units of pi d^2 sigma, the surface energy of the incoming droplet.
struct Impact {
  ImpactOutcome outcome = ImpactOutcome::stick;
  double weber = 0, reynolds = 0, splash_parameter = 0;
  double maximum_spread = 1;
  double excess_energy = 0;     ///< excess rebound energy
  double retained_share = 1;    ///< of the volume, that stays on the leaf
  double leaving_diameter = 0;  ///< [m] of each droplet that leaves; 0 if none does
  double leaving_number = 0;    ///< how many leave per droplet that came, a mean
  double leaving_speed = 0;     ///< [m/s]
  double energy_in = 0;         ///< kinetic and surface, incoming
  double energy_out = 0;        ///< kinetic and surface of what leaves, at most energy_in
};

/// One droplet on one leaf.
///   K > splash_threshold: shatter. `splashed_share` r leaves in n = 1 + 5 (We/We_c - 1) droplets (Bai &
///   Gosman 1995,
///     from memory; We_c at the threshold). The leaving part keeps its share r (We - We_c) / 12 of the energy
///     above the threshold: it pays for cutting one fragment into n, fewer if it cannot afford them, and is
///     speed after that. The rest of the liquid sticks. Grade D.
///   else excess energy > 0: rebound, whole, with that energy as its speed along the normal. The excess is
///     `excess_rebound_energy`, but never more than We/12 less the loss on drawing back: pasandideh_fard can
///     give a spread that the droplet has not the energy for.
///   else stick.
/// Forster, Kimberley & Zabkiewicz 2005 measured adhesion of 109 .. 912 um at 1 .. 3.5 m/s; outside it is
/// extrapolation. Hairs, veins and a leaf that gives way are left out.
/// @param diameter 1e-6 .. 1e-2 m @param speed 0 .. 100 m/s
/// @param incidence between path and leaf normal, 0 .. pi/2 rad @param contact_angle 0.02 .. 3.14 rad
/// @throws InputError outside these ranges
Impact impact(double diameter, double speed, double incidence, double contact_angle,
              const ImpactSurface& surface = {});

/// Wettability class of a leaf by the contact angle of water [rad]: super-hydrophilic below 40 deg, highly
/// wettable to 90, wettable to 110, non-wettable to 130, highly non-wettable to 150, super-hydrophobic above.
/// Wang, Shi & Wang 2015.
std::string_view wettability_class(double contact_angle);

/// Mean of |cos(incidence)| over the azimuth of a leaf inclined `leaf_angle` from level, for a path inclined
/// `path_angle` from straight down [rad, 0 .. pi/2]: cos a cos b, or where the path can meet either face
/// cos a cos b (1 + (2/pi)(tan p - p)), p = acos(cot a cot b). Warren Wilson 1960, as for light.
double mean_incidence_cosine(double leaf_angle, double path_angle);

// A canopy of leaves and stems in layers
// --------------------------------------------------------------------------------

/// Droplets of one size and speed.
struct Parcel {
  double diameter = 0;   ///< [m]
  double speed = 0;      ///< [m/s]
  double angle = 0;      ///< of the path from straight down [rad]
  double volume = 0;     ///< in any unit, per bench area say
  bool touched = false;  ///< whether it met a leaf before
};

/// Finer droplets follow the air round leaves and stems, and settle on neither [m]. Grade D.
inline constexpr double finest_settling = 5e-6;

/// A layer of leaves with the stems and petioles among them; layers run from the top down.
struct CanopyLayer {
  double interception = 0;       ///< share of what passes that meets a leaf, were there no stems [-]
  double leaf_angle = 0.7;       ///< from level [rad], 0 .. pi/2
  double contact_angle = 1;      ///< [rad]
  StemStand stems{.area = 0.0};  ///< per area of crown
};

/// What became of the droplets in a layer; volumes in the unit of the parcels.
struct LayerDeposit {
  double met = 0;                ///< met a leaf: retained + rebounded + shattered
  double retained = 0;           ///< stayed
  double rebounded = 0;          ///< went on whole
  double shattered = 0;          ///< went on in pieces
  double on_stems = 0;           ///< hit a stem, where all sticks (grade D)
  std::vector<Parcel> droplets;  ///< what stayed on leaves, by size
};
/// Where droplets stay that fall through layers of leaves and stems; volumes in the unit of the parcels.
struct Cascade {
  std::vector<LayerDeposit> layers;
  std::vector<Parcel> through;  ///< what reaches the ground
  double ground = 0;            ///< its volume
  double untouched = 0;         ///< volume of it that met neither leaf nor stem
  double adrift = 0;            ///< volume of the fragments finer than `finest_settling`
};

/// Droplets falling through layers of leaves and stems. A parcel's chances of meeting a leaf, -ln(1 -
/// interception), and a stem, `stem_hits` (paths flatter than 1.5 rad count as 1.5), add up in a layer. What
/// meets a leaf does so at the mean incidence; what leaves it falls on, at its leaving speed and straight
/// down, into the next layer. Retained + on stems + adrift + ground = volume given, within 1e-12.
/// @throws InputError for impossible layers or parcels, or more than 16 layers
Cascade cascade(const std::vector<Parcel>& droplets, const std::vector<CanopyLayer>& layers,
                const ImpactSurface& surface = {});

}  // namespace wetspan
