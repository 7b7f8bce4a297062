// The equations of a droplet's flight, which flight.hpp states, with one droplet in each vector lane.
//
// They are templates over `Laws`, the laws of drag, ventilation and saturation. `PublishedLaws` (flight.cpp)
// evaluates every law by its formula; `FittedLaws` (flight_kernel.cpp) evaluates the default laws by
// polynomials for vector lanes.
#pragma once

#include <array>
#include <cstddef>

#include "../lanes.hpp"
#include "wetspan/properties/constants.hpp"
#include "wetspan/spray/flight.hpp"

namespace wetspan {

/// Properties of air and water around one droplet, at the film temperature between the air and the steady
/// temperature of the droplet.
struct Film {
  double T_air, e, P;            // [K], [Pa], [Pa]
  double saturation;             // of the air [Pa]
  double T_drop;                 // steady temperature of a droplet in still air [K]
  double warming;                // rise of T_drop per unit of Nu / Sh - 1 [K]
  double density, viscosity;     // of air [kg/m3], [Pa s]
  double conductivity;           // of air [W/(m K)]
  double cbrt_Pr, cbrt_Sc;       // cube roots of the Prandtl and Schmidt numbers [-]
  double latent_heat;            // [J/kg]
  double liquid, heat_capacity;  // of water [kg/m3], [J/(kg K)]
  double diffusion;              // D M_w P / (R T_film) [kg/(m s)]

  explicit Film(const MoistAir& air);

  /// ln((P - e) / (P - e_s(T))), the driving term for diffusion of vapour through stagnant air.
  double drive(double T) const;

 private:
  double steady_temperature() const;
};

/// Terminal speed v [m/s] of a sphere whose terminal speed by Stokes' law is `stokes`:
/// drag_factor(Re) v = stokes.
double terminal_speed(double stokes, double reynolds_per_speed, Drag drag);
double terminal_speed(double diameter, const Film& film, Drag drag);

/// Stop distance over that by Stokes' law, from a Reynolds number: the mean of 1 / drag_factor over 0..Re, by
/// Simpson's rule in u, Re = Re0 u^3, in which Re^0.687 is smooth. `intervals` is even.
double stop_over_stokes(double Re, Drag drag, int intervals);

/// Sherwood number at x = Re^1/2 Sc^1/3, or Nusselt number at Re^1/2 Pr^1/3.
double sherwood_at(double x, Ventilation ventilation);

/// State of a droplet: position [m], velocity [m/s], (d / d0)^2, and temperature less air temperature [K].
enum FlightEntry : std::size_t { X, Z, VX, VZ, AREA, TEMPERATURE, flight_entries };

/// Numerical constants of the integration of a flight.
namespace flight {
constexpr int most_steps = 20000;
/// A droplet takes its steady slip velocity once its diameter is below `relaxed_diameter` [m], its velocity
/// is within `relaxed_slip` [m/s] of the steady velocity, and the air velocity changes by less than
/// `relaxed_change` [m/s] within its relaxation time. The last condition excludes droplets that pass through
/// their steady velocity while the jet decelerates them.
constexpr double relaxed_diameter = 40e-6, relaxed_slip = 0.001, relaxed_change = 0.02;
/// Lower bounds on (d / d0)^2: in the equations, since a trial stage may give a negative value, and of the
/// smallest core.
constexpr double least_area = 1e-12, least_core = 1e-6;
/// First step over the droplet's relaxation time [-]; longest first step, also after a discontinuity of the
/// right-hand side [s]; longest step [s].
constexpr double first_step = 0.05, longest_first_step = 0.01, longest_step = 10.0;

constexpr double to_rounding = 1e-14;  // tolerance for the time of an event [-]
}  // namespace flight

inline namespace WETSPAN_LANES_NAMESPACE {

/// Drag over Stokes drag: Turton & Levenspiel 1986.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R turton_levenspiel(const R& Re) {
  constexpr double least = 1e-30;                     // smallest argument of the logarithm
  const R ln_Re = L::log(L::max(L::all(least), Re));  // a NaN remains a NaN
  const R viscous = 0.173 * L::exp(0.657 * ln_Re);
  const R inertial = Re * (0.413 / 24.0) * L::inverse(1.0 + 16300.0 * L::exp(-1.09 * ln_Re));
  return 1.0 + viscous + inertial;
}

/// Sherwood number at x = Re^1/2 Sc^1/3: Ranz & Marshall 1952.
template <class R>
[[gnu::always_inline]] inline R ranz_marshall(const R& x) {
  return 2.0 + 0.6 * x;
}

template <class R>
struct Planar {
  R x, z;
};

/// Right-hand side of droplets of one spray, one in each lane.
template <class L, class Laws>
struct DropletEquations {
  using R = typename L::R;
  using Mask = typename L::Mask;
  using State = std::array<R, flight_entries>;

