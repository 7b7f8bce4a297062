// The library's exceptions become the documented classes of wetspan.errors.

#include <pybind11/gil_safe_call_once.h>
#include <pybind11/pybind11.h>

#include "wetspan/errors.hpp"

namespace py = pybind11;

void register_errors(py::module_&) {
  struct Types {
    py::object input, integration;
  };
  PYBIND11_CONSTINIT static py::gil_safe_call_once_and_store<Types> storage;
  storage.call_once_and_store_result([] {
    const auto errors = py::module_::import("wetspan.errors");
    return Types{errors.attr("InputError"), errors.attr("IntegrationError")};
  });
  py::register_exception_translator([](std::exception_ptr pointer) {
    const Types& types = storage.get_stored();
    try {
      if (pointer) std::rethrow_exception(pointer);
    } catch (const wetspan::InputError& error) {
      py::set_error(types.input, error.what());
    } catch (const wetspan::IntegrationError& error) {
      py::set_error(types.integration, error.what());
    }
  });
}
