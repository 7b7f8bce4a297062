#include "wetspan/plant/uptake.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "../require.hpp"
#include "wetspan/plant/substrate.hpp"
#include "wetspan/properties/constants.hpp"

namespace wetspan {
namespace {

constexpr double permeance_stated_at = 298.15;  // K: 25 degC, of the published permeances
constexpr double stated_at = 293.15;            // K: 20 degC, of the inputs solubility and mobile rate

// What a deposit may be followed through: temperatures [K], water [m] and times [s] above 0, up to 300 years.
constexpr double least_temperature = 200.0, most_temperature = 400.0;
constexpr double least_above_zero = std::numeric_limits<double>::min(), most_time = 1e10;

/// exp(-E/R (1/T - 1/T_ref)).
double arrhenius(double energy, double temperature, double reference) {
  return std::exp(-energy / constants::gas_constant * (1.0 / temperature - 1.0 / reference));
}

}  // namespace

double cuticle_permeance(double log_kow, double molar_volume) {
  require_finite("log_kow", log_kow);
  require("molar_volume", molar_volume, 1e-6, 1.0, "m3/mol");
  const double log_partition = 0.057 + 0.970 * log_kow;
  return std::pow(10.0, 238.0 * log_partition / (molar_volume * 1e6) - 12.48);
}

double permeance(const Active& active, const Uptake& uptake, double temperature) {
  return uptake.accelerator * uptake.cuticle * cuticle_permeance(active.log_kow, active.molar_volume) *
         arrhenius(uptake.activation_energy, temperature, permeance_stated_at);
}

double solubility(const Active& active, double temperature) {
  return active.solubility * arrhenius(active.solubility_enthalpy, temperature, stated_at);
}

double most_dissolved(const Active& active, const Uptake& uptake, double temperature) {
  return uptake.supersaturation * solubility(active, temperature);
}

double dissolved(double mass, double water, double most) {
  require_amount("mass", mass);
  require_amount("water", water);
  require_amount("the largest concentration", most);
  return mass < most * water ? mass / water : most;
}

double mobile_rate(const Uptake& uptake, double temperature) {
  return uptake.accelerator * uptake.mobile_rate *
         arrhenius(uptake.activation_energy, temperature, stated_at);
}

double leaf_cuticle(const Uptake& uptake, double growing) {
  return 1.0 + growing * (uptake.growing_cuticle - 1.0);
}

double enters_growing(const Uptake& uptake, double growing) {
  return growing * uptake.growing_cuticle / leaf_cuticle(uptake, growing);
}

double turns_mobile(const Uptake& uptake, double mass) {
  const double z = uptake.mobile_share * mass, most = uptake.wax_capacity;
  return z < most ? z / (1.0 + z / most) : most / (1.0 + most / z);  // neither form overflows
}

double redissolved(double mass, double water, double solubility) {
  require_amount("mass", mass);
  require_amount("water", water);
  require_amount("solubility", solubility);
  return mass > solubility * water ? solubility * water / mass : 1.0;
}

double left_in_liquid(const Active& active, const Uptake& uptake, double mass, double water,
                      double temperature, double wet_time, double elapsed) {
  require_amount("mass", mass);
  require("water", water, least_above_zero, 1.0, "m");
  require("temperature", temperature, least_temperature, most_temperature, "K");
  require("wet_time", wet_time, least_above_zero, most_time, "s");
  require("elapsed", elapsed, 0.0, most_time, "s");
  const double saturated = most_dissolved(active, uptake, temperature) * water;  // content at saturation
  const double k = permeance(active, uptake, temperature) * wet_time / water;
  const double u = std::clamp(1.0 - elapsed / wet_time, 0.0, 1.0);  // remaining share of the depth
  const double full = k * saturated;  // uptake if the liquid is always saturated
  if (k < 1.0) {  // the concentration rises during drying; below the depth u_c the liquid is saturated
    const double u_c = mass < saturated ? std::pow(mass / saturated, 1.0 / (1.0 - k)) : 1.0;
    if (u > u_c) return mass * std::pow(u, k);
    return (mass < saturated ? saturated * u_c : mass) - full * (u_c - u);
  }
  // The concentration falls during drying: a saturated liquid becomes unsaturated at the depth u_c.
  const double u_c = mass < saturated ? 1.0 : mass < full ? (full - mass) / (full - saturated) : 0.0;
  if (u >= u_c) return mass - full * (1.0 - u);
  const double then = mass - full * (1.0 - u_c);
  return then * std::pow(u / u_c, k);
}

Weathered weathered(const Uptake& uptake, const Deposit& deposit, double temperature, double duration) {
  require_finite("a mobile deposit", deposit.mobile);
  require_finite("a locked deposit", deposit.locked);
  require("temperature", temperature, least_temperature, most_temperature, "K");
  require("duration", duration, 0.0, most_time, "s");
  const double taken = -std::expm1(-mobile_rate(uptake, temperature) * duration) * deposit.mobile;
  const double lost = -std::expm1(-uptake.residue_loss * duration) * deposit.locked;
  return {.left = {.mobile = deposit.mobile - taken, .locked = deposit.locked - lost},
          .taken_up = taken,
          .lost = lost};
}

double transpiration_factor(double log_kow, Transpiration correlation) {
  require_finite("log_kow", log_kow);
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
