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
#include "../properties/exact_air.hpp"
#include "../properties/fitted_air.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/plant/canopy.hpp"
#include "wetspan/properties/water.hpp"

namespace wetspan {
namespace {

namespace odeint = boost::numeric::odeint;

using One = Lanes<1>;
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

/// The weather at a series of times, but for its wind, which a closed house does not feel. Each call begins
/// its search at the place of the previous call, because the times of an integration lie close together.
class WeatherAt {
 public:
  explicit WeatherAt(const Outdoor& outdoor) : outdoor_(outdoor) {}

  OutdoorState operator()(double t) {
    const auto& time = outdoor_.time;
    while (i_ + 2 < time.size() && time[i_ + 1] <= t) ++i_;
    while (i_ > 0 && t < time[i_]) --i_;
    const double w = (t - time[i_]) / (time[i_ + 1] - time[i_]);
    const OutdoorState &a = outdoor_.state[i_], &b = outdoor_.state[i_ + 1];
    return {.temperature = between(w, a.temperature, b.temperature),
            .vapour_pressure = between(w, a.vapour_pressure, b.vapour_pressure),
            .pressure = between(w, a.pressure, b.pressure),
            .shortwave = between(w, a.shortwave, b.shortwave)};
  }

 private:
  const Outdoor& outdoor_;
  std::size_t i_ = 0;  // the row before the time of the previous call
};

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

/// The balances of the house's air, which house.hpp states.
class HouseBalance {
 public:
  HouseBalance(const Scenario& scenario, const Outdoor& outdoor)
      : house_(scenario.house),
        speed_(scenario.air.speed),
        diffusivity_(scenario.air.diffusivity),
        leaf_(leaf_terms(scenario.leaf, 1.0, {}, 1.0)),
        stomata_(stomata_terms(scenario.leaf)),
        crop_leaves_(scenario.house.crop_share * leaf_area_index(scenario.canopy)),
        absorbs_(scenario.leaf.absorptance * leaf_interception(scenario.canopy) /
                 leaf_area_index(scenario.canopy)),
        weather_(outdoor) {}

  AirState inside(const State& y, double t) { return inside(y, weather_(t)); }

  void operator()(const State& y, State& dy, double t) {
    const OutdoorState outside = weather_(t);
    const AirState now = inside(y, outside);
    // the polynomials are faster than the formulas, where they hold
    const bool fits = now.temperature >= AirFits::coldest && now.temperature <= AirFits::hottest &&
                      now.vapour_pressure <= 2.0 * AirFits::half_moist * now.pressure;
    if (fits) rates(FittedAir<One>{air_fits_, diffusion_}, now, y, outside, dy);
    else rates(ExactAir{diffusivity_}, now, y, outside, dy);
  }

 private:
  AirState inside(const State& y, const OutdoorState& outside) const {
    const double temperature = y[0];
    const double opening = std::clamp((temperature - house_.vent_temperature) / house_.vent_band, 0.0, 1.0);
    return {.temperature = temperature,
            .vapour_pressure = std::max(0.0, air::vapour_pressure_from_density(y[1] * grams, temperature)),
            .pressure = outside.pressure,
            .speed = speed_,
            .shortwave = house_.transmittance * outside.shortwave,
            .radiant_temperature = temperature - house_.cover_coupling * (temperature - outside.temperature),
            .air_changes = house_.air_changes + opening * house_.vent_air_changes};
  }

