#include "../../../lib/src/properties/fitted_air.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "../../../lib/src/properties/exact_air.hpp"

using namespace wetspan;

TEST_CASE("fitted air: what the polynomials give is what the formulas give") {
  using L = Lanes<1>;
  double worst = 0.0;
  for (const auto correlation : {air::VapourDiffusivity::massman, air::VapourDiffusivity::marrero_mason}) {
    const ExactAir exact{correlation};
    const FittedAir<L> fitted{air_fits(), diffusion_fits(correlation)};
    const auto hold = [&](double one, double other, double tolerance) {
      worst = std::max(worst, std::abs(one / other - 1.0) / tolerance);
    };
    for (double T = 273.15; T <= 343.15; T += 1.25) {
      const double x = fitted.place(T);
      hold(fitted.saturation_pressure(x), exact.saturation_pressure(T), 1e-8);
      hold(fitted.saturation_slope(x), exact.saturation_slope(T), 3e-8);
      hold(fitted.latent_heat(x), exact.latent_heat(T), 1e-8);
      for (double r = 0.0; r <= 0.2; r += 0.025) {
        const double s = fitted.moisture(r, 1.0);
        const auto one = fitted.film(x, s), other = exact.film(T, r);
        hold(one.forced, other.forced, 1e-8);
        hold(one.free, other.free, 1e-8);
        hold(one.vapour_over_heat, other.vapour_over_heat, 1e-8);
        hold(one.diffusivity, other.diffusivity, 1e-8);
        hold(one.conductivity, other.conductivity, 1e-8);
        hold(one.prandtl, other.prandtl, 3e-8);
        hold(one.fluidity, other.fluidity, 1e-6);  // of the Reynolds number alone
        hold(fitted.molar_heat(s), exact.molar_heat(r), 1e-12);
        hold(fitted.round(one.prandtl), exact.round(other.prandtl), 1e-8);
      }
    }
    for (double T = 180.0; T <= 273.0; T += 3.0) {
      hold(fitted.saturation_over_ice_or_water(T), exact.saturation_over_ice_or_water(T), 1e-6);
    }
    for (double x = 0.0; x <= 1.0; x += 0.01) {
      hold(fitted.mixing(x), exact.mixing(x), 1e-8);
      hold(fitted.turbulent(x), exact.turbulent(x), 3e-8);
    }
  }
  CHECK(worst < 1.0);
}
