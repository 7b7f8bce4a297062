// From the nozzle to the crop: each droplet slows down, evaporates, is carried by the air, and arrives or
// does not.
#pragma once

#include <optional>
#include <vector>

#include "wetspan/instructions.hpp"
#include "wetspan/properties/air.hpp"
#include "wetspan/spray/droplets.hpp"

namespace wetspan {

// One droplet in air -------------------------------------------------------------------------------------

/// State of the air a droplet flies in.
struct MoistAir {
  double temperature = 293.15;      ///< [K], 263.15 .. 323.15
  double vapour_pressure = 1400.0;  ///< [Pa], 0 .. saturation
  double pressure = 101325.0;       ///< [Pa], 60e3 .. 110e3
  air::VapourDiffusivity diffusivity = air::VapourDiffusivity::massman;
};

/// Drag of a sphere. Largest deviations from the table of Langmuir & Blodgett 1946 up to Re 1000 (drag;
/// distance of stopping) and from the falling drops of Gunn & Kinzer 1949, 0.2 .. 0.9 mm (terminal speed):
enum class Drag {
  turton_levenspiel,  ///< 3.7 %; 2.1 %; -4.1 %
  schiller_naumann,   ///< 5.1 %; 6.0 %; -4.3 %
  clift_gauvin,       ///< 5.9 %; 4.8 %; -3.2 %
  langmuir_blodgett   ///< 1.1 %; 0.5 %; -4.0 %: their table itself, to hold their trajectories against
};

/// Drag over Stokes drag, Cd Re / 24 [-].
///   turton_levenspiel: 1 + 0.173 Re^0.657 + (Re / 24) 0.413 / (1 + 16300 Re^-1.09), Re < 2e5.
///     Turton & Levenspiel 1986, Powder Technol. 47:83-86.
///   schiller_naumann: 1 + 0.15 Re^0.687, and Cd = 0.44 once that is more (Re > 990).
///     Schiller & Naumann 1933 (from memory).
///   clift_gauvin: 1 + 0.152 Re^0.677 + (Re / 24) 0.417 / (1 + 5070 Re^-0.94), Re < 2e5. Clift & Gauvin 1970.
///   langmuir_blodgett: 20 rows of table I of Langmuir & Blodgett 1946 and a monotone cubic between them, on
///     logarithms; 1 (Stokes) up to Re = 0.01, the table's first row; ends at Re = 1.6e5.
/// Re [-] on the diameter and the relative speed, not negative. Grade B.
/// @throws InputError for langmuir_blodgett beyond Re = 1.6e5
double drag_factor(double Re, Drag drag = Drag::turton_levenspiel);

/// Heat and mass transfer of a sphere. ranz_marshall gives up to 12 % more, most at X = 3 .. 10.
enum class Ventilation { ranz_marshall, beard_pruppacher };

/// Sherwood number [-] (or Nusselt, with Pr for Sc) on the diameter, X = Re^1/2 Sc^1/3.
///   ranz_marshall: 2 + 0.6 X, Re < 200 (measured) and used to 1000. Ranz & Marshall 1952.
///   beard_pruppacher: 2 (1 + 0.108 X^2) for X < 1.4, else 2 (0.78 + 0.308 X). Beard & Pruppacher 1971.
/// Both from memory; grade B.
double sherwood(double Re, double Sc, Ventilation ventilation = Ventilation::ranz_marshall);

/// Terminal speed [m/s] of a water sphere falling in still air: drag = weight - buoyancy.
///
/// Within 5 % of Gunn & Kinzer 1949 over 0.2 .. 1 mm. Larger drops flatten and fall slower than this sphere
/// (by 3 % at 1.8 mm, 21 % at 4.2 mm); no slip correction, which is 1.7 % at 10 um.
/// @param diameter 1e-6 .. 6e-3 m
double terminal_speed(double diameter, const MoistAir& air, Drag drag = Drag::turton_levenspiel);

/// Distance [m] in which drag alone stops a water sphere of initial speed [m/s]: speed x relaxation time x
/// mean of 1 / drag_factor over 0 .. Re.
/// @param diameter 1e-6 .. 6e-3 m @param speed 0 .. 200 m/s
double stop_distance(double diameter, double speed, const MoistAir& air, Drag drag = Drag::turton_levenspiel);

/// Steady temperature [K] of a small water droplet: heat conducted in = heat of the vapour diffusing out,
///   k (T_air - T) = lambda (D M_w P / (R T_film)) ln((P - e) / (P - e_s(T))).
/// Below the psychrometric wet bulb by the ratio of the diffusivities of vapour and heat.
double droplet_temperature(const MoistAir& air);

/// Shrinking of the squared diameter in still air [m2/s], d^2 = d0^2 - K t:
///   K = 8 D M_w P / (rho_w R T_film) ln((P - e) / (P - e_s)) at `droplet_temperature`.
double evaporation_constant(const MoistAir& air);

/// Time [s] until a motionless droplet has shrunk to its core: d0^2 (1 - core_share^(2/3)) / K; infinite in
/// saturated air.
double still_air_lifetime(double diameter, const MoistAir& air, double core_share = 0);

// From nozzle to crop ------------------------------------------------------------------------------------

// clang-format off
/// Where and how a spray is released. x is horizontal, downwind; z is height above the crop. Grade and source of each
/// default stand behind its range; what has none is the user's to state.
struct FlightInput {
  MoistAir air;
  double cross_draught = 0.2;      ///< [m/s] horizontal air speed, -5 .. 5
  double height = 0.5;             ///< [m] nozzle above crop, 0.02 .. 200
  double exit_speed = 20.0;        ///< [m/s] of the liquid, 0 .. 100; D, 2 to 3 bar with `exit_speed()`
  double angle = 0.0;              ///< [rad] of the release from straight down, towards +x, -1.4 .. 1.4
  double jet_length = 0.03;        ///< [m] see `jet_length()`, 0 (no jet) .. 1; D, 0.015 .. 0.06
  double jet_spread = 0.2;         ///< [-] half-width of the jet over distance, 0.02 .. 2; D, 0.1 .. 0.5
  double target_half_width = 1.0;  ///< [m] of the bench along x, 0.01 .. 1000
  double core_share = 0.0;         ///< [-] volume that does not evaporate, 0 .. 1; formulation / tank volume
  double liquid_excess = 0.0;      ///< [K] liquid at the nozzle over air temperature, -30 .. 30
  double longest = 600.0;          ///< [s] what is aloft after that counts as airborne, 1 .. 1e5; convention
  double tolerance = 1e-6;         ///< [-] of each step, 1e-12 .. 1e-3; docs/science/flight.md
  Drag drag = Drag::turton_levenspiel;
  Ventilation ventilation = Ventilation::ranz_marshall;
};
// clang-format on

/// How a droplet's flight ended.
enum class FlightEnd {
  reached_crop,
  left_target,  ///< carried farther than target_half_width from the spray's axis
  evaporated,   ///< nothing left to land
  still_aloft,  ///< after `longest`
};

/// One droplet's flight. The three shares are of its volume at the nozzle and sum to 1.
struct DropletFlight {
  double initial_diameter = 0;  ///< [m]
  double evaporated = 0;        ///< [-] negative if a cold droplet gathers dew
  double airborne = 0;          ///< [-] past the edge of the bench, or still aloft
  double delivered = 0;         ///< [-]
  FlightEnd end = FlightEnd::reached_crop;
  bool dried = false;      ///< it had shrunk to its core
  double time = 0;         ///< [s]
  double diameter = 0;     ///< [m] at the end
  double temperature = 0;  ///< [K] at the end
  double speed = 0;        ///< [m/s] at the end: of impact, if it reached the crop
  double angle = 0;        ///< [rad] of the velocity at the end from straight down
  double offset = 0;       ///< [m] from the spray's axis, downwind
};

/// A spray's flight: evaporated + airborne + delivered = 1 within 1e-12.
struct Flight {
  std::vector<DropletFlight> droplets;                 ///< one per bin of the spectrum
  double evaporated = 0, airborne = 0, delivered = 0;  ///< shares of the sprayed volume
  double flattened = 0;  ///< share sprayed in drops above 1 mm, whose fall the sphere overstates
};

/// Flight of one droplet.
///
/// State: position, velocity, squared diameter, temperature.
///   dv/dt = g (1 - rho_a / rho_w) - (18 mu / rho_w d^2) drag_factor(Re) (v - u)
///   d(d^2)/dt = -(4 Sh D M_w P / (rho_w R T_film)) ln((P - e) / (P - e_s(T)))
///   dT/dt = 6 Nu k (T_air - T) / (rho_w c d^2) + (3 lambda / 2 c d^2) d(d^2)/dt
/// in air moving at u = draught + jet; the jet is along the axis of release,
///   u_jet = V L / (L + s) exp(-(n / b)^2) tanh(z / b),  b = jet_spread (L + s),
/// s along and n across the axis from the nozzle: it slows down in proportion to the height above the crop
/// within about its half-width b, as an impinging jet does, and sets fine droplets down no faster than they
/// fall. Air and water properties are those of the film between air and `droplet_temperature`. At d^3 =
/// core_share d0^3 the droplet stops shrinking and goes on as a grain.
///
/// Fifth-order Dormand-Prince with dense output; reaching the crop, leaving the target and drying are located
/// on it. Once a droplet below 40 um moves within 1 mm/s of air + terminal speed, and meets air that changes
/// by less than 2 cm/s within its relaxation time, its slip and temperature are the steady ones. Humectants
/// and solutes do not lower the vapour pressure here; the spray's own vapour does not humidify the air.
/// @throws InputError outside the ranges in FlightInput, for a diameter outside 1e-9 .. 1e-2 m, or for vapour
///         above saturation
/// @throws IntegrationError if the flight cannot be followed within 20000 steps
DropletFlight fly(double diameter, const FlightInput& input);

/// Flight of every bin of a spray; see above. With the default laws of drag and ventilation and a tolerance
/// of 1e-8 or more, the bins are followed side by side in vector lanes: by the same pair to the same
/// tolerance, so that a bin differs from fly() of its diameter by about the tolerance
/// (docs/science/flight.md).
/// @param instructions of the lanes; none: the fastest of this machine
/// @throws InputError also for instructions that this machine has not
Flight fly(const Spectrum& spectrum, const FlightInput& input,
           std::optional<Instructions> instructions = std::nullopt);

/// A point of a droplet's path.
struct FlightPoint {
  double time, x, z, speed, diameter, temperature;
};
/// Path of one droplet every `interval` [s, 1e-6 .. 1e5], from the nozzle to its end; throws as `fly`.
std::vector<FlightPoint> flight_path(double diameter, const FlightInput& input, double interval);

}  // namespace wetspan
