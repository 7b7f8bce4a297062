// Makes the events of the benchmark: daytime sprays in a made-up house over two real weather years, with the
// droplets, volumes, leaf widths and air speeds drawn by a seeded generator.
//
//   events OUTDOOR EVENTS COUNT [moments]
//
// With the last word only the moments are drawn, for one spray: all else at its defaults.
// OUTDOOR holds, for each site, an int64 number of rows and then their columns: seconds from a midnight of
// local standard time, temperature, relative humidity, pressure, wind speed, shortwave. EVENTS is written.
// Kept are the events in which no dew falls: all rivals solve the same, smaller set of equations.

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <fstream>
#include <numbers>
#include <optional>
#include <random>
#include <stdexcept>
#include <string>
#include <wetspan/wetspan.hpp>

#include "event.hpp"

namespace {

using namespace wetspan;
using benchmark::Event;

constexpr double quart_per_100_ft2 = 9.46352946e-4 / 9.290304;  // [m]
constexpr double hour = 3600.0, day = 24.0 * hour;

Outdoor read_outdoor(std::ifstream& file) {
  std::int64_t count = 0;
  if (!file.read(reinterpret_cast<char*>(&count), sizeof count)) return {};
  const auto column = [&] {
    std::vector<double> values(static_cast<std::size_t>(count));
    file.read(reinterpret_cast<char*>(values.data()), count * 8);
    if (!file) throw std::runtime_error("the weather file ends early");
    return values;
  };
  Outdoor outdoor{.time = column(), .state = std::vector<OutdoorState>(static_cast<std::size_t>(count))};
  for (const auto member : {&OutdoorState::temperature, &OutdoorState::vapour_pressure,
                            &OutdoorState::pressure, &OutdoorState::wind_speed, &OutdoorState::shortwave}) {
    const std::vector<double> values = column();
    for (std::size_t i = 0; i < values.size(); ++i) outdoor.state[i].*member = values[i];
  }
  for (OutdoorState& state : outdoor.state) {  // read as relative humidity
    state.vapour_pressure = air::vapour_pressure(state.vapour_pressure, state.temperature);
  }
  return outdoor;
}

class Draws {
 public:
  double between(double low, double high) {
    return low + (high - low) * static_cast<double>(generator() >> 11) * 0x1p-53;
  }

