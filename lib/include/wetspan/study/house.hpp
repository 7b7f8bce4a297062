// The greenhouse climate: computes the air at the crop from the weather outside.
#pragma once

#include <vector>

#include "wetspan/plant/crop_air.hpp"
#include "wetspan/study/scenario.hpp"

namespace wetspan {

/// The weather outside at one moment.
struct OutdoorState {
  double temperature = 0;      ///< [K]
  double vapour_pressure = 0;  ///< [Pa]
  double pressure = 0;         ///< [Pa]
  double wind_speed = 0;       ///< at 10 m [m/s]
  double shortwave = 0;        ///< global radiation on a horizontal surface [W/m2]
};

/// A record of the weather outside, interpolated linearly in time.
struct Outdoor {
  std::vector<double> time;  ///< [s], increasing
  std::vector<OutdoorState> state;
};

/// The air at the crop without a spray, every five minutes over the record.
///
/// An enclosed house obeys these balances per floor area:
///
///   C dT/dt          = solar gain + (absorbed - lambda E) of the crop + heating
///                      - (heat_loss + n height rho c_p)(T - T_out)
///   height d rho/dt  = E_crop - n height (rho - rho_out) - condensation on the cover - fog
///
/// C is house.heat_capacity, height house.height, E_crop the transpiration, n the air changes per time, and
/// rho the vapour density; rho c_p is the volumetric heat capacity of air. The vents open in proportion to
/// the excess of air temperature over vent_temperature, and the air change rate is n = air_changes + opening
/// vent_air_changes. The heating supplies the heat that is lacking below heating_temperature. The crop
/// transpires according to the linearised energy balance of its leaves (Penman 1948; Monteith 1965), through
/// boundary layer and stomata. The cover's temperature lies between the inside and outside temperatures.
/// Vapour in excess of saturation is removed as fog within a minute. The simulation starts from outside
/// conditions and needs some hours to settle, so begin the record a day before the first spray. wet_span()
/// computes how the spray itself changes this air.
///
/// Without a house the crop stands in the open. The wind speed is reduced from 10 m to 2 m by the logarithmic
/// profile over grass of FAO-56 (Allen et al. 1998, eq. 47).
///
/// Throws InputError for a record that is not allowed, IntegrationError when the integration fails.
CropAir air_at_crop(const Scenario& scenario, const Outdoor& outdoor);

/// The air at the crop as a logger there measured it. The wind speed of `measured` is that of the air at the
/// leaves, and its shortwave that at the top of the crop. The scenario supplies what no logger measures: the
/// radiant temperature is that of the air plus air.surroundings_offset, and the air changes are
/// house.air_changes.
/// @throws InputError for a scenario or a record that is not allowed
CropAir air_from_logger(const Scenario& scenario, const Outdoor& measured);

}  // namespace wetspan
