// The house: from the weather outside to the air at the crop.
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
  double shortwave = 0;        ///< global, on the horizontal [W/m2]
};

/// A record of the weather outside; linear in between.
struct Outdoor {
  std::vector<double> time;  ///< [s], increasing
  std::vector<OutdoorState> state;
};

/// The air at the crop while nothing is sprayed, every five minutes over the record.
///
/// In an enclosed house, per area of floor:
///
///   C dT/dt          = solar gain + (absorbed - lambda E) of the crop + heating
///                      - (heat_loss + n height rho c_p)(T - T_out)
///   height d rho/dt  = E_crop - n height (rho - rho_out) - condensation on the cover - fog
///
/// The vents open in proportion to the rise above vent_temperature, n = air_changes + opening
/// vent_air_changes; the heating closes the gap below heating_temperature. The crop transpires by the
/// linearised balance of its leaves (Penman 1948; Monteith 1965) through boundary layer and stomata; cover
/// temperature lies between inside and outside; what exceeds saturation is gone as fog within a minute. The
/// first hours settle from outside conditions: give the record a day before the first spray. The spray itself
/// acts on this air in wet_span().
///
/// Without a house the crop stands in the weather itself, the wind reduced from 10 m to 2 m by the
/// logarithmic profile over grass of FAO-56 (Allen et al. 1998, eq. 47).
///
/// Throws InputError for a record that is not allowed, IntegrationError when it cannot be followed.
CropAir air_at_crop(const Scenario& scenario, const Outdoor& outdoor);

}  // namespace wetspan
