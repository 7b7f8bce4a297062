// The equations of one event, as somebody writes them who has a general-purpose integrator at hand: those of
// wet_span() without humectants, dew and re-wetting, every property inlined, nothing allocated, the math
// library's functions. The correlations and their sources are in the headers of the library that is compared.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "event.hpp"

namespace benchmark {

// The state, every entry of order one; the classes' water is over what landed.
enum Entry : std::size_t {
  house_heat,
  house_vapour,
  bench_left,
  warmth,
  stem_left = warmth + layers,
  taken = stem_left + layers,  // -ln of what is left in liquid, of that which has not dried; by surface
  first_class = taken + surfaces * layers,
  state_size = first_class + classes
};

namespace properties {

constexpr double gas_constant = 8.314462618;
constexpr double molar_mass_water = 18.015268e-3, molar_mass_air = 28.966e-3;
constexpr double mass_ratio = molar_mass_water / molar_mass_air;
constexpr double water_gas = gas_constant / molar_mass_water;

struct Saturation {
  double pressure, slope;
};

inline Saturation saturation(double T) {
  const bool ice = T < 273.15;
  const double c1 = ice ? -5.6745359e3 : -5.8002206e3, c2 = ice ? 6.3925247 : 1.3914993;
  const double c3 = ice ? -9.6778430e-3 : -4.8640239e-2, c4 = ice ? 6.2215701e-7 : 4.1764768e-5;
  const double c5 = ice ? 2.0747825e-9 : -1.4452093e-8, c6 = ice ? -9.4840240e-13 : 0.0;
  const double c7 = ice ? 4.1635019 : 6.5459673;
  const double p = std::exp(c1 / T + c2 + T * (c3 + T * (c4 + T * (c5 + T * c6))) + c7 * std::log(T));
  return {p, p * (-c1 / (T * T) + c3 + T * (2 * c4 + T * (3 * c5 + T * 4 * c6)) + c7 / T)};
}

inline double latent_heat(double T) {
  const double tau = 1.0 - T / 647.096, root = std::sqrt(tau), tau2 = tau * tau, tau4 = tau2 * tau2;
  const double sum =
      tau * (-7.85951783 + root * 1.84408259 + tau2 * (-11.7866497 + root * 22.6807411 + tau * -15.9618719) +
             tau4 * tau2 * root * 1.80122502);
  const double sum_slope = -7.85951783 + 1.5 * 1.84408259 * root +
                           tau2 * (3.0 * -11.7866497 + 3.5 * 22.6807411 * root + 4.0 * -15.9618719 * tau) +
                           7.5 * 1.80122502 * tau4 * tau2 * root;
  const double log_pressure = 647.096 / T * sum;
  const double slope = -22.064e6 * std::exp(log_pressure) * (log_pressure + sum_slope) / T;
  const double c = std::cbrt(tau), c2 = c * c, c4 = c2 * c2, c8 = c4 * c4, c16 = c8 * c8, c32 = c16 * c16;
  const double liquid =
      322.0 * (1.0 + 1.99274064 * c + 1.09965342 * c2 - 0.510839303 * c4 * c - 1.75493479 * c16 -
               45.5170352 * c32 * c8 * c2 * c - 6.74694450e5 * c32 * c32 * c32 * c8 * c4 * c2);
  const double s = std::sqrt(c);
  const double vapour =
      322.0 * std::exp(-2.03150240 * c - 2.68302940 * c2 - 5.38626492 * c4 - 17.2991605 * c8 * c -
                       44.7586581 * c16 * c2 * s - 63.9201063 * c32 * c2 * c * s);
  return T * slope * (1.0 / vapour - 1.0 / liquid);
}

inline double air_density(double T, double e, double P) {
  return ((P - e) * molar_mass_air + e * molar_mass_water) / (gas_constant * T);
}

inline double specific_heat(double e, double P) {
  const double w = mass_ratio * e / (P - e);
  return (1006.0 + 1860.0 * w) / (1.0 + w);
}

inline double virtual_temperature(double T, double e, double P) {
  return T / (1.0 - (1.0 - mass_ratio) * e / P);
}

/// The air between a surface and the free air: what a Nusselt number is turned into conductances with.
struct Film {
  double temperature, viscosity, conductivity, heat_diffusivity, vapour_diffusivity, prandtl, lewis_root;

