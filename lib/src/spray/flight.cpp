#include "wetspan/spray/flight.hpp"

#include <algorithm>
#include <array>
#include <boost/numeric/odeint/algebra/array_algebra.hpp>
#include <boost/numeric/odeint/stepper/controlled_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/dense_output_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/generation.hpp>
#include <boost/numeric/odeint/stepper/runge_kutta_dopri5.hpp>
#include <cmath>
#include <limits>
#include <optional>
#include <sstream>

#include "require.hpp"
#include "wetspan/properties/constants.hpp"
#include "wetspan/properties/water.hpp"

namespace wetspan {
namespace {

using constants::gravity;

/// Air and water around one droplet, at the film between the air and the droplet's steady temperature.
struct Film {
  double T_air, e, P;            // [K], [Pa], [Pa]
  double T_drop;                 // steady temperature of a droplet in still air [K]
  double warming;                // its rise per Nu / Sh - 1 [K]
  double density, viscosity;     // of air [kg/m3], [Pa s]
  double conductivity, Pr, Sc;   // of air [W/(m K)], [-]
  double latent_heat;            // [J/kg]
  double liquid, heat_capacity;  // of water [kg/m3], [J/(kg K)]
  double diffusion;              // D M_w P / (R T_film) [kg/(m s)]

  explicit Film(const MoistAir& air) : T_air(air.temperature), e(air.vapour_pressure), P(air.pressure) {
    require("air temperature", T_air, 263.15, 323.15, "K");
    require("air pressure", P, 60e3, 110e3, "Pa");
    require("vapour pressure", e, 0, air::saturation_pressure(T_air) * (1 + 1e-9), "Pa");
    // The film's temperature needs the droplet's and the reverse: two passes are enough, T_film matters
    // little.
    T_drop = T_air;
    for (int pass = 0; pass < 3; ++pass) {
      const double T_film = 0.5 * (T_air + T_drop);
      density = air::density(T_film, e, P);
      viscosity = air::dynamic_viscosity(T_film);
      conductivity = air::thermal_conductivity(T_film);
      const double D = air::vapour_diffusivity(T_film, P, air.diffusivity);
      Pr = air::prandtl(T_film, air::humidity_ratio(e, P));
      Sc = viscosity / (density * D);
      diffusion = D * P / (constants::gas_constant_water * T_film);
      latent_heat = water::latent_heat(std::max(T_drop, constants::zero_celsius + 0.01));
      T_drop = steady_temperature();
    }
    const double drive_slope = (drive(T_drop + 0.01) - drive(T_drop - 0.01)) / 0.02;
    warming = conductivity * (T_air - T_drop) / (conductivity + latent_heat * diffusion * drive_slope);
    const double T_liquid = std::max(T_drop, constants::zero_celsius);
    liquid = water::density(T_liquid);
    heat_capacity = water::specific_heat(T_liquid);
  }

  /// ln((P - e) / (P - e_s(T))): drives the diffusion of vapour through stagnant air.
  double drive(double T) const {
    const double e_s = air::saturation_pressure(T);
    return std::log1p((e_s - e) / (P - e_s));
  }

