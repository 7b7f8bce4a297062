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

/// A light pass of water over a dried deposit: when [s], how deep it stands [m], how long leaves stay wet
/// [s].
struct SecondWetting {
  double at = 0, water = 0, wet_time = 0;
};

/// A deposit that was wetted again: what stays where it was, and what the water took back into solution.
struct TakenBack {
  Deposit kept;
  double dissolved = 0;
};

TakenBack wetted_again(const Scenario& scenario, Deposit dry, double temperature, double water) {
  const double back = dry.locked * redissolved(dry.locked, water, solubility(scenario.active, temperature));
  return {.kept = {.mobile = dry.mobile, .locked = dry.locked - back}, .dissolved = back};
}

/// What is on the surface `elapsed` [s] after the second wetting.
double left_after(const Scenario& scenario, const TakenBack& again, double temperature,
                  const SecondWetting& second, double elapsed) {
  const double wet = std::min(elapsed, second.wet_time);
  const double in_liquid = left_in_liquid(scenario.active, scenario.uptake, again.dissolved, second.water,
                                          temperature, second.wet_time, wet);
  Deposit now = again.kept;
  now.mobile = weathered(scenario.uptake, {.mobile = now.mobile}, temperature, wet).left.mobile;
  if (elapsed < second.wet_time) return now.mobile + now.locked + in_liquid;
  const double turned = turns_mobile(scenario.uptake, in_liquid);
  now.mobile += turned, now.locked += in_liquid - turned;
  const Deposit then = weathered(scenario.uptake, now, temperature, elapsed - wet).left;
  return then.mobile + then.locked;
}

/// Shares of a dried deposit that are still on the surface at some times; re-wetted at most once.
void deposit_left(const Scenario& scenario, double mass, double temperature, std::span<const double> times,
                  const std::optional<SecondWetting>& second, std::span<double> left) {
  const double mobile = turns_mobile(scenario.uptake, mass);
  const Deposit fresh{.mobile = mobile, .locked = mass - mobile};
  TakenBack again;
  if (second) {
    const Deposit dry = weathered(scenario.uptake, fresh, temperature, second->at).left;
    again = wetted_again(scenario, dry, temperature, second->water);
  }
  for (std::size_t i = 0; i < times.size(); ++i) {
    if (second && times[i] > second->at) {
      left[i] = left_after(scenario, again, temperature, *second, times[i] - second->at) / mass;
    } else {
      const Deposit now = weathered(scenario.uptake, fresh, temperature, times[i]).left;
      left[i] = (now.mobile + now.locked) / mass;
    }
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
         std::optional<double> rewet_at, double water, double wet_time) {
        const auto share = view(mobile_share), rate = view(mobile_rate), loss = view(residue_loss);
        const auto at = view(times);
        if (rate.size() != share.size() || loss.size() != share.size()) {
          throw InputError("mobile_share, mobile_rate and residue_loss are not equally long");
        }
        if (!(mass > 0.0)) throw InputError("the mass of a deposit is above 0");
        std::optional<SecondWetting> second;
        if (rewet_at) {
          if (!(water > 0.0 && wet_time > 0.0)) {
            throw InputError("a re-wetting needs a depth of water and a wet time above 0");
          }
          second = {.at = *rewet_at, .water = water, .wet_time = wet_time};
        }
        std::vector<double> left(share.size() * at.size());
        {
          const py::gil_scoped_release release;
          Scenario own = scenario;
          for (std::size_t i = 0; i < share.size(); ++i) {
            own.uptake.mobile_share = share[i];
            own.uptake.mobile_rate = rate[i];
            own.uptake.residue_loss = loss[i];
            deposit_left(own, mass, temperature, at, second,
                         std::span(left).subspan(i * at.size(), at.size()));
          }
        }
        return py::array_t<double>({share.size(), at.size()}, left.data());
      },
      py::arg("scenario"), py::arg("mobile_share"), py::arg("mobile_rate"), py::arg("residue_loss"),
      py::arg("mass"), py::arg("temperature"), py::arg("times"), py::arg("rewet_at") = py::none(),
      py::arg("water") = 0.0, py::arg("wet_time") = 0.0,
      "Shares of a deposit [kg per m2 of contact] that are still on the surface, mobile and locked together, "
      "at `times` [s] after it dried, at a steady temperature [K]: one row for each uptake.mobile_share [1], "
      "uptake.mobile_rate [1/s] and uptake.residue_loss [1/s]. At `rewet_at` [s] a depth of `water` [m] "
      "takes back into solution what it can of the locked part; it dries again within `wet_time` [s], and "
      "what "
      "is dissolved goes on entering meanwhile.");
}
