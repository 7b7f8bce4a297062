// The air of the house while a spray dries in it: each equation once, for both ways of following a wet crop.
//
// All that evaporates goes into the air of the house, per area of floor; the heat for it comes from there,
// too. What the spray adds to the record's air is followed as two entries of the state, vapour x (over all
// water that came) and heat y (over warmth_unit):
//
//   dx/dt = E / came - air_changes x - condensed
//   C dy/dt = -lambda E sprayed_share / warmth_unit - (heat_loss + air_changes height rho c_p) y
//
// with what condenses on the cover being the difference that the added vapour makes to it.
// docs/science/house.md has the derivation. Symbols as in plant/leaf_equations.hpp.
#pragma once

#include "../plant/leaf_equations.hpp"
#include "wet_crop.hpp"

namespace wetspan {

/// A house as the spray meets it; per area of bench. `Number` is double or vector lanes.
template <class Number>
struct HouseTerms {
  Number answers;          // 1 where the house answers to the spray, else 0
  Number vapour;           // density of the vapour added, over the state's entry [kg/m3]
  Number height, sprayed;  // [m]; share of the floor that is sprayed [1]
  Number by_capacity;      // [m2 K/J]
  Number heat_loss;        // [W/m2/K]
  Number condensing;       // conductance of the cover / (sprayed x all water that came) [m3/kg/s]
  Number by_came;          // of all water that came, per area of bench [m2/kg]
};

HouseTerms<double> house_terms(const WetCrop& crop);

inline namespace WETSPAN_LANES_NAMESPACE {

/// One row of the air's record, in the order of AirState.
template <class R>
struct RecordedAir {
  R temperature, vapour_pressure, pressure, speed, shortwave, radiant_temperature, air_changes;
};

/// The air over the crop as the spray has left it.
template <class R>
struct SprayedAir {
  FreeAir<R> free;
  R by_temperature, by_radiant_temperature;  // [1/K]
  R shortwave, radiant_temperature, air_changes;
  R added_state, added;  // vapour by the spray: over all water that came [1], as a density [kg/m3]
  R latent;              // heat
  R volumetric_heat;     // [J/m3/K]
};

/// `vapour` and `heat` are what the spray added, as in the state.
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

/// Rates of what the spray has added [1/s].
template <class R>
struct HouseRates {
  R leaving;  // of the vapour: with the air that is exchanged, and condensed on the cover
  R heat;
};
/// `source` is the evaporation of all that was sprayed, per area of bench [kg/m2/s].
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