 private:
  double steady_temperature() const {
    const auto excess = [&](double T) {
      return conductivity * (T_air - T) - latent_heat * diffusion * drive(T);
    };
    double low = T_air - 40, high = T_air;
    if (excess(high) >= 0) return high;  // saturated
    for (int i = 0; i < 60 && high - low > 1e-10; ++i) {
      const double middle = 0.5 * (low + high);
      (excess(middle) > 0 ? low : high) = middle;
    }
    return 0.5 * (low + high);
  }
};

/// Cd Re / 24 of a sphere over Re: table I of Langmuir I, Blodgett KB 1946, AAF Technical Report 5418.
constexpr std::array<std::array<double, 2>, 20> langmuir_blodgett_rows{
    {{0.01, 1},   {0.1, 1.018}, {0.4, 1.073}, {1, 1.176},  {2, 1.285},   {5, 1.513},   {10, 1.782},
     {20, 2.291}, {50, 3.327},  {100, 4.59},  {200, 6.52}, {500, 11.46}, {1e3, 18.62}, {2e3, 32.7},
     {5e3, 80},   {1e4, 166.3}, {2e4, 365},   {5e4, 980},  {1e5, 1905},  {1.6e5, 2851}}};

/// The cubic through those rows in log Re and log factor with the slopes of Steffen 1990 (Astron. Astrophys.
/// 239:443-450), which keep it monotone where the rows are.
double langmuir_blodgett_factor(double Re) {
  if (Re <= langmuir_blodgett_rows.front()[0]) return 1;
  require("Re of langmuir_blodgett drag", Re, 0, langmuir_blodgett_rows.back()[0], "");
  struct Knot {
    double x, y, slope;
  };
  static const auto knots = [] {
    constexpr std::size_t n = langmuir_blodgett_rows.size();
    std::array<Knot, n> k;
    for (std::size_t i = 0; i < n; ++i)
      k[i] = {std::log(langmuir_blodgett_rows[i][0]), std::log(langmuir_blodgett_rows[i][1]), 0};
    const auto width = [&](std::size_t i) { return k[i + 1].x - k[i].x; };
    const auto rise = [&](std::size_t i) { return (k[i + 1].y - k[i].y) / width(i); };
    for (std::size_t i = 1; i + 1 < n; ++i) {  // at the first row the slope is that of Stokes' law, 0
      const double before = rise(i - 1), after = rise(i);
      const double parabola = (before * width(i) + after * width(i - 1)) / (width(i - 1) + width(i));
      k[i].slope = std::min({2 * before, 2 * after, parabola});
    }
    k[n - 1].slope = rise(n - 2);
    return k;
  }();
  const double x = std::log(Re);
  const auto right = std::find_if(knots.begin() + 1, knots.end() - 1, [x](const Knot& k) { return x < k.x; });
  const Knot &a = *(right - 1), &b = *right;
  const double h = b.x - a.x, t = (x - a.x) / h, u = 1 - t;
  return std::exp(u * u * (1 + 2 * t) * a.y + t * t * (1 + 2 * u) * b.y +
                  h * t * u * (u * a.slope - t * b.slope));
}

double require_diameter(double diameter) { return require("diameter", diameter, 1e-6, 6e-3, "m"); }

/// Speed at which drag = weight - buoyancy, factor(Re) v = v_Stokes: the secant method on logarithms, where
/// the left side has a slope between 1 (Stokes) and 2 (Newton).
double terminal(double diameter, const Film& film, Drag drag) {
  const double stokes = diameter * diameter * gravity * (film.liquid - film.density) / (18 * film.viscosity);
  const double reynolds_per_speed = film.density * diameter / film.viscosity;
  const auto too_fast = [&](double x) {
    return std::log(drag_factor(reynolds_per_speed * std::exp(x), drag)) + x - std::log(stokes);
  };
  // From below, where Re stays within every law's range.
  double x = std::log(stokes) - std::log1p(std::pow(reynolds_per_speed * stokes, 2.0 / 3) / 6);
  double excess = too_fast(x), slope = 1.5;
  for (int i = 0; i < 20 && std::abs(excess) > 1e-14; ++i) {
    const double step = -excess / slope;
    const double next = too_fast(x + step);
    slope = (next - excess) / step;
    excess = next;
    x += step;
  }
  return std::exp(x);
}

using State = std::array<double, 6>;
enum : std::size_t { X, Z, VX, VZ, AREA, TEMPERATURE };  // AREA = (d / d0)^2; TEMPERATURE = T - T_air
using Stepper = boost::numeric::odeint::dense_output_runge_kutta<
    boost::numeric::odeint::controlled_runge_kutta<boost::numeric::odeint::runge_kutta_dopri5<
        State, double, State, double, boost::numeric::odeint::array_algebra>>>;

enum class Phase {
  wet,           // everything is followed
  wet_relaxed,   // slip and temperature are the steady ones
  grain,         // dried to its core
  grain_relaxed  // the same, slip steady
};

/// Right-hand side of one droplet's flight.
struct Droplet {
  const FlightInput& input;
  const Film& film;
  double d0;
  double axis_x, axis_z;  // unit vector of the release
  double core_area;       // (d / d0)^2 at the core
  Phase phase = Phase::wet;

