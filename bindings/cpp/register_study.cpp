// The table of inputs, scenarios, records of air and weather.

#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <algorithm>
#include <cstddef>
#include <iterator>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <tuple>
#include <utility>
#include <vector>

#include "arrays.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/plant/canopy.hpp"
#include "wetspan/study/house.hpp"
#include "wetspan/study/simulate.hpp"

namespace py = pybind11;
using namespace wetspan;

namespace {

using Columns = std::map<std::string, Column>;

const char* name_of(Kind kind) {
  switch (kind) {
    case Kind::number:
      return "number";
    case Kind::count:
      return "count";
    case Kind::toggle:
      return "toggle";
    case Kind::choice:
      return "choice";
  }
  return "";
}

/// Reads columns of equal length into a record's rows.
template <class State>
std::vector<State> rows(std::size_t length, const Columns& columns,
                        const std::vector<std::pair<const char*, double State::*>>& members) {
  std::vector<State> states(length);
  for (const auto& [name, member] : members) {
    if (!columns.contains(name)) throw InputError(std::string("the record lacks the column '") + name + "'");
    const auto values = view(columns.at(name));
    if (values.size() != length) {
      throw InputError(std::string("column '") + name + "' is not as long as the record's time");
    }
    for (std::size_t i = 0; i < values.size(); ++i) states[i].*member = values[i];
  }
  return states;
}

const std::vector<std::pair<const char*, double AirState::*>> air_columns{
    {"temperature", &AirState::temperature}, {"vapour_pressure", &AirState::vapour_pressure},
    {"pressure", &AirState::pressure},       {"speed", &AirState::speed},
    {"shortwave", &AirState::shortwave},     {"radiant_temperature", &AirState::radiant_temperature},
    {"air_changes", &AirState::air_changes}};

const std::vector<std::pair<const char*, double OutdoorState::*>> outdoor_columns{
    {"temperature", &OutdoorState::temperature},
    {"vapour_pressure", &OutdoorState::vapour_pressure},
    {"pressure", &OutdoorState::pressure},
    {"wind_speed", &OutdoorState::wind_speed},
    {"shortwave", &OutdoorState::shortwave}};

void register_parameters(py::module_& m) {
  py::class_<Parameter>(m, "Parameter", "One row of the table of inputs.")
      .def_property_readonly(
          "key", [](const Parameter& row) { return key_of(row); }, "Name of the input: section.name.")
      .def_readonly("section", &Parameter::section, "Section of a scenario to which the input belongs.")
      .def_readonly("name", &Parameter::name, "Name of the input within its section.")
      .def_property_readonly(
          "kind", [](const Parameter& row) { return name_of(row.kind); },
          "Kind of the input: number, count, toggle or choice.")
      .def_readonly("standard", &Parameter::standard,
                    "Default in `unit`; of a choice, its position in `choices`.")
      .def_readonly("low", &Parameter::low, "Smallest allowed value.")
      .def_readonly("high", &Parameter::high, "Largest allowed value.")
      .def_readonly(
          "spread", &Parameter::spread,
          "Factor within which the truth plausibly (90 %) lies of the default; 1 if the user states it.")
      .def_readonly("unit", &Parameter::unit, "SI unit, which a number without a unit is in.")
      .def_readonly("shown", &Parameter::shown, "Unit in which people are shown the value.")
      .def_property_readonly(
          "grade", [](const Parameter& row) { return std::string(1, letter_of(row.grade)); },
          "Evidence of the default: A measured, B published formula or standard, C calibrated, D assumption.")
      .def_property_readonly(
          "measured_on", [](const Parameter& row) { return measured_on(row.grade); },
          "What a measured value was measured on: 'this' or 'another' substance, crop or surface; empty if "
          "it was not measured.")
      .def_readonly("source", &Parameter::source, "Source of the default.")
      .def_readonly("meaning", &Parameter::meaning, "Description of the input.")
      .def_property_readonly(
          "choices",
          [](const Parameter& row) {
            return std::vector<std::string>(row.choices.begin(), row.choices.end());
          },
          "Names of the options of a choice; empty for other kinds.");
  m.def(
      "parameters", [] { return std::vector<Parameter>(parameters().begin(), parameters().end()); },
      "Returns all rows of the table of inputs, in the order of the table.");
  py::class_<Section>(m, "Section", "A section of a scenario.")
      .def_readonly("name", &Section::name, "Name of the section.")
      .def_readonly("about", &Section::about, "Description of the section.");
  m.def(
      "sections", [] { return std::vector<Section>(sections().begin(), sections().end()); },
      "Returns all sections of a scenario, in the order of the table.");
}

void register_scenario(py::module_& m) {
  py::class_<Scenario>(
      m, "Scenario",
      "A value for each row of the table of inputs, in the SI units and the order of the table.")
      .def(py::init<>())
      .def(
          "get", [](const Scenario& self, std::size_t position) { return get(self, position); },
          py::arg("position"), "Returns the value of the input at a position of the table.")
      .def(
          "set", [](Scenario& self, std::size_t position, double value) { set(self, position, value); },
          py::arg("position"), py::arg("value"),
          "Sets the input at a position of the table. Raises InputError if the value is not allowed.")
      .def(
          "check", [](const Scenario& self) { check(self); },
          "Raises InputError if inputs contradict each other.")
      .def(
          "copy", [](const Scenario& self) { return self; }, "Returns a copy.")
      .def_property(
          "applications",
          [](const Scenario& self) {
            std::vector<std::pair<double, std::map<std::size_t, double>>> calendar;
            for (const Treatment& each : self.applications) {
              calendar.emplace_back(each.at, std::map<std::size_t, double>{});
              for (const auto& change : each.changes) calendar.back().second[change.input] = change.value;
            }
            return calendar;
          },
          [](Scenario& self, const std::vector<std::pair<double, std::map<std::size_t, double>>>& calendar) {
            self.applications.clear();
            for (const auto& [at, changes] : calendar) {
              Treatment treatment{at, {}};
              for (const auto& [input, value] : changes) treatment.changes.push_back({input, value});
              self.applications.push_back(std::move(treatment));
            }
          },
          "The calendar of applications: for each, its time after the start of growth [s] and the values of "
          "the inputs that differ from the scenario, by position in the table.")
      .def(
          "equals", [](const Scenario& self, const Scenario& other) { return self == other; },
          py::arg("other"), "Whether all inputs and the calendar are equal.");
  m.def("may_change", &may_change, py::arg("position"),
        "Whether the applications of a calendar may differ in the input at a position of the table.");
}

void register_crop_air(py::module_& m) {
  py::class_<CropAir>(m, "CropAir", "A record of the air at the crop.")
      .def(py::init([](const Column& time, const Columns& columns) {
             const auto moments = view(time);
             CropAir air{{moments.begin(), moments.end()}, rows(moments.size(), columns, air_columns)};
             check(air);
             return air;
           }),
           py::arg("time"), py::arg("columns"),
           "Makes a record from its times [s] and the columns temperature [K], vapour_pressure [Pa], "
           "pressure [Pa], speed [m/s], shortwave [W/m2], radiant_temperature [K] and air_changes [1/s]. "
           "Raises InputError if a column is missing, has another length, or holds a value that is not "
           "allowed.")
      .def(py::pickle(
          [](const CropAir& self) {
            py::dict columns;
            for (const auto& [name, member] : air_columns) {
              std::vector<double> values;
              for (const AirState& state : self.state) values.push_back(state.*member);
              columns[name] = array(values);
            }
            return py::make_tuple(array(self.time), columns);
          },
          [](const py::tuple& state) {
            auto time = py::cast<std::vector<double>>(state[0]);
            auto states = rows<AirState>(time.size(), py::cast<Columns>(state[1]), air_columns);
            return CropAir{std::move(time), std::move(states)};
          }))
      .def_property_readonly(
          "time", [](const CropAir& self) { return array(self.time); }, "Times of the rows [s].")
      .def_property_readonly(
          "columns",
          [](const CropAir& self) {
            std::map<std::string, py::array_t<double>> result;
            for (const auto& [name, member] : air_columns) {
              std::vector<double> values;
              values.reserve(self.state.size());
              for (const AirState& state : self.state) values.push_back(state.*member);
              result.emplace(name, array(values));
            }
            return result;
          },
          "The columns by name, in SI.");
}

void register_house(py::module_& m) {
  py::class_<Outdoor>(m, "Outdoor", "A record of the weather outside the house.")
      .def(py::init([](const Column& time, const Columns& columns) {
             const auto moments = view(time);
             return Outdoor{{moments.begin(), moments.end()}, rows(moments.size(), columns, outdoor_columns)};
           }),
           py::arg("time"), py::arg("columns"),
           "Makes a record from its times [s] and the columns temperature [K], vapour_pressure [Pa], "
           "pressure [Pa], wind_speed [m/s] and shortwave [W/m2]. Raises InputError if a column is missing "
           "or has another length.");
  m.def(
      "pot_cover", [](const Scenario& scenario) { return pot_cover(scenario.canopy); }, py::arg("scenario"),
      "Returns the area of the pots over that of the bench [1]. Raises InputError if they do not fit.");
  m.def("air_at_crop", &air_at_crop, py::arg("scenario"), py::arg("outdoor"),
        py::call_guard<py::gil_scoped_release>(),
        "Computes the air at the crop from the weather outside, as it is while nothing is sprayed.");
  m.def("air_from_logger", &air_from_logger, py::arg("scenario"), py::arg("measured"),
        "Returns the air at the crop as a logger there measured it, in surroundings that are warmer by "
        "air.surroundings_offset, with house.air_changes.");
  m.def(
      "steady_air", [](const Scenario& scenario) { return steady_air(scenario); }, py::arg("scenario"),
      "Returns the constant air of a scenario, long enough for all its applications.");
  m.def(
      "mean_temperatures",
      [](const CropAir& air, const Column& edges) { return array(mean_temperatures(air, view(edges))); },
      py::arg("air"), py::arg("edges"),
      "Returns the mean air temperature [K] between each of `edges` [s] and the next; NaN where the record "
      "covers less than half of that time.");
}

}  // namespace

void register_study(py::module_& m) {
  register_parameters(m);
  register_scenario(m);
  register_crop_air(m);
  register_house(m);
}
