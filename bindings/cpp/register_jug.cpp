// The product jug: settling, pours, and the table of their inputs.

#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <span>
#include <string>
#include <vector>

#include "wetspan/errors.hpp"
#include "wetspan/spray/jug.hpp"

namespace py = pybind11;
using namespace wetspan;

namespace {

using Column = py::array_t<double, py::array::c_style | py::array::forcecast>;

std::span<const double> view(const Column& values) {
  return {values.data(), static_cast<std::size_t>(values.size())};
}

py::array_t<double> array(const std::vector<double>& values) {
  return py::array_t<double>(static_cast<py::ssize_t>(values.size()), values.data());
}

void assign(double& member, double value, const char*) { member = value; }
void assign(int& member, double value, const char* name) {
  if (!(std::abs(value) < 2e9) || value != std::floor(value))
    throw InputError(std::string(name) + " = " + std::to_string(value) + " is not a whole number");
  member = static_cast<int>(value);
}

#define WETSPAN_TAKE(type, name, standard, low, high, spread, unit, shown, grade, source, meaning) \
  if (const auto found = inputs.find(#name); found != inputs.end()) assign(to.name, found->second, #name);
void take(Suspension& to, const std::map<std::string, double>& inputs) { WETSPAN_SUSPENSION(WETSPAN_TAKE) }
void take(JugInput& to, const std::map<std::string, double>& inputs){WETSPAN_JUG(WETSPAN_TAKE)}
#undef WETSPAN_TAKE

/// Settles a product of `strength`; concentrations come back as [time, layer], one array per role.
py::dict settle_jug(double strength, const std::string& formulation,
                    const std::map<std::string, double>& inputs, const std::vector<double>& times) {
  if (formulation != "suspension" && formulation != "solution")
    throw InputError("formulation '" + formulation + "' is not 'suspension' or 'solution'");
  Suspension suspension;
  JugInput jug;
  take(suspension, inputs);
  take(jug, inputs);
  jug.formulation = formulation == "solution" ? Formulation::solution : Formulation::suspension;
  if (jug.formulation == Formulation::solution) suspension.carrier_concentration = 0;
  jug.classes = particle_classes(strength, suspension);

  JugResult result;
  {
    py::gil_scoped_release release;
    result = settle(jug, times);
  }
  if (result.status == JugStatus::step_limit)
    throw IntegrationError(
        "the jug could be followed to " + std::to_string(result.time.empty() ? 0.0 : result.time.back()) +
        " s in " + std::to_string(result.steps) +
        " steps of max_steps; fewer cells, smaller particles or a higher max_steps go further");

  const auto over_depth = [&](Role role) {
    py::array_t<double> values({result.time.size(), result.cells});
    for (std::size_t k = 0; k < result.time.size(); ++k) {
      const auto layers = profile(jug, result, k, role);
      std::copy(layers.begin(), layers.end(), values.mutable_data(static_cast<py::ssize_t>(k), 0));
    }
    return values;
  };
  py::dict told;
  told["edge"] = array(result.edge);
  told["active"] = over_depth(Role::active);
  if (suspension.carrier_concentration > 0) told["carrier"] = over_depth(Role::carrier);
  told["steps"] = result.steps;
  told["mass_error"] = result.mass_error;
  return told;
}

}  // namespace

void register_jug(py::module_& m) {
  m.def(
      "jug_parameters",
      [] { return std::vector<Parameter>(jug_parameters().begin(), jug_parameters().end()); },
      "Every row of the jug's tables of inputs, in their order.");
  m.def(
      "settle_jug", &settle_jug, py::arg("strength"), py::arg("formulation"), py::arg("inputs"),
      py::arg("times"),
      "Lets a well-shaken product of `strength` [kg/m3] stand, and reports its layers at `times` [s].\n\n"
      "formulation is 'suspension' or 'solution'; inputs overrule the table by name, SI. Returns edge [m],\n"
      "active and, if there is one, carrier [kg/m3] by time and layer, steps, mass_error.");
  m.def(
      "suspensibility", [](const Column& concentration) { return suspensibility(view(concentration)); },
      py::arg("concentration"), "Share still afloat [0..1]: (10/9) (1 - share in the bottom tenth).");
  m.def(
      "jug_pours",
      [](const Column& concentration, const Column& share, bool from_bottom, double shaken) {
        return array(pours(view(concentration), view(share), from_bottom ? Draw::bottom : Draw::top, shaken));
      },
      py::arg("concentration"), py::arg("share"), py::arg("from_bottom"), py::arg("shaken"),
      "What each pour delivers relative to the label [-], the pours being `share` of the jug each.");
  m.def(
      "jug_spread", [](const Column& pours) { return spread(view(pours)); }, py::arg("pours"),
      "Sample standard deviation over mean [-] of pours.");
}
