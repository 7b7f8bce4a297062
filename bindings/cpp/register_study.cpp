// The table of inputs, scenarios, records of air and weather, simulation.

#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <cstddef>
#include <string>
#include <vector>

#include "wetspan/errors.hpp"
#include "wetspan/study/batch.hpp"
#include "wetspan/study/house.hpp"
#include "wetspan/study/outcomes.hpp"

namespace py = pybind11;
using namespace wetspan;

namespace {

py::array_t<double> column(const std::vector<double>& values) {
  return py::array_t<double>(static_cast<py::ssize_t>(values.size()), values.data());
}

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
std::vector<State> rows(const std::vector<double>& time, const py::dict& columns,
                        const std::vector<std::pair<const char*, double State::*>>& members) {
  std::vector<State> states(time.size());
  for (const auto& [name, member] : members) {
    if (!columns.contains(name)) throw InputError(std::string("the record lacks the column '") + name + "'");
    const auto values = py::cast<std::vector<double>>(columns[name]);
    if (values.size() != time.size()) {
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

py::dict values_of(const std::vector<Outcome>& outcomes) {
  py::dict result;
  for (const OutcomeVariable& variable : outcome_variables()) {
    std::vector<double> values;
    values.reserve(outcomes.size());
    for (const Outcome& outcome : outcomes) values.push_back(variable.value(outcome));
    result[py::str(std::string(variable.name))] = column(values);
  }
  std::vector<std::string> status;
  for (const Outcome& outcome : outcomes) status.emplace_back(wetspan::name_of(outcome.wet.status));
  result["status"] = status;
  return result;
}

void register_parameters(py::module_& m) {
  py::class_<Parameter>(m, "Parameter", "One row of the table of inputs.")
      .def_property_readonly(
          "key", [](const Parameter& row) { return key_of(row); }, "section.name")
      .def_readonly("section", &Parameter::section)
      .def_readonly("name", &Parameter::name)
      .def_property_readonly(
          "kind", [](const Parameter& row) { return name_of(row.kind); }, "number, count, toggle or choice")
      .def_readonly("standard", &Parameter::standard, "default, in `unit`; a choice by its position")
      .def_readonly("low", &Parameter::low, "least allowed")
      .def_readonly("high", &Parameter::high, "most allowed")
      .def_readonly("spread", &Parameter::spread, "90 % factor of plausible deviation")
      .def_readonly("unit", &Parameter::unit, "SI: what a bare number means")
      .def_readonly("shown", &Parameter::shown, "the unit people are shown")
      .def_property_readonly(
          "grade", [](const Parameter& row) { return std::string(1, "ABCD"[static_cast<int>(row.grade)]); },
          "evidence: A measured, B published formula, C calibrated, D assumption")
      .def_readonly("source", &Parameter::source)
      .def_readonly("meaning", &Parameter::meaning)
      .def_property_readonly(
          "choices",
          [](const Parameter& row) {
            return std::vector<std::string>(row.choices.begin(), row.choices.end());
          },
          "names, for a choice");
  m.def(
      "parameters", [] { return std::vector<Parameter>(parameters().begin(), parameters().end()); },
      "Every row of the table of inputs, in its order.");
  m.def(
      "sections",
      [] {
        std::vector<std::pair<std::string, std::string>> result;
        for (const Section& section : sections()) result.emplace_back(section.name, section.about);
        return result;
      },
      "Name and meaning of every section of a scenario.");
  m.def(
      "outcome_variables",
      [] {
        std::vector<std::tuple<std::string, std::string, std::string, std::string>> result;
        for (const OutcomeVariable& row : outcome_variables()) {
          result.emplace_back(row.name, row.unit, row.shown, row.meaning);
        }
        return result;
      },
      "Name, SI unit, shown unit and meaning of every number an outcome tells.");
}

void register_scenario(py::module_& m) {
  py::class_<Scenario>(m, "Scenario", "One value of every input, in the table's units.")
      .def(py::init<>())
      .def(
          "get", [](const Scenario& self, const std::string& key) { return get(self, parameter_index(key)); },
          py::arg("key"), "The value of an input, in the table's unit.")
      .def(
          "set",
          [](Scenario& self, const std::string& key, double value) {
            set(self, parameter_index(key), value);
          },
          py::arg("key"), py::arg("value"), "Sets an input; raises InputError when the value is not allowed.")
      .def(
          "check", [](const Scenario& self) { check(self); }, "Raises InputError on inputs that contradict.")
      .def("copy", [](const Scenario& self) { return self; })
      .def(
          "__eq__", [](const Scenario& self, const Scenario& other) { return self == other; },
          py::is_operator());
}

void register_records(py::module_& m) {
  py::class_<CropAir>(m, "CropAir", "The air at the crop through time.")
      .def(
          py::init([](const std::vector<double>& time, const py::dict& columns) {
            CropAir air{time, rows(time, columns, air_columns)};
            check(air);
            return air;
          }),
          py::arg("time"), py::arg("columns"),
          "Time [s] and columns temperature [K], vapour_pressure [Pa], pressure [Pa], speed [m/s], shortwave "
          "[W/m2], radiant_temperature [K], air_changes [1/s].")
      .def_property_readonly("time", [](const CropAir& self) { return column(self.time); })
      .def("columns", [](const CropAir& self) {
        py::dict result;
        for (const auto& [name, member] : air_columns) {
          std::vector<double> values;
          for (const AirState& state : self.state) values.push_back(state.*member);
          result[name] = column(values);
        }
        return result;
      });
  py::class_<Outdoor>(m, "Outdoor", "The weather outside through time.")
      .def(py::init([](const std::vector<double>& time, const py::dict& columns) {
             return Outdoor{time, rows(time, columns, outdoor_columns)};
           }),
           py::arg("time"), py::arg("columns"),
           "Time [s] and columns temperature [K], vapour_pressure [Pa], pressure [Pa], wind_speed [m/s], "
           "shortwave "
           "[W/m2].");
  m.def("air_at_crop", &air_at_crop, py::arg("scenario"), py::arg("outdoor"),
        py::call_guard<py::gil_scoped_release>(),
        "The air at the crop while nothing is sprayed, from the weather outside.");
  m.def(
      "steady_air",
      [](const Scenario& scenario) {
        return steady_air(scenario.air, scenario.house, scenario.numerics.longest);
      },
      py::arg("scenario"), "The unchanging air of a scenario, from 0 to numerics.longest.");
}

void register_simulation(py::module_& m) {
  m.def(
      "simulate",
      [](const Scenario& scenario, const CropAir& air, double start) {
        Outcome outcome;
        {
          py::gil_scoped_release release;
          outcome = simulate(scenario, air, start, true);
        }
        py::dict result = values_of({outcome});
        const History& history = outcome.wet.history;
        py::dict course;
        course["time"] = column(history.time);
        course["leaf_temperature"] = column(history.leaf_temperature);
        course["air_temperature"] = column(history.air_temperature);
        course["relative_humidity"] = column(history.relative_humidity);
        course["leaf_water"] = column(history.leaf_water);
        course["stem_water"] = column(history.stem_water);
        course["wet_share"] = column(history.wet_share);
        course["leaf_uptake"] = column(history.leaf_uptake);
        course["stem_uptake"] = column(history.stem_uptake);
        const Account& account = outcome.account;
        py::dict where;
        where["leaf surface"] = account.leaf_surface;
        where["leaf"] = account.leaf;
        where["stem surface"] = account.stem_surface;
        where["stem"] = account.stem;
        where["substrate"] = account.substrate;
        where["root"] = account.root;
        where["lost from substrate"] = account.lost;
        where["bench"] = account.bench;
        where["airborne"] = account.airborne;
        return py::make_tuple(result, course, where, outcome.wet.water_balance);
      },
      py::arg("scenario"), py::arg("air"), py::arg("start"),
      "One spray: its numbers (arrays of one), its course, where the active ingredient is, and how far the "
      "liquid's "
      "account is from closing.");
  m.def(
      "simulate_all",
      [](const std::vector<Scenario>& scenarios, const std::vector<CropAir>& airs,
         const std::vector<std::size_t>& scenario_of, const std::vector<std::size_t>& air_of,
         const std::vector<double>& starts, unsigned threads) {
        if (scenario_of.size() != starts.size() || air_of.size() != starts.size()) {
          throw InputError("simulate_all wants one scenario and one air for each start");
        }
        std::vector<Job> jobs;
        for (std::size_t i = 0; i < starts.size(); ++i) {
          jobs.push_back({&scenarios.at(scenario_of[i]), &airs.at(air_of[i]), starts[i]});
        }
        Batch batch;
        {
          py::gil_scoped_release release;
          batch = simulate_all(jobs, threads);
        }
        py::dict result = values_of(batch.outcomes);
        result["reason"] = batch.reasons;
        return result;
      },
      py::arg("scenarios"), py::arg("airs"), py::arg("scenario_of"), py::arg("air_of"), py::arg("starts"),
      py::arg("threads") = 0,
      "Many sprays: job i computes scenarios[scenario_of[i]] in airs[air_of[i]] at starts[i]. Arrays of "
      "every number, "
      "`status` and `reason` per job; NaN in one that failed.");
}

}  // namespace

void register_study(py::module_& m) {
  register_parameters(m);
  register_scenario(m);
  register_records(m);
  register_simulation(m);
}
