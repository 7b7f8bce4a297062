// Many sprays at once: rows in, a table out.

#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "arrays.hpp"
#include "released.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/study/batch.hpp"
#include "wetspan/study/outcomes.hpp"

namespace py = pybind11;
using namespace wetspan;

namespace {

/// An array over a table's own memory, which lives as long as the array.
template <class Value>
py::array_t<Value> within(const py::object& table, const std::vector<Value>& values,
                          std::vector<py::ssize_t> shape) {
  return py::array_t<Value>(std::move(shape), values.data(), table);
}

Instructions instructions_named(const std::string& name) {
  for (const Instructions each : instructions_here()) {
    if (name_of(each) == name) return each;
  }
  throw InputError("this machine has no " + name + " instructions");
}

py::tuple names(std::initializer_list<std::string_view> texts) {
  py::list list;
  for (const std::string_view text : texts) list.append(py::str(text.data(), text.size()));
  return py::tuple(list);
}

void register_names(py::module_& m) {
  m.attr("status_names") = names({name_of(Status::dry), name_of(Status::wet_at_end),
                                  name_of(Status::nothing_wet), name_of(Status::failed)});
  m.attr("path_names") = names({name_of(Path::reference), name_of(Path::clock)});
  py::list refusals;
  for (const std::string_view text : clock_refusals()) refusals.append(py::str(text.data(), text.size()));
  m.attr("refusal_names") = py::tuple(refusals);
  m.def(
      "instructions",
      [] {
        std::vector<std::string> found;
        for (const Instructions each : instructions_here()) found.emplace_back(name_of(each));
        return found;
      },
      "Returns the vector instructions that the clock path can use on this machine, the fastest last.");
}

void register_table(py::module_& m) {
  py::class_<FailedRow>(m, "FailedRow", "A row that could not be computed.")
      .def_readonly("row", &FailedRow::row, "Position of the row.")
      .def_readonly("reason", &FailedRow::reason, "Reason, in words.");
  py::class_<RowTable>(m, "RowTable", "Results of rows. Its arrays are views of its own memory.")
      .def_readonly("count", &RowTable::count, "Number of rows.")
      .def_property_readonly(
          "values",
          [](const py::object& self) {
            const auto& table = self.cast<const RowTable&>();
            return within(self, table.values,
                          {static_cast<py::ssize_t>(outcome_variables().size()),
                           static_cast<py::ssize_t>(table.count)});
          },
          "Values by outcome variable and row, in SI; NaN in a failed row.")
      .def_property_readonly(
          "status",
          [](const py::object& self) {
            const auto& table = self.cast<const RowTable&>();
            return within(self, table.status, {static_cast<py::ssize_t>(table.count)});
          },
          "Status of each row, as a position in status_names.")
      .def_property_readonly(
          "path",
          [](const py::object& self) {
            const auto& table = self.cast<const RowTable&>();
            return within(self, table.path, {static_cast<py::ssize_t>(table.count)});
          },
          "Path that computed each row, as a position in path_names.")
      .def_property_readonly(
          "refusal",
          [](const py::object& self) {
            const auto& table = self.cast<const RowTable&>();
            return within(self, table.refusal, {static_cast<py::ssize_t>(table.count)});
          },
          "Reason why the reference path computed a row, as a position in refusal_names; 0 for other rows.")
      .def_readonly("failed", &RowTable::failed, "The failed rows, in order.");
}

RowTable simulate_columns(std::size_t count, std::vector<const Scenario*> scenarios,
                          std::vector<const CropAir*> airs,
                          const std::vector<std::pair<std::size_t, Column>>& inputs,
                          const std::optional<Positions>& scenario_of, const std::optional<Positions>& air_of,
                          const std::optional<Column>& starts, const std::vector<Column>& weeks,
                          const std::optional<Positions>& weeks_of, unsigned threads,
                          const std::optional<std::string>& instructions, bool reference_only,
                          const py::object& progress) {
  Rows rows{.count = count,
            .scenarios = std::move(scenarios),
            .scenario_of = view_of(scenario_of),
            .inputs = {},
            .airs = std::move(airs),
            .air_of = view_of(air_of),
            .starts = view_of(starts),
            .weeks = {.means = {}, .of = view_of(weeks_of)}};
  for (const Column& days : weeks) rows.weeks.means.push_back(view(days));
  for (const auto& [input, values] : inputs) rows.inputs.push_back({input, view(values)});
  BatchOptions options = until_interrupted(threads, progress);
  options.reference_only = reference_only;
  if (instructions) options.instructions = instructions_named(*instructions);
  return released([&] { return simulate_rows(rows, options); });
}

}  // namespace

void register_batch(py::module_& m) {
  register_names(m);
  register_table(m);
  m.def("simulate_rows", &simulate_columns, py::arg("count"), py::arg("scenarios"), py::arg("airs"),
        py::kw_only(), py::arg("inputs") = std::vector<std::pair<std::size_t, Column>>{},
        py::arg("scenario_of") = py::none(), py::arg("air_of") = py::none(), py::arg("starts") = py::none(),
        py::arg("weeks") = std::vector<Column>{}, py::arg("weeks_of") = py::none(), py::arg("threads") = 0,
        py::arg("instructions") = py::none(), py::arg("reference_only") = false,
        py::arg("progress") = py::none(),
        "Computes many sprays. A row is the scenario scenarios[scenario_of[row]] with the values of `inputs` "
        "(positions and columns). It is sprayed at starts[row] [s] in airs[air_of[row]]; without airs, in "
        "the constant air of its own scenario. The crop then grows at weeks[weeks_of[row]], daily mean "
        "temperatures [K], or at crop.mean_temperature. `progress` is called about ten times a second with "
        "the number of finished rows. An interrupt ends the computation.");
}
