// wetspan._core: a table of contents. Each room registers its own functions and types in register_<room>.cpp.
#include <pybind11/pybind11.h>

PYBIND11_MODULE(_core, module) {
  module.doc() = "wetspan's C++ core. Import wetspan instead: it wraps this module with units, files and tables.";
  module.attr("__version__") = WETSPAN_VERSION;
}
