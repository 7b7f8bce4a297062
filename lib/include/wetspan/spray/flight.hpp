// Flight of droplets from the nozzle to the crop: deceleration, evaporation and transport by the air.
#pragma once

#include <optional>
#include <vector>

#include "wetspan/instructions.hpp"
#include "wetspan/properties/air.hpp"
#include "wetspan/spray/droplets.hpp"

namespace wetspan {

// One droplet in air -------------------------------------------------------------------------------------

/// State of the air in which a droplet flies.
struct MoistAir {
  double temperature = 293.15;      ///< [K], 263.15 .. 323.15
  double vapour_pressure = 1400.0;  ///< [Pa], 0 .. saturation
  double pressure = 101325.0;       ///< [Pa], 60e3 .. 110e3
  air::VapourDiffusivity diffusivity = air::VapourDiffusivity::massman;
};

/// Drag laws of a sphere. The numbers are the largest deviations of drag and of stopping distance from the
/// table of Langmuir & Blodgett 1946 up to Re 1000, and of terminal speed from the falling drops of Gunn &
/// Kinzer 1949, 0.2 .. 0.9 mm.
enum class Drag {
  turton_levenspiel,  ///< 3.7 %; 2.1 %; -4.1 %
  schiller_naumann,   ///< 5.1 %; 6.0 %; -4.3 %
  clift_gauvin,       ///< 5.9 %; 4.8 %; -3.2 %
  langmuir_blodgett   ///< 1.1 %; 0.5 %; -4.0 %: their own table, for comparison with their trajectories
};

/// Drag over Stokes drag, Cd Re / 24 [-].
///   turton_levenspiel: 1 + 0.173 Re^0.657 + (Re / 24) 0.413 / (1 + 16300 Re^-1.09), Re < 2e5.
///     Turton & Levenspiel 1986, Powder Technol. 47:83-86.
///   schiller_naumann: 1 + 0.15 Re^0.687, but at least the value for Cd = 0.44 (Re > 990).
///     Schiller & Naumann 1933 (from memory).
///   clift_gauvin: 1 + 0.152 Re^0.677 + (Re / 24) 0.417 / (1 + 5070 Re^-0.94), Re < 2e5. Clift & Gauvin 1970.
///   langmuir_blodgett: 20 rows of table I of Langmuir & Blodgett 1946, with monotone cubic interpolation of
///     logarithms; 1 (Stokes) up to Re = 0.01, the first row; valid up to Re = 1.6e5.
/// @param Re [-] based on diameter and relative speed, not negative. Grade B.
/// @throws InputError below 0 and for NaN, and for langmuir_blodgett beyond Re = 1.6e5
double drag_factor(double Re, Drag drag = Drag::turton_levenspiel);

/// Laws of heat and mass transfer of a sphere: its Sherwood number [-] based on diameter, with X = Re^1/2
/// Sc^1/3. With Pr in place of Sc it is the Nusselt number.
///   ranz_marshall: 2 + 0.6 X, Re < 200 (measured) and used to 1000. Ranz & Marshall 1952.
///   beard_pruppacher: 2 (1 + 0.108 X^2) for X < 1.4, else 2 (0.78 + 0.308 X). Beard & Pruppacher 1971.
/// Both from memory; grade B. ranz_marshall gives up to 12 % more, the most at X = 3 .. 10.
enum class Ventilation { ranz_marshall, beard_pruppacher };

/// Terminal speed [m/s] of a water sphere falling in still air: drag = weight - buoyancy.
///
/// It is within 5 % of Gunn & Kinzer 1949 over 0.2 .. 1 mm. Larger drops flatten and fall more slowly than a
/// sphere (by 3 % at 1.8 mm, 21 % at 4.2 mm). There is no slip correction; it would be 1.7 % at 10 um.
/// @param diameter 1e-6 .. 6e-3 m
double terminal_speed(double diameter, const MoistAir& air, Drag drag = Drag::turton_levenspiel);

/// Stopping distance [m] of a water sphere under drag alone, from its initial `speed` [m/s]: speed x
/// relaxation time x mean of 1 / drag_factor over 0 .. Re.
/// @param diameter 1e-6 .. 6e-3 m @param speed 0 .. 200 m/s
double stop_distance(double diameter, double speed, const MoistAir& air, Drag drag = Drag::turton_levenspiel);

/// Steady temperature [K] of a small water droplet, at which conduction supplies the latent heat of the
/// diffusing vapour:
///   k (T_air - T) = lambda (D M_w P / (R T_film)) ln((P - e) / (P - e_s(T))).
/// It is below the psychrometric wet bulb, because the diffusivity of vapour exceeds that of heat.
double droplet_temperature(const MoistAir& air);

/// Evaporation constant K [m2/s] of the d2-law in still air, d^2 = d0^2 - K t:
///   K = 8 D M_w P / (rho_w R T_film) ln((P - e) / (P - e_s)) at `droplet_temperature`.
double evaporation_constant(const MoistAir& air);

/// Time [s] until a motionless droplet has evaporated to its non-volatile core:
/// d0^2 (1 - core_share^(2/3)) / K; infinite in saturated air.
double still_air_lifetime(double diameter, const MoistAir& air, double core_share = 0);

// From nozzle to crop ------------------------------------------------------------------------------------

// clang-format off
/// Release of a spray. x is horizontal, downwind; z is height above the crop. Grade and source of each default
/// follow its range; a value without them is to be stated by the user.
struct FlightInput {
  MoistAir air;
  double cross_draught = 0.2;      ///< [m/s] horizontal air speed, -5 .. 5
  double height = 0.5;             ///< [m] nozzle above crop, 0.02 .. 200
  double exit_speed = 20.0;        ///< [m/s] of the liquid, 0 .. 100; D, 2 to 3 bar with `exit_speed()`
  double angle = 0.0;              ///< [rad] of the release from straight down, towards +x, -1.4 .. 1.4
  double jet_length = 0.03;        ///< [m] see `jet_length()`, 0 (no jet) .. 1; D, 0.015 .. 0.06
  double jet_spread = 0.2;         ///< [-] half-width of the jet over distance, 0.02 .. 2; D, 0.1 .. 0.5
  double target_half_width = 1.0;  ///< [m] of the bench along x, 0.01 .. 1000
  double core_share = 0.0;         ///< [-] non-volatile volume share, 0 .. 1; formulation / tank volume
  double liquid_excess = 0.0;      ///< [K] liquid temperature at the nozzle less air temperature, -30 .. 30
  double longest = 600.0;          ///< [s] droplets still aloft then count as airborne, 1 .. 1e5; convention
  double tolerance = 1e-6;         ///< [-] relative error of each step, 1e-12 .. 1e-3; docs/science/flight.md
  Drag drag = Drag::turton_levenspiel;
  Ventilation ventilation = Ventilation::ranz_marshall;
};
// clang-format on

/// The end of a droplet's flight.
enum class FlightEnd {
  reached_crop,
  left_target,  ///< carried farther than target_half_width from the spray's axis
  evaporated,   ///< no liquid is left
  still_aloft,  ///< still in the air after `longest`
};

/// Result of one droplet's flight. The three shares refer to its volume at the nozzle and sum to 1.
struct DropletFlight {
  double initial_diameter = 0;  ///< [m]
  double evaporated = 0;        ///< [-] negative if vapour condenses on a cold droplet
  double airborne = 0;          ///< [-] past the edge of the bench, or still aloft
  double delivered = 0;         ///< [-] reached the crop
  FlightEnd end = FlightEnd::reached_crop;
  bool dried = false;      ///< evaporated to its non-volatile core
  double time = 0;         ///< [s]
  double diameter = 0;     ///< [m] at the end
  double temperature = 0;  ///< [K] at the end
  double speed = 0;        ///< [m/s] at the end; the impact speed if it reached the crop
  double angle = 0;        ///< [rad] of the velocity at the end from straight down
  double offset = 0;       ///< [m] from the spray's axis, downwind
  /// Taken from the air, per volume of the droplet at the nozzle [J/m3]: the latent heat of what evaporated,
  /// less the heat that the droplet itself gave by cooling. It cools before it shrinks, so all of its mass
  /// counts.
  double heat = 0;
};

/// Result of a spray's flight: evaporated + airborne + delivered = 1 within 1e-12.
struct Flight {
  std::vector<DropletFlight> droplets;                 ///< one per bin of the spectrum
  double evaporated = 0, airborne = 0, delivered = 0;  ///< shares of the sprayed volume
  double flattened = 0;  ///< volume share of drops above 1 mm, whose fall speed a sphere overestimates
  double heat = 0;       ///< taken from the air, per sprayed volume [J/m3]
};

/// Computes the flight of one droplet.
///
/// The state consists of position, velocity, squared diameter and temperature:
///   dv/dt = g (1 - rho_a / rho_w) - (18 mu / rho_w d^2) drag_factor(Re) (v - u)
///   d(d^2)/dt = -(4 Sh D M_w P / (rho_w R T_film)) ln((P - e) / (P - e_s(T)))
///   dT/dt = 6 Nu k (T_air - T) / (rho_w c d^2) + (3 lambda / 2 c d^2) d(d^2)/dt
/// The air velocity is u = draught + jet. The jet is directed along the axis of release,
///   u_jet = V L / (L + s) exp(-(n / b)^2) tanh(z / b),  b = jet_spread (L + s),
/// with s along and n across the axis from the nozzle. Like an impinging jet it slows down in proportion to
/// the height above the crop, within a height of about its half-width b, so that fine droplets reach the crop
/// no faster than their terminal speed. Properties of air are taken at the mean of the air temperature and
/// `droplet_temperature`, those of water at the latter. When d^3 = core_share d0^3 the droplet stops
/// shrinking and continues as a solid particle.
///
/// The integrator is the fifth-order Dormand-Prince method. Its dense output locates the times at which a
/// droplet reaches the crop, leaves the target, or dries. A droplet below 40 um takes its steady slip
/// velocity and temperature once its velocity is within 1 mm/s of air velocity + terminal velocity and the
/// air velocity changes by less than 2 cm/s within its relaxation time. Humectants and solutes do not lower
/// the vapour pressure here, and the vapour of the spray does not humidify the air.
/// @throws InputError outside the ranges in FlightInput, for a diameter outside 1e-9 .. 1e-2 m, or for vapour
///         above saturation
/// @throws IntegrationError if the flight needs more than 20000 steps
DropletFlight fly(double diameter, const FlightInput& input);

/// Computes the flight of every bin of a spray; see above. With the default laws of drag and ventilation and
/// a tolerance of 1e-8 or more, several bins are integrated at once in vector lanes, by the same
/// Dormand-Prince pair to the same tolerance. A bin differs from fly() of its diameter by about the tolerance
/// (docs/science/flight.md).
/// @param instructions vector instructions; if absent, the fastest that this machine can run
/// @throws InputError also for instructions that this machine does not have
Flight fly(const Spectrum& spectrum, const FlightInput& input,
           std::optional<Instructions> instructions = std::nullopt);

/// A point of a droplet's path.
struct FlightPoint {
  double time, x, z, speed, diameter, temperature;
};
/// Path of one droplet from the nozzle to the end of its flight, with a point every `interval` [s, 1e-6 ..
/// 1e5]; throws as `fly`.
std::vector<FlightPoint> flight_path(double diameter, const FlightInput& input, double interval);

}  // namespace wetspan
