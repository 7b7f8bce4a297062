#include "wetspan/plant/collection.hpp"

#include <algorithm>
#include <array>
#include <boost/numeric/odeint/algebra/array_algebra.hpp>
#include <boost/numeric/odeint/stepper/controlled_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/generation.hpp>
#include <boost/numeric/odeint/stepper/runge_kutta_dopri5.hpp>
#include <cmath>
#include <functional>
#include <numbers>

#include "../require.hpp"
#include "collection_equations.hpp"

namespace wetspan {
namespace {

constexpr double path_tolerance = 1e-7;   // relative and absolute, of a droplet's path
constexpr double first_step = 0.1;        // time in which the free stream moves by a radius [1]
constexpr double closest_step = 0.02;     // the same, at the cylinder
constexpr double step_by_distance = 0.2;  // by which it may be longer per radius of distance
constexpr double release_found = 1e-5;    // radii, to which the outermost path that still hits is found

using State = std::array<double, 4>;  // x, y, vx, vy in units of the cylinder's radius and the free stream

/// Potential flow of unit speed across a unit circle.
std::array<double, 2> potential_flow(double x, double y) {
  const double r2 = x * x + y * y, r4 = r2 * r2;
  return {1 - (x * x - y * y) / r4, -2 * x * y / r4};
}

struct Trajectory {
  double K, slip_reynolds;  // slip_reynolds = sqrt(phi K)
  Drag drag;

  void operator()(const State& s, State& rate, double /*t*/) const {
    // A trial stage may lie inside the circle; the flow at the circumference is used there.
    const double inside = std::min(1.0, std::hypot(s[0], s[1]));
    const auto u = potential_flow(s[0] / inside, s[1] / inside);
    const double wx = u[0] - s[2], wy = u[1] - s[3];
    const double pull = drag_factor(slip_reynolds * std::hypot(wx, wy), drag) / K;
    rate = {s[2], s[3], pull * wx, pull * wy};
  }
};

/// Whether a droplet released at (x, y) with the velocity of the flow touches the circle.
bool touches(const Trajectory& droplet, double x, double y) {
  const auto u = potential_flow(x, y);
  State s{x, y, u[0], u[1]};
  auto stepper = boost::numeric::odeint::make_controlled(
      path_tolerance, path_tolerance,
      boost::numeric::odeint::runge_kutta_dopri5<State, double, State, double,
                                                 boost::numeric::odeint::array_algebra>());
  double t = 0, dt = first_step;
  for (int step = 0; step < 20000; ++step) {
    const double bx = s[0], by = s[1];
    // short near the circle, where a chord replaces the path
    dt = std::min(dt, closest_step + step_by_distance * (std::hypot(bx, by) - 1));
    if (stepper.try_step(std::cref(droplet), s, t, dt) == boost::numeric::odeint::fail) continue;
    const double cx = s[0] - bx, cy = s[1] - by;
    const double nearest = std::clamp(-(bx * cx + by * cy) / (cx * cx + cy * cy), 0.0, 1.0);
    if (std::hypot(bx + nearest * cx, by + nearest * cy) < 1) return true;
    if (s[0] * s[2] + s[1] * s[3] >= 0) return false;
  }
  throw IntegrationError(
      "a droplet's path around a stem was not finished within 20000 steps; look at K and phi");
}

}  // namespace

double stokes_number(double diameter, double speed, double cylinder, double liquid_density,
                     double air_viscosity) {
  require_amount("diameter", diameter);
  require_amount("speed", speed);
  require_amount("liquid_density", liquid_density);
  require("cylinder diameter", cylinder, 1e-9, 1e9, "m");
  require("air_viscosity", air_viscosity, 1e-9, 1e9, "Pa s");
  return liquid_density * diameter * diameter * speed / (18 * air_viscosity * cylinder);
}

double collection_langmuir_blodgett(double K, double phi) {
  require("K", K, 0, 1e9, "");
  require("phi", phi, 0, 1e6, "");
  return langmuir_blodgett<Lanes<1>>(K, phi);
}

double collection_landahl_herrmann(double St) {
  require("Stokes number", St, 0, 1e6, "");
  return St * St * St / (St * St * (St + 0.77) + 0.22);
}

double collection_aylor(double St) {
  require("Stokes number", St, 0, 1e6, "");
  return 0.86 / (1 + 0.442 * std::pow(St, -1.967));
}

double collection_trajectory(double K, double phi, Drag drag) {
  require("K", K, 0, 1e4, "");
  require("phi", phi, 0, 1e6, "");
  if (K <= critical_K) return 0;
  const Trajectory droplet{K, std::sqrt(phi * K), drag};
  constexpr double upstream = -100;  // where the flow is undisturbed within 1e-4
  double hit = 0, miss = 1;          // a bisection, because a trajectory tells only whether it hits
  while (miss - hit > release_found) {
    const double y = 0.5 * (hit + miss);
    (touches(droplet, upstream, y) ? hit : miss) = y;
  }
  return hit;
}

double stem_hits(const StemStand& stand, double diameter, double speed, double angle) {
  require("diameter", diameter, 1e-6, 6e-3, "m");
  require("speed", speed, 0, 100, "m/s");
  require("angle", angle, 0, 1.5, "rad");
  require("stem diameter", stand.diameter, 1e-4, 0.1, "m");
  require("stem area", stand.area, 0, 20, "");
  require("lean", stand.lean, 0, 1.5708, "rad");
  require("liquid_density", stand.liquid_density, 500, 2000, "kg/m3");
  require("air_density", stand.air_density, 0.5, 2, "kg/m3");
  require("air_viscosity", stand.air_viscosity, 1e-5, 3e-5, "Pa s");

  const auto efficiency = [&](double across) {
    const double St =
        stokes_number(diameter, across, stand.diameter, stand.liquid_density, stand.air_viscosity);
    if (stand.collection == Collection::aylor) return collection_aylor(St);
    if (stand.collection == Collection::landahl_herrmann) return collection_landahl_herrmann(St);
    if (stand.collection == Collection::trajectory) {
      const double phi = 9 * stand.air_density * stand.air_density * across * stand.diameter /
                         (stand.air_viscosity * stand.liquid_density);
      return collection_trajectory(2 * St, phi);
    }
    return stem_efficiency<Lanes<1>>(stand, diameter, across);
  };
  return hits_of_stems<Lanes<1>>(stand, speed, sine_cosine<Lanes<1>>(angle), efficiency);
}

}  // namespace wetspan
