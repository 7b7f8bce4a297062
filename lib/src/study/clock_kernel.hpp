// Drying crops on their clocks, side by side in vector lanes: what the kernel is given, what it gives back.
// The kernel itself is compiled once for each instruction set (clock_kernel.cpp). docs/science/clocks.md has
// the derivation.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <vector>

#include "../plant/uptake_equations.hpp"
#include "../properties/fitted_air.hpp"
#include "house_equations.hpp"
#include "wet_crop.hpp"

namespace wetspan::clocks {

constexpr std::size_t most_layers = 4, most_classes = 48;  // leaf layers; droplet classes on a side
constexpr std::size_t most_lanes = 8;                      // of the widest instructions
constexpr int course_terms = 13;                           // of the pinned course's polynomial

// The state. Its first entries are those of the full system, but that of water on the bench it has the cube
// root, besides which the house's vapour or what is carried off counts it too. Then come the stems' exposure,
// which is the integral of the rate at which mobile deposit enters, the time and the sum of the top layer's
// warmth over it, and a block for each leaf layer: warmth and exposure of its leaves, clocks and water of
// both sides, the active ingredient in their liquid, and for stems the cube root of the water and the active
// ingredient in it. Water and active ingredient are over what came.
enum : std::size_t { stem_exposure = first_layer, elapsed, warmth_sum, first_leaf };
enum LayerEntry : std::size_t {
  warmth,
  exposure,
  upper_clock,
  lower_clock,
  upper_water,
  lower_water,
  upper_active,
  lower_active,
  stem_water,
  stem_active,
  layer_entries
};
constexpr std::size_t most_entries = first_leaf + most_layers * layer_entries;
constexpr std::size_t entry_of(std::size_t layer, LayerEntry entry) {
  return first_leaf + layer * layer_entries + entry;
}
constexpr std::size_t clock_of(std::size_t layer, std::size_t below) {
  return entry_of(layer, upper_clock) + below;
}
constexpr std::size_t water_of(std::size_t layer, std::size_t below) {
  return entry_of(layer, upper_water) + below;
}
constexpr std::size_t active_of(std::size_t layer, std::size_t below) {
  return entry_of(layer, upper_active) + below;
}

// Numbers of one event. `Number` is double where one event is made ready and vector lanes in the kernel. A
// name that begins with `by` is one over what follows.
template <class Number>
struct LayerTerms {
  LeafTerms<Number> leaf;
  Number area;                     // leaf area per area of bench [1]
  Number landed[2], by_landed[2];  // water of a side per leaf area when it landed [m]; by it and its density,
                                   // 0 without [m2/kg]
  Number fresh[2];                 // active ingredient in it, per leaf area [kg/m2]
  Number side_share[2];            // of the layer's water when it landed [1]
  Number by_clock_unit[2];         // of the two sides' clocks [1/m2]
  Number lets_go, dries;           // sigma at which a drop's edge lets go, and at which it counts as dry [1]
  Number given;          // temperature before the spray [K]; 0 where the leaf was in balance with its air
  Number liquid_heat;    // share of the liquid in the heat capacity of the wet leaf [1]
  Number last_square;    // base area of a receding drop when it counts as dry, over the fresh one [1]
  Number of_leaf_water;  // share of the leaves' water when it landed [1]
  CylinderTerms<Number> stem;
  Number stems,
      stem_light;     // lateral area per area of bench [1]; light they absorb, over that above the crop [1]
  Number by_on_stem;  // of the mass of water on them per area of bench, 0 without [m2/kg]
  Number stem_share;  // of all water that came [1]
  Number stem_depth, stem_fresh;  // of the fresh film [m]; active ingredient in it, per lateral area [kg/m2]
};
/// What all droplets of an event go through (droplet_course.hpp).
template <class Number>
struct CourseTerms {
  Number at_release;  // base area of a receding drop, over the fresh one, is at_release - receding sigma
  Number receding, by_receding;  // its fall with sigma [1], and the inverse, large where it does not fall
  Number abrupt;     // 1 where it falls to nothing in a fraction of the time the edge holds, else 0
  Number by_pinned;  // of sigma when the edge lets go; 0 where it never held [1]
  Number factor[course_terms];  // evaporation factor of a pinned drop over that of a receding one, in powers
                                // of sigma x by_pinned
};
template <class Number>
struct Terms {
  Number base, wet_bulb;  // temperature that warmth is counted from; of the air at the start [K]
  Number by_density;      // of water [m3/kg]
  HouseTerms<Number> house;
  StomataTerms<Number> stomata;
  DiffusionFits<Number> diffusion;
  UptakeTerms<Number> uptake;
  Number leaf_capacity, water_capacity;  // [J/m2/K]; of water [J/m3/K]
  Number stem_cuticle;                   // permeance over that of leaves [1]
  Number bench, bench_conductance;       // per area of bench [1], [m/s]
  Number by_on_bench;                    // of the mass of water on it, 0 without [m2/kg]
  Number bench_share;                    // of all water that came [1]
  CourseTerms<Number> course;
  Number absolute, relative;  // tolerances
  Number of_clocks;           // what clocks and the time are held to, relative: drying times add up from them
};

/// One class of droplets on a side.
struct ClassTerms {
  double square, by_square;  // R_0^2 / clock unit: the side's clock over sigma; its inverse [1]
  double shell, disc;        // n pi R_0 f while receding [1/m], n pi R_0^2 [1]
  double share;              // of its side's liquid, as landed [1]
  double weight;             // of the edges of all that is wet on its side when it dries [1]
  double most_fall;          // of its base area in a step, over what it is when that begins [1]
};

/// What has dried on a surface, per area of it.
struct DryDeposit {
  double mobile = 0, locked = 0;  // [kg/m2]
  double exposure = 0, time = 0;  // up to which they have entered and been lost
  double taken = 0, lost = 0;     // so far, of the mobile and of the locked [kg/m2]
};
using LayerDeposits = std::array<DryDeposit, surfaces>;

/// One event made ready.
///
/// Drops whose water activity is one all follow the clock of their side, s = integral of D (rho_sat - rho_s)
/// / rho_l dt: a drop of base radius R_0 is a function of sigma = s / R_0^2 alone. Until it is released, its
/// edge holds, and its evaporation factor is a polynomial of sigma; so those of all pinned classes of a side
/// add up to one polynomial of the side's clock. Then its angle holds, and its base area falls linearly.
struct Event {
  /// The classes that are pinned from one on.
  struct Pinned {
    std::array<double, course_terms> shell;  // sum of n pi R_0 f, in powers of the side's clock [1/m]
    double disc;                             // sum of n pi R_0^2 [1]
  };
  struct Side {  // large, and made ready as far as its classes go
    std::size_t count = 0;
    std::array<ClassTerms, most_classes> classes;  // from the smallest, which is the first to dry
    std::array<Pinned, most_classes + 1> pinned;   // from each class on
  };

