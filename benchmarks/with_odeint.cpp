// Boost.Odeint used plainly: a vector of doubles, the dense output of dopri5 with its standard controller.
//
//   with_odeint EVENTS TOLERANCE FROM TO

// Boost 1.74's dense output needs the stepper's header before its own.
#include <boost/numeric/odeint/stepper/runge_kutta_dopri5.hpp>

#include <boost/math/tools/toms748_solve.hpp>
#include <boost/numeric/odeint/stepper/controlled_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/dense_output_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/generation.hpp>

#include <cstdint>
#include <exception>
#include <functional>
#include <limits>
#include <string>

#include "equations.hpp"
#include "report.hpp"

namespace {

using namespace benchmark;
namespace odeint = boost::numeric::odeint;
using State = std::vector<double>;

struct System {
  Equations& equations;
  void operator()(const State& y, State& dy, double t) const { equations.rates(y.data(), dy.data(), t); }
};

/// The moment in [from, to] at which `f`, positive at `from` and not at `to`, has its root.
template <class Function>
double moment_of(double from, double to, Function f) {
  const double at_from = f(from), at_to = f(to);
  if (at_to == 0.0) return to;
  if (at_from <= 0.0) return from;
  std::uintmax_t most = 60;
  const auto close = [](double a, double b) { return b - a < 1e-12 * b; };
  return boost::math::tools::toms748_solve(f, from, to, at_from, at_to, close, most).second;
}

Result follow(const Event& event, double tolerance) {
  Equations equations(event);
  const System system{equations};
  State y(state_size), inside(state_size);
  equations.initialize(y);
  auto stepper = odeint::make_dense_output(absolute_share * tolerance, tolerance, longest_step,
                                           odeint::runge_kutta_dopri5<State>());
  stepper.initialize(y, 0.0, 1e-2);
  Result result{.wet_time = std::numeric_limits<double>::infinity()};
  const auto at = [&](double t) -> const State& {
    stepper.calc_state(t, inside);
    return inside;
  };
  while (!equations.finished()) {
    const auto [from, to] = stepper.do_step(std::cref(system));
    if (to > event.last) break;
    const State& ahead = stepper.current_state();
    double until = to;
    std::size_t dried = Equations::liquids;
    for (std::size_t liquid = 0; liquid < Equations::liquids; ++liquid) {
      const std::size_t entry = Equations::entry_of(liquid);
      // once a liquid dries within the step, only one that is dry before that is of interest
      if (!equations.is_wet(liquid) || ahead[entry] >= dried_share) continue;
      if (dried < Equations::liquids && at(until)[entry] >= dried_share) continue;
      until = moment_of(from, until, [&](double t) { return at(t)[entry] - dried_share; });
      dried = liquid;
    }
    const State& now = until < to ? at(until) : ahead;
    if (result.wet_time > until && equations.excess(now.data()) <= 0.0) {
      result.wet_time = moment_of(from, until, [&](double t) { return equations.excess(at(t).data()); });
    }
    if (dried == Equations::liquids) continue;
    y = at(until);
    equations.dry_out(dried, y.data());
    stepper.initialize(y, until, std::max(1e-3, to - from));
  }
  result.evaluations = equations.evaluations;
  return result;
}

}  // namespace

int main(int count, char** arguments) try {
  if (count != 5) throw std::runtime_error("with_odeint EVENTS TOLERANCE FROM TO");
  const auto events = read_events(arguments[1], std::stoul(arguments[3]), std::stoul(arguments[4]));
  const double tolerance = std::stod(arguments[2]);
  time_events(events, [&](const Event& event) { return follow(event, tolerance); });
  return 0;
} catch (const std::exception& error) {
  std::fprintf(stderr, "with_odeint: %s\n", error.what());
  return 2;
}