  Film(double T, double e, double P) : temperature(T) {
    const double x = std::log(T / 103.3);
    const double omega = std::exp(0.431 + x * (-0.4623 + x * (0.08406 + x * (0.005341 + x * -0.00331))));
    const double dynamic = 0.0266958e-6 * std::sqrt(28.9586 * T) / (0.360 * 0.360 * omega);
    const double theta = T / 132.6312, density = air_density(T, e, P);
    viscosity = dynamic / density;
    conductivity = 1e-3 * (1.308e6 * dynamic + 1.405 * std::pow(theta, 1.1) - 1.036 * std::pow(theta, 0.3));
    heat_diffusivity = conductivity / (density * specific_heat(e, P));
    vapour_diffusivity = 2.178e-5 * std::pow(T / 273.15, 1.81) * 101325.0 / P;
    prandtl = viscosity / heat_diffusivity;
    lewis_root = std::cbrt(heat_diffusivity / vapour_diffusivity);
  }
  double heat(double nusselt, double length) const { return nusselt * conductivity / length; }
  double vapour(double nusselt, double length) const {
    return nusselt * lewis_root * vapour_diffusivity / length;
  }
};

inline double evaporation_factor(double t) {
  constexpr double c[] = {1.41421356237,      -1.60632320327e-08, -0.0913311165472,  0.0611501684473,
                          0.00880747755774,   -0.00397156955907,  -0.00175042237645, -0.000648353365204,
                          -0.000227050656142, -6.59997458937e-05, 2.86488391337e-05, 6.31796437973e-05,
                          2.58563349991e-05};
  const double x = std::atan(t) * (4.0 / std::numbers::pi) - 1.0;
  double sum = c[12];
  for (int i = 11; i >= 0; --i) sum = sum * x + c[i];
  return sum * std::sqrt(1.0 + t * t);
}

inline double arrhenius(double energy, double T, double reference) {
  return std::exp(-energy / gas_constant * (1.0 / T - 1.0 / reference));
}

inline double fourth_power(double x) { return (x * x) * (x * x); }

inline double film_share(double left) {
  if (left <= 0.0) return 0.0;
  const double root = std::cbrt(left);
  return std::min(1.0, root * root);
}

}  // namespace properties

class Equations {
 public:
  explicit Equations(const Event& of) : event(of) {
    for (std::size_t i = 0; i < classes; ++i) {
      edge[i] = event.number[i] * std::numbers::pi * event.radius[i];
      disc[i] = edge[i] * event.radius[i];
      per_bench[i] = event.area[i / layer_classes] * event.landed[i];
    }
    all_landed.fill(0.0);
    for (std::size_t i = 0; i < classes; ++i) {
      const bool below = i % layer_classes >= upper_classes;
      all_landed[2 * (i / layer_classes) + (below ? 1 : 0)] += event.landed[i];
    }
    wet.fill(true), stem_wet.fill(true);
  }

  template <class State>
  void initialize(State& y) const {
    std::fill(&y[0], &y[0] + state_size, 0.0);
    y[house_vapour] = event.house_vapour;
    y[bench_left] = 1.0;
    std::copy_n(event.warmth, layers, &y[warmth]);
    std::fill_n(&y[stem_left], layers, 1.0);
    std::fill(&y[first_class], &y[0] + state_size, 1.0);
  }