  /// Inlined always: a kernel shares no function with the rest of the library.
  [[gnu::always_inline]] Event() = default;

  std::size_t layers = 0;
  Terms<double> terms{};
  std::array<LayerTerms<double>, most_layers> layer{};
  std::array<std::array<Side, 2>, most_layers> side;
  std::array<double, most_entries> state{};  // at the start
  const CropAir* air = nullptr;
  double start = 0, last = 0;  // [s], in the record; how long to follow [s]
  const Uptake* uptake = nullptr;
  std::array<LayerDeposits, most_layers> deposit{};     // that lies there already
  double dry_share = 0;                                 // at which leaves count as dry
  std::array<double, most_layers> water_share{};        // of all water that came
  double pinned = 0;                                    // sigma at which the edge lets go [1]
  std::array<double, course_terms + 1> course_share{};  // volume left of a pinned drop, in sigma / pinned
  double receding_share = 0;                            // when the edge lets go
  std::array<double, most_layers> solute{};             // share of the liquid that does not evaporate
  std::array<double, most_layers>
      last_flow{};  // fall of a class's water with sigma when it counts as dry [1]
  std::array<double, most_layers> last_moments{};  // how long the last of a class takes, over its water / the
                                                   // fall of it: see wet_span.cpp
};

/// What became of an event.
struct Solution {
  bool followed = false;  // false: dew fell, or a state was reached that the clocks do not hold for
  double wet_time, last_drop_time, stem_wet_time;
  std::array<double, most_layers> layer_wet_time, stem_dry_time;
  std::array<LayerDeposits, most_layers> deposit;
  std::array<std::array<double, surfaces>, most_layers>
      dried;              // of the active ingredient that came in liquid [1]
  double wet_warmth = 0;  // warmth_sum when the leaves were dry
  std::array<double, most_entries> state{};
  int steps = 0;
};

/// Where a kernel gets its events and leaves what became of them.
class EventSupply {
 public:
  virtual ~EventSupply() = default;
  /// Makes the next event ready; false when there is none. `slot` is the caller's name for it until done().
  virtual bool next(std::size_t slot, Event& event) = 0;
  virtual void done(std::size_t slot, const Solution& solution) = 0;
};

/// Follows all that is supplied; returns how often the equations were evaluated, lanes counted singly.
using Kernel = std::int64_t (*)(EventSupply&, const AirFits&);

/// The kernels of one instruction set, at full width and in one lane; null where it was not built.
struct Kernels {
  Kernel full = nullptr, one = nullptr;
};

}  // namespace wetspan::clocks
