// What measurements are compared with: a drying leaf, a deposit that is washed off.

#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <algorithm>
#include <cstddef>
#include <optional>
#include <vector>

#include "arrays.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/study/measure.hpp"

namespace py = pybind11;
using namespace wetspan;

namespace {

py::dict drying_leaf(const Scenario& scenario, const CropAir& air, double start, double depth) {
  WetSpan span;
  {
    const py::gil_scoped_release release;
    span = wet_span(scenario, wetted_leaves(scenario, depth), air, start, {}, true);
  }
  py::dict told;
  told["time"] = array(span.history.time);
  told["water"] = array(span.history.leaf_water);
  told["temperature"] = array(span.history.leaf_temperature);
  told["wet_time"] = span.wet_time;
  return told;
}

py::array_t<double> deposits_left(const Scenario& scenario, const Column& mobile_share,
                                  const Column& mobile_rate, const Column& residue_loss, double mass,
                                  double temperature, const Column& times, std::optional<double> rewet_at,
                                  double water, double wet_time) {
  const auto share = view(mobile_share), rate = view(mobile_rate), loss = view(residue_loss);
  const auto at = view(times);
  if (rate.size() != share.size() || loss.size() != share.size()) {
    throw InputError("mobile_share, mobile_rate and residue_loss must have the same length");
  }
  std::optional<SecondWetting> second;
  if (rewet_at) second = {.at = *rewet_at, .water = water, .wet_time = wet_time};
  std::vector<double> left(share.size() * at.size());
  {
    const py::gil_scoped_release release;
    Scenario own = scenario;
    for (std::size_t i = 0; i < share.size(); ++i) {
      own.uptake.mobile_share = share[i];
      own.uptake.mobile_rate = rate[i];
      own.uptake.residue_loss = loss[i];
      const std::vector<double> row = deposit_left(own, mass, temperature, at, second);
      std::copy(row.begin(), row.end(), left.begin() + static_cast<std::ptrdiff_t>(i * at.size()));
    }
  }
  return py::array_t<double>({share.size(), at.size()}, left.data());
}

}  // namespace

void register_measure(py::module_& m) {
  m.def("drying_leaf", &drying_leaf, py::arg("scenario"), py::arg("air"), py::arg("start"), py::arg("depth"),
        "Follows a crop until its leaves are dry. At `start` [s] of an air record the leaves carry `depth` "
        "[m of liquid per one-sided leaf area] in droplets of the scenario's spectrum; everything else is "
        "dry. Returns `time` since the start [s], `water` as a share of the water at the start [1], the "
        "leaves' `temperature` [K], and `wet_time` [s].");
  py::class_<DryDeposit>(m, "DryDeposit",
                         "Fate of a deposit after it has dried, as shares of the deposit [1].")
      .def_readonly("taken_up", &DryDeposit::taken_up, "Share that the plant has taken up.")
      .def_readonly("lost", &DryDeposit::lost, "Share that was lost.");
  m.def("dry_deposit", &dry_deposit, py::arg("scenario"), py::arg("mass"), py::arg("temperature"),
        py::arg("duration"),
        "Computes the shares of a deposit of `mass` [kg per m2 of contact] that are taken up and lost within "
        "`duration` [s] after it has dried, at a constant temperature [K].");
  m.def("deposit_left", &deposits_left, py::arg("scenario"), py::arg("mobile_share"), py::arg("mobile_rate"),
        py::arg("residue_loss"), py::arg("mass"), py::arg("temperature"), py::arg("times"),
        py::arg("rewet_at") = py::none(), py::arg("water") = 0.0, py::arg("wet_time") = 0.0,
        "Shares of a deposit of `mass` [kg per m2 of contact] that are still on the surface at `times` [s] "
        "after it dried, mobile and locked together, at a constant `temperature` [K]. There is one row for "
        "each uptake.mobile_share [1], uptake.mobile_rate [1/s] and uptake.residue_loss [1/s]. If "
        "`rewet_at` [s] is given, a depth of `water` [m] wets the deposit again at that time and dries "
        "within `wet_time` [s].");
}
