// Settling of particles in a product jug at rest, and the concentration of what is poured from it.
//
// A suspension concentrate consists of particles in a thin gel, in which they sink. The model is a column of
// liquid with depth x downwards from its surface. Every particle class i moves as a kinematic wave (Kynch
// 1952),
//
//     dc_i/dt + d(c_i v_i)/dx = 0,    v_i = stokes_speed x gel_release x richardson_zaki
//
// with c_i v_i = 0 at the surface and at the bottom. Particles form a sediment where their volume fraction
// reaches the packing. The model neglects Brownian motion (it spreads a front of 0.5 um particles by about 2
// mm in two months), consolidation of the sediment under its own weight, caking, and convection from sun or
// heating on one side of the jug.
//
// The strength of the gel and the size of the carrier's particles were calibrated to observations of the
// trade; they are not validated. docs/science/jug.md describes the calibration.
//
// References
// - Ansley RW, Smith TN 1967, AIChE J. 13:1193-1196 (from memory).
// - Beris AN, Tsamopoulos JA, Armstrong RC, Brown RA 1985, J. Fluid Mech. 158:219-244 (from memory).
// - Godunov SK 1959, Mat. Sb. 47:271-306 (from memory).
// - Kynch GJ 1952, Trans. Faraday Soc. 48:166-176.
// - Richardson JF, Zaki WN 1954, Trans. Inst. Chem. Eng. 32:35-53.
// - Roe PL 1986, Annu. Rev. Fluid Mech. 18:337-365 (from memory).
// - Stokes GG 1851, Trans. Camb. Phil. Soc. 9:8-106.
#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <vector>

#include "wetspan/parameters.hpp"

