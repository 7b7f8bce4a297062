// The air of the house while a spray dries in it. The reference path and the clock path of a wet crop both
// use these equations.
//
// The house's air receives all evaporated water and supplies the latent heat, per area of floor. The
// differences from the air of the record are two entries of the state: vapour x (over all water delivered to
// the crop) and temperature y (over warmth_unit):
//
//   dx/dt = E / came - air_changes x - condensed
//   C dy/dt = -lambda E sprayed_share / warmth_unit - (heat_loss + air_changes height rho c_p) y
//
// where `condensed` is the additional condensation on the cover that the added vapour causes. `came` is all
// water delivered to the crop. docs/science/house.md gives the derivation. Symbols are those of
// plant/leaf_equations.hpp.
#pragma once

#include "../plant/leaf_equations.hpp"
#include "wet_crop.hpp"

namespace wetspan {

/// Constants of a house in these equations, per area of bench. `Number` is double or vector lanes.
template <class Number>
struct HouseTerms {
  Number answers;          // 1 if the spray changes the air of the house, else 0
  Number vapour;           // density of added vapour for x = 1 [kg/m3]
  Number height, sprayed;  // [m]; share of the floor that is sprayed [1]
  Number by_capacity;      // [m2 K/J]
  Number heat_loss;        // [W/m2/K]
  Number condensing;       // conductance of the cover / (sprayed x all water delivered) [m3/kg/s]
  Number by_came;          // 1 / (all water delivered, per area of bench) [m2/kg]
};

HouseTerms<double> house_terms(const WetCrop& crop);

inline namespace WETSPAN_LANES_NAMESPACE {

/// One row of the record of the air, in the order of AirState.
template <class R>
struct RecordedAir {
  R temperature, vapour_pressure, pressure, speed, shortwave, radiant_temperature, air_changes;
};

/// The air over the crop, including the effect of the spray.
template <class R>
struct SprayedAir {
  FreeAir<R> free;
  R by_temperature, by_radiant_temperature;  // [1/K]
  R shortwave, radiant_temperature, air_changes;
  R added_state, added;  // vapour added by the spray: x [1], and its density [kg/m3]
  R latent;              // heat
  R volumetric_heat;     // [J/m3/K]
};

/// `vapour` and `heat` are the entries x and y of the state.
template <class L, class Air, class R = typename L::R>
[[gnu::always_inline]] inline SprayedAir<R> sprayed_air(const Air& of, const HouseTerms<R>& house,
                                                        const RecordedAir<R>& record, const R& vapour,
                                                        const R& heat) {
  using namespace constants;
  SprayedAir<R> now;
  now.shortwave = record.shortwave;
  now.radiant_temperature = record.radiant_temperature;
  now.air_changes = record.air_changes;
  now.added_state = vapour;
  now.added = vapour * house.vapour;
  const R temperature = L::fma(house.answers * warmth_unit, heat, record.temperature);
  // one division for all quotients
  const R temperatures = record.temperature * record.radiant_temperature;
  const R pressure_temperature = record.pressure * temperature;
  const R by_all = L::inverse(temperatures * pressure_temperature);
  const R by_temperatures = by_all * pressure_temperature, by_pt = by_all * temperatures;
  const R by_pressure = by_pt * temperature;
  now.by_temperature = by_pt * record.pressure;
  now.by_radiant_temperature = by_temperatures * record.temperature;
  const R was =
      record.vapour_pressure * (by_temperatures * record.radiant_temperature) * (1.0 / gas_constant_water);
  const R density = L::max(was + now.added, 0.0);
  now.free =
      free_air<L>(of, temperature, density, density * gas_constant_water * temperature, record.pressure,
                  by_pressure, L::max(record.speed, stillest), record.radiant_temperature);
  now.latent = of.latent_heat(now.free.place);
  now.volumetric_heat =
      record.pressure * now.by_temperature * (1.0 / gas_constant) * of.molar_heat(now.free.moisture);
  return now;
}

/// Rates of change of the vapour and heat that the spray has added [1/s].
template <class R>
struct HouseRates {
  R leaving;  // loss of vapour by ventilation and by condensation on the cover
  R heat;
};
/// `source` is the evaporation from all sprayed surfaces, per area of bench [kg/m2/s].
template <class L, class Air, class R = typename L::R>
[[gnu::always_inline]] inline HouseRates<R> house_rates(const Air& of, const HouseTerms<R>& house,
                                                        const SprayedAir<R>& now, const R& heat,
                                                        const R& source) {
  HouseRates<R> rates{};
  if (!L::any(house.answers > L::all(0.0))) return rates;
  const R cover = of.saturation_over_ice_or_water(now.radiant_temperature) * now.by_radiant_temperature *
                  (1.0 / constants::gas_constant_water);
  const R& vapour = now.free.vapour;
  const R condensed =
      house.condensing * (L::max(vapour - cover, 0.0) - L::max(vapour - now.added - cover, 0.0));
  rates.leaving = house.answers * L::fma(now.air_changes, now.added_state, condensed);
  const R loss = L::fma(now.air_changes * house.height, now.volumetric_heat, house.heat_loss);
  rates.heat = -house.answers * house.by_capacity *
               L::fma(now.latent * source, house.sprayed * (1.0 / warmth_unit), loss * heat);
  return rates;
}

}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan
