#include "wetspan/properties/air.hpp"

#include <algorithm>
#include <cmath>
#include <sstream>

#include "../require.hpp"
#include "../root.hpp"
#include "wetspan/errors.hpp"

namespace wetspan::air {
namespace {

using constants::gas_constant;
using constants::gas_constant_dry_air;
using constants::gas_constant_water;
using constants::molar_mass_dry_air;
using constants::molar_mass_ratio;
using constants::molar_mass_water;
using constants::standard_atmosphere;
using constants::zero_celsius;

constexpr double coldest = 173.15, hottest = 473.15;  // [K], range of the saturation curve

// ln p_s = c1/T + c2 + c3 T + c4 T^2 + c5 T^3 + c6 T^4 + c7 ln T with p_s in Pa and T in K:
// Hyland & Wexler 1983, coefficients as in ASHRAE 2017 ch. 1 (evidence grade B).
struct SaturationCurve {
  double c1, c2, c3, c4, c5, c6, c7;

  double pressure(double T) const {
    return std::exp(c1 / T + c2 + T * (c3 + T * (c4 + T * (c5 + T * c6))) + c7 * std::log(T));
  }
  double log_slope(double T) const {
    return -c1 / (T * T) + c3 + T * (2 * c4 + T * (3 * c5 + T * 4 * c6)) + c7 / T;
  }
};
constexpr SaturationCurve over_ice{-5.6745359e3, 6.3925247,      -9.6778430e-3, 6.2215701e-7,
                                   2.0747825e-9, -9.4840240e-13, 4.1635019};
constexpr SaturationCurve over_water{-5.8002206e3,  1.3914993, -4.8640239e-2, 4.1764768e-5,
                                     -1.4452093e-8, 0.0,       6.5459673};

const SaturationCurve& saturation_curve(double T) { return T < zero_celsius ? over_ice : over_water; }

template <typename... Parts>
[[noreturn]] void refuse(const Parts&... parts) {
  std::ostringstream message;
  (message << ... << parts);
  throw InputError(message.str());
}

// The temperature [K] on [low, high] at which the increasing function f is 0; `high` where rounding leaves f
// below 0 even there.
template <typename Function>
double rising_root(double low, double high, Function f) {
  constexpr double tolerance = 1e-10;  // of a temperature that is searched for [K]
  const Bracket<double> whole{.from = low, .to = high, .at_from = f(low), .at_to = f(high)};
  return whole.at_to < 0.0 ? high : narrowed(whole, tolerance, f).to;
}

// Constants of the ASHRAE psychrometric equation (2017 eq. 33 for a wet bulb, 35 for an iced one): latent
// heat at 0 C [J/kg], its decrease with wet-bulb temperature, and the specific heat of the water or ice on
// the bulb [J/(kg K)] (grade B).
struct Bulb {
  double latent_heat, latent_heat_fall, specific_heat_cover;
  const SaturationCurve& curve;

