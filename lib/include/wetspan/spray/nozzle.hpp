// Flow, liquid speed, and volume per bench area from pressure, nozzle size, travel speed and swath.
#pragma once

#include <span>
#include <string_view>

namespace wetspan {

/// A nozzle size of ISO 10625.
struct NozzleSize {
  std::string_view name;    ///< "01" .. "10"
  std::string_view colour;  ///< of the body or cap
  double flow;              ///< [m3/s] of water at `nozzle_rating_pressure`
};

/// Pressure at which the ISO 10625 flows are stated [Pa].
inline constexpr double nozzle_rating_pressure = 300e3;

/// The sizes of ISO 10625, smallest first; flows within 5 % by the standard (from memory). Grade B.
std::span<const NozzleSize> nozzle_sizes();
/// The size called `name`. @throws InputError that lists the known sizes
const NozzleSize& nozzle_size(std::string_view name);

/// Flow [m3/s] at `pressure` [Pa] of a nozzle with `rated_flow` [m3/s] at `rated_pressure` [Pa]:
/// Q = Q0 sqrt(p / p0), Bernoulli's equation with a constant discharge coefficient. It is within 2.5 % of
/// printed charts over 70 .. 300 kPa. Grade B.
/// @throws InputError unless flows are 0 .. 0.01 m3/s and pressures 10 kPa .. 20 MPa
double nozzle_flow(double rated_flow, double pressure, double rated_pressure = nozzle_rating_pressure);

/// Speed of the liquid at the orifice [m/s]: v = C_v sqrt(2 p / rho), Bernoulli's equation.
/// @param pressure at the nozzle, 10 kPa .. 20 MPa
/// @param liquid_density 500 .. 2000 kg/m3
/// @param velocity_coefficient C_v, 0.3 .. 1; 0.9 is an assumption for a hydraulic nozzle (grade D, 0.8 ..
/// 0.98)
/// @throws InputError outside these ranges
double exit_speed(double pressure, double liquid_density, double velocity_coefficient = 0.9);

/// Width [m] that a fan with the opening `fan_angle` [rad, 0 .. 2.6] covers from `height` [m, 0 .. 10]:
/// 2 h tan(angle / 2).
/// @throws InputError outside these ranges
double fan_width(double height, double fan_angle);

/// Volume per bench area [m3/m2 = m] from flow [m3/s], travel speed `pace` [m/s] and swath [m]: q = Q / (v
/// w).
/// @throws InputError unless flow is 1e-9 .. 0.01, pace 1e-3 .. 20 and swath 0.01 .. 100
double volume_rate(double flow, double pace, double swath);

/// Travel speed [m/s] that gives a volume per bench area `rate` [m3/m2 = m]: v = Q / (q w).
/// @throws InputError unless flow is 1e-9 .. 0.01, rate 1e-7 .. 0.1 and swath 0.01 .. 100
double pace_for(double flow, double rate, double swath);

/// Length L [m] over which the spray transfers its momentum to the air, for the jet U(s) = V L / (L + s) of
/// `FlightInput`:
///   L = sqrt(rho_w Q / (rho_a c V)),  c = 4 tan(fan / 2) tan(thickness / 2).
/// The momentum balance assumes that the momentum flux rho_w Q V of the liquid is completely transferred to
/// an air jet of cross-section c s^2. This is true once the droplets have slowed down; near the nozzle it is
/// an upper bound on the air speed. Grade D.
/// @param fan_angle, thickness_angle opening of the spray along and across the fan [rad, 0.02 .. 2.6], equal
///        for a cone; 0.3 rad across a flat fan is an assumption
/// @throws InputError outside these ranges, and unless flow is 1e-9 .. 0.01 m3/s, speed 0.1 .. 200 m/s, the
///         liquid's density 500 .. 2000 kg/m3 and the air's 0.5 .. 2
double jet_length(double flow, double speed, double fan_angle, double thickness_angle, double liquid_density,
                  double air_density);

}  // namespace wetspan
