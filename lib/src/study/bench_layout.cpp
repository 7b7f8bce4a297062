// Where the plants of a bench stand, and how large they are.
#include "bench_layout.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <numbers>
#include <vector>

#include "../parameter_rows.hpp"
#include "../require.hpp"
#include "../spray/passes.hpp"
#include "wetspan/plant/canopy.hpp"

namespace wetspan {

void check(const Layout& value){WETSPAN_CHECK_ROWS("layout", WETSPAN_LAYOUT)}

std::span<const Parameter> bench_parameters() {
  static const std::vector<Parameter> rows = [] {
    std::vector<Parameter> all;
    WETSPAN_ADD_ROWS(all, "pattern", WETSPAN_PATTERN)
    WETSPAN_ADD_ROWS(all, "wand", WETSPAN_WAND)
    WETSPAN_ADD_ROWS(all, "boom", WETSPAN_BOOM)
    WETSPAN_ADD_ROWS(all, "layout", WETSPAN_LAYOUT)
    WETSPAN_ADD_ROWS(all, "bench", WETSPAN_BENCH_VOLUME)
    WETSPAN_ADD_ROWS(all, "bench", WETSPAN_BENCH)
    WETSPAN_ADD_ROWS(all, "drench", WETSPAN_POT_VOLUME)
    WETSPAN_ADD_ROWS(all, "drench", WETSPAN_DRENCH)
    return all;
  }();
  return rows;
}

double row_spacing(const Layout& layout) {
  return layout.arrangement == Arrangement::staggered ? 0.5 * std::numbers::sqrt3 * layout.spacing
                                                      : layout.spacing;
}

double plant_density(const Layout& layout) { return 1.0 / (layout.spacing * row_spacing(layout)); }

double bench_length(const Layout& layout) {
  const bool shifted = layout.arrangement == Arrangement::staggered && layout.rows > 1;
  return layout.spacing * (layout.columns + (shifted ? 0.5 : 0.0));
}

double bench_width(const Layout& layout) { return row_spacing(layout) * layout.rows; }

std::vector<Place> places(const Layout& layout) {
  check(layout);
  std::vector<Place> result;
  for (int row = 0; row < layout.rows; ++row) {
    const double shift = layout.arrangement == Arrangement::staggered && row % 2 == 1 ? 0.5 : 0.0;
    for (int column = 0; column < layout.columns; ++column)
      result.push_back(
          {layout.spacing * (column + 0.5 + shift), row_spacing(layout) * (row + 0.5), row, column});
  }
  return result;
}

std::vector<double> sizes(const Layout& layout, std::uint64_t seed) {
  check(layout);
  std::vector<double> result;
  for (std::uint64_t i = 0;
       i < static_cast<std::uint64_t>(layout.rows) * static_cast<std::uint64_t>(layout.columns); ++i)
    result.push_back(lognormal(noise(seed, size_stream, i), layout.size_variation));
  return result;
}

double crown_diameter(const Canopy& canopy) {
  check(canopy);
  return std::sqrt(4.0 / std::numbers::pi * canopy.crown_cover / canopy.plant_density);
}

Scenario plant_on_bench(const Scenario& mean, double deposit, double size, double pot_diameter,
                        double density) {
  require("a plant's size", size, 0.05, 20.0, "times the mean");
  Scenario plant = mean;
  const double larger = size * size, pot = pot_diameter / mean.canopy.pot_diameter;
  plant.application.volume_rate = deposit;
  plant.canopy.plant_density = density;
  plant.canopy.leaf_area *= larger;
  plant.canopy.stem_area *= larger;
  plant.canopy.crown_cover =
      std::min(1.0, mean.canopy.crown_cover * larger * (density / mean.canopy.plant_density));
  plant.canopy.pot_diameter = pot_diameter;
  plant.substrate.volume *= pot * pot * pot;
  plant.uptake.water_use *= larger;
  plant.crop.half_amount *= larger;
  check(plant);
  pot_cover(plant.canopy);  // throws if the pots do not fit
  return plant;
}

double spacing_for(double plant_density, Arrangement arrangement) {
  require("plant_density", plant_density, 1e-3, 1e6, "1/m2");
  const double closer =
      arrangement == Arrangement::staggered ? std::sqrt(0.75) : 1.0;  // rows of a staggered layout
  return std::sqrt(1.0 / (plant_density * closer));
}

}  // namespace wetspan