  double humidity_ratio(double T, double Twb, double P) const {
    const double t = T - zero_celsius, t_wet = Twb - zero_celsius, e = curve.pressure(Twb);
    const double w_wet = molar_mass_ratio * e / (P - e);
    return ((latent_heat - latent_heat_fall * t_wet) * w_wet - specific_heat_dry_air * (t - t_wet)) /
           (latent_heat + specific_heat_vapour * t - specific_heat_cover * t_wet);
  }
};
constexpr Bulb wet_cover{2501e3, 2326.0, 4186.0, over_water};
constexpr Bulb iced_cover{2830e3, 240.0, 2100.0, over_ice};

}  // namespace

double saturation_pressure(double T) { return saturation_curve(T).pressure(T); }

double saturation_pressure_slope(double T) {
  const SaturationCurve& curve = saturation_curve(T);
  return curve.pressure(T) * curve.log_slope(T);
}

double vapour_density(double e, double T) { return e / (gas_constant_water * T); }

double saturation_vapour_density(double T) { return vapour_density(saturation_pressure(T), T); }

double vapour_pressure_from_density(double rho_v, double T) { return rho_v * gas_constant_water * T; }

double vapour_pressure(double rh, double T) { return rh * saturation_pressure(T); }

double relative_humidity(double e, double T) { return e / saturation_pressure(T); }

double humidity_ratio(double e, double P) { return molar_mass_ratio * e / (P - e); }

double saturation_humidity_ratio(double T, double P) { return humidity_ratio(saturation_pressure(T), P); }

double vapour_pressure_from_humidity_ratio(double w, double P) { return P * w / (molar_mass_ratio + w); }

double humidity_ratio_from_wet_bulb(double T, double Twb, double P) {
  return (Twb < zero_celsius ? iced_cover : wet_cover).humidity_ratio(T, Twb, P);
}

double dew_point(double e) {
  const double e_low = over_ice.pressure(coldest), e_high = over_water.pressure(hottest);
  constexpr double rounding = 1e-12;
  require("dew point: vapour pressure e", e, e_low * (1.0 - rounding), e_high * (1.0 + rounding), "Pa");
  e = std::clamp(e, e_low, e_high);

  const auto solve = [e](const SaturationCurve& curve, double low, double high) {
    return rising_root(low, high, [&](double T) { return std::log(curve.pressure(T) / e); });
  };
  if (e >= over_water.pressure(zero_celsius)) return solve(over_water, zero_celsius, hottest);
  if (e <= over_ice.pressure(zero_celsius)) return solve(over_ice, coldest, zero_celsius);
  return zero_celsius;
}

double wet_bulb(double T, double e, double P) {
  require("wet bulb: air temperature T", T, coldest, hottest, "K");
  const double e_saturated = saturation_pressure(T);
  if (!(P > e_saturated && std::isfinite(P)))
    refuse("wet bulb: air pressure P = ", P, " Pa must be finite and above the saturation pressure, ",
           e_saturated, " Pa at T = ", T, " K");
  constexpr double rounding = 1e-12;  // a saturated state may exceed saturation by rounding errors
  if (!(e >= 0 && e <= e_saturated * (1 + rounding)))
    refuse("wet bulb: vapour pressure e = ", e, " Pa is outside 0..", e_saturated,
           " Pa, saturation at T = ", T, " K");
  if (e >= e_saturated) return T;

  const double w = humidity_ratio(e, P);
  const auto solve = [&](const Bulb& bulb, double low, double high) {
    return rising_root(low, high, [&](double Twb) { return bulb.humidity_ratio(T, Twb, P) - w; });
  };
  if (T >= zero_celsius && wet_cover.humidity_ratio(T, zero_celsius, P) <= w)
    return solve(wet_cover, zero_celsius, T);
  constexpr double below_any_bulb = 100.0;  // [K], for the bracket only
  return solve(iced_cover, below_any_bulb, std::min(T, zero_celsius));
}

double wet_bulb_stull(double T, double rh) {
  const double t = T - zero_celsius, r = 100.0 * rh;
  return zero_celsius + t * std::atan(0.151977 * std::sqrt(r + 8.313659)) + std::atan(t + r) -
         std::atan(r - 1.676331) + 0.00391838 * r * std::sqrt(r) * std::atan(0.023101 * r) - 4.686035;
}

double enthalpy(double T, double w) {
  const double t = T - zero_celsius;
  return specific_heat_dry_air * t + w * (2501e3 + specific_heat_vapour * t);
}

double specific_heat(double w) { return (specific_heat_dry_air + specific_heat_vapour * w) / (1.0 + w); }

double density(double T, double e, double P) {
  return ((P - e) * molar_mass_dry_air + e * molar_mass_water) / (gas_constant * T);
}

double specific_volume(double T, double w, double P) {
  return gas_constant_dry_air * T * (1.0 + w / molar_mass_ratio) / P;
}

double virtual_temperature(double T, double e, double P) {
  return T / (1.0 - (1.0 - molar_mass_ratio) * e / P);
}

double psychrometric_constant(double P, double latent_heat, double specific_heat) {
  return specific_heat * P / (molar_mass_ratio * latent_heat);
}

double standard_atmosphere_pressure(double altitude) {
  return standard_atmosphere * std::pow(1.0 - 2.25577e-5 * altitude, 5.2559);
}

double dynamic_viscosity(double T) {
  // Molar mass of air [g/mol], size parameter [nm] and energy parameter over Boltzmann's constant [K]:
  constexpr double molar_mass = 28.9586, sigma = 0.360, energy = 103.3;
  const double x = std::log(T / energy);
  const double omega = std::exp(0.431 + x * (-0.4623 + x * (0.08406 + x * (0.005341 + x * -0.00331))));
  return 0.0266958e-6 * std::sqrt(molar_mass * T) / (sigma * sigma * omega);
}

double thermal_conductivity(double T) { return thermal_conductivity_from_viscosity(T, dynamic_viscosity(T)); }

double thermal_conductivity_from_viscosity(double T, double mu) {
  const double theta = T / 132.6312, tenth = std::pow(theta, 0.1);
  return 1e-3 * (1.308e6 * mu + 1.405 * theta * tenth - 1.036 * tenth * tenth * tenth);
}

double kinematic_viscosity(double T, double e, double P) { return dynamic_viscosity(T) / density(T, e, P); }

double thermal_diffusivity(double T, double e, double P) {
  return thermal_conductivity(T) / (density(T, e, P) * specific_heat(humidity_ratio(e, P)));
}

double vapour_diffusivity_massman(double T, double P) {
  return 2.178e-5 * std::pow(T / zero_celsius, 1.81) * standard_atmosphere / P;
}

double vapour_diffusivity_marrero_mason(double T, double P) {
  return 2.09e-5 * std::pow(T / zero_celsius, 2.072) * standard_atmosphere / P;
}

double vapour_diffusivity(double T, double P, VapourDiffusivity choice) {
  return choice == VapourDiffusivity::massman ? vapour_diffusivity_massman(T, P)
                                              : vapour_diffusivity_marrero_mason(T, P);
}

double prandtl(double T, double w) {
  return dynamic_viscosity(T) * specific_heat(w) / thermal_conductivity(T);
}

double schmidt(double T, double e, double P, VapourDiffusivity choice) {
  return kinematic_viscosity(T, e, P) / vapour_diffusivity(T, P, choice);
}

}  // namespace wetspan::air