namespace wetspan {

// clang-format off

/// Inputs of `JugInput`; the columns are those of parameters.hpp.
#define WETSPAN_JUG(P) \
  P(double, height, 0.20, 0.01, 2.0, 1.0, "m", "cm", D, "assumption: a full 1 L or 1 US qt bottle", \
    "Depth of liquid in the jug") \
  P(double, temperature, 293.15, 273.15, 323.15, 1.0, "K", "degC", D, "the user's store", \
    "Temperature of the store; a warm store thins the liquid") \
  P(double, viscosity_ratio, 3.3, 1.0, 1e6, 3.0, "1", "1", C, \
    "calibrated: half of the active ingredient out of place after 7 days (common practice, no source)", \
    "Viscosity of the undisturbed carrier over that of water, at the creeping rate of a sinking particle") \
  P(double, yield_stress, 1e-5, 0.0, 10.0, 3.0, "Pa", "mPa", D, \
    "assumption: any gel above 0.06 mPa would hold the carrier forever, and it is seen to settle", \
    "Stress below which the undisturbed carrier does not flow: it holds the finest particles for good") \
  P(double, packing, 0.60, 0.1, 0.74, 1.15, "1", "1", D, \
    "assumption: loose packing of spheres; flocs pack looser", "Volume fraction of particles in the sediment") \
  P(double, exponent, 4.65, 1.0, 10.0, 1.05, "1", "1", B, \
    "Richardson and Zaki 1954, particle Reynolds number below 0.2", "Exponent of hindered settling") \
  P(int, cells, 200, 4, 10000, 1.0, "1", "1", B, "convergence shown in docs/science/jug.md", \
    "Layers the depth is cut into") \
  P(int, max_steps, 1000000, 1, 2000000000, 1.0, "1", "1", B, "bound on the work", \
    "Time steps after which settling stops and says so")

/// Inputs of `Suspension`; the columns are those of parameters.hpp.
#define WETSPAN_SUSPENSION(P) \
  P(double, active_diameter, 2e-6, 1e-8, 1e-5, 1.6, "m", "um", D, \
    "assumption: trade articles have below 5 um, often below 1 um after media milling", \
    "Median diameter by mass of the milled active ingredient") \
  P(double, active_span, 1.2, 0.05, 3.0, 1.4, "1", "1", D, "assumption: a usual milled powder", \
    "(D90 - D10) / D50 by mass of the active ingredient; lognormal") \
  P(double, active_density, 1220.0, 1001.0, 4000.0, 1.02, "kg/m^3", "g/mL", A, \
    "paclobutrazol 1.22 g/mL: pesticide monograph entry", "Density of the solid active ingredient") \
  P(int, active_bins, 8, 1, 64, 1.0, "1", "1", B, "convergence shown in docs/science/jug.md", \
    "Particle classes of the active ingredient") \
  P(double, carrier_diameter, 1.18e-6, 1e-8, 2e-5, 1.7, "m", "um", C, \
    "calibrated: half of the carrier out of place after 60 days (common practice, no source)", \
    "Diameter of the carrier's flocs of clay and gum, as far as it governs their sinking") \
  P(double, carrier_density, 1100.0, 1001.0, 4000.0, 1.05, "kg/m^3", "g/mL", D, \
    "assumption: hydrated clay and gum; only its product with the diameter squared matters", \
    "Density of the carrier's flocs") \
  P(double, carrier_concentration, 20.0, 0.0, 500.0, 2.0, "kg/m^3", "g/L", D, \
    "assumption: a few g/L of clay and gum (formulation texts, from memory), swollen with water", \
    "Mass of flocs per volume of product")

// clang-format on

#define WETSPAN_MEMBER(type, name, standard, low, high, spread, unit, shown, grade, source, meaning) \
  type name = standard;

/// Every row of the two tables, with its grade and source; sections "jug" and "suspension".
std::span<const Parameter> jug_parameters();

enum class Role { active, carrier };  ///< of particles: active ingredient or carrier
/// Whether a product can settle.
enum class Formulation {
  suspension,  ///< particles that settle
  solution     ///< true solution or microemulsion: droplets of 10-50 nm, which thermal motion keeps suspended
};

/// Particles that share one diameter and density.
struct ParticleClass {
  std::string name;
  Role role = Role::active;
  double diameter = 0;       ///< 1e-8 .. 5e-5 m, so that Stokes' law holds
  double density = 0;        ///< of the particle, above that of water and at most 2e4 kg/m3
  double concentration = 0;  ///< mass per volume of product, > 0 kg/m3
};

/// Composition of a suspension concentrate.
struct Suspension {
  WETSPAN_SUSPENSION(WETSPAN_MEMBER)
};

/// The particle classes of a suspension of `strength` [kg a.i. per m3 of product]: the active ingredient's
/// lognormal size distribution in `active_bins` classes, then the carrier (left out at concentration 0).
/// @throws InputError for a value outside the bounds of the table, or strength outside 0 .. 1000 kg/m3
std::vector<ParticleClass> particle_classes(double strength, const Suspension& suspension = {});
/// A jug and its contents; `jug_parameters` lists the unit, bounds and source of each number.
struct JugInput {
  std::vector<ParticleClass> classes;
  Formulation formulation = Formulation::suspension;
  WETSPAN_JUG(WETSPAN_MEMBER)
};
#undef WETSPAN_MEMBER
/// Whether settling was computed to the last requested time.
enum class JugStatus {
  done,
  step_limit  ///< max_steps were taken before the last requested time; the times reached are returned
};
/// Concentration profiles in the jug at the requested times.
struct JugResult {
  JugStatus status = JugStatus::done;
  long steps = 0;  ///< time steps taken
  std::size_t cells = 0, classes = 0;
  std::vector<double> edge;           ///< depths between layers [m], 0 at the surface; cells + 1
  std::vector<double> time;           ///< times reached [s]
  std::vector<double> concentration;  ///< [kg/m3], [time][class][cell], classes as in the input
  double mass_error = 0;              ///< largest relative change of any class's mass over all times

