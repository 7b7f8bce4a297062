// Landings that were computed before: the last few of a thread, and tables over the air for many times of
// spraying.
#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <mutex>
#include <span>
#include <unordered_map>
#include <utility>
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
    Node below{};
    std::array<double, 4> part{};
    for (unsigned i = 0; i < 4; ++i) {
      const double whole = std::floor(place[i]);
      below[i] = static_cast<int>(whole), part[i] = place[i] - whole;
    }
    std::array<Corner, corners> around{};
    std::size_t count = 0;
    for (unsigned corner = 0; corner < corners; ++corner) {
      Corner next{.node = below};
      for (unsigned i = 0; i < 4; ++i) {
        const bool above = (corner >> i) & 1U;
        next.node[i] += above;
        next.weight *= above ? part[i] : 1.0 - part[i];
      }
      if (next.weight > 0.0) around[count++] = std::move(next);
    }
    const std::span<Corner> cell = std::span(around).first(count);
    find(cell);
    return between(cell);
  }

 private:
  using Node = std::array<int, 4>;
  static constexpr std::array<double, 4> steps{2.0, 0.05, 1000.0, 0.1};  // [K], [1], [Pa], [m/s]
  static constexpr std::size_t most_nodes = 20'000;                      // some 50 MB
  static constexpr unsigned corners = 16;                                // of a cell of the grid

  /// A node with its interpolation weight.
  struct Corner {
    Node node{};
    double weight = 1.0;
    std::shared_ptr<const Landing> landing{};
  };

  /// Sets the landings of corners.
  void find(std::span<Corner> cell) {
    {
      const std::lock_guard lock(mutex_);
      for (Corner& corner : cell) {
        if (const auto at = nodes_.find(corner.node); at != nodes_.end()) corner.landing = at->second;
      }
    }
    for (Corner& corner : cell) {
      if (!corner.landing) corner.landing = added(corner.node);
    }
  }

  std::shared_ptr<const Landing> added(const Node& node) {
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

  /// The weighted sum of nodes. All numbers are linear in the weights, so that sums are preserved; the
  /// droplets of a layer are those of the heaviest node at which it holds liquid.
  static Landing between(std::span<const Corner> cell) {
    Landing sum;
    sum.layers.resize(cell.front().landing->layers.size());
    for (const Corner& corner : cell) add(sum, *corner.landing, corner.weight);
    for (std::size_t k = 0; k < sum.layers.size(); ++k) {
      LeafLayer& into = sum.layers[k];
      const LeafLayer& geometry = cell.front().landing->layers[k];  // the same at every node
      into.area = geometry.area, into.interception = geometry.interception, into.light = geometry.light;
      into.air_speed = geometry.air_speed, into.stem.area = geometry.stem.area;
      double heaviest = 0.0;
      const Spectrum* droplets = nullptr;
      for (const Corner& corner : cell) {
        const LeafLayer& from = corner.landing->layers[k];
        if (from.liquid > 0.0 && corner.weight > heaviest)
          heaviest = corner.weight, droplets = &from.droplets;
      }
      if (droplets != nullptr) into.droplets = *droplets;
    }
    return sum;
  }

  static void add(Landing& sum, const Landing& node, double weight) {
    const auto put = [&](double& into, double value) { into += weight * value; };
    put(sum.split.leaf, node.split.leaf), put(sum.split.stem, node.split.stem);
    put(sum.split.substrate, node.split.substrate), put(sum.split.bench, node.split.bench);
    put(sum.split.airborne, node.split.airborne), put(sum.split.evaporated, node.split.evaporated);
    put(sum.shattered, node.shattered), put(sum.rebounded, node.rebounded);
    put(sum.stem_run_off, node.stem_run_off), put(sum.heat, node.heat);
    for (std::size_t k = 0; k < node.layers.size(); ++k) {
      LeafLayer& into = sum.layers[k];
      const LeafLayer& from = node.layers[k];
      put(into.liquid, from.liquid), put(into.run_off, from.run_off);
      for (const auto liquid : {&StemPart::caught, &StemPart::from_leaves, &StemPart::from_above,
                                &StemPart::liquid, &StemPart::run_off}) {
        put(into.stem.*liquid, from.stem.*liquid);
      }
    }
  }

  struct Hash {
    std::size_t operator()(const Node& node) const {
      std::uint64_t all = 0;
      for (const int each : node) all = (all ^ static_cast<std::uint32_t>(each)) * 0x9E3779B97F4A7C15ULL;
      return static_cast<std::size_t>(all ^ (all >> 32));
    }
  };

  const Scenario scenario_;
  std::mutex mutex_;
  std::unordered_map<Node, std::shared_ptr<const Landing>, Hash> nodes_;
};

/// The table of a spray; the last few are kept.
std::shared_ptr<LandingTable> table_of(const Scenario& scenario) {
  constexpr std::size_t most = 4;
  static std::mutex mutex;
  static std::vector<std::shared_ptr<LandingTable>> tables;  // the latest last
  thread_local std::weak_ptr<LandingTable> last;  // threads that ask for it again do not wait for each other
  const Scenario key = read_by_landing(scenario);
  if (std::shared_ptr<LandingTable> table = last.lock(); table && table->scenario() == key) return table;
  const std::lock_guard lock(mutex);
  const auto same = [&](const auto& table) { return table->scenario() == key; };
  auto found = std::find_if(tables.begin(), tables.end(), same);
  if (found == tables.end()) {
    if (tables.size() >= most) tables.erase(tables.begin());
    found = tables.insert(tables.end(), std::make_shared<LandingTable>(key));
  }
  last = *found;
  return *found;
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
