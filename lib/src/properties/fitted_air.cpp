#include "fitted_air.hpp"

#include <algorithm>

#include "../polynomials.hpp"
#include "exact_air.hpp"

namespace wetspan {
namespace {

constexpr double dry = 0.0;  // vapour pressure over total pressure [1]
constexpr ExactAir exact{air::VapourDiffusivity::massman};

template <std::size_t N, class Function>
std::array<double, N> over_temperature(Function function) {
  return fit<N>(function, AirFits::middle, AirFits::half_width);
}
template <std::size_t N, class Function>
std::array<double, N> over_moisture(Function function) {
  return fit<N>(function, AirFits::half_moist, AirFits::half_moist);
}
template <std::size_t N, class Function>
std::array<double, N> from_0_to_1(Function function) {
  return shifted(fit<N>(function, 0.5, 0.5));
}

}  // namespace

const AirFits& air_fits() {
  static const AirFits fits = [] {
    AirFits f;
    const double some = AirFits::middle;  // the effect of moisture does not depend on temperature
    f.saturation_pressure = over_temperature<10>(ExactAir::saturation_pressure);
    f.saturation_slope = over_temperature<10>(ExactAir::saturation_slope);
    f.over_ice = fit<14>(
        [](double T) { return std::log(exact.saturation_pressure(std::min(T, AirFits::coldest - 1e-9))); },
        AirFits::ice_middle, AirFits::ice_half_width);
    f.latent_heat = over_temperature<8>(ExactAir::latent_heat);
    f.conductivity = over_temperature<6>([](double T) { return exact.film(T, dry).conductivity; });
    f.dry_prandtl = over_temperature<6>([](double T) { return exact.film(T, dry).prandtl; });
    f.fluidity = over_temperature<6>([](double T) { return exact.film(T, dry).fluidity; });
    f.forced = over_temperature<7>([](double T) { return exact.film(T, dry).forced; });
    f.free = over_temperature<7>([](double T) { return exact.film(T, dry).free; });
    f.molar_heat = over_moisture<2>(ExactAir::molar_heat);  // a straight line
    const auto film_over_dry = [=](double FilmProperties<double>::* property) {
      return over_moisture<5>(
          [=](double r) { return exact.film(some, r).*property / (exact.film(some, dry).*property); });
    };
    f.forced_moist = film_over_dry(&FilmProperties<double>::forced);
    f.free_moist = film_over_dry(&FilmProperties<double>::free);
    f.prandtl_moist = film_over_dry(&FilmProperties<double>::prandtl);
    f.vapour_moist = film_over_dry(&FilmProperties<double>::vapour_over_heat);
    f.mixing = from_0_to_1<9>(ExactAir::mixing);
    f.turbulent = from_0_to_1<8>(ExactAir::turbulent);
    f.round = fit<7>(ExactAir::round, AirFits::prandtl_middle, AirFits::prandtl_half_width);
    return f;
  }();
  return fits;
}

const DiffusionFits<double>& diffusion_fits(air::VapourDiffusivity correlation) {
  static const auto all = [] {
    std::array<DiffusionFits<double>, 2> fits;
    for (const auto each : {air::VapourDiffusivity::massman, air::VapourDiffusivity::marrero_mason}) {
      const ExactAir with{each};
      constexpr std::size_t terms = AirFits::by_correlation_terms;
      const auto diffusivity =
          over_temperature<terms>([&](double T) { return with.film(T, dry).diffusivity; });
      const auto to_heat =
          over_temperature<terms>([&](double T) { return with.film(T, dry).vapour_over_heat; });
      DiffusionFits<double>& its = fits[static_cast<std::size_t>(each)];
      std::copy(diffusivity.begin(), diffusivity.end(), its.diffusivity);
      std::copy(to_heat.begin(), to_heat.end(), its.vapour_over_heat);
    }
    return fits;
  }();
  return all[static_cast<std::size_t>(correlation)];
}

}  // namespace wetspan
