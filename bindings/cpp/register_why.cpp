// Why an outcome is what it is.

#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <cstddef>
#include <optional>
#include <string>

#include "arrays.hpp"
#include "released.hpp"
#include "wetspan/study/why.hpp"

namespace py = pybind11;
using namespace wetspan;

void register_why(py::module_& m) {
  py::class_<LeverEffect>(m, "LeverEffect", "The effect of one change on growth control.")
      .def_readonly("change", &LeverEffect::change, "Description of the change.")
      .def_readonly("control", &LeverEffect::control, "Growth control with the change [1].")
      .def_readonly("gain", &LeverEffect::gain, "Growth control with the change less that without it [1].");
  py::class_<Why>(m, "Why", "The sources of growth control in an outcome.")
      .def_readonly("control", &Why::control, "Growth control of the scenario [1].")
      .def_readonly("through", &Why::through,
                    "Shares of the amount at the growing tips by site of entry [1].")
      .def_readonly("levers", &Why::levers, "Effects of changes, the largest first.");
  m.def(
      "why",
      [](const Scenario& scenario, const CropAir& air, double start, std::size_t most,
         const std::optional<Column>& weeks, unsigned threads) {
        const auto days = view_of(weeks);
        const BatchOptions options = until_interrupted(threads);
        return released([&] { return why(scenario, air, start, most, days, options); });
      },
      py::arg("scenario"), py::arg("air"), py::arg("start"), py::arg("most"), py::arg("weeks") = py::none(),
      py::arg("threads") = 0,
      "Computes the contribution of each site of entry to growth control, and the effect of each practical "
      "change alone. Returns at most `most` changes, those with the largest effect.");
}