  Droplet(double diameter, const FlightInput& in, const Film& f)
      : input(in),
        film(f),
        d0(diameter),
        axis_x(std::sin(in.angle)),
        axis_z(-std::cos(in.angle)),
        core_area(std::pow(in.core_share, 2.0 / 3)) {}

  bool relaxed() const { return phase == Phase::wet_relaxed || phase == Phase::grain_relaxed; }
  bool wet() const { return phase == Phase::wet || phase == Phase::wet_relaxed; }

  /// Velocity of the air at a point.
  std::array<double, 2> air(double x, double z) const {
    std::array<double, 2> u{input.cross_draught, 0};
    if (input.jet_length == 0) return u;
    const double dx = x, dz = z - input.height;
    const double along = input.jet_length + std::max(0.0, dx * axis_x + dz * axis_z);
    const double width = input.jet_spread * along, across = (dx * axis_z - dz * axis_x) / width;
    const double jet = input.exit_speed * input.jet_length / along * std::exp(-across * across) *
                       std::tanh(std::max(0.0, z) / width);
    return {u[0] + jet * axis_x, u[1] + jet * axis_z};
  }

  /// Velocity of a droplet long after its release: terminal speed on the air where it was one relaxation time
  /// ago, which is right to first order in that time.
  std::array<double, 2> steady_velocity(const State& s) const {
    const double fall = terminal(d0 * std::sqrt(std::max(s[AREA], 1e-12)), film, input.drag),
                 ago = fall / gravity;
    const auto here = air(s[X], s[Z]);
    const auto u = air(s[X] - here[0] * ago, s[Z] - (here[1] - fall) * ago);
    return {u[0], u[1] - fall};
  }

  double reynolds(double relative_speed, double area) const {
    return film.density * relative_speed * d0 * std::sqrt(area) / film.viscosity;
  }

  double slip(const State& s, const std::array<double, 2>& v) const {
    const auto u = air(s[X], s[Z]);
    return std::hypot(v[0] - u[0], v[1] - u[1]);
  }

  /// Temperature [K] of a droplet long after its release.
  double steady_temperature(const State& s, const std::array<double, 2>& v) const {
    if (!wet()) return film.T_air;
    const double Re = reynolds(slip(s, v), std::max(s[AREA], 1e-12));
    const double Nu = sherwood(Re, film.Pr, input.ventilation), Sh = sherwood(Re, film.Sc, input.ventilation);
    return film.T_drop + film.warming * (Nu / Sh - 1);
  }

  /// Rate of (d / d0)^2 [1/s] at temperature T.
  double area_rate(double Re, double T) const {
    return -4 * sherwood(Re, film.Sc, input.ventilation) * film.diffusion / (film.liquid * d0 * d0) *
           film.drive(T);
  }

  void operator()(const State& s, State& rate, double /*t*/) const {
    const double area = std::max(s[AREA], 1e-12);  // a trial stage may step past nothing
    rate = {};
    if (relaxed()) {
      const auto v = steady_velocity(s);
      rate[X] = v[0];
      rate[Z] = v[1];
      if (wet()) rate[AREA] = area_rate(reynolds(slip(s, v), area), steady_temperature(s, v));
      return;
    }
    const auto u = air(s[X], s[Z]);
    const double wx = s[VX] - u[0], wz = s[VZ] - u[1];
    const double Re = reynolds(std::hypot(wx, wz), area);
    const double drag = 18 * film.viscosity / (film.liquid * d0 * d0 * area) * drag_factor(Re, input.drag);
    rate[X] = s[VX];
    rate[Z] = s[VZ];
    rate[VX] = -drag * wx;
    rate[VZ] = -drag * wz - gravity * (1 - film.density / film.liquid);
    if (!wet()) return;
    const double T = film.T_air + s[TEMPERATURE];
    rate[AREA] = area_rate(Re, T);
    const double Nu = sherwood(Re, film.Pr, input.ventilation);
    rate[TEMPERATURE] =
        -6 * Nu * film.conductivity * s[TEMPERATURE] / (film.liquid * d0 * d0) / area / film.heat_capacity +
        1.5 * film.latent_heat / film.heat_capacity * rate[AREA] / area;
  }

