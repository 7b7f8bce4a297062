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
  through(terms.permeance, uptake.activation_energy, permeance(active, uptake, reference));
  through(terms.solubility, active.solubility_enthalpy, solubility(active, reference));
  return terms;
}

DepositTerms<double> deposit_terms(double fresh, double liquid, double cover, double wet_to_dry) {
  DepositTerms<double> terms{};
  if (!(fresh > 0.0)) return terms;
  terms.takes_up = 1.0;
  terms.fresh = fresh;
  if (cover > 0.0 && liquid > 0.0) {
    terms.dilute = fresh / liquid;
    terms.residue = cover / (fresh * wet_to_dry);
  }
  return terms;
}

}  // namespace wetspan
