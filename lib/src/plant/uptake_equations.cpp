#include "uptake_equations.hpp"

#include <cmath>

#include "wetspan/plant/uptake.hpp"

namespace wetspan {

UptakeTerms<double> uptake_terms(const Active& active, const Uptake& uptake) {
  // exp(a - b / T) through the value at one temperature
  constexpr double reference = 298.15;  // [K]
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

}  // namespace wetspan
