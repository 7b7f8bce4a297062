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
#include "wetspan/study/rates.hpp"
#include "wetspan/study/rewetting.hpp"

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
          "Result of the search: 'found', 'none needed' (the untreated check is no taller than wanted), "
          "'not reachable' (too little growth remains) or 'failed'.")
      .def_readonly("concentration", &RateForHeight::concentration,
                    "The concentration [kg/m3]; NaN unless found, 0 if none is needed.")
      .def_readonly("height", &RateForHeight::height, "Height at this concentration [m].")
      .def_readonly("least_height", &RateForHeight::least_height,
                    "Height at the largest allowed concentration [m].")
      .def_readonly("reason", &RateForHeight::reason, "Reason if the search failed; otherwise empty.");
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
      "Finds the concentration at which the plants of each scenario have a `height` [m] when height is "
      "judged.");
}

void register_equivalents(py::module_& m) {
  py::class_<Equivalent>(m, "Equivalent", "The equivalent of an application by another method.")
      .def_readonly("control", &Equivalent::control, "Growth control of the given application [1].")
      .def_readonly(
          "same_amount", &Equivalent::same_amount,
          "Concentration at which a drench applies the same amount per pot [kg/m3]; NaN for a spray.")
      .def_readonly("same_control", &Equivalent::same_control,
                    "The concentration that gives the same height.");
  m.def(
      "sprays_as_drenches",
      [](const std::vector<const Scenario*>& scenarios, const std::vector<const CropAir*>& airs,
         const Column& starts, const std::optional<Column>& weeks, double volume, unsigned threads) {
        const std::vector<Job> jobs = jobs_of(scenarios, airs, starts, weeks);
        const BatchOptions options = until_interrupted(threads);
        return released([&] { return sprays_as_drenches(jobs, volume, options); });
      },
      py::arg("scenarios"), py::arg("airs"), py::arg("starts"), py::arg("weeks"), py::arg("volume"),
      py::arg("threads") = 0,
      "Finds the equivalent of each spray as a drench of `volume` [m3] for each plant.");
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
      "Finds the equivalent of each drench as a spray. `sprays` describe the spray for each drench; their "
      "concentration is computed.");
}

/// Calls `function` for each row of a scenario whose `inputs` (positions and columns) differ from row to row.
template <class Function>
py::array_t<double> each_row(const Scenario& scenario,
                             const std::vector<std::pair<std::size_t, Column>>& inputs, std::size_t count,
                             Function function) {
  for (const auto& [input, values] : inputs) {
    if (view(values).size() != count) throw InputError("columns have a value for each row");
  }
  std::vector<double> found(count);
  for (std::size_t i = 0; i < count; ++i) {
    Scenario own = scenario;
    for (const auto& [input, values] : inputs) set(own, input, view(values)[i]);
    found[i] = function(own, i);
  }
  return array(found);
}

/// What draws of the unknown inputs are given.
void register_anchors(py::module_& m) {
  m.def(
      "half_amounts",
      [](const Scenario& scenario, const std::vector<std::pair<std::size_t, Column>>& inputs, double volume,
         double concentration, const Column& control) {
        const auto wanted = view(control);
        return each_row(scenario, inputs, wanted.size(), [&](const Scenario& own, std::size_t i) {
          return half_amount_for(own, volume, concentration, wanted[i]);
        });
      },
      py::arg("scenario"), py::arg("inputs"), py::arg("volume"), py::arg("concentration"), py::arg("control"),
      "Finds crop.half_amount [kg] for each growth control [1]. With it, `volume` [m3 per plant] of a "
      "liquid of `concentration` [kg/m3], applied to the pot by the scenario's method, gives the growth "
      "control. `inputs` (positions and columns) change the scenario for each. NaN where no value gives "
      "it.");
  m.def(
      "mobile_shares_if_rewetted",
      [](const Scenario& scenario, const std::vector<std::pair<std::size_t, Column>>& inputs,
         std::size_t count) {
        return each_row(scenario, inputs, count,
                        [](const Scenario& own, std::size_t) { return mobile_share_if_rewetted(own); });
      },
      py::arg("scenario"), py::arg("inputs"), py::arg("count"),
      "Returns, for each of `count` rows, the mobile share of the residue [1] at which a spray without a "
      "re-wetting has about the growth control of the same spray with a usual one. `inputs` (positions and "
      "columns) change the scenario for each row.");
}

}  // namespace

void register_rates(py::module_& m) {
  register_heights(m);
  register_equivalents(m);
  register_anchors(m);
}
