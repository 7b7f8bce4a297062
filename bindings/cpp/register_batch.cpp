// Many sprays at once: rows in, a table out.

#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <exception>
#include <limits>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "arrays.hpp"
#include "released.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/study/batch.hpp"
#include "wetspan/study/clock.hpp"
#include "wetspan/study/outcomes.hpp"

namespace py = pybind11;
using namespace wetspan;

namespace {

constexpr std::size_t conditions_told = 5;  // members of Conditions

/// Results of rows in NumPy's memory, which the threads that compute are the first to touch.
struct Table {
  explicit Table(std::size_t rows)
      : count(rows),
        values(shape(outcome_variables().size())),
        conditions(shape(conditions_told)),
        status(static_cast<py::ssize_t>(rows)),
        path(status.size()),
        refusal(status.size()) {
    fill(status, static_cast<std::uint8_t>(Status::failed));
    fill(path, static_cast<std::uint8_t>(Path::reference));
    fill(refusal, 0);
  }
  RowResults results() {
    return {.values = all(values),
            .status = all(status),
            .path = all(path),
            .refusal = all(refusal),
            .conditions = all(conditions)};
  }

  std::size_t count;
  py::array_t<double> values, conditions;
  py::array_t<std::uint8_t> status, path, refusal;
  std::vector<FailedRow> failed;

 private:
  std::vector<py::ssize_t> shape(std::size_t columns) const {
    return {static_cast<py::ssize_t>(columns), static_cast<py::ssize_t>(count)};
  }
  template <class Value>
  static std::span<Value> all(py::array_t<Value>& array) {
    return {array.mutable_data(), static_cast<std::size_t>(array.size())};
  }
  static void fill(py::array_t<std::uint8_t>& array, std::uint8_t value) {
    const auto whole = all(array);
    std::fill(whole.begin(), whole.end(), value);
  }
};

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
      .def_readonly("reason", &FailedRow::reason, "Reason, in words.")
      .def(
          "raise_error", [](const FailedRow& self) { std::rethrow_exception(self.error); },
          "Raises the exception that ended the row.");
  py::class_<Table, std::shared_ptr<Table>>(
      m, "RowTable", "Results of rows. All rows count as failed until they are computed.")
      .def(py::init<std::size_t>(), py::arg("count"))
      .def_readonly("count", &Table::count, "Number of rows.")
      .def_readonly("values", &Table::values,
                    "Values by outcome variable and row, in SI; NaN in a failed row.")
      .def_readonly("conditions", &Table::conditions,
                    "Conditions at the start of each row: temperature [K], relative humidity [1], vapour "
                    "pressure deficit [Pa], shortwave [W/m2] and air changes [1/s], by row; NaN in a failed "
                    "row.")
      .def_readonly("status", &Table::status, "Status of each row, as a position in status_names.")
      .def_readonly("path", &Table::path, "Path that computed each row, as a position in path_names.")
      .def_readonly("refusal", &Table::refusal,
                    "Reason why the reference path computed a row, as a position in refusal_names; 0 for "
                    "other rows.")
      .def_readonly("failed", &Table::failed, "The failed rows, those of each call in order.");
}

std::shared_ptr<Table> simulate_columns(
    std::size_t count, std::vector<const Scenario*> scenarios, std::vector<const CropAir*> airs,
    const std::vector<std::pair<std::size_t, Column>>& inputs, const std::optional<Positions>& scenario_of,
    const std::optional<Positions>& air_of, const std::optional<Column>& starts,
    const std::vector<Column>& weeks, const std::optional<Positions>& weeks_of,
    const std::optional<Positions>& which, std::shared_ptr<Table> into, unsigned threads,
    const std::optional<std::string>& instructions, bool reference_only, const py::object& progress) {
  Rows rows{.count = count,
            .scenarios = std::move(scenarios),
            .scenario_of = view_of(scenario_of),
            .inputs = {},
            .airs = std::move(airs),
            .air_of = view_of(air_of),
            .starts = view_of(starts),
            .weeks = {.means = {}, .of = view_of(weeks_of)},
            .which = view_of(which)};
  for (const Column& days : weeks) rows.weeks.means.push_back(view(days));
  for (const auto& [input, values] : inputs) rows.inputs.push_back({input, view(values)});
  BatchOptions options = until_interrupted(threads, progress);
  options.reference_only = reference_only;
  if (instructions) options.instructions = instructions_named(*instructions);
  if (!into) into = std::make_shared<Table>(count);
  if (which && which->size() == 0) return into;
  const RowResults results = into->results();
  const std::vector<FailedRow> failed = released([&] { return simulate_rows(rows, results, options); });
  into->failed.insert(into->failed.end(), failed.begin(), failed.end());
  return into;
}