  template <class Air>
  void rates(const Air& of, const AirState& now, const State& y, const OutdoorState& outside,
             State& dy) const {
    using constants::gas_constant_water;
    const double by_temperature = 1.0 / now.temperature, by_pressure = 1.0 / now.pressure;
    const FreeAir<double> air =
        free_air<One>(of, now.temperature, now.vapour_pressure * by_temperature / gas_constant_water,
                      now.vapour_pressure, now.pressure, by_pressure, now.speed, now.radiant_temperature);
    const double latent = of.latent_heat(air.place);
    const AirDeficit<double> deficit = air_deficit<One>(of, air, by_temperature, latent);
    const double saturated = deficit.vapour + air.vapour;

    const double absorbed = now.shortwave * absorbs_;  // per leaf area
    const LeafSurface<double> layers = leaf_surface<One>(
        of, leaf_, now.temperature, of.saturation_pressure(air.place), now.vapour_pressure, air);
    const double through = stomata_in_series<One>(stomata_, layers.through[1], absorbed, 1.0);
    const double evaporation =
        crop_leaves_ * std::max(0.0, evaporation_of_film<One>(deficit, layers.heat, through, absorbed));

    const double to_heat =
        now.pressure * by_temperature / constants::gas_constant * of.molar_heat(air.moisture);
    const double heating =
        house_.heating_power *
        std::clamp((house_.heating_temperature - now.temperature) / heating_band, 0.0, 1.0);
    const double crop = crop_leaves_ * absorbed;
    dy[0] = (house_.solar_to_air * (now.shortwave - crop) + crop - latent * evaporation + heating -
             (house_.heat_loss + now.air_changes * house_.height * to_heat) *
                 (now.temperature - outside.temperature)) /
            house_.heat_capacity;

    const double vapour = y[1] * grams;
    const double outside_vapour = air::vapour_density(outside.vapour_pressure, outside.temperature);
    const double saturated_at_cover = of.saturation_over_ice_or_water(now.radiant_temperature) /
                                      (gas_constant_water * now.radiant_temperature);
    const double on_cover = house_.cover_conductance * std::max(0.0, vapour - saturated_at_cover);
    const double fog = house_.height / fog_settles * std::max(0.0, vapour - saturated);
    dy[1] = ((evaporation - on_cover - fog) / house_.height - now.air_changes * (vapour - outside_vapour)) /
            grams;
  }

  const House& house_;
  double speed_;
  air::VapourDiffusivity diffusivity_;
  LeafTerms<double> leaf_;
  StomataTerms<double> stomata_;
  double crop_leaves_;  // leaf area per area of floor [1]
  double absorbs_;      // shortwave that a leaf absorbs, over that at the top of the crop [1]
  const AirFits& air_fits_ = air_fits();
  const DiffusionFits<double>& diffusion_ = diffusion_fits(diffusivity_);
  WeatherAt weather_;
};

/// A record as the air at the crop, in surroundings that are `warmer` [K] than the air.
CropAir as_it_is(const Outdoor& record, double warmer, double air_changes) {
  CropAir same{record.time, {}};
  for (const OutdoorState& state : record.state) {
    same.state.push_back({.temperature = state.temperature,
                          .vapour_pressure = state.vapour_pressure,
                          .pressure = state.pressure,
                          .speed = state.wind_speed,
                          .shortwave = state.shortwave,
                          .radiant_temperature = state.temperature + warmer,
                          .air_changes = air_changes});
  }
  return same;
}

/// The ranges for the air at the crop also apply to the weather.
void check(const Outdoor& outdoor) { check(as_it_is(outdoor, 0.0, 0.0)); }

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
  HouseAir(HouseBalance& balance, double start, const State& state) : balance_{balance}, state_{state} {
    stepper_.initialize(state, start, first_step);
  }

  /// The state at `time` [s], which must not be earlier than in the previous call.
  const State& at(double time) {
    while (stepper_.current_time() < time) {
      if (++steps_ > most_steps) cannot_follow(stepper_.current_time(), "too many steps");
      try {
        stepper_.do_step(std::ref(balance_));
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

  HouseBalance& balance_;
  Stepper stepper_ =
      odeint::make_dense_output(tolerance, tolerance, interval, odeint::runge_kutta_dopri5<State>());
  State state_;
  int steps_ = 0;
};

/// The air of an enclosed house, every `interval` and at the end of the weather record. The initial
/// temperature is that outside, or the set point of the heating if that is higher.
CropAir air_in_house(const Scenario& scenario, const Outdoor& outdoor) {
  const double first = outdoor.time.front(), last = outdoor.time.back();
  const OutdoorState outside = outdoor.state.front();
  const State start{std::max(outside.temperature, scenario.house.heating_temperature),
                    air::vapour_density(outside.vapour_pressure, outside.temperature) / grams};
  HouseBalance balance{scenario, outdoor};
  CropAir result;
  const auto add = [&](double time, const State& state) {
    result.time.push_back(time);
    result.state.push_back(balance.inside(state, time));
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
  return scenario.house.enclosed ? air_in_house(scenario, outdoor) : air_in_open(scenario, outdoor);
}

CropAir air_from_logger(const Scenario& scenario, const Outdoor& measured) {
  check(scenario);
  CropAir air = as_it_is(measured, scenario.air.surroundings_offset, scenario.house.air_changes);
  check(air);
  return air;
}

}  // namespace wetspan
