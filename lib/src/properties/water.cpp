#include "wetspan/properties/water.hpp"

#include <cmath>

#include "wetspan/properties/constants.hpp"

namespace wetspan::water {
namespace {

double square(double x) { return x * x; }
double fourth(double x) { return square(square(x)); }
double eighth(double x) { return square(fourth(x)); }

// Saturation line of IAPWS SR1-86(1992). f(tau) is the sum in ln(p/pc) = (Tc/T) f(tau); coefficients grade B.
struct SaturationLine {
  double tau, root, sum;

  explicit SaturationLine(double T) : tau(1.0 - T / critical_temperature), root(std::sqrt(tau)) {
    sum = tau * (-7.85951783 + root * 1.84408259 +
                 tau * tau * (-11.7866497 + root * 22.6807411 + tau * -15.9618719) +
                 tau * fourth(tau) * tau * root * 1.80122502);
  }
  double sum_slope() const {
    return -7.85951783 + 1.5 * 1.84408259 * root +
           tau * tau * (3.0 * -11.7866497 + 3.5 * 22.6807411 * root + 4.0 * -15.9618719 * tau) +
           7.5 * 1.80122502 * fourth(tau) * square(tau) * root;
  }
};

}  // namespace

double density(double T) {
  const double t = T - constants::zero_celsius;
  return (999.83952 + t * (16.945176 + t * (-7.9870401e-3 +
                                            t * (-46.170461e-6 + t * (105.56302e-9 + t * -280.54253e-12))))) /
         (1.0 + 16.879850e-3 * t);
}

double dynamic_viscosity(double T, double rho) {
  // mu0: dilute gas, R12-08 eq. 11 and table 1. mu1: finite density, eq. 12 and table 2, grouped by powers of
  // r.
  const double theta = T / critical_temperature, inverse = 1.0 / theta;
  const double mu0 = 100.0 * std::sqrt(theta) /
                     (1.67752 + inverse * (2.20462 + inverse * (0.6366564 + inverse * -0.241605)));
  const double x = inverse - 1.0, r = rho / critical_density - 1.0;
  const double r0 = 5.20094e-1 + x * (8.50895e-2 + x * (-1.08374 + x * -2.89555e-1));
  const double r1 = 2.22531e-1 + x * (9.99115e-1 + x * (1.88797 + x * (1.26613 + x * x * 1.20573e-1)));
  const double r2 = -2.81378e-1 + x * (-9.06851e-1 + x * (-7.72479e-1 + x * (-4.89837e-1 + x * -2.57040e-1)));
  const double r3 = 1.61913e-1 + x * 2.57399e-1;
  const double r4 = -3.25372e-2 + x * x * x * 6.98452e-2;
  const double r5 = fourth(x) * 8.72102e-3;
  const double r6 = x * x * x * (-4.35673e-3 + x * x * -5.93264e-4);
  const double sum = r0 + r * (r1 + r * (r2 + r * (r3 + r * (r4 + r * (r5 + r * r6)))));
  return 1e-6 * mu0 * std::exp(rho / critical_density * sum);
}

double dynamic_viscosity(double T) { return dynamic_viscosity(T, density(T)); }

double specific_heat(double T) {
  constexpr double gas_constant = 461.51805;  // that SR6-08 adopts [J/(kg K)]
  const double tau = T / 10.0, a = 10.0 / (593.0 - T), b = 10.0 / (T - 232.0);
  const double b3 = b * b * b;
  const double hot = fourth(a) * a * a *
                     (20.0 * -1.661470539e5 + a * (30.0 * 2.708781640e6 + a * a * 56.0 * -1.557191544e8));
  const double cold = b3 * b *
                      (6.0 * -8.237426256e-1 +
                       b * (12.0 * 1.908956353 + b * (20.0 * -2.017597384 + b * 30.0 * 8.546361348e-1)));
  return -gas_constant * (-8.983025854 + tau * (hot + cold));
}

double thermal_conductivity(double T) {
  const double theta = T / 300.0;
  return 1.6630 * std::pow(theta, -1.15) - 1.7781 * std::pow(theta, -3.4) + 1.1567 * std::pow(theta, -6.0) -
         0.432115 * std::pow(theta, -7.6);
}

double surface_tension(double T) {
  const double tau = 1.0 - T / critical_temperature;
  return 0.2358 * std::pow(tau, 1.256) * (1.0 - 0.625 * tau);
}

double saturation_pressure(double T) {
  return critical_pressure * std::exp(critical_temperature / T * SaturationLine(T).sum);
}

double saturation_pressure_slope(double T) {
  // d/dT of ln p = (Tc/T) f(tau) with dtau/dT = -1/Tc.
  const SaturationLine line(T);
  const double log_pressure = critical_temperature / T * line.sum;
  return -critical_pressure * std::exp(log_pressure) * (log_pressure + line.sum_slope()) / T;
}

double saturated_liquid_density(double T) {
  // Exponents 1/3, 2/3, 5/3, 16/3, 43/3 and 110/3 of tau are whole powers of its cube root.
  const double c = std::cbrt(1.0 - T / critical_temperature);
  const double c2 = c * c, c8 = eighth(c), c16 = c8 * c8, c32 = c16 * c16;
  return critical_density *
         (1.0 + 1.99274064 * c + 1.09965342 * c2 - 0.510839303 * c2 * c2 * c - 1.75493479 * c16 -
          45.5170352 * c32 * c8 * c2 * c - 6.74694450e5 * c32 * c32 * c32 * c8 * c2 * c2 * c2);
}

double saturated_vapour_density(double T) {
  // Exponents 2/6, 4/6, 8/6, 18/6, 37/6 and 71/6 of tau are whole powers of its sixth root.
  const double s = std::sqrt(std::cbrt(1.0 - T / critical_temperature));
  const double s2 = s * s, s4 = s2 * s2, s8 = s4 * s4, s16 = s8 * s8, s32 = s16 * s16;
  return critical_density *
         std::exp(-2.03150240 * s2 - 2.68302940 * s4 - 5.38626492 * s8 - 17.2991605 * s16 * s2 -
                  44.7586581 * s32 * s4 * s - 63.9201063 * s32 * s32 * s4 * s2 * s);
}

double latent_heat(double T) {
  return T * saturation_pressure_slope(T) *
         (1.0 / saturated_vapour_density(T) - 1.0 / saturated_liquid_density(T));
}

}  // namespace wetspan::water
