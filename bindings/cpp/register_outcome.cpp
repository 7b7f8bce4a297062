// What one crop's applications come to: the outcome, its history and heights, and the tables of what they
// tell.

#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>
#include <pybind11/typing.h>

#include <map>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "arrays.hpp"
#include "released.hpp"
#include "wetspan/study/outcomes.hpp"

namespace py = pybind11;
using namespace wetspan;

namespace {

/// Every column of a course by its name.
template <class Course>
std::map<std::string, py::array_t<double>> columns_of(const Course& course,
                                                      std::span<const CourseVariable<Course>> variables) {
  std::map<std::string, py::array_t<double>> columns;
  for (const CourseVariable<Course>& each : variables) columns.emplace(each.name, array(course.*each.values));
  return columns;
}

using Parts = py::typing::Dict<py::str, double>;

/// Every part of a whole with its name, in the order of the table.
template <class Whole>
Parts parts_of(const Whole& whole, std::span<const Part<Whole>> parts) {
  Parts told;
  for (const Part<Whole>& each : parts) told[py::str(each.name.data(), each.name.size())] = whole.*each.value;
  return told;
}

template <class Course>
void register_course_variable(py::module_& m, const char* name, const char* about) {
  py::class_<CourseVariable<Course>>(m, name, about)
      .def_readonly("name", &CourseVariable<Course>::name, "Name of the column.")
      .def_readonly("unit", &CourseVariable<Course>::unit, "SI unit of the values.")
      .def_readonly("meaning", &CourseVariable<Course>::meaning, "Description.");
}

void register_tables(py::module_& m) {
  py::class_<OutcomeVariable>(m, "OutcomeVariable", "Name, units and meaning of a number in an outcome.")
      .def_readonly("name", &OutcomeVariable::name, "Name; the part before a dot is a group.")
      .def_readonly("unit", &OutcomeVariable::unit, "SI unit of the value.")
      .def_readonly("shown", &OutcomeVariable::shown, "Unit in which people are shown the value.")
      .def_readonly("meaning", &OutcomeVariable::meaning, "Description.");
  m.def(
      "outcome_variables",
      [] { return std::vector<OutcomeVariable>(outcome_variables().begin(), outcome_variables().end()); },
      "Returns a description of every number in an outcome, in the order of the columns of tables.");
  register_course_variable<History>(m, "HistoryVariable",
                                    "Name, unit and meaning of a column in the history of a wet span.");
  m.def(
      "history_variables",
      [] {
        const auto all = history_variables();
        return std::vector<CourseVariable<History>>(all.begin(), all.end());
      },
      "Returns a description of every column of a history except time.");
  register_course_variable<HeightCourse>(m, "HeightVariable",
                                         "Name, unit and meaning of a column in the time series of heights.");
  m.def(
      "height_variables",
      [] {
        const auto all = height_variables();
        return std::vector<CourseVariable<HeightCourse>>(all.begin(), all.end());
      },
      "Returns a description of every column of the time series of heights except time.");
}

void register_courses(py::module_& m) {
  py::class_<History>(m, "History", "Time series of a wet span.")
      .def_property_readonly(
          "time", [](const History& self) { return array(self.time); }, "Time since the spray [s].")
      .def_property_readonly(
          "columns", [](const History& self) { return columns_of(self, history_variables()); },
          "The columns by name, in SI.");
  py::class_<HeightCourse>(m, "HeightCourse",
                           "Time series of the heights of a treated plant and of the untreated check.")
      .def_property_readonly(
          "time", [](const HeightCourse& self) { return array(self.time); },
          "Time since the start of growth [s].")
      .def_property_readonly(
          "columns", [](const HeightCourse& self) { return columns_of(self, height_variables()); },
          "The columns by name, in SI.");
  py::class_<BySite>(m, "BySite", "An amount, divided by the site where it entered the plant.")
      .def_readonly("leaf", &BySite::leaf, "Amount that entered through leaves.")
      .def_readonly("stem", &BySite::stem, "Amount that entered through stems.")
      .def_readonly("root", &BySite::root, "Amount that entered through roots.");
  py::class_<Effect>(m, "Effect", "The effect of one application on height.")
      .def_readonly("to_come", &Effect::to_come,
                    "Length that the untreated check still grows after the application [m].")
      .def_readonly("saved", &Effect::saved, "Length by which the application shortens the plant [m].")
      .def_readonly("uptake", &Effect::uptake, "Active ingredient that the plant takes up [kg per plant].")
      .def_readonly("tips", &Effect::tips,
                    "Part of the uptake that reaches the growing tips [kg per plant].");
}

void register_outcome_type(py::module_& m) {
  py::class_<Outcome>(m, "Outcome", "The result of the applications to one crop.")
      .def_property_readonly(
          "numbers",
          [](const Outcome& self) {
            std::map<std::string, double> numbers;
            for (const OutcomeVariable& each : outcome_variables())
              numbers.emplace(each.name, each.value(self));
            return numbers;
          },
          "The values of all outcome variables by name, in SI.")
      .def_property_readonly(
          "status", [](const Outcome& self) { return std::string(name_of(self.wet.status)); },
          "How the first wet span ended.")
      .def_property_readonly(
          "path", [](const Outcome& self) { return std::string(name_of(self.wet.path)); },
          "Path that computed the first wet span: 'reference' or 'clock'.")
      .def_property_readonly(
          "history", [](const Outcome& self) { return self.wet.history; },
          "Time series of the first wet span, which includes a re-wetting; empty unless it was asked for.")
      .def_property_readonly(
          "account", [](const Outcome& self) { return parts_of(self.account, account_parts()); },
          "Places of the active ingredient when height is judged, as shares of the applied amount [1].")
      .def_property_readonly(
          "in_plant", [](const Outcome& self) { return parts_of(self.growth.plant, plant_parts()); },
          "Places within the plant of the active ingredient that was taken up [kg per plant].")
      .def_property_readonly(
          "applications", [](const Outcome& self) { return self.growth.applications; },
          "The effect of each application.")
      .def_property_readonly(
          "water_balance", [](const Outcome& self) { return self.wet.water_balance; },
          "Error of the water balance: water that landed, less what evaporated and what is left, over what "
          "landed [1].");
}

}  // namespace

void register_outcome(py::module_& m) {
  register_tables(m);
  register_courses(m);
  register_outcome_type(m);
  m.def(
      "simulate",
      [](const Scenario& scenario, const CropAir& air, double start, bool history,
         const std::optional<Column>& weeks) {
        const auto days = view_of(weeks);
        return released([&] { return simulate(scenario, air, start, history, days, nullptr, Signals{}); });
      },
      py::arg("scenario"), py::arg("air"), py::arg("start"), py::arg("history") = false,
      py::arg("weeks") = py::none(),
      "Simulates the applications to one crop. Growth starts at `start` [s] of the air record; `weeks` are "
      "the daily mean temperatures from then on [K], and crop.mean_temperature holds after them.");
  m.def(
      "height_course",
      [](const Scenario& scenario, const CropAir& air, double start, const std::optional<Column>& weeks) {
        const auto days = view_of(weeks);
        HeightCourse course;
        released([&] { simulate(scenario, air, start, false, days, &course, Signals{}); });
        return course;
      },
      py::arg("scenario"), py::arg("air"), py::arg("start"), py::arg("weeks") = py::none(),
      "Simulates the applications to one crop, and returns the heights over time.");
}
