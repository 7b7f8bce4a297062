// Air and radiation at crop height as functions of time.
#pragma once

#include <cstddef>
#include <vector>

#include "wetspan/parameters.hpp"

namespace wetspan {

/// The air and light at crop height at one moment.
struct AirState {
  double temperature = 0;          ///< [K]
  double vapour_pressure = 0;      ///< [Pa]
  double pressure = 0;             ///< [Pa]
  double speed = 0;                ///< at the leaves [m/s]
  double shortwave = 0;            ///< at the top of the crop [W/m2]
  double radiant_temperature = 0;  ///< of the cover or the sky [K]
  double air_changes = 0;          ///< of the house [1/s]
};

/// A record of AirState at increasing times, interpolated linearly. Both columns have the same length.
struct CropAir {
  std::vector<double> time;  ///< [s]
  std::vector<AirState> state;

  /// The state at `t` [s]. Beyond the record its first or last piece is continued, since integrations look a
  /// step ahead. Throws InputError unless t is finite and the record has at least two times and one state for
  /// each.
  AirState at(double t) const;
};

/// The air as people know it.
struct Conditions {
  double temperature = 0;              ///< [K]
  double relative_humidity = 0;        ///< [1]
  double vapour_pressure_deficit = 0;  ///< [Pa]
  double shortwave = 0;                ///< at the top of the crop [W/m2]
  double air_changes = 0;              ///< of the house [1/s]
};
/// The conditions of a state of the air. Throws InputError for a state that is not allowed.
Conditions conditions(const AirState& air);
/// The conditions of the crop's air in a house, its air changes included.
Conditions conditions(const CropClimate& air, const House& house);

/// Throws InputError unless every value is finite and physically possible; the message names the first
/// invalid value.
void check(const AirState& air);

/// Throws InputError unless the record has at least two times, the times increase, and every value is finite
/// and physically possible; the message names the first invalid row.
void check(const CropAir& air);

/// The constant air of a scenario without a weather record, from 0 to `duration` [s]. Throws InputError
/// unless the duration is finite and above 0.
CropAir steady_air(const CropClimate& air, const House& house, double duration);

}  // namespace wetspan
