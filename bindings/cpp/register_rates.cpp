// How much for a wanted height, what a drench of it is, and the crop's sensitivity that an observation gives.

#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <cstddef>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "arrays.hpp"
#include "released.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/plant/substrate.hpp"
#include "wetspan/plant/uptake.hpp"
#include "wetspan/study/rates.hpp"

namespace py = pybind11;
using namespace wetspan;

namespace {

std::vector<Job> jobs_of(const std::vector<const Scenario*>& scenarios,
                         const std::vector<const CropAir*>& airs, const Column& starts,
                         const std::optional<Column>& weeks) {
  const auto at = view(starts);
  if (airs.empty() || at.size() != scenarios.size() ||
      (airs.size() != 1 && airs.size() != scenarios.size())) {
    throw InputError("rates want a start for each scenario, and one air or one for each");
  }
  std::vector<Job> jobs;
  for (std::size_t i = 0; i < scenarios.size(); ++i)
    jobs.push_back({scenarios[i], airs[airs.size() == 1 ? 0 : i], at[i], view_of(weeks)});
  return jobs;
}

void register_heights(py::module_& m) {
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
        const std::vector<Job> jobs = jobs_of(scenarios, airs, starts, weeks);
        const BatchOptions options = until_interrupted(threads);
        return released([&] { return rates_for_height(jobs, height, options); });
      },
      py::arg("scenarios"), py::arg("airs"), py::arg("starts"), py::arg("weeks"), py::arg("height"),
      py::arg("threads") = 0,
      "The concentration that gives each scenario's plants a height [m] when height is judged.");
}

void register_equivalents(py::module_& m) {
  py::class_<Equivalent>(m, "Equivalent", "What an application equals as another way of applying.")
      .def_readonly("control", &Equivalent::control, "growth control that it gives [1]")
      .def_readonly("same_amount", &Equivalent::same_amount,
                    "concentration that puts as much into the pot [kg/m3]; NaN for a spray")
      .def_readonly("same_control", &Equivalent::same_control, "the concentration for the same height");
  m.def(
      "sprays_as_drenches",
      [](const std::vector<const Scenario*>& scenarios, const std::vector<const CropAir*>& airs,
         const Column& starts, const std::optional<Column>& weeks, double volume, unsigned threads) {
        const std::vector<Job> jobs = jobs_of(scenarios, airs, starts, weeks);
        const BatchOptions options = until_interrupted(threads);
        return released([&] { return sprays_as_drenches(jobs, volume, options); });
      },
      py::arg("scenarios"), py::arg("airs"), py::arg("starts"), py::arg("weeks"), py::arg("volume"),
      py::arg("threads") = 0, "What each spray equals as a drench of `volume` [m3] for each plant.");
  m.def(
      "drenches_as_sprays",
      [](const std::vector<const Scenario*>& scenarios, const std::vector<const Scenario*>& sprays,
         const std::vector<const CropAir*>& airs, const Column& starts, const std::optional<Column>& weeks,
         unsigned threads) {
        const std::vector<Job> jobs = jobs_of(scenarios, airs, starts, weeks);
        const BatchOptions options = until_interrupted(threads);
        return released([&] { return drenches_as_sprays(jobs, sprays, options); });
      },
      py::arg("scenarios"), py::arg("sprays"), py::arg("airs"), py::arg("starts"), py::arg("weeks"),
      py::arg("threads") = 0,
      "What each drench equals as a spray: `sprays` say how it would be sprayed; their concentration is "
      "sought.");
}

void register_sensitivity(py::module_& m) {
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
        return array(found);
      },
      py::arg("scenario"), py::arg("inputs"), py::arg("volume"), py::arg("concentration"), py::arg("control"),
      "crop.half_amount [kg] at which `volume` [m3 per plant] of a concentration [kg/m3], put into the pot "
      "by the scenario's method, gives each growth control, with some inputs (positions and columns) "
      "changed; NaN where none does.");
}

/// Shares of a deposit that has dried [1].
struct DryDeposit {
  double taken_up, lost;
};

void register_dry_deposit(py::module_& m) {
  py::class_<DryDeposit>(m, "DryDeposit", "Shares of a deposit that has dried.")
      .def_readonly("taken_up", &DryDeposit::taken_up, "[1]")
      .def_readonly("lost", &DryDeposit::lost, "[1]");
  m.def(
      "dry_deposit",
      [](const Scenario& scenario, double mass, double temperature, double duration) {
        const double mobile = turns_mobile(scenario.uptake, mass);
        const Weathered after =
            weathered(scenario.uptake, {.mobile = mobile, .locked = mass - mobile}, temperature, duration);
        return DryDeposit{.taken_up = after.taken_up / mass, .lost = after.lost / mass};
      },
      py::arg("scenario"), py::arg("mass"), py::arg("temperature"), py::arg("duration"),
      "Shares of a deposit [kg per m2 of contact] that are taken up and lost in a time [s] after it has "
      "dried, at a steady temperature [K].");
}

}  // namespace

void register_rates(py::module_& m) {
  register_heights(m);
  register_equivalents(m);
  register_sensitivity(m);
  register_dry_deposit(m);
}