 private:
  std::mt19937_64 generator{20260514};
};

/// The constants of the equations, as wet_span() derives them.
std::optional<Event> event_of(const Scenario& s, const Load& load, const CropAir& air, double start) {
  Event e{};
  const AirState first = air.at(start);
  e.spray = {.volume_rate = s.application.volume_rate,
             .dv50 = s.droplets.dv50,
             .relative_span = s.droplets.relative_span,
             .leaf_width = s.leaf.width,
             .air_speed = s.air.speed,
             .bench_liquid = load.bench_liquid,
             .air_vapour = load.air_vapour,
             .liquid = {},
             .active = {},
             .stem_liquid = {},
             .diameter = {},
             .volume_share = {}};
  e.start = start;
  e.last = air.time.back() - start;
  e.base_temperature = first.temperature;
  e.water_density = water::density(std::clamp(first.temperature, 273.16, 323.15));
  e.came = load.bench_liquid + load.air_vapour;
  e.sprayed_share = s.house.sprayed_share, e.house_height = s.house.height;
  e.cover_conductance = s.house.cover_conductance, e.heat_loss = s.house.heat_loss;
  e.house_heat_capacity = s.house.heat_capacity;
  e.stem_diameter = s.stem.diameter;
  e.bench_area = 1.0 - pot_cover(s.canopy), e.bench_water = load.bench_liquid;
  e.bench_conductance = s.house.bench_conductance;
  e.leaf_width = s.leaf.width, e.turbulence = s.leaf.turbulence, e.absorptance = s.leaf.absorptance;
  e.emissivity = s.leaf.emissivity, e.dry_heat_capacity = s.leaf.heat_capacity;
  e.water_heat = water::specific_heat(first.temperature) * e.water_density;
  e.stomatal_conductance = s.leaf.stomatal_conductance;
  e.stomatal_half_light = s.leaf.stomatal_half_light;
  e.permeance = permeance(s.active, s.uptake, 298.15), e.activation_energy = s.uptake.activation_energy;
  e.most_dissolved = most_dissolved(s.active, s.uptake, 293.15),
  e.solubility_enthalpy = s.active.solubility_enthalpy;
  e.stem_cuticle = s.uptake.stem_cuticle;

  const std::vector<LeafLayer> geometry = leaf_layers(s.canopy);
  const double wet_bulb = air::wet_bulb(
      first.temperature, std::min(first.vapour_pressure, air::saturation_pressure(first.temperature)),
      first.pressure);
  double on_leaves = 0.0;
  for (std::size_t k = 0; k < benchmark::layers; ++k) {
    const Load::Layer& carries = load.layers[k];
    e.spray.liquid[k] = carries.liquid, e.spray.stem_liquid[k] = carries.stem_liquid;
    e.area[k] = geometry[k].area;
    e.light[k] = e.view_above[k] = geometry[k].light / e.area[k];
    e.view_below[k] = geometry[geometry.size() - 1 - k].light / e.area[k];
    e.air_speed[k] = first.speed * geometry[k].air_speed;
    e.stem_area[k] = geometry[k].stem.area, e.stem_water[k] = carries.stem_liquid;
    e.stem_light[k] = 0.5 * s.leaf.absorptance * e.light[k];
    const OnSurface* on[] = {&carries.upper, &carries.lower, &carries.stem};
    for (std::size_t i = 0; i < benchmark::surfaces; ++i) {
      e.spray.active[k][i] = on[i]->liquid;
      e.active[k][i] = on[i]->liquid / (i < 2 ? e.area[k] : e.stem_area[k]);
    }
    e.came += carries.liquid + carries.stem_liquid, on_leaves += carries.liquid;

    const double per_leaf = carries.liquid / e.area[k], below = s.retention.underleaf;
    const auto upper =
        deposit(carries.droplets, per_leaf * (1.0 - below), s.leaf.contact_angle, s.leaf.receding_angle);
    const auto lower = deposit(merged(carries.droplets, static_cast<int>(benchmark::lower_classes)),
                               per_leaf * below, s.leaf.contact_angle, s.leaf.receding_angle);
    if (upper.size() != benchmark::upper_classes || lower.size() != benchmark::lower_classes) return {};
    std::copy_n(carries.droplets.diameter.begin(), benchmark::upper_classes, e.spray.diameter[k]);
    std::copy_n(carries.droplets.volume_share.begin(), benchmark::upper_classes, e.spray.volume_share[k]);
    std::size_t i = k * benchmark::layer_classes;
    for (const auto* side : {&upper, &lower}) {
      for (const DropletClass& droplets : *side) {
        e.landed[i] = droplets.landed, e.number[i] = droplets.number, e.radius[i] = droplets.radius;
        e.fullness = droplets.fullness, e.receding_share = droplets.receding;
        e.receding_factor = droplets.receding_factor;
        ++i;
      }
    }

    AirState around = first;
    around.speed = e.air_speed[k];
    const double dry_leaf =
        dry_leaf_temperature(s.leaf, first.shortwave * s.leaf.absorptance * e.light[k],
                             {.above = e.view_above[k], .below = e.view_below[k]}, around, s.air.diffusivity);
    const double film = e.water_heat * carries.liquid / e.area[k];
    const double mixed = (s.leaf.heat_capacity * dry_leaf + film * wet_bulb) / (s.leaf.heat_capacity + film);
    e.warmth[k] = (mixed - first.temperature) / benchmark::warmth_unit;
  }
  e.house_vapour = load.air_vapour / e.came;
  e.dry_water = s.numerics.dry_share * on_leaves;
  for (std::size_t row = 0; row < benchmark::rows; ++row) {
    const AirState& state = air.state[row];
    e.air[row] = {state.temperature, state.vapour_pressure,     state.pressure,
                  state.shortwave,   state.radiant_temperature, state.air_changes};
  }
  return e;
}

/// The record of the hours after `start`, its time counted from its first row; `speed` is the event's.
CropAir hours_after(const CropAir& year, double start, double speed) {
  CropAir window;
  const auto first = static_cast<std::size_t>((start - year.time.front()) / benchmark::row_spacing);
  for (std::size_t row = 0; row < benchmark::rows; ++row) {
    window.time.push_back(static_cast<double>(row) * benchmark::row_spacing);
    window.state.push_back(year.state.at(first + row));
    window.state.back().speed = speed;
  }
  return window;
}

bool without_dew(const WetSpan& span) {
  // a film of dew that has been there once leaves a trace, for it is let go nowhere
  return std::all_of(span.left.layers.begin(), span.left.layers.end(),
                     [](const Load::Layer& layer) { return layer.dew == 0.0; });
}

int run(const std::string& weather, const std::string& path, std::size_t count, bool moments_only) {
  std::vector<CropAir> sites;
  std::ifstream file(weather, std::ios::binary);
  for (Outdoor outdoor = read_outdoor(file); !outdoor.time.empty(); outdoor = read_outdoor(file)) {
    sites.push_back(air_at_crop(Scenario{}, outdoor));
  }
  if (sites.empty()) throw std::runtime_error("no weather in " + weather);

  Draws draw;
  std::ofstream out(path, std::ios::binary);
  std::size_t kept = 0, drawn = 0, other_classes = 0, dewy = 0, wet = 0;
  while (kept < count) {
    const CropAir& year = sites[drawn++ % sites.size()];
    Scenario scenario;
    scenario.numerics.tolerance = 1e-6;
    if (!moments_only) {
      scenario.droplets.dv50 = draw.between(150e-6, 500e-6);
      scenario.droplets.relative_span = draw.between(0.8, 1.6);
      scenario.application.volume_rate = draw.between(1.0, 3.0) * quart_per_100_ft2;
      scenario.leaf.width = draw.between(0.02, 0.12);
      scenario.air.speed = draw.between(0.15, 0.8);
    }
    const double moment = std::floor(draw.between(1.0, 363.0)) * day + draw.between(7.0, 17.0) * hour;
    const CropAir air = hours_after(year, moment, scenario.air.speed);
    const double start = std::fmod(moment - year.time.front(), benchmark::row_spacing);
    const Load load = load_of(scenario, land(scenario, air.at(start)));
    const auto event = event_of(scenario, load, air, start);
    if (!event) {
      ++other_classes;
      continue;
    }
    const WetSpan span = wet_span(scenario, load, air, start);
    if (span.status != Status::dry) {
      ++wet;
      continue;
    }
    if (!without_dew(span)) {
      ++dewy;
      continue;
    }
    out.write(reinterpret_cast<const char*>(&*event), sizeof(Event));
    ++kept;
  }
  if (!out) throw std::runtime_error("cannot write " + path);
  std::printf(
      "%zu events of %zu drawn; left out: %zu with other numbers of classes, %zu wet for long, "
      "%zu with dew\n",
      kept, drawn, other_classes, wet, dewy);
  return 0;
}

}  // namespace

int main(int count, char** arguments) try {
  const bool moments_only = count == 5 && std::string(arguments[4]) == "moments";
  if (count != 4 && !moments_only) throw std::runtime_error("events OUTDOOR EVENTS COUNT [moments]");
  return run(arguments[1], arguments[2], std::stoul(arguments[3]), moments_only);
} catch (const std::exception& error) {
  std::fprintf(stderr, "events: %s\n", error.what());
  return 2;
}
