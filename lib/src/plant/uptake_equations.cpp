#include "uptake_equations.hpp"

#include <algorithm>
#include <cmath>

#include "../root.hpp"

#include "wetspan/plant/uptake.hpp"

namespace wetspan {
namespace {

/// A rate during a step, as a parabola through its values at 0, 1/2 and 1 of the step.
class Parabola {
 public:
  explicit Parabola(const std::array<double, 3>& at)
      : constant_(at[0]),
        linear_(-3.0 * at[0] + 4.0 * at[1] - at[2]),
        square_(2.0 * at[0] - 4.0 * at[1] + 2.0 * at[2]) {}

  double at(double x) const { return std::max(0.0, constant_ + x * (linear_ + x * square_)); }
  double integral(double from, double to) const {
    const auto primitive = [&](double x) {
      return x * (constant_ + x * (linear_ / 2.0 + x * square_ / 3.0));
    };
    return std::max(0.0, primitive(to) - primitive(from));
  }

 private:
  double constant_, linear_, square_;
};

}  // namespace

UptakeTerms<double> uptake_terms(const Active& active, const Uptake& uptake) {
  constexpr double reference = 298.15;  // temperature at which exp(a - b / T) takes the law's value [K]
  UptakeTerms<double> terms{};
  const auto through = [](double (&of)[2], double energy, double value) {
    of[1] = energy / constants::gas_constant;
    of[0] = std::log(value) + of[1] / reference;
  };
  const double permeance_there = permeance(active, uptake, reference);
  through(terms.permeance, uptake.activation_energy, permeance_there);
  through(terms.most_dissolved, active.solubility_enthalpy, most_dissolved(active, uptake, reference));
  terms.mobile_over_permeance = mobile_rate(uptake, reference) / permeance_there;
  return terms;
}

double liquid_after(double left, const std::array<double, 3>& dissolved,
                    const std::array<double, 3>& saturated, double time) {
  constexpr int most_changes = 4;     // between unsaturated and saturated, within a step
  constexpr double tolerance = 1e-9;  // of the time of a change, over the step
  const Parabola empties(dissolved), flows(saturated);
  double place = 0.0;  // within the step
  bool full = dissolved[0] * left > saturated[0];
  for (int changes = 0; place < 1.0 && left > 0.0; ++changes) {
    const auto after = [&](double x) {
      return full ? left - time * flows.integral(place, x)
                  : left * std::exp(-time * empties.integral(place, x));
    };
    const auto over = [&](double x) { return empties.at(x) * after(x) - flows.at(x); };  // above 0: saturated
    double until = 1.0;
    for (const double x : {0.5 * (place + 1.0), 1.0}) {
      if (changes == most_changes || (over(x) > 0.0) == full) continue;
      const double here = over(place);
      until = (here > 0.0) == full
                  ? narrowed({.from = place, .to = x, .at_from = here, .at_to = over(x)}, tolerance, over).to
                  : place;
      break;
    }
    left = std::max(0.0, after(until));
    place = until;
    full = !full;
  }
  return left;
}

}  // namespace wetspan
