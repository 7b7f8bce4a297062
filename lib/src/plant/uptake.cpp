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
  return uptake.accelerator * uptake.cuticle * cuticle_permeance(active.log_kow, active.molar_volume) *
         arrhenius(uptake.activation_energy, temperature, 298.15);
}

double solubility(const Active& active, double temperature) {
  return active.solubility * arrhenius(active.solubility_enthalpy, temperature, 293.15);
}

double most_dissolved(const Active& active, const Uptake& uptake, double temperature) {
  return uptake.supersaturation * solubility(active, temperature);
}

double dissolved(double mass, double water, double most) { return mass < most * water ? mass / water : most; }

double mobile_rate(const Uptake& uptake, double temperature) {
  return uptake.accelerator * uptake.mobile_rate * arrhenius(uptake.activation_energy, temperature, 293.15);
}

double turns_mobile(const Uptake& uptake, double mass) {
  const double z = uptake.mobile_share * mass, most = uptake.wax_capacity;
  return z < most ? z / (1.0 + z / most) : most / (1.0 + most / z);  // whatever their size
}

double redissolved(double mass, double water, double solubility) {
  return mass > solubility * water ? solubility * water / mass : 1.0;
}

Weathered weathered(const Uptake& uptake, const Deposit& deposit, double temperature, double duration) {
  const double taken = -std::expm1(-mobile_rate(uptake, temperature) * duration) * deposit.mobile;
  const double lost = -std::expm1(-uptake.residue_loss * duration) * deposit.locked;
  return {.left = {.mobile = deposit.mobile - taken, .locked = deposit.locked - lost},
          .taken_up = taken,
          .lost = lost};
}

double transpiration_factor(double log_kow, Transpiration correlation) {
  const auto bell = [&](double height, double centre, double width) {
    return height * std::exp(-(log_kow - centre) * (log_kow - centre) / width);
  };
  return correlation == Transpiration::briggs ? bell(0.784, 1.78, 2.44) : bell(0.756, 2.50, 2.58);
}

RootRates root_rates(const Active& active, const Uptake& uptake, const Substrate& substrate) {
  return {.up = uptake.water_use * transpiration_factor(active.log_kow, uptake.transpiration) /
                pot_capacity(substrate, active),
          .loss = active.loss_rate};
}

}  // namespace wetspan
