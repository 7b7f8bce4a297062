// The table of inputs, scenarios, records of air and weather, simulation.

#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <iterator>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <tuple>
#include <utility>
#include <vector>

#include "wetspan/errors.hpp"
#include "wetspan/plant/substrate.hpp"
#include "wetspan/plant/uptake.hpp"
#include "wetspan/study/batch.hpp"
#include "wetspan/study/house.hpp"
#include "wetspan/study/outcomes.hpp"
#include "wetspan/study/rates.hpp"

namespace py = pybind11;
using namespace wetspan;

namespace {

using Column = py::array_t<double, py::array::c_style | py::array::forcecast>;
using Columns = std::map<std::string, Column>;

py::array_t<double> column(const std::vector<double>& values) {
  return py::array_t<double>(static_cast<py::ssize_t>(values.size()), values.data());
}

template <class Array>
auto view(const Array& values) {
  return std::span(values.data(), static_cast<std::size_t>(values.size()));
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
          "grade", [](const Parameter& row) { return std::string(1, letter_of(row.grade)); },
          "evidence: A measured, B published formula, C calibrated, D assumption")
      .def_property_readonly(
          "measured_on", [](const Parameter& row) { return measured_on(row.grade); },
          "what a measured value was measured on: this, another (substance, crop or surface), or nothing")
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
  py::class_<Scenario>(m, "Scenario", "One value of every input, in the table's units and order.")
      .def(py::init<>())
      .def(
          "get", [](const Scenario& self, std::size_t position) { return get(self, position); },
          py::arg("position"), "The value of the input at a position of the table.")
      .def(
          "set", [](Scenario& self, std::size_t position, double value) { set(self, position, value); },
          py::arg("position"), py::arg("value"),
          "Sets an input; raises InputError when the value is not allowed.")
      .def(
          "check", [](const Scenario& self) { check(self); }, "Raises InputError on inputs that contradict.")
      .def("copy", [](const Scenario& self) { return self; })
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
          "The calendar: time after the start of growth [s], and inputs that differ, by position.")
      .def(
          "equals", [](const Scenario& self, const Scenario& other) { return self == other; },
          py::arg("other"));
}

void register_records(py::module_& m) {
  py::class_<CropAir>(m, "CropAir", "The air at the crop through time.")
      .def(
          py::init([](const Column& time, const Columns& columns) {
            const auto moments = view(time);
            CropAir air{{moments.begin(), moments.end()}, rows(moments.size(), columns, air_columns)};
            check(air);
            return air;
          }),
          py::arg("time"), py::arg("columns"),
          "Time [s] and columns temperature [K], vapour_pressure [Pa], pressure [Pa], speed [m/s], shortwave "
          "[W/m2], radiant_temperature [K], air_changes [1/s].")
      .def(py::pickle(
          [](const CropAir& self) {
            py::dict columns;
            for (const auto& [name, member] : air_columns) {
              std::vector<double> values;
              for (const AirState& state : self.state) values.push_back(state.*member);
              columns[name] = column(values);
            }
            return py::make_tuple(column(self.time), columns);
          },
          [](const py::tuple& state) {
            auto time = py::cast<std::vector<double>>(state[0]);
            auto states = rows<AirState>(time.size(), py::cast<Columns>(state[1]), air_columns);
            return CropAir{std::move(time), std::move(states)};
          }))
      .def_property_readonly("time", [](const CropAir& self) { return column(self.time); })
      .def_property_readonly("columns", [](const CropAir& self) {
        std::map<std::string, py::array_t<double>> result;
        for (const auto& [name, member] : air_columns) {
          std::vector<double> values;
          values.reserve(self.state.size());
          for (const AirState& state : self.state) values.push_back(state.*member);
          result.emplace(name, column(values));
        }
        return result;
      });
  py::class_<Outdoor>(m, "Outdoor", "The weather outside through time.")
      .def(py::init([](const Column& time, const Columns& columns) {
             const auto moments = view(time);
             return Outdoor{{moments.begin(), moments.end()}, rows(moments.size(), columns, outdoor_columns)};
           }),
           py::arg("time"), py::arg("columns"),
           "Time [s] and columns temperature [K], vapour_pressure [Pa], pressure [Pa], wind_speed [m/s], "
           "shortwave [W/m2].");
  m.def("air_at_crop", &air_at_crop, py::arg("scenario"), py::arg("outdoor"),
        py::call_guard<py::gil_scoped_release>(),
        "The air at the crop while nothing is sprayed, from the weather outside.");
  m.def(
      "steady_air", [](const Scenario& scenario) { return steady_air(scenario); }, py::arg("scenario"),
      "The unchanging air of a scenario, from 0 to numerics.longest.");
}

