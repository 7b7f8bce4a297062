// The product jug: settling, pours, and the table of their inputs.

#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <algorithm>
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "arrays.hpp"
#include "inputs_by_name.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/spray/jug.hpp"

namespace py = pybind11;
using namespace wetspan;

namespace {

void take(Suspension& to, const Inputs& inputs) { WETSPAN_SUSPENSION(WETSPAN_TAKE) }
void take(JugInput& to, const Inputs& inputs) { WETSPAN_JUG(WETSPAN_TAKE) }

/// A jug that stood: what was put in, and where it lies.
struct SettledJug {
  JugInput jug;
  JugResult result;
};

SettledJug settle_jug(double strength, const std::string& formulation, const Inputs& inputs,
                      const std::vector<double>& times) {
  if (formulation != "suspension" && formulation != "solution")
    throw InputError("formulation '" + formulation + "' is not 'suspension' or 'solution'");
  Suspension suspension;
  SettledJug settled;
  JugInput& jug = settled.jug;
  take(suspension, inputs);
  take(jug, inputs);
  jug.formulation = formulation == "solution" ? Formulation::solution : Formulation::suspension;
  if (jug.formulation == Formulation::solution) suspension.carrier_concentration = 0;
  jug.classes = particle_classes(strength, suspension);
  {
    const py::gil_scoped_release release;
    settled.result = settle(jug, times);
  }
  const JugResult& result = settled.result;
  if (result.status == JugStatus::step_limit)
    throw IntegrationError(
        "the jug could be followed to " + std::to_string(result.time.empty() ? 0.0 : result.time.back()) +
        " s in " + std::to_string(result.steps) +
        " steps of max_steps; fewer cells, smaller particles or a higher max_steps go further");
  return settled;
}

bool has(const SettledJug& settled, Role role) {
  return std::any_of(settled.jug.classes.begin(), settled.jug.classes.end(),
                     [role](const ParticleClass& each) { return each.role == role; });
}

/// Concentrations of a role as [time, layer].
py::array_t<double> over_depth(const SettledJug& settled, Role role) {
  const auto& [jug, result] = settled;
  py::array_t<double> values({result.time.size(), result.cells});
  for (std::size_t k = 0; k < result.time.size(); ++k) {
    const auto layers = profile(jug, result, k, role);
    std::copy(layers.begin(), layers.end(), values.mutable_data(static_cast<py::ssize_t>(k), 0));
  }
  return values;
}

}  // namespace

void register_jug(py::module_& m) {
  m.def(
      "jug_parameters",
      [] { return std::vector<Parameter>(jug_parameters().begin(), jug_parameters().end()); },
      "Returns all rows of the jug's tables of inputs, in the order of the tables.");
  py::class_<SettledJug>(m, "SettledJug", "Concentrations in a jug while it stands.")
      .def_property_readonly(
          "edge", [](const SettledJug& self) { return array(self.result.edge); },
          "Depths of the boundaries between layers [m], from 0 at the surface.")
      .def_property_readonly(
          "time", [](const SettledJug& self) { return array(self.result.time); },
          "Times since the jug was shaken [s].")
      .def_property_readonly(
          "active", [](const SettledJug& self) { return over_depth(self, Role::active); },
          "Concentration of the active ingredient [kg/m3] by time and layer.")
      .def_property_readonly(
          "carrier",
          [](const SettledJug& self) {
            return has(self, Role::carrier) ? std::optional(over_depth(self, Role::carrier)) : std::nullopt;
          },
          "Concentration of the carrier [kg/m3] by time and layer; None for a product without a carrier.")
      .def_property_readonly(
          "steps", [](const SettledJug& self) { return self.result.steps; }, "Number of time steps.")
      .def_property_readonly(
          "mass_error", [](const SettledJug& self) { return self.result.mass_error; },
          "Error of the mass balance: the largest relative change of the mass of a particle class [1].");
  m.def(
      "settle_jug", &settle_jug, py::arg("strength"), py::arg("formulation"), py::arg("inputs"),
      py::arg("times"),
      "Computes the settling of a product of `strength` [kg/m3] that stands after it was well shaken, and "
      "returns its layers at `times` [s].\n\n"
      "`formulation` is 'suspension' or 'solution'. `inputs` replace the defaults of the tables by name, in "
      "SI. Raises IntegrationError if max_steps do not suffice.");
  m.def(
      "suspensibility", [](const Column& concentration) { return suspensibility(view(concentration)); },
      py::arg("concentration"),
      "Computes the suspensibility [0..1], the share that is still suspended: (10/9) (1 - share in the "
      "bottom tenth).");
  m.def(
      "jug_pours",
      [](const Column& concentration, const Column& share, bool from_bottom, double shaken) {
        return array(pours(view(concentration), view(share), from_bottom ? Draw::bottom : Draw::top, shaken));
      },
      py::arg("concentration"), py::arg("share"), py::arg("from_bottom"), py::arg("shaken"),
      "Computes the strength of each pour relative to the label [1]. `share` holds the share of the jug in "
      "each pour; `shaken` is the share of every layer that shaking mixes evenly over the jug before the "
      "pours.");
  m.def(
      "jug_spread", [](const Column& pours) { return spread(view(pours)); }, py::arg("pours"),
      "Computes the coefficient of variation of pours: sample standard deviation over mean [1].");
}
