// The bench: nozzle patterns, paths, layouts, what became of the plants, and the tables of their inputs.

#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "arrays.hpp"
#include "inputs_by_name.hpp"
#include "released.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/study/bench.hpp"
#include "wetspan/study/outcomes.hpp"

namespace py = pybind11;
using namespace wetspan;

namespace {

/// Columns of an array of passes, in this order.
constexpr std::array pass_columns{&Pass::x0,    &Pass::y0,     &Pass::x1,  &Pass::y1,
                                  &Pass::speed, &Pass::height, &Pass::flow};
/// Columns of an array of a footprint's bars, in this order.
constexpr std::array bar_columns{&Bar::left,     &Bar::right, &Bar::at_left,
                                 &Bar::at_right, &Bar::back,  &Bar::front};

PatternInput pattern_input(const Inputs& inputs) {
  PatternInput to;
  WETSPAN_PATTERN(WETSPAN_TAKE)
  return to;
}
Wand wand(const Inputs& inputs) {
  Wand to;
  WETSPAN_WAND(WETSPAN_TAKE)
  return to;
}
Boom boom(const Inputs& inputs) {
  Boom to;
  WETSPAN_BOOM(WETSPAN_TAKE)
  return to;
}
Layout layout(const Inputs& inputs) {
  Layout to;
  WETSPAN_LAYOUT(WETSPAN_TAKE)
  return to;
}
/// Structs of doubles as rows of an array, members in the order of `columns`.
template <class Row, std::size_t N>
py::array_t<double> table(const std::vector<Row>& rows, const std::array<double Row::*, N>& columns) {
  py::array_t<double> result({rows.size(), N});
  double* cell = result.mutable_data();
  for (const Row& row : rows)
    for (const auto member : columns) *cell++ = row.*member;
  return result;
}

template <class Row, std::size_t N>
std::vector<Row> rows(const Column& table, const std::array<double Row::*, N>& columns, const char* what) {
  if (table.ndim() != 2 || table.shape(1) != static_cast<py::ssize_t>(N)) throw InputError(what);
  std::vector<Row> result(static_cast<std::size_t>(table.shape(0)));
  const double* cell = table.data();
  for (Row& row : result)
    for (const auto member : columns) row.*member = *cell++;
  return result;
}

py::array_t<double> table(const std::vector<Pass>& passes) { return table(passes, pass_columns); }
py::array_t<double> table(const Pattern& bars) { return table(bars, bar_columns); }

std::vector<Pass> passes(const Column& values) {
  return rows(values, pass_columns,
              "passes are rows of x0, y0, x1, y1 [m], speed [m/s], height [m], flow [m3/s]");
}

/// The layout of a bench: where plants stand, and how densely.
struct BenchLayout {
  Layout layout;
  double plant_density;  // [1/m2]
};

BenchLayout bench_layout(const Inputs& inputs, double plant_density_unless_spaced) {
  Layout of = layout(inputs);
  if (inputs.contains("spacing")) return {of, plant_density(of)};
  of.spacing = spacing_for(plant_density_unless_spaced, of.arrangement);
  return {of, plant_density_unless_spaced};
}

/// The part of a map that is bench, [y, x].
py::array_t<double> depth_on_bench(const DepositMap& map) {
  const Grid& grid = map.grid;
  py::array_t<double> depth({grid.rows, grid.columns});
  for (int j = 0; j < grid.rows; ++j) {
    const double* from = map.depth.data() + static_cast<std::size_t>(j + grid.margin) * grid.all_columns() +
                         static_cast<std::size_t>(grid.margin);
    std::copy(from, from + grid.columns, depth.mutable_data(j, 0));
  }
  return depth;
}

template <class Member>
auto places_of(Member Place::* member) {
  return [member](const Bench& self) {
    std::vector<Member> values;
    for (const Place& place : self.places) values.push_back(place.*member);
    return py::array_t<Member>(static_cast<py::ssize_t>(values.size()), values.data());
  };
}

auto column_of(std::vector<double> Bench::* member) {
  return [member](const Bench& self) { return array(self.*member); };
}

py::array_t<bool> flags(const std::vector<std::uint8_t>& values) {
  py::array_t<bool> result(static_cast<py::ssize_t>(values.size()));
  std::transform(values.begin(), values.end(), result.mutable_data(),
                 [](std::uint8_t value) { return value != 0; });
  return result;
}

std::map<std::string, py::array_t<double>> columns_of(const Bench& bench) {
  std::map<std::string, py::array_t<double>> result;
  for (const OutcomeVariable& variable : outcome_variables()) {
    const auto values = bench.outcomes.column(variable.name);
    result.emplace(variable.name,
                   py::array_t<double>(static_cast<py::ssize_t>(values.size()), values.data()));
  }
  return result;
}

std::vector<std::string> status_of(const Bench& bench) {
  std::vector<std::string> result;
  for (std::size_t i = 0; i < bench.missed.size(); ++i)
    result.emplace_back(bench.missed[i] ? "missed" : name_of(static_cast<Status>(bench.outcomes.status[i])));
  return result;
}

void register_paths(py::module_& m) {
  m.def(
      "bench_pattern", [](const Inputs& inputs) { return table(pattern(pattern_input(inputs))); },
      py::arg("inputs"),
      "Returns the footprint of a nozzle as rows of left, right, at_left, at_right, back and front, with "
      "lengths relative to the height. `inputs` replace the defaults of the table `pattern` by name, in "
      "SI.");
  m.def(
      "bench_measured_pattern",
      [](const Column& offsets, const Column& amounts, double height, double thickness_angle) {
        return table(measured_pattern(view(offsets), view(amounts), height, thickness_angle));
      },
      py::arg("offsets"), py::arg("amounts"), py::arg("height"), py::arg("thickness_angle"),
      "Returns the footprint of a fan that was measured at `height` [m]: amounts at offsets [m], with "
      "linear interpolation. thickness_angle [rad] is the opening across the fan.");
  py::class_<BenchLayout>(m, "BenchLayout", "Positions of the plants on a bench.")
      .def(py::init(&bench_layout), py::arg("inputs"), py::arg("plant_density"),
           "Makes a layout. `inputs` replace the defaults of the table `layout` by name, in SI. If they "
           "give a spacing, it determines the density of plants [1/m2]; otherwise `plant_density` "
           "determines the spacing.")
      .def_property_readonly(
          "length", [](const BenchLayout& self) { return bench_length(self.layout); },
          "Length of the bench [m].")
      .def_property_readonly(
          "width", [](const BenchLayout& self) { return bench_width(self.layout); },
          "Width of the bench [m].")
      .def_readonly("plant_density", &BenchLayout::plant_density, "Plants per area [1/m2].");
  m.def(
      "wand_passes",
      [](const Inputs& inputs, const BenchLayout& over, std::uint64_t seed) {
        return table(
            wand_passes(wand(inputs), bench_length(over.layout), bench_width(over.layout), 1.0, seed));
      },
      py::arg("inputs"), py::arg("layout"), py::arg("seed"),
      "Returns the passes of a hand-held wand over a bench, with a flow of 1 m3/s, as rows of x0, y0, x1, "
      "y1 [m], speed [m/s], height [m] and flow [m3/s]. `inputs` replace the defaults of the table `wand`.");
  m.def(
      "boom_passes",
      [](const Inputs& inputs, const BenchLayout& over, std::uint64_t seed) {
        return table(
            boom_passes(boom(inputs), bench_length(over.layout), bench_width(over.layout), 1.0, seed));
      },
      py::arg("inputs"), py::arg("layout"), py::arg("seed"),
      "Returns the passes of a boom over a bench, in the form of `wand_passes`. `inputs` replace the "
      "defaults of the table `boom`.");
}

void register_evenness(py::module_& m) {
  py::class_<Evenness>(m, "Evenness", "Evenness of a bench, as coefficients of variation among plants [1].")
      .def_readonly("deposit", &Evenness::deposit, "Of the deposit.")
      .def_readonly("dose", &Evenness::dose, "Of the active ingredient at the growing tips.")
      .def_readonly("height", &Evenness::height, "Of the height relative to the untreated check.")
      .def_readonly("outside", &Evenness::outside,
                    "Share of the plants whose height lies outside the band around the mean [1].")
      .def_readonly("mean_height", &Evenness::mean_height,
                    "Mean height relative to the untreated check [1].");
  py::class_<BenchLever>(m, "BenchLever",
                         "Evenness of the bench when it is computed without one cause of unevenness.")
      .def_readonly("cause", &BenchLever::cause, "Name of the cause.")
      .def_readonly("evenness", &BenchLever::evenness, "Evenness without the cause.");
  py::class_<DrenchInstead>(m, "DrenchInstead", "The drench that gives the same mean height as the spray.")
      .def(py::pickle(
          [](const DrenchInstead& self) { return py::make_tuple(self.volume_per_pot, self.concentration); },
          [](const py::tuple& state) {
            DrenchInstead drench;
            drench.volume_per_pot = py::cast<double>(state[0]);
            drench.concentration = py::cast<double>(state[1]);
            return drench;
          }))
      .def_readonly("volume_per_pot", &DrenchInstead::volume_per_pot, "Volume for each pot [m3].")
      .def_readonly("concentration", &DrenchInstead::concentration, "Concentration [kg/m3].");
}

void register_result(py::module_& m) {
  py::class_<Bench>(m, "Bench", "Results for the plants of a bench, in SI. Columns have one entry per plant.")
      .def_readonly("length", &Bench::length, "Length of the bench [m].")
      .def_readonly("width", &Bench::width, "Width of the bench [m].")
      .def_property_readonly(
          "depth", [](const Bench& self) { return depth_on_bench(self.map); },
          "Deposit as volume per area [m] over [y, x] of the bench; empty for a drench.")
      .def_property_readonly(
          "off_bench", [](const Bench& self) { return self.map.off_bench; },
          "Volume that falls beside the bench [m3].")
      .def_property_readonly("emitted", &Bench::emitted,
                             "Volume emitted, including what falls beside the bench [m3].")
      .def_readonly("nozzle_flow", &Bench::nozzle_flow,
                    "Flow of the scenario's nozzle at its pressure [m3/s].")
      .def_property_readonly(
          "flow", &Bench::flow,
          "Mean flow per nozzle that emits the volume along the path [m3/s]; 0 for a drench.")
      .def_property_readonly(
          "passes", [](const Bench& self) { return table(self.passes); },
          "The path as rows of x0, y0, x1, y1 [m], speed [m/s], height [m] and flow [m3/s].")
      .def_property_readonly("x", places_of(&Place::x), "Position along the bench [m].")
      .def_property_readonly("y", places_of(&Place::y), "Position across the bench [m].")
      .def_property_readonly("row", places_of(&Place::row), "Row of the plant, from 0.")
      .def_property_readonly("column", places_of(&Place::column), "Place of the plant in its row, from 0.")
      .def_property_readonly("sizes", column_of(&Bench::sizes), "Linear size relative to the mean [1].")
      .def_property_readonly("pot_diameters", column_of(&Bench::pot_diameters), "Diameter of the pot [m].")
      .def_property_readonly("crown_diameters", column_of(&Bench::crown_diameters),
                             "Diameter of the crown [m].")
      .def_property_readonly("deposits", column_of(&Bench::deposits),
                             "Volume per crown area, for a drench per ground area of the plant [m].")
      .def_property_readonly(
          "doses", [](const Bench& self) { return array(self.doses()); },
          "Active ingredient at the growing tips [kg].")
      .def_property_readonly(
          "heights", [](const Bench& self) { return array(self.heights()); },
          "Height relative to the untreated check of the same plant [1].")
      .def(
          "in_band", [](const Bench& self, double band) { return flags(self.in_band(band)); },
          py::arg("band"),
          "Whether each height differs from the mean height by at most `band`, as a fraction of the mean.")
      .def_property_readonly("columns", &columns_of, "The values of all outcome variables by name, in SI.")
      .def_property_readonly(
          "status", &status_of,
          "How the wet span of each plant ended; 'missed' for a plant that received too little.")
      .def_readonly("evenness", &Bench::evenness, "Evenness of the bench.")
      .def_readonly(
          "levers", &Bench::levers,
          "The bench without each cause of unevenness, the most even first; empty unless asked for.")
      .def_readonly("drench", &Bench::drench, "The drench of the lever 'drench'; None without it.");
}

}  // namespace