  const FlightInput& input;
  const Film& film;
  const Laws& laws;
  double axis_x, axis_z;  // unit vector of the release
  double core_area;       // (d / d0)^2 at the core
  R d0;                   // diameter at the nozzle [m]
  Mask wet;               // not dried to its core
  Mask relaxed;           // slip and temperature have their steady values

  DropletEquations(const FlightInput& of, const Film& around, const Laws& by, const R& diameter)
      : input(of),
        film(around),
        laws(by),
        axis_x(__builtin_sin(of.angle)),
        axis_z(-__builtin_cos(of.angle)),
        core_area(__builtin_pow(of.core_share, 2.0 / 3.0)),
        d0(diameter),
        wet(L::all(core_area) < L::all(1.0)),
        relaxed(L::all(0.0) > L::all(1.0)) {}

  State at_nozzle() const {
    return {L::all(0.0),
            L::all(input.height),
            L::all(input.exit_speed * axis_x),
            L::all(input.exit_speed * axis_z),
            L::all(1.0),
            L::all(input.liquid_excess)};
  }
  /// Length of the first step [s].
  R first_step() const {
    const R relaxation = (film.liquid / (18.0 * film.viscosity)) * d0 * d0;
    const R drag = laws.drag_factor(reynolds(L::all(input.exit_speed), L::all(1.0)));
    return L::min(flight::first_step * relaxation * L::inverse(drag), L::all(flight::longest_first_step));
  }

  /// Velocity of the air at a point.
  [[gnu::always_inline]] Planar<R> air(const R& x, const R& z) const {
    if (input.jet_length == 0.0) return {L::all(input.cross_draught), L::all(0.0)};
    const R dz = z - input.height;
    const R along = input.jet_length + L::max(x * axis_x + dz * axis_z, L::all(0.0));
    const R by_width = L::inverse(input.jet_spread * along);
    const R across = (x * axis_z - dz * axis_x) * by_width;
    // tanh = (1 - fading) / (1 + fading); beyond this exponent the exponential is negligible
    constexpr double no_more = 600.0;
    const R fading = laws.exponential(L::max(-2.0 * L::max(z, L::all(0.0)) * by_width, L::all(-no_more)));
    const R profile = laws.exponential(L::max(-across * across, L::all(-no_more)));
    const R jet = (input.exit_speed * input.jet_length * input.jet_spread) * by_width * profile *
                  (1.0 - fading) * L::inverse(1.0 + fading);
    return {input.cross_draught + jet * axis_x, jet * axis_z};
  }

  /// Velocity of a droplet long after its release: its terminal velocity plus the air velocity at its
  /// position one relaxation time ago, which is correct to first order in that time. `here` is the air
  /// velocity at its present position.
  [[gnu::always_inline]] Planar<R> steady_velocity(const State& s, const Planar<R>& here) const {
    const R fall = laws.terminal_speed(L::max(s[AREA], L::all(flight::least_area)), d0);
    const R ago = fall * (1.0 / constants::gravity);
    const Planar<R> u = air(s[X] - here.x * ago, s[Z] - (here.z - fall) * ago);
    return {u.x, u.z - fall};
  }
  [[gnu::always_inline]] Planar<R> steady_velocity(const State& s) const {
    return steady_velocity(s, air(s[X], s[Z]));
  }

  [[gnu::always_inline]] R reynolds(const R& slip, const R& area) const {
    return (film.density / film.viscosity) * d0 * L::sqrt(area) * slip;
  }

