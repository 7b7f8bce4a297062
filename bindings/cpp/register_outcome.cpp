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
      .def_readonly("name", &CourseVariable<Course>::name)
      .def_readonly("unit", &CourseVariable<Course>::unit, "SI")
      .def_readonly("meaning", &CourseVariable<Course>::meaning);
}

void register_tables(py::module_& m) {
  py::class_<OutcomeVariable>(m, "OutcomeVariable", "A number that an outcome tells.")
      .def_readonly("name", &OutcomeVariable::name, "A dotted name belongs to a group.")
      .def_readonly("unit", &OutcomeVariable::unit, "SI")
      .def_readonly("shown", &OutcomeVariable::shown, "The unit people are shown.")
      .def_readonly("meaning", &OutcomeVariable::meaning);
  m.def(
      "outcome_variables",
      [] { return std::vector<OutcomeVariable>(outcome_variables().begin(), outcome_variables().end()); },
      "Every number that an outcome tells, in the order of tables.");
  register_course_variable<History>(m, "HistoryVariable", "A column of a wet span's history.");
  m.def(
      "history_variables",
      [] {
        const auto all = history_variables();
        return std::vector<CourseVariable<History>>(all.begin(), all.end());
      },
      "Every column of a history but its time.");
  register_course_variable<HeightCourse>(m, "HeightVariable", "A column of the course of heights.");
  m.def(
      "height_variables",
      [] {
        const auto all = height_variables();
        return std::vector<CourseVariable<HeightCourse>>(all.begin(), all.end());
      },
      "Every column of the course of heights but its time.");
}

void register_courses(py::module_& m) {
  py::class_<History>(m, "History", "The course of a wet span.")
      .def_property_readonly(
          "time", [](const History& self) { return array(self.time); }, "From the spray [s].")
      .def_property_readonly(
          "columns", [](const History& self) { return columns_of(self, history_variables()); },
          "Every column by its name.");
  py::class_<HeightCourse>(m, "HeightCourse", "Heights of the treated plant and the untreated check.")
      .def_property_readonly(
          "time", [](const HeightCourse& self) { return array(self.time); }, "From the start of growth [s].")
      .def_property_readonly(
          "columns", [](const HeightCourse& self) { return columns_of(self, height_variables()); },
          "Every column by its name.");
  py::class_<BySite>(m, "BySite", "An amount by the site where it entered the plant.")
      .def_readonly("leaf", &BySite::leaf)
      .def_readonly("stem", &BySite::stem)
      .def_readonly("root", &BySite::root);
  py::class_<Effect>(m, "Effect", "What one application does to the height.")
      .def_readonly("to_come", &Effect::to_come, "Length the untreated check still grows after it [m].")
      .def_readonly("saved", &Effect::saved, "Length held back by it [m].")
      .def_readonly("uptake", &Effect::uptake, "[kg per plant]")
      .def_readonly("tips", &Effect::tips, "Of it, what reached the growing tips [kg per plant].");
}

void register_outcome_type(py::module_& m) {
  py::class_<Outcome>(m, "Outcome", "What is applied to one crop comes to.")
      .def_property_readonly(
          "numbers",
          [](const Outcome& self) {
            std::map<std::string, double> numbers;
            for (const OutcomeVariable& each : outcome_variables())
              numbers.emplace(each.name, each.value(self));
            return numbers;
          },
          "Every outcome variable by its name, in SI.")
      .def_property_readonly("status",
                             [](const Outcome& self) { return std::string(name_of(self.wet.status)); })
      .def_property_readonly("path", [](const Outcome& self) { return std::string(name_of(self.wet.path)); })
      .def_property_readonly(
          "history", [](const Outcome& self) { return self.wet.history; },
          "Of the first wet span; empty unless it was asked for.")
      .def_property_readonly(
          "account", [](const Outcome& self) { return parts_of(self.account, account_parts()); },
          "Active ingredient by place when height is judged, as shares of what was applied.")
      .def_property_readonly(
          "in_plant", [](const Outcome& self) { return parts_of(self.growth.plant, plant_parts()); },
          "What was taken up by its place in the plant [kg per plant].")
      .def_property_readonly(
          "applications", [](const Outcome& self) { return self.growth.applications; },
          "What each application does.")
      .def_property_readonly(
          "water_balance", [](const Outcome& self) { return self.wet.water_balance; },
          "Landed less evaporated less left, over landed.");
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
      "What is applied to one crop; `weeks` are the daily mean temperatures from the start of growth [K].");
  m.def(
      "height_course",
      [](const Scenario& scenario, const CropAir& air, double start, const std::optional<Column>& weeks) {
        const auto days = view_of(weeks);
        HeightCourse course;
        released([&] { simulate(scenario, air, start, false, days, &course, Signals{}); });
        return course;
      },
      py::arg("scenario"), py::arg("air"), py::arg("start"), py::arg("weeks") = py::none(),
      "Heights over the weeks.");
}