  /// Water on leaves per area of bench [m], less that which counts as dry.
  double excess(const double* y) const {
    double sum = -event.dry_water;
    for (std::size_t i = 0; i < classes; ++i) sum += wet[i] ? y[first_class + i] * per_bench[i] : 0.0;
    return sum;
  }

  // What can dry out: the bench, the stems of each layer, and every class.
  static constexpr std::size_t films = 1 + layers, liquids = films + classes;
  static constexpr std::size_t entry_of(std::size_t liquid) {
    return liquid == 0      ? std::size_t{bench_left}
           : liquid < films ? stem_left + liquid - 1
                            : first_class + liquid - films;
  }
  bool is_wet(std::size_t liquid) const {
    return liquid == 0 ? bench_wet : liquid < films ? stem_wet[liquid - 1] : wet[liquid - films];
  }
  /// Hands the last of a liquid to the house's air.
  void dry_out(std::size_t liquid, double* y) {
    double& left = y[entry_of(liquid)];
    const double water = liquid == 0      ? event.bench_water
                         : liquid < films ? event.stem_water[liquid - 1]
                                          : per_bench[liquid - films];
    y[house_vapour] += left * water / event.came;
    left = 0.0;
    (liquid == 0 ? bench_wet : liquid < films ? stem_wet[liquid - 1] : wet[liquid - films]) = false;
  }
  /// Whether leaves and stems are dry.
  bool finished() const {
    const auto is = [](bool still) { return still; };
    return std::none_of(stem_wet.begin(), stem_wet.end(), is) && std::none_of(wet.begin(), wet.end(), is);
  }

  void rates(const double* y, double* dy, double t) {
    using namespace properties;
    ++evaluations;
    AirRow air = air_at(t);
    const double P = air.pressure;
    const double added =
        y[house_vapour] * event.came * event.water_density * event.sprayed_share / event.house_height;
    const double vapour = air.vapour_pressure / (water_gas * air.temperature) + added;
    air.temperature += warmth_unit * y[house_heat];
    air.vapour_pressure = std::max(0.0, vapour * water_gas * air.temperature);
    const double T = air.temperature, e = air.vapour_pressure;
    const double latent = latent_heat(T);
    const Saturation saturated = saturation(T);

    double source = 0.0;  // evaporation per area of bench [kg/m2/s]
    for (std::size_t k = 0; k < layers; ++k) source += leaf_rates(k, air, vapour, y, dy);

    // stems and bench: films that take their heat from the air
    const double to_heat = air_density(T, e, P) * specific_heat(e, P);
    const double saturated_vapour = saturated.pressure / (water_gas * T), deficit = saturated_vapour - vapour;
    const double slope = (saturated.slope / water_gas - saturated_vapour) / T;
    const auto evaporation = [&](double heat, double through, double absorbed) {
      return through * (deficit * heat + slope * absorbed) / (heat + latent * through * slope);
    };
    dy[bench_left] = 0.0;
    if (bench_wet && y[bench_left] > 0.0) {
      const double rate = event.bench_area * film_share(y[bench_left]) *
                          evaporation(event.bench_conductance * to_heat, event.bench_conductance, 0.0);
      dy[bench_left] = -rate / (event.water_density * event.bench_water);
      source += rate;
    }
    const Film film(T, e, P);
    for (std::size_t k = 0; k < layers; ++k) {
      const double left = y[stem_left + k], share = stem_wet[k] ? film_share(left) : 0.0;
      dy[stem_left + k] = dy[taken + surfaces * k + 2] = 0.0;
      if (share <= 0.0) continue;
      const double reynolds = event.air_speed[k] * event.stem_diameter / film.viscosity;
      const double laminar = 0.62 * std::sqrt(reynolds) * std::cbrt(film.prandtl) /
                             std::sqrt(std::sqrt(1.0 + std::cbrt(0.16 / (film.prandtl * film.prandtl))));
      const double nusselt = 0.3 + laminar * std::pow(1.0 + std::pow(reynolds / 282e3, 0.625), 0.8);
      const double rate =
          event.stem_area[k] * share *
          evaporation(film.heat(nusselt, event.stem_diameter), film.vapour(nusselt, event.stem_diameter),
                      event.stem_light[k] * air.shortwave);
      dy[stem_left + k] = -rate / (event.water_density * event.stem_water[k]);
      source += rate;
      dy[taken + surfaces * k + 2] =
          uptake(event.stem_cuticle * permeance(T), most_dissolved(T), event.active[k][2],
                 y[taken + surfaces * k + 2], 1.0, share, event.stem_water[k] / event.stem_area[k] * left);
    }

    const double total = event.came * event.water_density;
    const double cover = saturation(air.radiant_temperature).pressure / (water_gas * air.radiant_temperature);
    const double condensed = event.cover_conductance / event.sprayed_share / total *
                             (std::max(0.0, vapour - cover) - std::max(0.0, vapour - added - cover));
    dy[house_vapour] = source / total - air.air_changes * y[house_vapour] - condensed;
    const double loss = event.heat_loss + air.air_changes * event.house_height * to_heat;
    dy[house_heat] = (-latent * source * event.sprayed_share / warmth_unit - loss * y[house_heat]) /
                     event.house_heat_capacity;
  }