  /// Signed distances to the events; a flight goes on while all are positive.
  double above_crop(const State& s) const { return s[Z]; }
  double offset(const State& s) const { return s[X] + (input.height - s[Z]) * axis_x / axis_z; }
  double missed(const State& s) const { return 0.5 * std::abs(offset(s)) / input.target_half_width; }
  double inside(const State& s) const { return 1 - missed(s); }
  double above_core(const State& s) const { return s[AREA] - std::max(core_area, 1e-6); }
};

/// First time in (begin, end] at which `distance` of the state is no longer positive, by bisection on the
/// stepper's dense output; nothing if it is still positive at the end.
template <class Distance>
std::optional<double> first_crossing(Stepper& stepper, double begin, double end, Distance distance) {
  State s;
  stepper.calc_state(end, s);
  if (distance(s) > 0) return std::nullopt;
  while (end - begin > 1e-14 * end) {
    const double middle = 0.5 * (begin + end);
    if (middle <= begin || middle >= end) break;
    stepper.calc_state(middle, s);
    (distance(s) > 0 ? begin : end) = middle;
  }
  return end;
}

void check(const FlightInput& in) {
  require("cross_draught", in.cross_draught, -5, 5, "m/s");
  require("height", in.height, 0.02, 200, "m");
  require("exit_speed", in.exit_speed, 0, 100, "m/s");
  require("angle", in.angle, -1.4, 1.4, "rad");
  require("jet_length", in.jet_length, 0, 1, "m");
  require("jet_spread", in.jet_spread, 0.02, 2, "");
  require("target_half_width", in.target_half_width, 0.01, 1000, "m");
  require("core_share", in.core_share, 0, 1, "");
  require("liquid_excess", in.liquid_excess, -30, 30, "K");
  require("longest", in.longest, 1, 1e5, "s");
  require("tolerance", in.tolerance, 1e-12, 1e-3, "");
}

/// Follows one droplet; `observe(stepper, begin, end, droplet)` sees each step up to its end or to an event.
template <class Observe>
DropletFlight follow(double diameter, const FlightInput& input, const Film& film, Observe observe) {
  constexpr int most_steps = 20000;
  constexpr double relaxed_diameter = 40e-6, relaxed_slip = 0.01;  // [m], [m/s]: error of the path below 1 mm
  Droplet droplet(diameter, input, film);
  if (droplet.core_area >= 1) droplet.phase = Phase::grain;
  State s{0, input.height,       input.exit_speed * droplet.axis_x, input.exit_speed * droplet.axis_z,
          1, input.liquid_excess};
  const double relaxation = film.liquid * diameter * diameter / (18 * film.viscosity);
  double t = 0, dt = std::min(
                    0.01, 0.05 * relaxation / drag_factor(droplet.reynolds(input.exit_speed, 1), input.drag));

  auto stepper = boost::numeric::odeint::make_dense_output(
      input.tolerance, input.tolerance, 10.0,
      boost::numeric::odeint::runge_kutta_dopri5<State, double, State, double,
                                                 boost::numeric::odeint::array_algebra>());
  stepper.initialize(s, t, dt);
  std::optional<FlightEnd> end;
  for (int step = 0; !end; ++step) {
    const auto [begin, reached] = stepper.do_step(std::cref(droplet));
    if (step == most_steps || !std::isfinite(stepper.current_state()[Z])) {
      std::ostringstream message;
      message << "the flight of a droplet of " << diameter << " m stopped at " << begin << " s, height "
              << stepper.previous_state()[Z] << " m; look at exit_speed, jet_length and tolerance";
      throw IntegrationError(message.str());
    }
    // The first event within the step, if any.
    t = reached;
    bool dried = false;
    if (t > input.longest) t = input.longest, end = FlightEnd::still_aloft;
    if (const auto at = first_crossing(stepper, begin, t, [&](const State& y) { return droplet.inside(y); }))
      t = *at, end = FlightEnd::left_target;
    if (const auto at =
            first_crossing(stepper, begin, t, [&](const State& y) { return droplet.above_crop(y); }))
      t = *at, end = FlightEnd::reached_crop;
    if (droplet.wet())
      if (const auto at =
              first_crossing(stepper, begin, t, [&](const State& y) { return droplet.above_core(y); }))
        t = *at, dried = true, end = std::nullopt;
    stepper.calc_state(t, s);
    observe(stepper, begin, t, droplet);

    if (dried) {
      if (input.core_share == 0) {
        end = FlightEnd::evaporated;
        break;
      }
      s[AREA] = droplet.core_area;
      droplet.phase = droplet.relaxed() ? Phase::grain_relaxed : Phase::grain;
      s[TEMPERATURE] = 0;
    }
    bool settled = false;
    if (!end && !droplet.relaxed() && s[AREA] * diameter * diameter < relaxed_diameter * relaxed_diameter) {
      const auto v = droplet.steady_velocity(s);
      settled = std::hypot(s[VX] - v[0], s[VZ] - v[1]) < relaxed_slip;
      if (settled) droplet.phase = droplet.wet() ? Phase::wet_relaxed : Phase::grain_relaxed;
    }
    if (dried || settled) stepper.initialize(s, t, std::min(stepper.current_time_step(), 0.01));
  }

  if (droplet.relaxed()) {
    const auto v = droplet.steady_velocity(s);
    s[VX] = v[0];
    s[VZ] = v[1];
    s[TEMPERATURE] = droplet.steady_temperature(s, v) - film.T_air;
  }
  DropletFlight flight;
  flight.initial_diameter = diameter;
  flight.end = *end;
  flight.dried = !droplet.wet() || *end == FlightEnd::evaporated;
  flight.time = t;
  const double left = *end == FlightEnd::evaporated ? 0
                      : flight.dried                ? input.core_share
                                                    : std::pow(s[AREA], 1.5);
  flight.evaporated = 1 - left;
  flight.airborne = *end == FlightEnd::reached_crop ? left * droplet.missed(s) : left;
  flight.delivered = left - flight.airborne;
  flight.diameter = diameter * std::cbrt(left);
  flight.temperature = film.T_air + s[TEMPERATURE];
  flight.speed = std::hypot(s[VX], s[VZ]);
  flight.angle = std::atan2(s[VX], -s[VZ]);
  flight.offset = droplet.offset(s);
  return flight;
}

constexpr auto unobserved = [](auto&&...) {};

}  // namespace

double drag_factor(double Re, Drag drag) {
  switch (drag) {
    case Drag::schiller_naumann:
      return std::max(1 + 0.15 * std::pow(Re, 0.687), 0.44 / 24 * Re);
    case Drag::clift_gauvin:
      return 1 + 0.152 * std::pow(Re, 0.677) + Re / 24 * 0.417 / (1 + 5070 * std::pow(Re, -0.94));
    case Drag::langmuir_blodgett:
      return langmuir_blodgett_factor(Re);
    case Drag::turton_levenspiel:
      break;
  }
  return 1 + 0.173 * std::pow(Re, 0.657) + Re / 24 * 0.413 / (1 + 16300 * std::pow(Re, -1.09));
}

double sherwood(double Re, double Sc, Ventilation ventilation) {
  const double x = std::sqrt(Re) * std::cbrt(Sc);
  if (ventilation == Ventilation::ranz_marshall) return 2 + 0.6 * x;
  return 2 * (x < 1.4 ? 1 + 0.108 * x * x : 0.78 + 0.308 * x);
}

double terminal_speed(double diameter, const MoistAir& air, Drag drag) {
  return terminal(require_diameter(diameter), Film(air), drag);
}

double stop_distance(double diameter, double speed, const MoistAir& air, Drag drag) {
  require("speed", speed, 0, 200, "m/s");
  const Film film(air);
  const double d = require_diameter(diameter);
  const double Re = film.density * speed * d / film.viscosity;
  // Mean of 1 / factor over 0..Re with Re = Re0 u^3, which evens out Re^0.687; Simpson's rule.
  constexpr int intervals = 64;
  double sum = 0;
  for (int i = 0; i <= intervals; ++i) {
    const double u = static_cast<double>(i) / intervals;
    const double weight = i == 0 || i == intervals ? 1 : i % 2 ? 4 : 2;
    sum += weight * 3 * u * u / drag_factor(Re * u * u * u, drag);
  }
  return film.liquid * d * d / (18 * film.viscosity) * speed * sum / (3 * intervals);
}

double droplet_temperature(const MoistAir& air) { return Film(air).T_drop; }

double evaporation_constant(const MoistAir& air) {
  const Film film(air);
  return std::max(0.0, 8 * film.diffusion / film.liquid * film.drive(film.T_drop));
}

double still_air_lifetime(double diameter, const MoistAir& air, double core_share) {
  require("core_share", core_share, 0, 1, "");
  const double d = require("diameter", diameter, 1e-7, 1e-2, "m"), K = evaporation_constant(air);
  return K > 0 ? d * d * (1 - std::pow(core_share, 2.0 / 3)) / K : std::numeric_limits<double>::infinity();
}

DropletFlight fly(double diameter, const FlightInput& input) {
  check(input);
  require("diameter", diameter, 1e-9, 1e-2, "m");
  return follow(diameter, input, Film(input.air), unobserved);
}

Flight fly(const Spectrum& spectrum, const FlightInput& input) {
  check(spectrum);
  check(input);
  const Film film(input.air);
  Flight flight;
  flight.droplets.reserve(spectrum.diameter.size());
  for (std::size_t i = 0; i < spectrum.diameter.size(); ++i) {
    const double share = spectrum.volume_share[i];
    const DropletFlight& each =
        flight.droplets.emplace_back(follow(spectrum.diameter[i], input, film, unobserved));
    flight.evaporated += share * each.evaporated;
    flight.airborne += share * each.airborne;
    flight.delivered += share * each.delivered;
    if (spectrum.diameter[i] > 1e-3) flight.flattened += share;
  }
  return flight;
}

std::vector<FlightPoint> flight_path(double diameter, const FlightInput& input, double interval) {
  check(input);
  require("diameter", diameter, 1e-9, 1e-2, "m");
  require("interval", interval, 1e-6, 1e5, "s");
  const Film film(input.air);
  std::vector<FlightPoint> path;
  const auto point = [&](double t, const State& s, const Droplet& droplet) {
    double vx = s[VX], vz = s[VZ], T = film.T_air + s[TEMPERATURE];
    if (droplet.relaxed()) {
      const auto v = droplet.steady_velocity(s);
      vx = v[0], vz = v[1];
      T = droplet.steady_temperature(s, v);
    }
    path.push_back({t, s[X], s[Z], std::hypot(vx, vz), diameter * std::sqrt(s[AREA]), T});
  };
  State s{};
  const DropletFlight flight =
      follow(diameter, input, film, [&](Stepper& stepper, double, double end, const Droplet& droplet) {
        for (double t = 0; (t = static_cast<double>(path.size()) * interval) < end;) {
          stepper.calc_state(t, s);
          point(t, s, droplet);
        }
        stepper.calc_state(end, s);
      });
  path.push_back({flight.time, s[X], s[Z], flight.speed, flight.diameter, flight.temperature});
  return path;
}

}  // namespace wetspan
