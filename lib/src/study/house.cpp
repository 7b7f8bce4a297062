#include "wetspan/study/house.hpp"

// Boost 1.74's dense output needs the stepper's header before its own.
#include <boost/numeric/odeint/stepper/runge_kutta_dopri5.hpp>

#include <boost/numeric/odeint/stepper/controlled_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/dense_output_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/generation.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <sstream>
#include <string>
#include <tuple>

#include "../plant/leaf_equations.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/plant/canopy.hpp"
#include "wetspan/plant/leaf.hpp"
#include "wetspan/properties/water.hpp"

namespace wetspan {
namespace {

namespace odeint = boost::numeric::odeint;

using State = std::array<double, 2>;  // temperature [K], vapour [g/m3]
constexpr double grams = 1e-3;        // kg per g: keeps both entries near 10 to 300
constexpr double interval = 300.0;    // s between the rows of the result
constexpr double fog_settles = 60.0;  // s: time constant of the removal of fog (grade D)
constexpr double heating_band = 2.0;  // K below the set point at which the heating has full power (grade D)
constexpr double tolerance = 1e-6;    // relative and absolute
constexpr double first_step = 1.0;    // s; the error control corrects it
constexpr int most_steps = 2'000'000;
// Wind at 2 m over that at height z, over grass: 4.87 / ln(67.8 z - 5.42), z in m (FAO-56, eq. 47).
constexpr double grass_factor = 4.87;  // [1], FAO-56, eq. 47
constexpr double grass_slope = 67.8;   // [1/m], FAO-56, eq. 47
constexpr double grass_offset = 5.42;  // [1], FAO-56, eq. 47
constexpr double mast_height = 10.0;   // [m], at which weather stations measure wind (WMO-No. 8)

double between(double w, double a, double b) { return a + w * (b - a); }

OutdoorState at(const Outdoor& outdoor, double t) {
  const auto& time = outdoor.time;
  const auto after = std::upper_bound(time.begin() + 1, time.end() - 1, t);
  const auto j = static_cast<std::size_t>(after - time.begin()), i = j - 1;
  const double w = (t - time[i]) / (time[j] - time[i]);
  const OutdoorState &a = outdoor.state[i], &b = outdoor.state[j];
  return {.temperature = between(w, a.temperature, b.temperature),
          .vapour_pressure = between(w, a.vapour_pressure, b.vapour_pressure),
          .pressure = between(w, a.pressure, b.pressure),
          .wind_speed = between(w, a.wind_speed, b.wind_speed),
          .shortwave = between(w, a.shortwave, b.shortwave)};
}

/// The air at a crop in the open.
AirState exposed(const Scenario& scenario, const OutdoorState& outside) {
  const double two_metres = grass_factor / std::log(grass_slope * mast_height - grass_offset);
  return {.temperature = outside.temperature,
          .vapour_pressure = outside.vapour_pressure,
          .pressure = outside.pressure,
          .speed = outside.wind_speed * two_metres,
          .shortwave = outside.shortwave,
          .radiant_temperature = outside.temperature + scenario.air.surroundings_offset,
          .air_changes = 0.0};
}

struct HouseBalance {
  const Scenario& scenario;
  const Outdoor& outdoor;

  AirState inside(const State& y, const OutdoorState& outside) const {
    const House& house = scenario.house;
    const double temperature = y[0];
    const double opening = std::clamp((temperature - house.vent_temperature) / house.vent_band, 0.0, 1.0);
    return {.temperature = temperature,
            .vapour_pressure = std::max(0.0, air::vapour_pressure_from_density(y[1] * grams, temperature)),
            .pressure = outside.pressure,
            .speed = scenario.air.speed,
            .shortwave = house.transmittance * outside.shortwave,
            .radiant_temperature = temperature - house.cover_coupling * (temperature - outside.temperature),
            .air_changes = house.air_changes + opening * house.vent_air_changes};
  }

  /// Transpiration per leaf area [kg/m2/s] from the linearised balance of a leaf.
  double transpiration(const AirState& air_state, double absorbed) const {
    const auto layers =
        boundary_layers(air_state.temperature, air_state.vapour_pressure, air_state, scenario.leaf.width,
                        scenario.leaf.turbulence, scenario.air.diffusivity);
    const double through =
        stomata_in_series<Lanes<1>>(stomata_terms(scenario.leaf), layers.lower.vapour, absorbed, 1.0);
    const double saturated = air::saturation_vapour_density(air_state.temperature);
    const double slope = air::saturation_vapour_density_slope(air_state.temperature);
    const double deficit = saturated - air::vapour_density(air_state.vapour_pressure, air_state.temperature);
    const double latent = water::latent_heat(air_state.temperature);
    const double warmer = (absorbed - latent * through * deficit) /
                          (layers.upper.heat + layers.lower.heat + latent * through * slope);
    return std::max(0.0, through * (deficit + slope * warmer));
  }

