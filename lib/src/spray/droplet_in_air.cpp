#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "../polynomials.hpp"
#include "../require.hpp"
#include "../root.hpp"
#include "flight_equations.hpp"
#include "flight_kernel.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/properties/constants.hpp"
#include "wetspan/properties/water.hpp"
#include "wetspan/spray/flight.hpp"

namespace wetspan {

using constants::gravity;

constexpr double triple_point = constants::zero_celsius + 0.01;  // [K]; from there on latent heat is defined
constexpr double speed_found = 1e-14;                            // [1], of the logarithm of a speed

Film::Film(const MoistAir& air) : T_air(air.temperature), e(air.vapour_pressure), P(air.pressure) {
  require("air temperature", T_air, 263.15, 323.15, "K");
  require("air pressure", P, 60e3, 110e3, "Pa");
  saturation = air::saturation_pressure(T_air);
  require("vapour pressure", e, 0, saturation * (1 + 1e-9), "Pa");
  // The temperatures of film and droplet depend on each other. A few iterations suffice, since the result
  // depends only weakly on T_film.
  constexpr int passes = 3;
  T_drop = T_air;
  double Pr = 0, Sc = 0;
  for (int pass = 0; pass < passes; ++pass) {
    const double T_film = 0.5 * (T_air + T_drop);
    density = air::density(T_film, e, P);
    viscosity = air::dynamic_viscosity(T_film);
    conductivity = air::thermal_conductivity(T_film);
    const double D = air::vapour_diffusivity(T_film, P, air.diffusivity);
    Pr = air::prandtl(T_film, air::humidity_ratio(e, P));
    Sc = viscosity / (density * D);
    diffusion = D * P / (constants::gas_constant_water * T_film);
    latent_heat = water::latent_heat(std::max(T_drop, triple_point));
    T_drop = steady_temperature();
  }
  cbrt_Pr = std::cbrt(Pr), cbrt_Sc = std::cbrt(Sc);
  constexpr double aside = 0.01;  // for the slope [K]
  const double drive_slope = (drive(T_drop + aside) - drive(T_drop - aside)) / (2 * aside);
  warming = conductivity * (T_air - T_drop) / (conductivity + latent_heat * diffusion * drive_slope);
  const double T_liquid = std::max(T_drop, constants::zero_celsius);
  liquid = water::density(T_liquid);
  heat_capacity = water::specific_heat(T_liquid);
}

double Film::drive(double T) const {
  const double e_s = air::saturation_pressure(T);
  return std::log1p((e_s - e) / (P - e_s));
}

double Film::steady_temperature() const {
  const auto excess = [&](double T) {
    return conductivity * (T_air - T) - latent_heat * diffusion * drive(T);
  };
  constexpr double deepest = 40, tolerance = 1e-10;  // below the air [K]; of the result [K]
  const double low = T_air - deepest, at_air = excess(T_air);
  if (at_air >= 0) return T_air;  // saturated
  return narrowed(Bracket<double>{low, T_air, excess(low), at_air}, tolerance, excess).to;
}

namespace {

/// Cd Re / 24 of a sphere over Re: table I of Langmuir I, Blodgett KB 1946, AAF Technical Report 5418.
constexpr std::array<std::array<double, 2>, 20> langmuir_blodgett_rows{
    {{0.01, 1},   {0.1, 1.018}, {0.4, 1.073}, {1, 1.176},  {2, 1.285},   {5, 1.513},   {10, 1.782},
     {20, 2.291}, {50, 3.327},  {100, 4.59},  {200, 6.52}, {500, 11.46}, {1e3, 18.62}, {2e3, 32.7},
     {5e3, 80},   {1e4, 166.3}, {2e4, 365},   {5e4, 980},  {1e5, 1905},  {1.6e5, 2851}}};

/// Cubic interpolation of these rows in log Re and log factor. The slopes are those of Steffen 1990 (Astron.
/// Astrophys. 239:443-450), with which the interpolant is monotone where the rows are.
double langmuir_blodgett_factor(double Re) {
  if (Re <= langmuir_blodgett_rows.front()[0]) return 1;
  require("Re of langmuir_blodgett drag", Re, 0, langmuir_blodgett_rows.back()[0], "");
  struct Knot {
    double x, y, slope;
  };
  static const auto knots = [] {
    constexpr std::size_t n = langmuir_blodgett_rows.size();
    std::array<Knot, n> k;
    for (std::size_t i = 0; i < n; ++i)
      k[i] = {std::log(langmuir_blodgett_rows[i][0]), std::log(langmuir_blodgett_rows[i][1]), 0};
    const auto width = [&](std::size_t i) { return k[i + 1].x - k[i].x; };
    const auto rise = [&](std::size_t i) { return (k[i + 1].y - k[i].y) / width(i); };
    for (std::size_t i = 1; i + 1 < n; ++i) {  // at the first row the slope is that of Stokes' law, 0
      const double before = rise(i - 1), after = rise(i);
      const double parabola = (before * width(i) + after * width(i - 1)) / (width(i - 1) + width(i));
      k[i].slope = std::min({2 * before, 2 * after, parabola});
    }
    k[n - 1].slope = rise(n - 2);
    return k;
  }();
  const double x = std::log(Re);
  const auto right = std::find_if(knots.begin() + 1, knots.end() - 1, [x](const Knot& k) { return x < k.x; });
  const Knot &a = *(right - 1), &b = *right;
  const double h = b.x - a.x, t = (x - a.x) / h, u = 1 - t;
  return std::exp(u * u * (1 + 2 * t) * a.y + t * t * (1 + 2 * u) * b.y +
                  h * t * u * (u * a.slope - t * b.slope));
}

double require_diameter(double diameter) { return require("diameter", diameter, 1e-6, 6e-3, "m"); }

}  // namespace

double terminal_speed(double stokes, double reynolds_per_speed, Drag drag) {
  // The speed is below that of Stokes' law, and below that at the drag coefficient `least`. Drag over Stokes
  // drag rises with speed, so its value at this speed gives the lowest speed.
  constexpr double least = 0.3;  // below the least drag coefficient of every law, 0.38
  const double fastest = std::min(stokes, std::sqrt(24.0 / least * stokes / reynolds_per_speed));
  const double slowest = stokes / drag_factor(reynolds_per_speed * fastest, drag);
  const auto too_fast = [&](double log_speed) {
    return std::log(drag_factor(reynolds_per_speed * std::exp(log_speed), drag) / stokes) + log_speed;
  };
  const double from = std::log(fastest), to = std::log(slowest);
  return std::exp(narrowed({.from = from, .to = to, .at_from = too_fast(from), .at_to = too_fast(to)},
                           speed_found, too_fast)
                      .to);
}

double terminal_speed(double diameter, const Film& film, Drag drag) {
  const double stokes = diameter * diameter * gravity * (film.liquid - film.density) / (18 * film.viscosity);
  return terminal_speed(stokes, film.density * diameter / film.viscosity, drag);
}

const flight::FallFit& flight::fall_fit() {
  static const FallFit fit_ = [] {
    FallFit f;
    f.half_fall = 0.5 * std::pow(FallFit::most_reynolds, FallFit::power);
    f.share = fit<std::tuple_size_v<decltype(f.share)>>(
        [](double z) {
          const double stokes_reynolds = std::pow(z, 1 / FallFit::power);  // that of a speed of 1
          return terminal_speed(1.0, stokes_reynolds, FlightInput{}.drag);
        },
        f.half_fall, f.half_fall);
    return f;
  }();
  return fit_;
}

double drag_factor(double Re, Drag drag) {
  if (!(Re >= 0)) throw InputError("a Reynolds number is not below 0, and not NaN");
  switch (drag) {
    case Drag::schiller_naumann:
      return std::max(1 + 0.15 * std::pow(Re, 0.687), 0.44 / 24 * Re);
    case Drag::clift_gauvin:
      return 1 + 0.152 * std::pow(Re, 0.677) + Re / 24 * 0.417 / (1 + 5070 * std::pow(Re, -0.94));
    case Drag::langmuir_blodgett:
      return langmuir_blodgett_factor(Re);
    case Drag::turton_levenspiel:
      break;
  }
  return turton_levenspiel<Lanes<1>>(Re);
}

double sherwood_at(double x, Ventilation ventilation) {
  if (ventilation == Ventilation::ranz_marshall) return ranz_marshall(x);
  return 2 * (x < 1.4 ? 1 + 0.108 * x * x : 0.78 + 0.308 * x);
}

double terminal_speed(double diameter, const MoistAir& air, Drag drag) {
  return terminal_speed(require_diameter(diameter), Film(air), drag);
}

double stop_over_stokes(double Re, Drag drag, int intervals) {
  double sum = 0;
  for (int i = 0; i <= intervals; ++i) {
    const double u = static_cast<double>(i) / intervals;
    const double weight = i == 0 || i == intervals ? 1 : i % 2 ? 4 : 2;
    sum += weight * 3 * u * u / drag_factor(Re * u * u * u, drag);
  }
  return sum / (3 * intervals);
}

double stop_distance(double diameter, double speed, const MoistAir& air, Drag drag) {
  require("speed", speed, 0, 200, "m/s");
  const Film film(air);
  const double d = require_diameter(diameter);
  const double Re = film.density * speed * d / film.viscosity;
  constexpr int intervals = 64;
  return film.liquid * d * d / (18 * film.viscosity) * speed * stop_over_stokes(Re, drag, intervals);
}

double droplet_temperature(const MoistAir& air) { return Film(air).T_drop; }

double evaporation_constant(const MoistAir& air) {
  const Film film(air);
  return std::max(0.0, 8 * film.diffusion / film.liquid * film.drive(film.T_drop));
}

double still_air_lifetime(double diameter, const MoistAir& air, double core_share) {
  require("core_share", core_share, 0, 1, "");
  const double d = require("diameter", diameter, 1e-7, 1e-2, "m"), K = evaporation_constant(air);
  return K > 0 ? d * d * (1 - std::pow(core_share, 2.0 / 3)) / K : std::numeric_limits<double>::infinity();
}

}  // namespace wetspan