/// An optional column: the array itself.
template <class Array>
auto view_of(const std::optional<Array>& values) {
  return values ? view(*values) : decltype(view(*values)){};
}

void register_simulation(py::module_& m) {
  m.def(
      "simulate",
      [](const Scenario& scenario, const CropAir& air, double start, bool history_too,
         const std::optional<Column>& weeks, bool heights_too) {
        Outcome outcome;
        HeightCourse heights;
        {
          const auto days = view_of(weeks);
          py::gil_scoped_release release;
          outcome = simulate(scenario, air, start, history_too, days, heights_too ? &heights : nullptr);
        }
        const History& history = outcome.wet.history;
        std::map<std::string, py::array_t<double>> course{
            {"time", column(history.time)},
            {"leaf_temperature", column(history.leaf_temperature)},
            {"air_temperature", column(history.air_temperature)},
            {"relative_humidity", column(history.relative_humidity)},
            {"leaf_water", column(history.leaf_water)},
            {"stem_water", column(history.stem_water)},
            {"wet_share", column(history.wet_share)},
            {"leaf_uptake", column(history.leaf_uptake)},
            {"stem_uptake", column(history.stem_uptake)}};
        std::map<std::string, py::array_t<double>> over_weeks{{"time", column(heights.time)},
                                                              {"untreated", column(heights.untreated)},
                                                              {"treated", column(heights.treated)},
                                                              {"inhibition", column(heights.inhibition)},
                                                              {"tips", column(heights.tips)}};
        const Account& account = outcome.account;
        std::vector<std::pair<std::string, double>> places{{"leaf surface", account.leaf_surface},
                                                           {"leaf", account.leaf},
                                                           {"stem surface", account.stem_surface},
                                                           {"stem", account.stem},
                                                           {"weathered", account.weathered},
                                                           {"substrate", account.substrate},
                                                           {"root", account.root},
                                                           {"lost from substrate", account.lost},
                                                           {"bench", account.bench},
                                                           {"airborne", account.airborne}};
        const InPlant& in = outcome.growth.plant;
        std::vector<std::pair<std::string, double>> plant{
            {"blades", in.blades},         {"depot", in.depot},         {"tips", in.tips},
            {"grown away", in.grown_away}, {"elsewhere", in.elsewhere}, {"metabolised", in.metabolised}};
        std::vector<std::map<std::string, double>> effects;
        for (const Effect& effect : outcome.growth.applications) {
          effects.push_back({{"to_come", effect.to_come},
                             {"saved", effect.saved},
                             {"uptake.leaf", effect.uptake.leaf},
                             {"uptake.stem", effect.uptake.stem},
                             {"uptake.root", effect.uptake.root},
                             {"tips.leaf", effect.tips.leaf},
                             {"tips.stem", effect.tips.stem},
                             {"tips.root", effect.tips.root}});
        }
        std::map<std::string, double> numbers;
        for (const OutcomeVariable& variable : outcome_variables()) {
          numbers.emplace(variable.name, variable.value(outcome));
        }
        py::dict told;
        told["numbers"] = std::move(numbers);
        told["status"] = std::string(wetspan::name_of(outcome.wet.status));
        told["path"] = std::string(wetspan::name_of(outcome.wet.path));
        told["course"] = std::move(course);
        told["heights"] = std::move(over_weeks);
        told["places"] = std::move(places);
        told["plant"] = std::move(plant);
        told["applications"] = std::move(effects);
        told["water_balance"] = outcome.wet.water_balance;
        return told;
      },
      py::arg("scenario"), py::arg("air"), py::arg("start"), py::arg("history") = false,
      py::arg("weeks") = py::none(), py::arg("heights") = false,
      "What is applied to one crop: `numbers`, `status`, `path`, `course` of the wet span (empty without "
      "`history`), `heights` over the weeks (empty without `heights`), `places` of the active ingredient [1] "
      "and its places in the `plant` [kg], `applications`, one by one [m, kg], and `water_balance`, how far "
      "the liquid's account is from closing. `weeks` are the daily mean temperatures from the start [K].");
  m.def(
      "daily_temperatures",
      [](const CropAir& air, double start, double horizon) {
        return column(daily_temperatures(air, start, horizon));
      },
      py::arg("air"), py::arg("start"), py::arg("horizon"),
      "Means of the air's temperature [K] over the days from `start` [s] that the record covers wholly.");
  m.def(
      "half_amounts",
      [](const Scenario& scenario, const std::vector<std::pair<std::size_t, Column>>& inputs, double volume,
         double concentration, const Column& control) {
        const auto wanted = view(control);
        std::vector<double> found(wanted.size());
        for (const auto& [input, values] : inputs) {
          if (view(values).size() != wanted.size()) throw InputError("columns are as long as the controls");
        }
        for (std::size_t i = 0; i < wanted.size(); ++i) {
          Scenario own = scenario;
          for (const auto& [input, values] : inputs) set(own, input, view(values)[i]);
          check(own);
          const Placement placed = place(own.substrate, own.application.method, volume);
          RootRates roots = root_rates(own.active, own.uptake, own.substrate);
          roots.up *= placed.availability;
          found[i] = half_amount_for({.crop = own.crop, .uptake = own.uptake, .roots = roots},
                                     placed.held * volume * concentration, wanted[i]);
        }
        return column(found);
      },
      py::arg("scenario"), py::arg("inputs"), py::arg("volume"), py::arg("concentration"), py::arg("control"),
      "crop.half_amount [kg] at which `volume` [m3 per plant] of a concentration [kg/m3], put into the pot "
      "by "
      "the scenario's method, gives each growth control, with some inputs (positions and columns) changed; "
      "NaN "
      "where none does.");
  py::class_<RateForHeight>(m, "RateForHeight", "The concentration that gives a wanted height.")
      .def_property_readonly(
          "reach", [](const RateForHeight& self) { return std::string(wetspan::name_of(self.reach)); },
          "found, none needed, not reachable (growth to come is too little) or failed")
      .def_readonly("concentration", &RateForHeight::concentration, "[kg/m3]; NaN unless found")
      .def_readonly("height", &RateForHeight::height, "that it gives [m]")
      .def_readonly("least_height", &RateForHeight::least_height, "that the most allowed gives [m]")
      .def_readonly("reason", &RateForHeight::reason, "why it failed");
  m.def(
      "rates_for_height",
      [](const std::vector<const Scenario*>& scenarios, const std::vector<const CropAir*>& airs,
         const Column& starts, const std::optional<Column>& weeks, double height, unsigned threads) {
        const auto at = view(starts);
        const auto days = view_of(weeks);
        std::vector<Job> jobs;
        if (airs.empty() || at.size() != scenarios.size() ||
            (airs.size() != 1 && airs.size() != scenarios.size())) {
          throw InputError("rates want a start for each scenario, and one air or one for each");
        }
        for (std::size_t i = 0; i < scenarios.size(); ++i) {
          jobs.push_back({scenarios[i], airs[airs.size() == 1 ? 0 : i], at[i], days});
        }
        const py::gil_scoped_release release;
        return rates_for_height(jobs, height, {.threads = threads});
      },
      py::arg("scenarios"), py::arg("airs"), py::arg("starts"), py::arg("weeks"), py::arg("height"),
      py::arg("threads") = 0,
      "The concentration that gives each scenario's plants a height [m] when height is judged.");
  m.def("as_drench", &as_drench, py::arg("scenario"), py::arg("volume"),
        "The scenario as a drench of `volume` [m3] for each plant.");
  m.def(
      "dry_deposit",
      [](const Scenario& scenario, double mass, double temperature, double duration) {
        const double mobile = turns_mobile(scenario.uptake, mass);
        const Weathered after =
            weathered(scenario.uptake, {.mobile = mobile, .locked = mass - mobile}, temperature, duration);
        return std::pair(after.taken_up / mass, after.lost / mass);
      },
      py::arg("scenario"), py::arg("mass"), py::arg("temperature"), py::arg("duration"),
      "Shares of a deposit [kg per m2 of contact] that are taken up and lost in a time [s] after it has "
      "dried, "
      "at a steady temperature [K].");
  m.def("may_change", &may_change, py::arg("position"),
        "Whether an application of a calendar may differ from the scenario's in an input.");
}

}  // namespace

void register_study(py::module_& m) {
  register_parameters(m);
  register_scenario(m);
  register_records(m);
  register_simulation(m);
}