  /// Concentration of one class over depth [kg/m3].
  std::span<const double> profile(std::size_t at_time, std::size_t at_class) const;
};

// One particle --------------------------------------------------------------------------------------------

/// Settling speed of a single sphere [m/s]: v = (rho_p - rho) g d^2 / (18 mu), valid for particle Reynolds
/// numbers below about 0.1. Stokes 1851; grade B.
/// @param diameter [m] @param excess_density rho_p - rho [kg/m3] @param viscosity mu [Pa s]
/// @throws InputError for a negative diameter, a viscosity outside 1e-9 .. 1e9, and what is not finite
double stokes_speed(double diameter, double excess_density, double viscosity);

/// Ratio [0..1] of the settling speed in a liquid with a yield stress to Stokes' speed:
///
///     max(0, 1 - tau_y / (0.048 (rho_p - rho) g d))
///
/// Viscous drag and yield drag add up (Ansley & Smith 1967). The sphere does not move if tau_y / ((rho_p -
/// rho) g d) is 0.048 or more (Beris et al. 1985). Grade B; the yield stress itself is grade D, because a
/// real gel also ages and creeps.
/// @param yield_stress tau_y [Pa]
/// @throws InputError for an argument that is negative or not finite
double gel_release(double yield_stress, double diameter, double excess_density);

/// Hindered settling: ratio [0..1] of the speed in a suspension of volume fraction phi to that of a single
/// particle, (1 - phi)^n. Richardson & Zaki 1954; grade B; n = 4.65 below particle Reynolds number 0.2.
/// @param fraction phi, 0 .. 1 @param exponent n, at least 0
/// @throws InputError outside these ranges
double richardson_zaki(double fraction, double exponent);

/// Settling speed of a single particle of a class in the jug's liquid [m/s]; 0 in a solution.
/// @throws InputError for particles that are not allowed
double sinking_speed(const ParticleClass& particles, const JugInput& jug);

// The jug -------------------------------------------------------------------------------------------------

/// Computes settling in an initially uniform jug, and returns the concentration in each layer at `times`.
///
/// The method is a finite-volume method. The volume flux between two layers is Godunov's flux for
/// phi (1 - phi)^n: the smaller of what the upper layer can supply and the lower layer can receive, limited
/// by the free volume below. It is divided among the classes in proportion to c_i v_i in the upper layer.
/// Concentrations are reconstructed linearly with the minmod limiter. Time steps use Heun's method (strong
/// stability preserving) with a CFL number of 0.5 for the fastest particles. The volume fraction stays
/// between 0 and the packing, and the mass of each class is conserved to rounding.
///
/// @param times [s], increasing, from 0
/// @throws InputError for a value outside the bounds of the table, an empty or over-full jug, unordered times
JugResult settle(const JugInput& jug, std::span<const double> times);

/// Concentration over depth [kg/m3], summed over the classes of one role.
std::vector<double> profile(const JugInput& jug, const JugResult& result, std::size_t at_time, Role role);

/// Share of the particles still suspended [0..1]: (10/9) (1 - share in the bottom tenth), 1 when uniform. It
/// is the measure of suspensibility tests of diluted products (CIPAC MT 161: the top nine tenths are drawn
/// off and the last tenth is assayed), applied here to the jug itself.
/// @param concentration over equal layers, top to bottom, 0 .. 2e4 kg/m3, not all zero
double suspensibility(std::span<const double> concentration);
/// The position from which a pour is taken.
enum class Draw {
  top,    ///< decanted from the surface
  bottom  ///< through a tap, or with a dip tube that reaches the bottom
};

/// Concentration of each of a series of pours relative to the label (the mean of the whole jug) [-].
///
/// The profile before shaking is `concentration`. Shaking mixes the share `shaken` of every layer evenly over
/// the jug, c' = c + shaken (mean - c): 0 is no mixing, 1 is uniform. The pours then follow without delay,
/// and each takes the next layers. Pouring itself mixes the liquid a little, so that `shaken` = 0 is an
/// extreme case.
///
/// @param concentration over equal layers, top to bottom, 0 .. 2e4 kg/m3, not all zero
/// @param share share of the jug in each pour, each at least 1e-6 (a drop), at most 1 in total
/// @param shaken 0 .. 1
std::vector<double> pours(std::span<const double> concentration, std::span<const double> share, Draw from,
                          double shaken);

/// Coefficient of variation among pours: sample standard deviation over mean [-]; 0 for a single pour.
/// @throws InputError for a pour that is negative or not finite, and if all are 0
double spread(std::span<const double> pours);

}  // namespace wetspan
