#include "wetspan/spray/nozzle.hpp"

#include <array>
#include <cmath>
#include <string>

#include "../nearest.hpp"
#include "../require.hpp"

namespace wetspan {
namespace {

constexpr double litre_per_minute = 1e-3 / 60;  // a litre per minute in m3/s

double require_flow(double flow) { return require("flow", flow, 1e-9, 0.01, "m3/s"); }
double require_pressure(double pressure) { return require("pressure", pressure, 1e4, 2e7, "Pa"); }
double require_swath(double swath) { return require("swath", swath, 0.01, 100, "m"); }

}  // namespace

std::span<const NozzleSize> nozzle_sizes() {
  static constexpr std::array<NozzleSize, 10> sizes{{{"01", "orange", 0.4 * litre_per_minute},
                                                     {"015", "green", 0.6 * litre_per_minute},
                                                     {"02", "yellow", 0.8 * litre_per_minute},
                                                     {"025", "lilac", 1.0 * litre_per_minute},
                                                     {"03", "blue", 1.2 * litre_per_minute},
                                                     {"04", "red", 1.6 * litre_per_minute},
                                                     {"05", "brown", 2.0 * litre_per_minute},
                                                     {"06", "grey", 2.4 * litre_per_minute},
                                                     {"08", "white", 3.2 * litre_per_minute},
                                                     {"10", "light blue", 4.0 * litre_per_minute}}};
  return sizes;
}

const NozzleSize& nozzle_size(std::string_view name) {
  return row_named(name, nozzle_sizes(), "nozzle size");
}

double nozzle_flow(double rated_flow, double pressure, double rated_pressure) {
  return require_flow(rated_flow) * std::sqrt(require_pressure(pressure) / require_pressure(rated_pressure));
}

double exit_speed(double pressure, double liquid_density, double velocity_coefficient) {
  require("velocity_coefficient", velocity_coefficient, 0.3, 1, "");
  require("liquid_density", liquid_density, 500, 2000, "kg/m3");
  return velocity_coefficient * std::sqrt(2 * require_pressure(pressure) / liquid_density);
}

double fan_width(double height, double fan_angle) {
  return 2 * require("height", height, 0, 10, "m") *
         std::tan(0.5 * require("fan_angle", fan_angle, 0, 2.6, "rad"));
}

double volume_rate(double flow, double pace, double swath) {
  return require_flow(flow) / (require("pace", pace, 1e-3, 20, "m/s") * require_swath(swath));
}

double pace_for(double flow, double rate, double swath) {
  return require_flow(flow) / (require("volume_rate", rate, 1e-7, 0.1, "m") * require_swath(swath));
}

double jet_length(double flow, double speed, double fan_angle, double thickness_angle, double liquid_density,
                  double air_density) {
  require("fan_angle", fan_angle, 0.02, 2.6, "rad");
  require("thickness_angle", thickness_angle, 0.02, 2.6, "rad");
  require("speed", speed, 0.1, 200, "m/s");
  require("liquid_density", liquid_density, 500, 2000, "kg/m3");
  require("air_density", air_density, 0.5, 2, "kg/m3");
  const double section = 4 * std::tan(0.5 * fan_angle) * std::tan(0.5 * thickness_angle);
  return std::sqrt(liquid_density * require_flow(flow) / (air_density * section * speed));
}

}  // namespace wetspan