/// Wet spans whose sprays have landed, for the kernel alone.
class LandedSprays {
 public:
  LandedSprays(const Scenario& scenario, const std::vector<const CropAir*>& airs, const Positions& air_of,
               const Column& starts)
      : scenario_(scenario) {
    check(scenario_);
    for (const CropAir* air : airs) airs_.push_back(*air), check(airs_.back());
    const auto moments = view(starts);
    const auto of = view(air_of);
    if (of.size() != moments.size()) throw InputError("landed sprays want one air and one start each");
    for (std::size_t i = 0; i < moments.size(); ++i) {
      const CropAir& air = airs_.at(of[i]);
      loads_.push_back(load_of(scenario_, land(scenario_, air.at(moments[i]))));
    }
    for (std::size_t i = 0; i < moments.size(); ++i) {
      jobs_.push_back({&scenario_, &loads_[i], &airs_[of[i]], moments[i]});
    }
  }
  LandedSprays(const LandedSprays&) = delete;
  LandedSprays& operator=(const LandedSprays&) = delete;

  /// Wet times [s]; NaN where the kernel does not hold.
  py::array_t<double> wet_times(const std::optional<std::string>& instructions, bool one_lane) const {
    const Instructions with = instructions ? instructions_named(*instructions) : instructions_here().back();
    const ClockRun run = clock_spans(jobs_, with, one_lane);
    std::vector<double> times;
    for (const auto& span : run.spans) {
      times.push_back(span ? span->wet_time : std::numeric_limits<double>::quiet_NaN());
    }
    return array(times);
  }

 private:
  Scenario scenario_;
  std::deque<CropAir> airs_;
  std::deque<Load> loads_;
  std::vector<SpanJob> jobs_;
};

/// The conditions of a record at some moments, one row each.
py::array_t<double> conditions_at(const CropAir& air, const Column& moments) {
  check(air);
  const auto times = view(moments);
  py::array_t<double> told({static_cast<py::ssize_t>(conditions_told), moments.size()});
  auto put = told.mutable_unchecked<2>();
  for (std::size_t i = 0; i < times.size(); ++i) {
    const Conditions now = conditions(air.at(times[i]));
    const auto at = static_cast<py::ssize_t>(i);
    put(0, at) = now.temperature, put(1, at) = now.relative_humidity;
    put(2, at) = now.vapour_pressure_deficit, put(3, at) = now.shortwave, put(4, at) = now.air_changes;
  }
  return told;
}

}  // namespace

void register_batch(py::module_& m) {
  register_names(m);
  register_table(m);
  m.def("simulate_rows", &simulate_columns, py::arg("count"), py::arg("scenarios"), py::arg("airs"),
        py::kw_only(), py::arg("inputs") = std::vector<std::pair<std::size_t, Column>>{},
        py::arg("scenario_of") = py::none(), py::arg("air_of") = py::none(), py::arg("starts") = py::none(),
        py::arg("weeks") = std::vector<Column>{}, py::arg("weeks_of") = py::none(),
        py::arg("rows") = py::none(), py::arg("into") = py::none(), py::arg("threads") = 0,
        py::arg("instructions") = py::none(), py::arg("reference_only") = false,
        py::arg("progress") = py::none(),
        "Computes many sprays. A row is the scenario scenarios[scenario_of[row]] with the values "
        "of `inputs` (positions and columns). It is sprayed at starts[row] [s] in "
        "airs[air_of[row]]; without airs, in the constant air of its own scenario. The crop then "
        "grows at weeks[weeks_of[row]], daily mean temperatures [K], or at crop.mean_temperature."
        " If `rows` is given, only these rows are computed. Results are written to the table "
        "`into`, or to a new one. `progress` is called about ten times a second with the number "
        "of finished rows. An interrupt ends the computation.");
  py::class_<LandedSprays>(m, "LandedSprays",
                           "Wet spans after the sprays have landed, for the clock path alone.")
      .def(py::init<const Scenario&, const std::vector<const CropAir*>&, const Positions&, const Column&>(),
           py::arg("scenario"), py::arg("airs"), py::arg("air_of"), py::arg("starts"))
      .def("wet_times", &LandedSprays::wet_times, py::arg("instructions") = py::none(),
           py::arg("one_lane") = false,
           "Computes the spans on this thread. Returns the wet times [s]; NaN where the clock path "
           "does not hold.");
  m.def("conditions", &conditions_at, py::arg("air"), py::arg("moments"),
        "Conditions of an air record at moments [s]; rows as in RowTable.conditions.");
}
