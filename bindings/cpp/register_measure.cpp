// What measurements are compared with: a drying leaf, a deposit that is washed off.

#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "wetspan/errors.hpp"
#include "wetspan/plant/uptake.hpp"
#include "wetspan/study/wet_span.hpp"

namespace py = pybind11;
using namespace wetspan;

namespace {

using Column = py::array_t<double, py::array::c_style | py::array::forcecast>;

py::array_t<double> column(const std::vector<double>& values) {
  return py::array_t<double>(static_cast<py::ssize_t>(values.size()), values.data());
}

std::span<const double> view(const Column& values) {
  return {values.data(), static_cast<std::size_t>(values.size())};
}

/// The load of a crop whose leaves carry `depth` [m per leaf area] in droplets of the scenario's spectrum.
Load wetted(const Scenario& scenario, double depth) {
  const std::vector<LeafLayer> leaves = leaf_layers(scenario.canopy);
  const Droplets& sizes = scenario.droplets;
  Load load;
  for (const LeafLayer& leaf : leaves) {
    load.layers.push_back(
        {.liquid = depth * leaf.area,
         .droplets = spectrum(sizes.distribution, sizes.dv50, sizes.relative_span, sizes.bins)});
  }
  return load;
}

/// Shares of a dried deposit that are still on the surface at some times; re-wetted at most once.
void deposit_left(const Scenario& scenario, double mass, double temperature, std::span<const double> times,
                  std::optional<double> rewet_at, double water, std::span<double> left) {
  const double mobile = turns_mobile(scenario.uptake, mass);
  const Deposit fresh{.mobile = mobile, .locked = mass - mobile};
  Deposit again{};
  if (rewet_at) {
    again = weathered(scenario.uptake, fresh, temperature, *rewet_at).left;
    const double taken =
        again.locked * redissolved(again.locked, water, solubility(scenario.active, temperature));
    const double turned = turns_mobile(scenario.uptake, taken);
    again.mobile += turned, again.locked -= turned;
  }
  for (std::size_t i = 0; i < times.size(); ++i) {
    const bool after = rewet_at && times[i] > *rewet_at;
    const Deposit now = weathered(scenario.uptake, after ? again : fresh, temperature,
                                  after ? times[i] - *rewet_at : times[i])
                            .left;
    left[i] = (now.mobile + now.locked) / mass;
  }
}

}  // namespace

void register_measure(py::module_& m) {
  m.def(
      "drying_leaf",
      [](const Scenario& scenario, const CropAir& air, double start, double depth) {
        WetSpan span;
        {
          const py::gil_scoped_release release;
          span = wet_span(scenario, wetted(scenario, depth), air, start, {}, true);
        }
        py::dict told;
        told["time"] = column(span.history.time);
        told["water"] = column(span.history.leaf_water);
        told["temperature"] = column(span.history.leaf_temperature);
        told["wet_time"] = span.wet_time;
        return told;
      },
      py::arg("scenario"), py::arg("air"), py::arg("start"), py::arg("depth"),
      "Leaves that carry `depth` [m of liquid per one-sided leaf area] in droplets of the scenario's "
      "spectrum "
      "at `start` [s] of an air record, and nothing else wet: `time` from then [s], `water` left over that "
      "which they carried [1], `temperature` of the leaves [K], and `wet_time` [s].");
  m.def(
      "deposit_left",
      [](const Scenario& scenario, const Column& mobile_share, const Column& mobile_rate,
         const Column& residue_loss, double mass, double temperature, const Column& times,
         std::optional<double> rewet_at, double water) {
        const auto share = view(mobile_share), rate = view(mobile_rate), loss = view(residue_loss);
        const auto at = view(times);
        if (rate.size() != share.size() || loss.size() != share.size()) {
          throw InputError("mobile_share, mobile_rate and residue_loss are not equally long");
        }
        if (!(mass > 0.0)) throw InputError("the mass of a deposit is above 0");
        std::vector<double> left(share.size() * at.size());
        {
          const py::gil_scoped_release release;
          Scenario own = scenario;
          for (std::size_t i = 0; i < share.size(); ++i) {
            own.uptake.mobile_share = share[i];
            own.uptake.mobile_rate = rate[i];
            own.uptake.residue_loss = loss[i];
            deposit_left(own, mass, temperature, at, rewet_at, water,
                         std::span(left).subspan(i * at.size(), at.size()));
          }
        }
        return py::array_t<double>({share.size(), at.size()}, left.data());
      },
      py::arg("scenario"), py::arg("mobile_share"), py::arg("mobile_rate"), py::arg("residue_loss"),
      py::arg("mass"), py::arg("temperature"), py::arg("times"), py::arg("rewet_at") = py::none(),
      py::arg("water") = 0.0,
      "Shares of a deposit [kg per m2 of contact] that are still on the surface, mobile and locked together, "
      "at `times` [s] after it dried, at a steady temperature [K]: one row for each uptake.mobile_share [1], "
      "uptake.mobile_rate [1/s] and uptake.residue_loss [1/s]. At `rewet_at` [s] a depth of `water` [m] "
      "takes "
      "back into solution what it can of the locked part, which dries again at once.");
}