  const Event& event;
  std::array<bool, classes> wet;
  std::array<bool, layers> stem_wet;
  bool bench_wet = true;
  long evaluations = 0;

 private:
  std::array<double, classes> edge, disc, per_bench;  // n pi R, n pi R^2 [per leaf area], water [m]
  std::array<double, 2 * layers> all_landed;          // on each side

  AirRow air_at(double t) const {
    const double place = (event.start + t) / row_spacing;
    const std::size_t i = std::min(rows - 2, static_cast<std::size_t>(place));
    const double w = place - static_cast<double>(i);
    const AirRow &a = event.air[i], &b = event.air[i + 1];
    return {a.temperature + w * (b.temperature - a.temperature),
            a.vapour_pressure + w * (b.vapour_pressure - a.vapour_pressure),
            a.pressure + w * (b.pressure - a.pressure),
            a.shortwave + w * (b.shortwave - a.shortwave),
            a.radiant_temperature + w * (b.radiant_temperature - a.radiant_temperature),
            a.air_changes + w * (b.air_changes - a.air_changes)};
  }

  double permeance(double T) const {
    return event.permeance * properties::arrhenius(event.activation_energy, T, 298.15);
  }
  double most_dissolved(double T) const {
    return event.most_dissolved * properties::arrhenius(event.solubility_enthalpy, T, 293.15);
  }

  /// Rate at which liquid gives its active ingredient, over what it holds: `part` of what came has not dried.
  static double uptake(double through, double most, double fresh, double before, double part, double wet_area,
                       double water) {
    if (part <= 0.0 || water <= 0.0) return 0.0;
    const double mass = fresh * std::exp(-before) * part;
    return through * wet_area * (mass < most * water ? 1.0 / water : most / mass);
  }

