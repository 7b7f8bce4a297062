// The same spray at many times, both ends of what its residue may do, and what a re-wetting gains.

#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <cstddef>
#include <cstdint>
#include <optional>
#include <vector>

#include "arrays.hpp"
#include "released.hpp"
#include "wetspan/study/day.hpp"
#include "wetspan/study/outcomes.hpp"
#include "wetspan/study/residue.hpp"
#include "wetspan/study/rewetting.hpp"

namespace py = pybind11;
using namespace wetspan;

namespace {

using Codes = py::array_t<std::uint8_t, py::array::c_style>;

void register_times(py::module_& m) {
  py::class_<Day::AtEnd>(m, "DayAtEnd", "A day of spray times at one end of what the residue may do.")
      .def_property_readonly(
          "control", [](const Day::AtEnd& self) { return array(self.control); },
          "Growth control at each time [1].")
      .def_property_readonly(
          "control_over_best", [](const Day::AtEnd& self) { return array(self.control_over_best); },
          "Growth control at each time over that at `best` [1].");
  py::class_<Day>(m, "Day", "Results of the same spray at many times.")
      .def_property_readonly(
          "values",
          [](const Day& self) {
            return py::array_t<double>({outcome_variables().size(), self.outcomes.count},
                                       self.outcomes.values.data());
          },
          "Values by outcome variable and time, in SI.")
      .def_property_readonly(
          "status",
          [](const Day& self) {
            return Codes(static_cast<py::ssize_t>(self.outcomes.count), self.outcomes.status.data());
          },
          "Status of each time, as a position in status_names.")
      .def_readonly("best", &Day::best, "Position of the best time.")
      .def_property_readonly(
          "control_over_best", [](const Day& self) { return array(self.control_over_best); },
          "Growth control at each time over that at `best` [1].")
      .def_readonly("locked", &Day::locked, "The same where the least of the residue stays mobile.")
      .def_readonly("mobile", &Day::mobile, "The same where the most of it stays mobile.");
  m.def(
      "compare_times",
      [](const Scenario& scenario, const std::vector<const CropAir*>& airs, const Positions& air_of,
         const Column& starts, const std::vector<Column>& weeks, const Positions& weeks_of,
         const std::optional<Column>& delays, unsigned threads, const py::object& progress) {
        Weeks means{.means = {}, .of = view(weeks_of)};
        for (const Column& days : weeks) means.means.push_back(view(days));
        const BatchOptions options = until_interrupted(threads, progress);
        return released([&] {
          return compare_times(scenario, airs, view(air_of), view(starts), options, means, view_of(delays));
        });
      },
      py::arg("scenario"), py::arg("airs"), py::arg("air_of"), py::arg("starts"), py::arg("weeks"),
      py::arg("weeks_of"), py::arg("delays") = py::none(), py::arg("threads") = 0,
      py::arg("progress") = py::none(),
      "Sprays a scenario at each of `starts` [s] in airs[air_of[i]], also at both ends of the residue. The "
      "crop grows at weeks[weeks_of[i]], daily mean temperatures [K]. `delays` [s] are those of the "
      "re-wetting. "
      "`progress` is called with the number of finished rows, three for each time.");
  m.def(
      "best_time",
      [](const Column& control, const Codes& wet_at_end) {
        return best_time(view(control), view(wet_at_end));
      },
      py::arg("control"), py::arg("wet_at_end"),
      "Returns the position of the largest growth control among the rows whose plants dry, if there are "
      "any.");
  m.def(
      "over_best",
      [](const Column& control, std::size_t best) { return array(over_best(view(control), best)); },
      py::arg("control"), py::arg("best"),
      "Returns growth control over that at position `best` [1]; 1 if that is 0.");
}

void register_residue(py::module_& m) {
  py::class_<ResidueEnds>(m, "ResidueEnds", "A scenario at both ends of what its dried residue may do.")
      .def_readonly("locked", &ResidueEnds::locked, "The least of the residue stays mobile.")
      .def_readonly("mobile", &ResidueEnds::mobile, "The most of it stays mobile.");
  m.def("residue_ends", &residue_ends, py::arg("scenario"),
        "Returns the scenario with the least and with the largest plausible uptake.mobile_share. "
        "crop.leaf_tip_share moves the other way, so that their product stays.");
  py::class_<OwedToWetTime>(m, "OwedToWetTime",
                            "The share of growth control that is owed to the wet time [1].")
      .def_readonly("locked", &OwedToWetTime::locked, "Where the least of the residue stays mobile.")
      .def_readonly("mobile", &OwedToWetTime::mobile, "Where the most of it stays mobile.");
  m.def(
      "owed_to_wet_time",
      [](const Scenario& scenario, const CropAir& air, double start, const Column& weeks) {
        const BatchOptions options = until_interrupted(0);
        return released([&] { return owed_to_wet_time(scenario, air, start, view(weeks), options); });
      },
      py::arg("scenario"), py::arg("air"), py::arg("start"), py::arg("weeks"),
      "Computes the share of growth control that would be missing if the same deposit had dried at once.");
}

void register_rewetting(py::module_& m) {
  using Control = RewettingGain::Control;
  py::class_<Control>(m, "WithRewetting", "Growth control with a re-wetting, and without it.")
      .def_readonly("with_it", &Control::with, "Growth control with the re-wetting [1].")
      .def_readonly("without", &Control::without, "Growth control without it [1].")
      .def_property_readonly("gain", &Control::gain,
                             "Increase of growth control, as a share of `without` [1]; NaN if that is 0.");
  py::class_<RewettingGain>(m, "RewettingGain", "The gain of a re-wetting in growth control.")
      .def_readonly("nominal", &RewettingGain::nominal, "With the inputs as given.")
      .def_readonly("locked", &RewettingGain::locked, "Where the least of the residue stays mobile.")
      .def_readonly("mobile", &RewettingGain::mobile, "Where the most of it stays mobile.")
      .def_readonly("wet_time", &RewettingGain::wet_time, "From the re-wetting to dry leaves [s].");
  m.def("rewetting_water", &rewetting_water, py::arg("scenario"),
        "Returns the water of a re-wetting [m]; of a calendar, the largest of its applications.");
  m.def("without_rewetting", &without_rewetting, py::arg("scenario"),
        "Returns the scenario without a re-wetting, at any of its applications.");
  m.def(
      "rewetting_gain",
      [](const Scenario& scenario, const CropAir& air, double start, const Column& weeks) {
        const BatchOptions options = until_interrupted(0);
        return released([&] { return rewetting_gain(scenario, air, start, view(weeks), options); });
      },
      py::arg("scenario"), py::arg("air"), py::arg("start"), py::arg("weeks"),
      "Computes a scenario with and without its re-wetting, also at both ends of the residue.");
}

}  // namespace

void register_day(py::module_& m) {
  register_times(m);
  register_residue(m);
  register_rewetting(m);
}
