// Landings that were computed before: the last few of a thread, and tables over the air for many times of
// spraying.
#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <memory>
#include <mutex>
#include <vector>

#include "../spray/flight_range.hpp"
#include "unchecked.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/properties/air.hpp"
#include "wetspan/spray/droplets.hpp"
#include "wetspan/study/landing.hpp"

namespace wetspan {
namespace {

Landing computed(const Scenario& scenario, const AirState& air) {
  const Droplets& droplets = scenario.droplets;
  return unchecked::land(
      scenario, air, scenario.application.volume_rate,
      spectrum(droplets.distribution, droplets.dv50, droplets.relative_span, droplets.bins));
}

/// The inputs that a landing depends on, all others at their defaults.
Scenario read_by_landing(const Scenario& scenario) {
  Scenario read;
  read.application = scenario.application;
  read.application.concentration = Scenario{}.application.concentration;
  read.nozzle = scenario.nozzle;
  read.liquid.surface_tension = scenario.liquid.surface_tension;
  read.liquid.humectant = scenario.liquid.humectant;
  read.droplets = scenario.droplets;
  read.air.diffusivity = scenario.air.diffusivity;
  read.canopy = scenario.canopy;
  read.retention = scenario.retention;
  read.leaf.contact_angle = scenario.leaf.contact_angle;
  read.stem = scenario.stem;
  read.numerics.tolerance = scenario.numerics.tolerance;
  return read;
}

/// The properties of the air on which a landing depends.
using LandingAir = std::array<double, 4>;
LandingAir read_by_landing(const AirState& air) {
  return {air.temperature, air.vapour_pressure, air.pressure, air.speed};
}

/// The last few landings of this thread.
Landing remembered(const Scenario& scenario, const AirState& air) {
  struct Remembered {
    Scenario scenario;
    LandingAir air;
    Landing landing;
  };
  constexpr std::size_t most = 8;
  thread_local std::vector<Remembered> last;
  thread_local std::size_t oldest = 0;
  const Scenario key = read_by_landing(scenario);
  const LandingAir key_air = read_by_landing(air);
  for (const Remembered& one : last) {
    if (one.air == key_air && one.scenario == key) return one.landing;
  }
  Landing landing = computed(scenario, air);
  if (last.size() < most) {
    last.push_back({key, key_air, landing});
  } else {
    last[oldest] = {key, key_air, landing};
    oldest = (oldest + 1) % most;
  }
  return landing;
}

/// Landings of one spray at the nodes of a grid of air states, with multilinear interpolation. A node is
/// computed when it is first needed. Its value is the same for every caller, so that results do not depend on
/// earlier calls.
class LandingTable {
 public:
  explicit LandingTable(const Scenario& scenario) : scenario_(scenario) {}
  const Scenario& scenario() const { return scenario_; }

  Landing at(const AirState& air) {
    const double humidity =
        std::clamp(air::relative_humidity(air.vapour_pressure, air.temperature), 0.0, 1.0);
    const std::array<double, 4> place{air.temperature / steps[0], humidity / steps[1],
                                      air.pressure / steps[2], std::min(air.speed, most_draught) / steps[3]};
    Landing result;
    std::array<double, 4> heaviest{};  // of the nodes at which a layer holds liquid
    for (unsigned corner = 0; corner < 16; ++corner) {
      Node node{};
      double weight = 1.0;
      for (unsigned i = 0; i < 4; ++i) {
        const double below = std::floor(place[i]), part = place[i] - below;
        const bool above = (corner >> i) & 1U;
        node[i] = static_cast<int>(below) + above;
        weight *= above ? part : 1.0 - part;
      }
      if (weight <= 0.0) continue;
      add(result, *find(node), weight, heaviest);
    }
    return result;
  }

 private:
  using Node = std::array<int, 4>;
  static constexpr std::array<double, 4> steps{2.0, 0.05, 1000.0, 0.1};  // [K], [1], [Pa], [m/s]
  static constexpr std::size_t most_nodes = 20'000;                      // some 50 MB

  std::shared_ptr<const Landing> find(const Node& node) {
    {
      const std::lock_guard lock(mutex_);
      if (const auto at = nodes_.find(node); at != nodes_.end()) return at->second;
    }
    AirState air{};
    air.temperature = node[0] * steps[0];
    air.vapour_pressure = std::min(1.0, node[1] * steps[1]) * air::saturation_pressure(air.temperature);
    air.pressure = node[2] * steps[2];
    air.speed = node[3] * steps[3];
    auto landing = std::make_shared<const Landing>(computed(scenario_, air));
    const std::lock_guard lock(mutex_);
    if (nodes_.size() >= most_nodes) nodes_.clear();
    nodes_.emplace(node, landing);
    return landing;
  }

  /// Adds a node with its interpolation weight. All numbers are linear in the weights, so that sums are
  /// preserved; the droplets of a layer are those of the nearest node.
  static void add(Landing& sum, const Landing& node, double weight, std::array<double, 4>& heaviest) {
    const auto put = [&](double& into, double value) { into += weight * value; };
    put(sum.split.leaf, node.split.leaf), put(sum.split.stem, node.split.stem);
    put(sum.split.substrate, node.split.substrate), put(sum.split.bench, node.split.bench);
    put(sum.split.airborne, node.split.airborne), put(sum.split.evaporated, node.split.evaporated);
    put(sum.shattered, node.shattered), put(sum.rebounded, node.rebounded);
    put(sum.stem_run_off, node.stem_run_off), put(sum.heat, node.heat);
    const bool first = sum.layers.empty();
    if (first) sum.layers = node.layers;
    for (std::size_t k = 0; k < node.layers.size(); ++k) {
      LeafLayer& into = sum.layers[k];
      const LeafLayer& from = node.layers[k];
      if (first) into.liquid = into.run_off = 0.0, into.stem = {.area = from.stem.area};
      put(into.liquid, from.liquid), put(into.run_off, from.run_off);
      for (const auto liquid : {&StemPart::caught, &StemPart::from_leaves, &StemPart::from_above,
                                &StemPart::liquid, &StemPart::run_off}) {
        put(into.stem.*liquid, from.stem.*liquid);
      }
      if (from.liquid > 0.0 && weight > heaviest[k]) heaviest[k] = weight, into.droplets = from.droplets;
    }
  }

  const Scenario scenario_;
  std::mutex mutex_;
  std::map<Node, std::shared_ptr<const Landing>> nodes_;
};

/// The table of a spray; the last few are kept.
std::shared_ptr<LandingTable> table_of(const Scenario& scenario) {
  constexpr std::size_t most = 4;
  static std::mutex mutex;
  static std::vector<std::shared_ptr<LandingTable>> tables;  // the latest last
  const Scenario key = read_by_landing(scenario);
  const std::lock_guard lock(mutex);
  for (const auto& table : tables) {
    if (table->scenario() == key) return table;
  }
  if (tables.size() >= most) tables.erase(tables.begin());
  return tables.emplace_back(std::make_shared<LandingTable>(key));
}

}  // namespace

Landing unchecked::land(const Scenario& scenario, const AirState& air) {
  if (scenario.application.method != Method::spray) return computed(scenario, air);
  if (scenario.numerics.flights == Flights::table) {
    try {
      return table_of(scenario)->at(air);
    } catch (const InputError&) {
      // a node lies outside the range of air in which flights can be computed, although this air is inside
    }
  }
  return remembered(scenario, air);
}

}  // namespace wetspan
