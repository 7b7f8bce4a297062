#include "wetspan/plant/uptake.hpp"

#include <algorithm>
#include <cmath>

#include "wetspan/plant/substrate.hpp"
#include "wetspan/properties/constants.hpp"

namespace wetspan {
namespace {

/// exp(-E/R (1/T - 1/T_ref)).
double arrhenius(double energy, double temperature, double reference) {
  return std::exp(-energy / constants::gas_constant * (1.0 / temperature - 1.0 / reference));
}

}  // namespace

double cuticle_permeance(double log_kow, double molar_volume) {
  const double log_partition = 0.057 + 0.970 * log_kow;
  return std::pow(10.0, 238.0 * log_partition / (molar_volume * 1e6) - 12.48);
}

double permeance(const Active& active, const Uptake& uptake, double temperature) {
  return uptake.cuticle * cuticle_permeance(active.log_kow, active.molar_volume) *
         arrhenius(uptake.activation_energy, temperature, 298.15);
}

double solubility(const Active& active, double temperature) {
  return active.solubility * arrhenius(active.solubility_enthalpy, temperature, 293.15);
}

double dissolved(double mass, double water, double solubility) {
  return mass < solubility * water ? mass / water : solubility;
}

double residue_rate(double permeance, double concentration, double mass, double wet_to_dry) {
  return permeance * concentration / mass / wet_to_dry;
}

double transpiration_factor(double log_kow, Transpiration correlation) {
  const auto bell = [&](double height, double centre, double width) {
    return height * std::exp(-(log_kow - centre) * (log_kow - centre) / width);
  };
  return correlation == Transpiration::briggs ? bell(0.784, 1.78, 2.44) : bell(0.756, 2.50, 2.58);
}

RootUptake root_uptake(const Active& active, const Uptake& uptake, const Substrate& substrate,
                       double duration, Supply supply, double availability) {
  const double up = availability * uptake.water_use *
                    transpiration_factor(active.log_kow, uptake.transpiration) /
                    pot_capacity(substrate, active);
  const double rate = up + active.loss_rate, x = rate * duration;
  // what has left the substrate: 1 - exp(-x), or its mean over the time of supply
  double gone = -std::expm1(-x);
  if (supply == Supply::evenly) gone = x > 1e-4 ? 1.0 - gone / x : 0.5 * x * (1.0 - x / 3.0);
  const double root = rate > 0.0 ? gone * up / rate : 0.0;
  return {.root = root, .lost = gone - root, .left = 1.0 - gone, .rate = rate};
}

}  // namespace wetspan