void register_bench(py::module_& m) {
  m.def(
      "bench_parameters",
      [] { return std::vector<Parameter>(bench_parameters().begin(), bench_parameters().end()); },
      "Returns all rows of the bench's tables of inputs, in the order of the tables: pattern, wand, boom, "
      "layout, bench, drench.");

  register_paths(m);
  register_evenness(m);
  register_result(m);
  m.def(
      "spray_bench",
      [](const Scenario& scenario, const BenchLayout& layout, std::vector<double> pot_diameters,
         const Column& footprint, const Column& along, std::optional<double> volume,
         std::optional<double> volume_per_pot, double pouring_variation, double cell, double band,
         std::uint64_t seed, const CropAir& air, double start, std::vector<double> weeks, bool levers,
         unsigned threads) {
        const BenchInput input{
            .scenario = scenario,
            .layout = layout.layout,
            .plant_density = layout.plant_density,
            .pot_diameters = std::move(pot_diameters),
            .pattern = rows(footprint, bar_columns,
                            "a footprint is rows of left, right, at_left, at_right, back, front"),
            .passes = passes(along),
            .volume = volume,
            .volume_per_pot = volume_per_pot,
            .pouring = {.pouring_variation = pouring_variation},
            .settings = {.cell = cell, .band = band},
            .weeks = std::move(weeks),
            .seed = seed};
        const BatchOptions options = until_interrupted(threads);
        return released([&] { return spray_bench(input, air, start, levers, options); });
      },
      py::arg("scenario"), py::arg("layout"), py::kw_only(), py::arg("pot_diameters"), py::arg("pattern"),
      py::arg("passes"), py::arg("volume"), py::arg("volume_per_pot"), py::arg("pouring_variation"),
      py::arg("cell"), py::arg("band"), py::arg("seed"), py::arg("air"), py::arg("start"), py::arg("weeks"),
      py::arg("levers"), py::arg("threads"),
      "Sprays or drenches a bench and computes every plant. The rows take the pot_diameters [m] in turn. "
      "`pattern` is a footprint as from `bench_pattern`, and `passes` a path as from `wand_passes`. "
      "Volumes are in m3, or None for those of the scenario; `cell` [m] is the size of the map's cells.");
}
