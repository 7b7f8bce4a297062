#include "wetspan/plant/crop_air.hpp"

#include <algorithm>
#include <cmath>
#include <sstream>

#include "../require.hpp"
#include "wetspan/errors.hpp"

namespace wetspan {
namespace {

struct Column {
  const char* name;
  double AirState::* member;
  double low, high;
};

// allowed ranges of a record, wide enough for any place where crops grow
constexpr Column columns[] = {
    {"temperature [K]", &AirState::temperature, 233.15, 333.15},
    {"vapour_pressure [Pa]", &AirState::vapour_pressure, 0.0, 2e4},
    {"pressure [Pa]", &AirState::pressure, 5e4, 1.1e5},
    {"speed [m/s]", &AirState::speed, 0.0, 60.0},
    {"shortwave [W/m2]", &AirState::shortwave, 0.0, 1500.0},
    {"radiant_temperature [K]", &AirState::radiant_temperature, 180.0, 370.0},
    {"air_changes [1/s]", &AirState::air_changes, 0.0, 1.0},
};

/// Whether a state is possible. Records are long; without a branch for each column this takes a fraction of
/// the time.
bool is_possible(const AirState& state) {
  bool all = true;
  for (const Column& column : columns) {
    const double value = state.*column.member;
    all &= value >= column.low;
    all &= value <= column.high;
  }
  return all;
}

/// The reason why a state is impossible; empty if it is possible.
std::string not_possible(const AirState& state) {
  for (const Column& column : columns) {
    const double value = state.*column.member;
    if (value >= column.low && value <= column.high) continue;
    std::ostringstream message;
    message << column.name << " = " << value << " is outside " << column.low << " to " << column.high;
    return message.str();
  }
  return "";
}

Conditions conditions(double temperature, double humidity, double shortwave, double air_changes) {
  return {.temperature = temperature,
          .relative_humidity = humidity,
          .vapour_pressure_deficit = (1.0 - humidity) * air::saturation_pressure(temperature),
          .shortwave = shortwave,
          .air_changes = air_changes};
}

}  // namespace

Conditions conditions(const AirState& air) {
  check(air);
  return conditions(air.temperature, air::relative_humidity(air.vapour_pressure, air.temperature),
                    air.shortwave, air.air_changes);
}

Conditions conditions(const CropClimate& air, const House& house) {
  require_amount("air.temperature [K]", air.temperature);
  require_amount("air.relative_humidity", air.relative_humidity);
  require_amount("air.shortwave [W/m2]", air.shortwave);
  require_amount("house.air_changes [1/s]", house.air_changes);
  return conditions(air.temperature, air.relative_humidity, air.shortwave, house.air_changes);
}

AirState CropAir::at(double t) const {
  if (time.size() < 2 || state.size() != time.size()) check(*this);  // throws with the reason
  require_finite("the time of an air record's state [s]", t);
  const auto after = std::upper_bound(time.begin() + 1, time.end() - 1, t);
  const auto j = static_cast<std::size_t>(after - time.begin()), i = j - 1;
  const double w = (t - time[i]) / (time[j] - time[i]);
  AirState between;
  for (const Column& column : columns) {
    between.*column.member =
        state[i].*column.member + w * (state[j].*column.member - state[i].*column.member);
  }
  return between;
}

void check(const CropAir& air) {
  if (air.time.size() < 2) throw InputError("an air record needs two moments or more");
  if (air.time.size() != air.state.size()) throw InputError("an air record needs one state for each time");
  for (std::size_t i = 0; i < air.time.size(); ++i) {
    if (!std::isfinite(air.time[i]) || (i > 0 && air.time[i] <= air.time[i - 1])) {
      std::ostringstream message;
      message << "air record, row " << i << ": time " << air.time[i] << " s does not follow the row before";
      throw InputError(message.str());
    }
    if (is_possible(air.state[i])) continue;
    throw InputError("air record, row " + std::to_string(i) + ": " + not_possible(air.state[i]));
  }
}

void check(const AirState& air) {
  const std::string reason = not_possible(air);
  if (!reason.empty()) throw InputError("air: " + reason);
}

CropAir steady_air(const CropClimate& air, const House& house, double duration) {
  require_above_zero("the duration of an air record [s]", duration);
  const AirState state{.temperature = air.temperature,
                       .vapour_pressure = air.relative_humidity * air::saturation_pressure(air.temperature),
                       .pressure = air.pressure,
                       .speed = air.speed,
                       .shortwave = air.shortwave,
                       .radiant_temperature = air.temperature + air.surroundings_offset,
                       .air_changes = house.air_changes};
  check(state);
  return {{0.0, duration}, {state, state}};
}

}  // namespace wetspan