  void operator()(const State& y, State& dy, double t) const {
    const House& house = scenario.house;
    const OutdoorState outside = at(outdoor, t);
    const AirState now = inside(y, outside);
    const double crop_leaves = house.crop_share * leaf_area_index(scenario.canopy);
    const double absorbed = now.shortwave * scenario.leaf.absorptance * leaf_interception(scenario.canopy) /
                            leaf_area_index(scenario.canopy);
    const double evaporation = crop_leaves * transpiration(now, absorbed);
    const double latent = water::latent_heat(now.temperature);

    const double to_heat = air::density(now.temperature, now.vapour_pressure, now.pressure) *
                           air::specific_heat(air::humidity_ratio(now.vapour_pressure, now.pressure));
    const double heating = house.heating_power *
                           std::clamp((house.heating_temperature - now.temperature) / heating_band, 0.0, 1.0);
    const double crop = crop_leaves * absorbed;
    dy[0] = (house.solar_to_air * (now.shortwave - crop) + crop - latent * evaporation + heating -
             (house.heat_loss + now.air_changes * house.height * to_heat) *
                 (now.temperature - outside.temperature)) /
            house.heat_capacity;

    const double vapour = y[1] * grams;
    const double outside_vapour = air::vapour_density(outside.vapour_pressure, outside.temperature);
    const double on_cover = house.cover_conductance *
                            std::max(0.0, vapour - air::saturation_vapour_density(now.radiant_temperature));
    const double fog =
        house.height / fog_settles * std::max(0.0, vapour - air::saturation_vapour_density(now.temperature));
    const double condensed = on_cover + fog;
    dy[1] = ((evaporation - condensed) / house.height - now.air_changes * (vapour - outside_vapour)) / grams;
  }
};

void check(const Outdoor& outdoor) {
  // the ranges for the air at the crop also apply to the weather
  CropAir same{outdoor.time, {}};
  for (const OutdoorState& state : outdoor.state) {
    same.state.push_back({.temperature = state.temperature,
                          .vapour_pressure = state.vapour_pressure,
                          .pressure = state.pressure,
                          .speed = state.wind_speed,
                          .shortwave = state.shortwave,
                          .radiant_temperature = state.temperature,
                          .air_changes = 0.0});
  }
  check(same);
}

CropAir air_in_open(const Scenario& scenario, const Outdoor& outdoor) {
  CropAir result{outdoor.time, {}};
  for (const OutdoorState& state : outdoor.state) result.state.push_back(exposed(scenario, state));
  return result;
}

[[noreturn]] void cannot_follow(double reached, const std::string& why) {
  std::ostringstream message;
  message << "the house's air could not be followed beyond " << reached << " s of the record (" << why
          << "); look at house.heat_capacity and house.vent_band first";
  throw IntegrationError(message.str());
}

/// The state of the house's air, integrated with dense output.
class HouseAir {
 public:
  HouseAir(const HouseBalance& balance, double start, const State& state) : balance_{balance}, state_{state} {
    stepper_.initialize(state, start, first_step);
  }

  /// The state at `time` [s], which must not be earlier than in the previous call.
  const State& at(double time) {
    while (stepper_.current_time() < time) {
      if (++steps_ > most_steps) cannot_follow(stepper_.current_time(), "too many steps");
      try {
        stepper_.do_step(std::cref(balance_));
      } catch (const std::exception& error) {
        cannot_follow(stepper_.current_time(), error.what());
      }
    }
    stepper_.calc_state(time, state_);
    if (!std::isfinite(state_[0]) || !std::isfinite(state_[1])) {
      std::ostringstream message;
      message << "the house's air is not finite " << time << " s into the record";
      throw IntegrationError(message.str());
    }
    return state_;
  }

 private:
  using Stepper = odeint::result_of::make_dense_output<odeint::runge_kutta_dopri5<State>>::type;

  const HouseBalance& balance_;
  Stepper stepper_ =
      odeint::make_dense_output(tolerance, tolerance, interval, odeint::runge_kutta_dopri5<State>());
  State state_;
  int steps_ = 0;
};

/// The air of an enclosed house, every `interval` and at the end of the weather record. The initial
/// temperature is that outside, or the set point of the heating if that is higher.
CropAir air_in_house(const HouseBalance& balance) {
  const Outdoor& outdoor = balance.outdoor;
  const double first = outdoor.time.front(), last = outdoor.time.back();
  const OutdoorState outside = outdoor.state.front();
  const State start{std::max(outside.temperature, balance.scenario.house.heating_temperature),
                    air::vapour_density(outside.vapour_pressure, outside.temperature) / grams};
  CropAir result;
  const auto add = [&](double time, const State& state) {
    result.time.push_back(time);
    result.state.push_back(balance.inside(state, at(outdoor, time)));
  };
  add(first, start);
  HouseAir inside{balance, first, start};
  const auto count = static_cast<int>(std::ceil((last - first) / interval));
  for (int row = 1; row <= count; ++row) {
    const double time = row < count ? first + row * interval : last;
    add(time, inside.at(time));
  }
  return result;
}

}  // namespace

CropAir air_at_crop(const Scenario& scenario, const Outdoor& outdoor) {
  check(scenario);
  check(outdoor);
  return scenario.house.enclosed ? air_in_house({scenario, outdoor}) : air_in_open(scenario, outdoor);
}

}  // namespace wetspan
