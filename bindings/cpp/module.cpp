// wetspan._core: a table of contents. Each room registers its own functions and types in register_<room>.cpp.
#include <pybind11/pybind11.h>

void register_errors(pybind11::module_& module);
void register_properties(pybind11::module_& module);
void register_study(pybind11::module_& module);
void register_outcome(pybind11::module_& module);
void register_batch(pybind11::module_& module);
void register_why(pybind11::module_& module);
void register_day(pybind11::module_& module);
void register_rates(pybind11::module_& module);
void register_bench(pybind11::module_& module);
void register_jug(pybind11::module_& module);
void register_spray(pybind11::module_& module);
void register_tank(pybind11::module_& module);
void register_measure(pybind11::module_& module);

PYBIND11_MODULE(_core, module) {
  module.doc() =
      "wetspan's C++ core. Import wetspan instead: it wraps this module with units, files and tables.";
  module.attr("__version__") = WETSPAN_VERSION;
  register_errors(module);
  register_properties(module);
  register_study(module);
  register_outcome(module);
  register_batch(module);
  register_why(module);
  register_day(module);
  register_rates(module);
  register_bench(module);
  register_jug(module);
  register_spray(module);
  register_tank(module);
  register_measure(module);
}
