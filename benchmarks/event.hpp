// One event of the benchmark, a spray on its way from landed to dry, as numbers in a file that every rival
// reads: all doubles, SI, in this order. equations.py reads the same order.
#pragma once

#include <cstddef>
#include <fstream>
#include <stdexcept>
#include <string>
#include <vector>

namespace benchmark {

constexpr std::size_t layers = 2, upper_classes = 16, lower_classes = 8;
constexpr std::size_t layer_classes = upper_classes + lower_classes, classes = layers * layer_classes;
constexpr std::size_t surfaces = 3;     // of a layer: upper and lower side of its leaves, stems
constexpr std::size_t rows = 145;       // of the air at the crop: twelve hours
constexpr double row_spacing = 300.0;   // [s]
constexpr double dried_share = 1e-3;    // share of its water at which a class counts as dried out
constexpr double warmth_unit = 10.0;    // [K] of temperatures in the state
constexpr double longest_step = 600.0;  // [s]
constexpr double absolute_share = 0.1;  // absolute over relative tolerance; the state is of order one

/// The air at the crop at one moment; its speed does not change within an event.
struct AirRow {
  double temperature, vapour_pressure, pressure, shortwave, radiant_temperature, air_changes;
};

/// What the library needs to make the same event: the inputs that vary, and what lies on the crop.
struct Spray {
  double volume_rate, dv50, relative_span, leaf_width, air_speed;
  double bench_liquid, air_vapour;
  double liquid[layers], active[layers][surfaces], stem_liquid[layers];
  double diameter[layers][upper_classes], volume_share[layers][upper_classes];
};

/// What the equations need. Areas are per area of bench; per_bench is the water of a class on that basis.
struct Event {
  Spray spray;
  double start;  // of the spray, after the first row [s]
  double last;   // how long the event can be followed [s]
  double base_temperature, water_density, came;
  double house_vapour;  // at the start, over `came`
  double sprayed_share, house_height, cover_conductance, heat_loss, house_heat_capacity;
  double stem_diameter;
  double bench_area, bench_water, bench_conductance;
  double leaf_width, turbulence, absorptance, emissivity, dry_heat_capacity, water_heat;
  double stomatal_conductance, stomatal_half_light;
  double fullness, receding_share, receding_factor;  // see wetspan/plant/drying.hpp
  double permeance, activation_energy, most_dissolved, solubility_enthalpy, stem_cuticle;
  double dry_water;  // leaves count as dry with no more than this left [m]
  double air_speed[layers], area[layers], light[layers], view_above[layers], view_below[layers];
  double stem_area[layers], stem_water[layers];
  double stem_light[layers];        // share of the light that they absorb, per lateral area
  double active[layers][surfaces];  // active ingredient that came, per area of the surface
  double warmth[layers];            // at the start, over warmth_unit
  double landed[classes];           // water per leaf area [m]; a layer's upper classes, then its lower
  double number[classes], radius[classes];
  AirRow air[rows];
};

inline std::vector<Event> read_events(const std::string& path, std::size_t from, std::size_t to) {
  std::ifstream file(path, std::ios::binary | std::ios::ate);
  if (!file) throw std::runtime_error("cannot open " + path);
  if (static_cast<std::size_t>(file.tellg()) < to * sizeof(Event) || from > to) {
    throw std::runtime_error(path + " holds fewer events than asked for");
  }
  std::vector<Event> events(to - from);
  file.seekg(static_cast<std::streamoff>(from * sizeof(Event)));
  file.read(reinterpret_cast<char*>(events.data()),
            static_cast<std::streamsize>(events.size() * sizeof(Event)));
  return events;
}

}  // namespace benchmark
