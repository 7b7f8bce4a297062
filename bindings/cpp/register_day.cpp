// The same spray at many times of one record.

#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "arrays.hpp"
#include "released.hpp"
#include "wetspan/study/day.hpp"

namespace py = pybind11;
using namespace wetspan;

void register_day(py::module_& m) {
  py::class_<Day>(m, "Day", "What became of the same spray at many times; one entry a time.")
      .def_readonly("outcomes", &Day::outcomes)
      .def_readonly("best", &Day::best, "position of the best time")
      .def_property_readonly(
          "control_over_best",
          [](const Day& self) {
            return py::array_t<double>(static_cast<py::ssize_t>(self.control_over_best.size()),
                                       self.control_over_best.data());
          },
          "Growth control over that at the best time; 1 where that is none.");
  m.def(
      "compare_times",
      [](const Scenario& scenario, const std::vector<const CropAir*>& airs, const Positions& air_of,
         const Column& starts, const std::vector<Column>& weeks, const Positions& weeks_of,
         unsigned threads) {
        Weeks growing{.means = {}, .of = view(weeks_of)};
        for (const Column& days : weeks) growing.means.push_back(view(days));
        const auto which = view(air_of);
        const auto when = view(starts);
        const BatchOptions options = until_interrupted(threads);
        return released([&] { return compare_times(scenario, airs, which, when, options, growing); });
      },
      py::arg("scenario"), py::arg("airs"), py::arg("air_of"), py::arg("starts"),
      py::arg("weeks") = std::vector<Column>{}, py::arg("weeks_of") = Positions(0), py::arg("threads") = 0,
      "Sprays a scenario at each of `starts` [s] in airs[air_of[i]]; raises what went wrong with the first "
      "time "
      "that cannot be computed.");
}