  /// Sets the rates of one leaf layer; returns its evaporation per area of bench [kg/m2/s].
  double leaf_rates(std::size_t k, const AirRow& air, double vapour, const double* y, double* dy) const {
    using namespace properties;
    const double T = air.temperature, P = air.pressure;
    const double leaf = event.base_temperature + warmth_unit * y[warmth + k];
    const double surface = saturation(leaf).pressure, saturated = surface / (water_gas * leaf);
    const Film film(0.5 * (leaf + T), 0.5 * (surface + air.vapour_pressure), P);

    // boundary layers of the two sides: forced and free convection
    const double length = 0.72 * event.leaf_width;
    const double forced = 0.664 * event.turbulence * std::sqrt(event.air_speed[k] * length / film.viscosity) *
                          std::cbrt(film.prandtl);
    const double lighter =
        virtual_temperature(leaf, surface, P) - virtual_temperature(T, air.vapour_pressure, P);
    const double rayleigh = 9.80665 * std::abs(lighter) / film.temperature * length * length * length /
                            (film.viscosity * film.heat_diffusivity);
    const double buoyant = std::sqrt(std::sqrt(rayleigh));
    const auto mixed = [&](bool unstable) {
      const double free = (unstable ? 0.54 : 0.27) * buoyant;
      const double larger = std::max(forced, free), ratio = std::min(forced, free) / larger;
      return larger * std::pow(1.0 + ratio * ratio * ratio * std::sqrt(ratio), 1.0 / 3.5);
    };
    const double nusselt[2] = {mixed(lighter > 0.0), mixed(lighter < 0.0)};

    double evaporation = 0.0, bare = 1.0, through = 0.0, all_water = 0.0;
    const double permeance_here = permeance(leaf), most = most_dissolved(leaf);
    for (std::size_t side = 0; side < 2; ++side) {
      double water = 0.0, dissolving = 0.0;
      const std::size_t from = k * layer_classes + (side == 0 ? 0 : upper_classes);
      const std::size_t to = from + (side == 0 ? upper_classes : lower_classes);
      through = film.vapour(nusselt[side], length);
      double shells = 0.0, discs = 0.0;
      for (std::size_t i = from; i < to; ++i) {
        double& shell = dy[first_class + i];
        shell = 0.0;
        if (!wet[i]) continue;
        const double share = std::max(0.0, y[first_class + i]);
        double radius = 1.0, factor = event.receding_factor;  // radius over the fresh one
        if (share < event.receding_share) {
          radius = std::cbrt(share / event.receding_share);
        } else {
          const double half = 0.5 * share * event.fullness;
          const double u = std::cbrt(half + std::sqrt(half * half + 1.0)), square = u * u;
          factor = evaporation_factor(2.0 * half / (square + 1.0 + 1.0 / square));
        }
        shell = edge[i] * radius * film.vapour_diffusivity * factor;
        shells += shell;
        discs += disc[i] * radius * radius;
        dissolving += event.landed[i];
        water += event.landed[i] * share;
      }
      // flux = shell (saturated - outside), where what leaves all shells goes through the layer
      const double drive = through * (saturated - vapour) / (shells + through);
      for (std::size_t i = from; i < to; ++i) {
        dy[first_class + i] *= -drive / (event.water_density * event.landed[i]);
      }
      evaporation += shells * drive;
      const double covered = -std::expm1(-discs);
      bare = 1.0 - covered, all_water += water;
      const std::size_t entry = taken + surfaces * k + side;
      dy[entry] = uptake(permeance_here, most, event.active[k][side], y[entry],
                         dissolving / all_landed[2 * k + side], covered, water);
    }

    const double sun = air.shortwave * event.absorptance * event.light[k];
    const double stomata = event.stomatal_conductance * sun / (sun + event.stomatal_half_light) * bare;
    const double series = stomata > 0.0 ? stomata * through / (stomata + through) : 0.0;
    const double radiation = fourth_power(leaf);
    const double longwave = event.emissivity * 5.670374419e-8 *
                            (event.view_above[k] * (fourth_power(air.radiant_temperature) - radiation) +
                             event.view_below[k] * (fourth_power(T) - radiation));
    const double gain = sun + longwave -
                        (film.heat(nusselt[0], length) + film.heat(nusselt[1], length)) * (leaf - T) -
                        latent_heat(leaf) * (evaporation + series * std::max(0.0, saturated - vapour));
    dy[warmth + k] = gain / (event.dry_heat_capacity + event.water_heat * all_water) / warmth_unit;

    return event.area[k] * evaporation;
  }
};

/// What a solver found for one event.
struct Result {
  double wet_time = 0;
  long evaluations = 0;
};

}  // namespace benchmark
