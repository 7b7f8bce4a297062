// The bench: nozzle patterns, paths, the deposit they leave, the plants under it, and the tables of their
// inputs.

#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <map>
#include <span>
#include <string>
#include <vector>

#include "wetspan/errors.hpp"
#include "wetspan/study/bench.hpp"

namespace py = pybind11;
using namespace wetspan;

namespace {

using Column = py::array_t<double, py::array::c_style | py::array::forcecast>;
using Inputs = std::map<std::string, double>;

/// Columns of an array of passes, in this order.
constexpr std::array pass_columns{&Pass::x0,    &Pass::y0,     &Pass::x1,  &Pass::y1,
                                  &Pass::speed, &Pass::height, &Pass::flow};
/// Columns of an array of a footprint's bars, in this order.
constexpr std::array bar_columns{&Bar::left,     &Bar::right, &Bar::at_left,
                                 &Bar::at_right, &Bar::back,  &Bar::front};

py::array_t<double> column(const std::vector<double>& values) {
  return py::array_t<double>(static_cast<py::ssize_t>(values.size()), values.data());
}

std::span<const double> view(const Column& values) {
  return {values.data(), static_cast<std::size_t>(values.size())};
}

template <class Type>
void assign(Type& member, double value, const char* name) {
  if constexpr (std::is_same_v<Type, double>) {
    member = value;
  } else {
    if (!(std::abs(value) < 2e9) || value != std::floor(value))
      throw InputError(std::string(name) + " = " + std::to_string(value) + " is not a whole number");
    member = static_cast<Type>(static_cast<int>(value));
  }
}

#define WETSPAN_TAKE(type, name, standard, low, high, spread, unit, shown, grade, source, meaning) \
  if (const auto found = inputs.find(#name); found != inputs.end()) assign(to.name, found->second, #name);
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
#undef WETSPAN_TAKE

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

py::dict plants(const Inputs& inputs, std::uint64_t seed) {
  const Layout of = layout(inputs);
  const std::vector<Place> all = places(of);
  std::vector<double> x, y;
  std::vector<int> row, number;
  for (const Place& place : all) {
    x.push_back(place.x);
    y.push_back(place.y);
    row.push_back(place.row);
    number.push_back(place.column);
  }
  py::dict told;
  told["x"] = column(x);
  told["y"] = column(y);
  told["row"] = row;
  told["column"] = number;
  told["size"] = column(sizes(of, seed));
  told["density"] = plant_density(of);
  told["length"] = bench_length(of);
  told["width"] = bench_width(of);
  return told;
}

}  // namespace

void register_bench(py::module_& m) {
  m.def(
      "bench_parameters",
      [] { return std::vector<Parameter>(bench_parameters().begin(), bench_parameters().end()); },
      "Every row of the bench's tables of inputs, in their order: pattern, wand, boom, layout, bench.");

  m.def(
      "bench_pattern", [](const Inputs& inputs) { return table(pattern(pattern_input(inputs))); },
      py::arg("inputs"),
      "The footprint of a nozzle: rows of left, right, at_left, at_right, back, front, lengths per height. "
      "Inputs overrule "
      "the table `pattern` by name, SI.");
  m.def(
      "bench_measured_pattern",
      [](const Column& offsets, const Column& amounts, double height, double thickness_angle) {
        return table(measured_pattern(view(offsets), view(amounts), height, thickness_angle));
      },
      py::arg("offsets"), py::arg("amounts"), py::arg("height"), py::arg("thickness_angle"),
      "A fan as measured at `height` [m]: amounts at offsets [m], linear in between; thickness_angle [rad].");

  m.def(
      "bench_plants", &plants, py::arg("inputs"), py::arg("seed"),
      "Places [m], rows, columns and linear sizes [1] of the plants of a layout; density [1/m2]; length and "
      "width of the bench [m].");
  m.def(
      "wand_passes",
      [](const Inputs& inputs, double length, double width, double flow, std::uint64_t seed) {
        return table(wand_passes(wand(inputs), length, width, flow, seed));
      },
      py::arg("inputs"), py::arg("length"), py::arg("width"), py::arg("flow"), py::arg("seed"),
      "The passes of a hand-held wand over a bench [m]: rows of x0, y0, x1, y1 [m], speed [m/s], height [m], "
      "flow [m3/s].");
  m.def(
      "boom_passes",
      [](const Inputs& inputs, double length, double width, double flow, std::uint64_t seed) {
        return table(boom_passes(boom(inputs), length, width, flow, seed));
      },
      py::arg("inputs"), py::arg("length"), py::arg("width"), py::arg("flow"), py::arg("seed"),
      "The passes of a boom over a bench [m], rows as of a wand; `flow` [m3/s] is each nozzle's.");
  m.def(
      "even_speed", [](const Column& rows) { return table(with_even_speed(passes(rows))); },
      py::arg("passes"), "The same path at one speed that takes as long.");
  m.def(
      "even_height", [](const Column& rows) { return table(with_even_height(passes(rows))); },
      py::arg("passes"), "The same path at one height, its mean.");
  m.def(
      "emitted", [](const Column& rows) { return emitted(passes(rows)); }, py::arg("passes"),
      "Volume the passes emit [m3].");
  m.def(
      "duration", [](const Column& rows) { return duration(passes(rows)); }, py::arg("passes"),
      "Time the passes take [s].");

  py::class_<Grid>(m, "BenchGrid", "A bench under cells, and a margin of some more cells around it.")
      .def_readonly("length", &Grid::length, "[m]")
      .def_readonly("width", &Grid::width, "[m]")
      .def_readonly("columns", &Grid::columns, "cells along the length")
      .def_readonly("rows", &Grid::rows, "cells along the width")
      .def_readonly("margin", &Grid::margin, "further cells on every side");
  m.def("grid_over", &grid_over, py::arg("length"), py::arg("width"), py::arg("cell"), py::arg("overhang"),
        "Cells of about `cell` [m] that fit a bench, and as many around it as `overhang` [m] needs.");
  m.def(
      "deposit_passes",
      [](const Grid& grid, const Column& footprint, const Column& along) {
        const Pattern bars = rows(footprint, bar_columns,
                                  "a footprint is rows of left, right, at_left, at_right, back, front");
        const std::vector<Pass> path = passes(along);
        DepositMap map;
        {
          py::gil_scoped_release release;
          map = deposit_passes(grid, bars, path);
        }
        py::array_t<double> depth({grid.all_rows(), grid.all_columns()});
        std::copy(map.depth.begin(), map.depth.end(), depth.mutable_data());
        return py::make_tuple(depth, map.on_bench, map.off_bench);
      },
      py::arg("grid"), py::arg("pattern"), py::arg("passes"),
      "Depth [m] over [y, x], margin included, and the volumes on and off the bench [m3].");
  m.def(
      "mean_over",
      [](const Grid& grid, const Column& depth, const Column& x, const Column& y, const Column& diameter) {
        if (x.size() != y.size() || x.size() != diameter.size())
          throw InputError("crowns want one x, y and diameter each");
        std::vector<Disc> discs;
        for (py::ssize_t i = 0; i < x.size(); ++i)
          discs.push_back({x.data()[i], y.data()[i], diameter.data()[i]});
        return column(mean_over(grid, view(depth), discs));
      },
      py::arg("grid"), py::arg("depth"), py::arg("x"), py::arg("y"), py::arg("diameter"),
      "Mean depth [m] over discs [m] of a map as `deposit_passes` returns it.");
  m.def(
      "crown_diameter", [](const Scenario& scenario) { return crown_diameter(scenario.canopy); },
      py::arg("scenario"), "Diameter of the crown of a plant of mean size [m].");
  m.def("plant_on_bench", &plant_on_bench, py::arg("mean"), py::arg("deposit"), py::arg("size"),
        py::arg("pot_diameter"), py::arg("density"),
        "The scenario of one plant: its own deposit [m], linear size over the mean [1], pot [m], among "
        "`density` [1/m2] plants.");
  m.def("bench_noise", &noise, py::arg("seed"), py::arg("stream"), py::arg("index"),
        "Standard normal number made of its coordinates.");
}
