#include "wetspan/spray/flight.hpp"

#include <algorithm>
#include <boost/numeric/odeint/algebra/array_algebra.hpp>
#include <boost/numeric/odeint/stepper/controlled_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/dense_output_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/generation.hpp>
#include <boost/numeric/odeint/stepper/runge_kutta_dopri5.hpp>
#include <cmath>
#include <optional>
#include <sstream>

#include "../require.hpp"
#include "../root.hpp"
#include "flight_equations.hpp"
#include "flight_kernel.hpp"
#include "flight_range.hpp"

namespace wetspan {
namespace {

using flight::Ending;

constexpr double flattens = 1e-3;  // [m]: larger drops fall more slowly than a sphere

/// All laws of drag and ventilation, and the saturation pressure, by their published formulas.
struct PublishedLaws {
  const FlightInput& input;
  const Film& film;

  static double exponential(double x) { return std::exp(x); }
  double drag_factor(double Re) const { return wetspan::drag_factor(Re, input.drag); }
  double transfer(double Re, double cbrt_Sc) const {
    return sherwood_at(std::sqrt(Re) * cbrt_Sc, input.ventilation);
  }
  double drive(double T) const { return film.drive(T); }
  double terminal_speed(double area, double d0) const {
    return wetspan::terminal_speed(d0 * std::sqrt(area), film, input.drag);
  }
};

using Droplet = DropletEquations<Lanes<1>, PublishedLaws>;
using State = Droplet::State;
using Pair = boost::numeric::odeint::runge_kutta_dopri5<State, double, State, double,
                                                        boost::numeric::odeint::array_algebra>;
using Stepper =
    boost::numeric::odeint::dense_output_runge_kutta<boost::numeric::odeint::controlled_runge_kutta<Pair>>;

/// First time in (begin, end] at which `distance` of the state is no longer positive, on the stepper's dense
/// output; empty if it is still positive at the end.
template <class Distance>
std::optional<double> first_crossing(Stepper& stepper, double begin, double end, Distance distance) {
  const auto distance_at = [&](double t) {
    State s;
    stepper.calc_state(t, s);
    return distance(s);
  };
  const double at_begin = distance_at(begin), at_end = distance_at(end);
  if (at_end > 0) return std::nullopt;
  if (!(at_begin > 0)) return begin;
  return narrowed({.from = begin, .to = end, .at_from = at_begin, .at_to = at_end}, flight::to_rounding * end,
                  distance_at)
      .to;
}

/// The first event within a step: its time, and whether the droplet dries or its flight ends.
struct Meeting {
  double time;
  bool dries = false;
  std::optional<FlightEnd> end = std::nullopt;
};

Meeting first_met(Stepper& stepper, const Droplet& droplet, double begin, double reached) {
  Meeting met{reached};
  if (met.time > droplet.input.longest) met = {droplet.input.longest, false, FlightEnd::still_aloft};
  const auto meet = [&](auto distance, const Meeting& what) {
    if (const auto at = first_crossing(stepper, begin, met.time, distance)) met = what, met.time = *at;
  };
  meet([&](const State& s) { return droplet.inside(s); }, {0.0, false, FlightEnd::left_target});
  meet([&](const State& s) { return s[Z]; }, {0.0, false, FlightEnd::reached_crop});
  if (!droplet.wet) return met;
  const bool with_core = droplet.input.core_share > 0;
  meet([&](const State& s) { return droplet.above_core(s); },
       {0.0, true, with_core ? std::nullopt : std::optional(FlightEnd::evaporated)});
  return met;
}

[[noreturn]] void give_up(const Stepper& stepper, double diameter) {
  std::ostringstream message;
  message << "the flight of a droplet of " << diameter << " m stopped at " << stepper.previous_time()
          << " s, height " << stepper.previous_state()[Z]
          << " m; look at exit_speed, jet_length and tolerance";
  throw IntegrationError(message.str());
}

/// Integrates the flight of a droplet from its release. `observe(stepper, begin, end, droplet)` is called for
/// each step, up to its end or to an event.
template <class Observe>
Ending follow(Droplet droplet, Observe observe) {
  const FlightInput& input = droplet.input;
  State s = droplet.at_nozzle();
  double t = 0;
  Stepper stepper = boost::numeric::odeint::make_dense_output(input.tolerance, input.tolerance,
                                                              flight::longest_step, Pair());
  stepper.initialize(s, t, droplet.first_step());
  const auto rates = [&](const State& y, State& rate, double /*t*/) { droplet.rates(y, rate); };
  for (int step = 0;; ++step) {
    const auto [begin, reached] = stepper.do_step(rates);
    if (step == flight::most_steps || !std::isfinite(stepper.current_state()[Z])) {
      give_up(stepper, droplet.d0);
    }
    const Meeting met = first_met(stepper, droplet, begin, reached);
    t = met.time;
    stepper.calc_state(t, s);
    observe(stepper, begin, t, droplet);
    if (met.end) return {s, t, *met.end, droplet.wet, droplet.relaxed, true};
    if (met.dries) {
      s[AREA] = droplet.core_area, s[TEMPERATURE] = 0;
      droplet.wet = false;
    }
    const bool settled = droplet.small(s) && droplet.settled(s);
    if (settled) droplet.relaxed = true;
    if (met.dries || settled) {
      stepper.initialize(s, t, std::min(stepper.current_time_step(), flight::longest_first_step));
    }
  }
}

/// Converts the end of a flight to a result.
DropletFlight read(const Ending& ending, Droplet droplet) {
  const FlightInput& input = droplet.input;
  const double T_air = droplet.film.T_air;
  State s = ending.state;
  droplet.wet = ending.wet, droplet.relaxed = ending.relaxed;
  if (droplet.relaxed) {
    const auto v = droplet.steady_velocity(s);
    s[VX] = v.x;
    s[VZ] = v.z;
    s[TEMPERATURE] = droplet.steady_temperature(s, v) - T_air;
  }
  DropletFlight flight;
  flight.initial_diameter = droplet.d0;
  flight.end = ending.end;
  flight.dried = !droplet.wet || ending.end == FlightEnd::evaporated;
  flight.time = ending.time;
  const double left = ending.end == FlightEnd::evaporated ? 0
                      : flight.dried                      ? input.core_share
                                                          : std::pow(s[AREA], 1.5);
  flight.evaporated = 1 - left;
  flight.airborne = ending.end == FlightEnd::reached_crop ? left * droplet.missed(s) : left;
  flight.delivered = left - flight.airborne;
  flight.diameter = droplet.d0 * std::cbrt(left);
  flight.temperature = T_air + s[TEMPERATURE];
  flight.speed = std::hypot(s[VX], s[VZ]);
  flight.angle = std::atan2(s[VX], -s[VZ]);
  flight.offset = droplet.offset(s);
  const Film& film = droplet.film;
  flight.heat = film.liquid * (film.latent_heat * flight.evaporated -
                               film.heat_capacity * (input.liquid_excess - s[TEMPERATURE]));
  return flight;
}

constexpr auto unobserved = [](auto&&...) {};

void check(const FlightInput& in) {
  require("cross_draught", in.cross_draught, -most_draught, most_draught, "m/s");
  require("height", in.height, 0.02, 200, "m");
  require("exit_speed", in.exit_speed, 0, 100, "m/s");
  require("angle", in.angle, -1.4, 1.4, "rad");
  require("jet_length", in.jet_length, 0, longest_jet, "m");
  require("jet_spread", in.jet_spread, 0.02, 2, "");
  require("target_half_width", in.target_half_width, 0.01, 1000, "m");
  require("core_share", in.core_share, 0, 1, "");
  require("liquid_excess", in.liquid_excess, -30, 30, "K");
  require("longest", in.longest, 1, 1e5, "s");
  require("tolerance", in.tolerance, finest_flight, coarsest_flight, "");
}

}  // namespace

namespace flight {

extern const Kernel baseline_flights;
#ifdef WETSPAN_X86_KERNELS
extern const Kernel avx2_flights, avx512_flights;
#endif

const Kernel& kernel(Instructions instructions) {
#ifdef WETSPAN_X86_KERNELS
  if (instructions == Instructions::avx2) return avx2_flights;
  if (instructions == Instructions::avx512) return avx512_flights;
#endif
  (void)instructions;
  return baseline_flights;
}

bool for_kernel(const FlightInput& input) {
  constexpr double finest = 1e-8;  // smallest tolerance for which the fitted laws are accurate enough
  const FlightInput by_default;
  return input.drag == by_default.drag && input.ventilation == by_default.ventilation &&
         input.tolerance >= finest && input.air.temperature + input.liquid_excess <= AirFits::hottest;
}

}  // namespace flight

DropletFlight fly(double diameter, const FlightInput& input) {
  check(input);
  require("diameter", diameter, 1e-9, 1e-2, "m");
  const Film film(input.air);
  const PublishedLaws laws{input, film};
  const Droplet droplet(input, film, laws, diameter);
  return read(follow(droplet, unobserved), droplet);
}

Flight fly(const Spectrum& spectrum, const FlightInput& input, std::optional<Instructions> instructions) {
  check(spectrum);
  check(input);
  if (instructions) require_instructions(*instructions);
  const Film film(input.air);
  const PublishedLaws laws{input, film};
  std::vector<Ending> endings(spectrum.diameter.size());  // not computed yet
  if (flight::for_kernel(input)) {
    flight::kernel(instructions.value_or(instructions_here().back()))
        .follow(input, film, air_fits(), flight::fall_fit(), spectrum.diameter, endings);
  }
  Flight flight;
  flight.droplets.reserve(spectrum.diameter.size());
  for (std::size_t i = 0; i < spectrum.diameter.size(); ++i) {
    const Droplet droplet(input, film, laws, spectrum.diameter[i]);
    if (!endings[i].followed) endings[i] = follow(droplet, unobserved);
    const double share = spectrum.volume_share[i];
    const DropletFlight& each = flight.droplets.emplace_back(read(endings[i], droplet));
    flight.evaporated += share * each.evaporated;
    flight.airborne += share * each.airborne;
    flight.delivered += share * each.delivered;
    flight.heat += share * each.heat;
    if (spectrum.diameter[i] > flattens) flight.flattened += share;
  }
  return flight;
}

std::vector<FlightPoint> flight_path(double diameter, const FlightInput& input, double interval) {
  check(input);
  require("diameter", diameter, 1e-9, 1e-2, "m");
  require("interval", interval, 1e-6, 1e5, "s");
  const Film film(input.air);
  const PublishedLaws laws{input, film};
  std::vector<FlightPoint> path;
  const auto point = [&](double t, const State& s, const Droplet& droplet) {
    double vx = s[VX], vz = s[VZ], T = film.T_air + s[TEMPERATURE];
    if (droplet.relaxed) {
      const auto v = droplet.steady_velocity(s);
      vx = v.x, vz = v.z;
      T = droplet.steady_temperature(s, v);
    }
    path.push_back({t, s[X], s[Z], std::hypot(vx, vz), diameter * std::sqrt(s[AREA]), T});
  };
  State s{};
  const Droplet released(input, film, laws, diameter);
  const auto note = [&](Stepper& stepper, double, double end, const Droplet& droplet) {
    for (double t = 0; (t = static_cast<double>(path.size()) * interval) < end;) {
      stepper.calc_state(t, s);
      point(t, s, droplet);
    }
    stepper.calc_state(end, s);
  };
  const DropletFlight flight = read(follow(released, note), released);
  path.push_back({flight.time, s[X], s[Z], flight.speed, flight.diameter, flight.temperature});
  return path;
}

}  // namespace wetspan
