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
  py::class_<LeverEffect>(m, "LeverEffect", "What one change does to growth control.")
      .def_readonly("change", &LeverEffect::change, "in words")
      .def_readonly("control", &LeverEffect::control, "growth control with it")
      .def_readonly("gain", &LeverEffect::gain, "that less the growth control without it");
  py::class_<Why>(m, "Why", "Where an outcome's growth control comes from.")
      .def_readonly("control", &Why::control, "as it is")
      .def_readonly("through", &Why::through, "Share of what reaches the growing tips, by site.")
      .def_readonly("levers", &Why::levers, "the largest effect first");
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
      "The ways by which the substance came, and the `most` changes that move growth control the most.");
}
