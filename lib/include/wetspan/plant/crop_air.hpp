// The air at the crop through time, as leaves feel it.
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
  double radiant_temperature = 0;  ///< of cover or sky [K]
  double air_changes = 0;          ///< of the house [1/s]
};

/// A record of AirState: columns of equal length over increasing `time`; linear in between.
struct CropAir {
  std::vector<double> time;  ///< [s]
  std::vector<AirState> state;

  /// The state at `t` [s], which lies within the record. Throws InputError unless the record has two moments
  /// or more, and a state for each.
  AirState at(double t) const;
};

/// Throws InputError unless every value is finite and possible; the message names the first at fault.
void check(const AirState& air);

/// Throws InputError unless the record has two moments or more, its times increase, and every value is
/// finite and possible; the message names the first row at fault.
void check(const CropAir& air);

/// The unchanging air of a scenario without a weather record, from 0 to `duration` [s].
CropAir steady_air(const CropClimate& air, const House& house, double duration);

}  // namespace wetspan