  /// Temperature [K] of a droplet long after its release, for given Nusselt and Sherwood numbers.
  [[gnu::always_inline]] R steady_temperature(const R& Nu, const R& Sh) const {
    const R wet_bulb = film.T_drop + film.warming * (Nu * L::inverse(Sh) - 1.0);
    return L::select(wet, wet_bulb, L::all(film.T_air));
  }
  /// The same for a droplet that moves with its steady velocity `v`.
  R steady_temperature(const State& s, const Planar<R>& v) const {
    const Planar<R> u = air(s[X], s[Z]);
    const R wx = v.x - u.x, wz = v.z - u.z;
    const R Re = reynolds(L::sqrt(wx * wx + wz * wz), L::max(s[AREA], L::all(flight::least_area)));
    return steady_temperature(laws.transfer(Re, film.cbrt_Pr), laws.transfer(Re, film.cbrt_Sc));
  }

  [[gnu::always_inline]] void rates(const State& s, State& rate) const {
    const R area = L::max(s[AREA], L::all(flight::least_area));
    const R zero = L::all(0.0);
    const Planar<R> u = air(s[X], s[Z]);
    Planar<R> v{s[VX], s[VZ]};
    if (L::any(relaxed)) {
      const Planar<R> steady = steady_velocity(s, u);
      v = {L::select(relaxed, steady.x, v.x), L::select(relaxed, steady.z, v.z)};
    }
    const R wx = v.x - u.x, wz = v.z - u.z;
    const R Re = reynolds(L::sqrt(wx * wx + wz * wz), area);
    const R Nu = laws.transfer(Re, film.cbrt_Pr), Sh = laws.transfer(Re, film.cbrt_Sc);
    R T = film.T_air + s[TEMPERATURE];
    if (L::any(relaxed)) T = L::select(relaxed, steady_temperature(Nu, Sh), T);
    const R by_mass = L::inverse(film.liquid * d0 * d0);  // d0 over mass / (pi / 6) at the nozzle [m/kg]
    const R shrinking = (-4.0 * film.diffusion) * Sh * by_mass * laws.drive(T);
    rate[X] = v.x;
    rate[Z] = v.z;
    rate[AREA] = L::select(wet, shrinking, zero);
    rate[VX] = rate[VZ] = rate[TEMPERATURE] = zero;
    if (!L::any(!relaxed)) return;
    const R by_area = L::inverse(area);
    const R drag = (18.0 * film.viscosity) * by_mass * by_area * laws.drag_factor(Re);
    rate[VX] = L::select(relaxed, zero, -drag * wx);
    rate[VZ] = L::select(relaxed, zero, -drag * wz - constants::gravity * (1.0 - film.density / film.liquid));
    const R warming = (-6.0 * film.conductivity / film.heat_capacity) * Nu * by_mass * s[TEMPERATURE];
    const R cooling = (1.5 * film.latent_heat / film.heat_capacity) * shrinking;
    rate[TEMPERATURE] = L::select(relaxed | !wet, zero, (warming + cooling) * by_area);
  }

  /// Signed distances to the events; a flight continues while all are positive.
  static R above_crop(const State& s) { return s[Z]; }
  R offset(const State& s) const { return s[X] + (input.height - s[Z]) * (axis_x / axis_z); }
  R missed(const State& s) const { return (0.5 / input.target_half_width) * L::abs(offset(s)); }
  R inside(const State& s) const { return 1.0 - missed(s); }
  R above_core(const State& s) const {
    return s[AREA] - (core_area > flight::least_core ? core_area : flight::least_core);
  }

  /// Lanes whose droplets are small enough for a steady slip velocity and do not have it yet.
  Mask small(const State& s) const {
    return (s[AREA] * d0 * d0 < L::all(flight::relaxed_diameter * flight::relaxed_diameter)) & !relaxed;
  }
  Mask settled(const State& s) const {
    const Planar<R> here = air(s[X], s[Z]), v = steady_velocity(s, here);
    const R fall = laws.terminal_speed(L::max(s[AREA], L::all(flight::least_area)), d0);
    const auto within = [](const R& x, const R& z, double most) {
      return x * x + z * z < L::all(most * most);
    };
    const Mask steady = within(s[VX] - v.x, s[VZ] - v.z, flight::relaxed_slip);
    const Mask even = within(here.x - v.x, here.z - fall - v.z, flight::relaxed_change);
    const Mask may = small(s);
    return may & steady & even;
  }
};

}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan
