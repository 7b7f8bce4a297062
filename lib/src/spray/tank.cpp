#include "wetspan/spray/tank.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdio>
#include <string>
#include <string_view>

#include "wetspan/errors.hpp"

namespace wetspan {
namespace {

/// Relative rounding error of `used` (from a conversion of units) within which all of the mix was used [1].
constexpr double same_volume = 1e-9;
/// A last fill below this share of a full one is a rounding error, not a fill [1].
constexpr double no_fill = 1e-12;
constexpr double most_fills = 1e9;               // of a tank; a count of them has to be an int
constexpr double extreme = 1e12;                 // no amount in SI is larger, nor the inverse of one
constexpr double litres = 1000.0;                // litres in a m3
constexpr double milligrams_per_litre = 1000.0;  // milligrams per litre in a kg/m3

std::string told(double value, std::string_view unit) {
  char text[64];
  std::snprintf(text, sizeof text, "%.4g ", value);
  return text + std::string(unit);
}

double above_zero(std::string_view name, double value, std::string_view unit) {
  if (value >= 1.0 / extreme && value <= extreme) return value;
  if (value > 0.0 && std::isfinite(value))
    throw InputError(std::string(name) + " = " + told(value, unit) + " is not allowed: it must be within " +
                     told(1.0 / extreme, "to ") + told(extreme, unit));
  throw InputError(std::string(name) + " = " + told(value, unit) +
                   " is not allowed: it must be above zero and finite");
}

double a_share(double strength) {
  above_zero("strength", strength, "kg/kg");
  if (strength > 1.0)
    throw InputError("strength = " + told(strength, "kg/kg") + " is more active ingredient than product");
  return strength;
}

void check(const Concentrate& product) {
  if (!product.concentration && !product.mass_share)
    throw InputError("a product has a strength, by volume or by mass");
  if (product.concentration) above_zero("the product's concentration", *product.concentration, "kg/m3");
  if (product.mass_share) a_share(*product.mass_share);
}

void check(const Destination& on) {
  if (on.area) above_zero("area", *on.area, "m2");
  if (on.pots && *on.pots < 1)
    throw InputError("pots = " + std::to_string(*on.pots) + " is not a whole number of pots, 1 or more");
}

double strength_of(const Concentrate& product) {
  return product.concentration ? *product.concentration : *product.mass_share;
}

void require_dilution(const Concentrate& product, double concentration) {
  if (product.is_powder() || concentration < *product.concentration) return;
  throw InputError(told(concentration * milligrams_per_litre, "mg/L") + " is not below the product's own " +
                   told(*product.concentration * milligrams_per_litre, "mg/L") +
                   ": it cannot be mixed from it");
}

TankMix tank_mix(const Concentrate& product, double concentration, double final_volume, double used,
                 const Destination& on, double tank) {
  require_dilution(product, concentration);
  const double strength = strength_of(product);
  const auto measure = [&](double volume) { return volume * concentration / strength; };
  TankMix result;
  result.concentration = concentration;
  result.product = measure(final_volume);
  if (!product.is_powder()) result.water = final_volume * (1.0 - concentration / strength);
  result.final_volume = final_volume;
  result.used_volume = used;
  result.active_ingredient = used * concentration;
  if (on.area) {
    result.area = on.area;
    result.volume_rate = used / *on.area;
    result.active_per_area = used * concentration / *on.area;
  }
  if (on.pots) {
    result.pots = on.pots;
    result.volume_per_pot = used / *on.pots;
    result.active_per_pot = used * concentration / *on.pots;
  }
  result.fill_volume = std::min(tank, final_volume);
  const double fills = std::max(1.0, std::ceil(final_volume / result.fill_volume * (1.0 - no_fill)));
  if (!(fills < most_fills))
    throw InputError("a tank of " + told(tank * litres, "L") + " would have to be filled " +
                     told(fills, "times"));
  result.fills = static_cast<int>(fills);
  result.product_per_fill = measure(result.fill_volume);
  result.last_fill_volume = final_volume - (result.fills - 1) * result.fill_volume;
  result.product_in_last_fill = measure(result.last_fill_volume);
  return result;
}

/// Active ingredient in an amount of product [kg], and the volume of the product [m3], 0 for a powder.
struct Contents {
  double active, volume;
};

Contents contents(const Concentrate& product, const ProductAmount& amount) {
  if (amount.volume.has_value() == amount.mass.has_value())
    throw InputError("give the amount of product either by volume or by mass");
  if (amount.volume) {
    above_zero("amount", *amount.volume, "m3");
    if (product.is_powder()) throw InputError("a powder is weighed: give the amount by mass");
    return {*amount.volume * *product.concentration, *amount.volume};
  }
  above_zero("amount", *amount.mass, "kg");
  if (!product.mass_share)
    throw InputError("the amount is a mass, and the product's density is not known: give a volume");
  const double active = *amount.mass * *product.mass_share;
  return {active, product.is_powder() ? 0.0 : active / *product.concentration};
}

}  // namespace

Concentrate liquid_by_volume(double strength, std::optional<double> density) {
  above_zero("strength", strength, "kg/m3");
  if (!density) return {strength, std::nullopt};
  above_zero("density", *density, "kg/m3");
  return {strength, a_share(strength / *density)};
}

Concentrate liquid_by_mass(double strength, double density) {
  above_zero("density", density, "kg/m3");
  return {a_share(strength) * density, strength};
}

Concentrate powder(double strength) { return {std::nullopt, a_share(strength)}; }

double volume_over_area(double volume_rate, double area) {
  return above_zero("volume_rate", volume_rate, "m") * above_zero("area", area, "m2");
}

double volume_for_pots(double volume_per_pot, int pots) {
  check(Destination{std::nullopt, pots});
  return above_zero("volume_per_pot", volume_per_pot, "m3") * pots;
}

double usual_drench_volume(double diameter) {
  constexpr std::array diameters{0.10, 0.125, 0.15, 0.25};     // [m]
  constexpr std::array volumes{59e-6, 89e-6, 118e-6, 444e-6};  // [m3]
  above_zero("the pot's diameter", diameter, "m");
  const auto beyond = [&](std::size_t end) {
    const double ratio = diameter / diameters[end];
    return volumes[end] * ratio * ratio;
  };
  if (diameter <= diameters.front()) return beyond(0);
  if (diameter >= diameters.back()) return beyond(diameters.size() - 1);
  std::size_t i = 1;
  while (diameters[i] < diameter) ++i;
  const double share = (diameter - diameters[i - 1]) / (diameters[i] - diameters[i - 1]);
  return volumes[i - 1] + share * (volumes[i] - volumes[i - 1]);
}

double concentration_for_dose(double dose, double volume_per_pot) {
  return above_zero("dose", dose, "kg") / above_zero("volume_per_pot", volume_per_pot, "m3");
}

TankMix mix(const Concentrate& product, double concentration, double final_volume, const Destination& on,
            std::optional<double> tank) {
  check(product);
  check(on);
  above_zero("concentration", concentration, "kg/m3");
  above_zero("final_volume", final_volume, "m3");
  const double holds = tank ? above_zero("tank", *tank, "m3") : final_volume;
  return tank_mix(product, concentration, final_volume, final_volume, on, holds);
}

TankMix applied(const Concentrate& product, const ProductAmount& amount, const MadeUp& made,
                std::optional<double> used, const Destination& on) {
  check(product);
  check(on);
  const auto [active, own_volume] = contents(product, amount);
  if (made.water.has_value() == made.final_volume.has_value())
    throw InputError(
        "give either water (what the product was added to) or final_volume (what it was made up to)");
  const double volume = made.water ? above_zero("water", *made.water, "m3") + own_volume
                                   : above_zero("final_volume", *made.final_volume, "m3");
  if (volume <= own_volume)
    throw InputError("final_volume = " + told(volume * litres, "L") + " is less than the product alone, " +
                     told(own_volume * litres, "L"));
  const double put_out = used ? above_zero("used", *used, "m3") : volume;
  if (put_out > volume * (1.0 + same_volume))
    throw InputError("used = " + told(put_out * litres, "L") + " is more than was mixed, " +
                     told(volume * litres, "L"));
  return tank_mix(product, active / volume, volume, put_out, on, volume);
}

double undissolved(double concentration, double solubility) {
  for (const double value : {concentration, solubility}) {
    if (!(value >= 0.0 && std::isfinite(value)))
      throw InputError("a concentration and a solubility are finite, at least 0 kg/m3; one is " +
                       told(value, "kg/m3"));
  }
  return std::max(0.0, concentration - solubility);
}

double reading_error(double amount, double division) {
  return above_zero("division", division, "") / above_zero("amount", amount, "") / 2.0;
}

}  // namespace wetspan
