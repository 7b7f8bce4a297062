// Input and output of the clock kernel, which integrates several drying crops at once in vector lanes. The
// kernel is compiled once for each instruction set (clock_kernel.cpp). docs/science/clocks.md derives its
// equations.
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

// The state. Its first entries are those of the full system, with two differences: the entry of the bench is
// the cube root of its water, and the entry of the house's vapour (or of what is carried off) includes the
// water of all films. The next entries are the exposure of stems, which is the integral of the rate at which
// the mobile deposit enters; the time; and the integral of the warmth of the top layer over time. They are
// followed by a block for each leaf layer: warmth and exposure of its leaves, clocks and water of both sides,
// the active ingredient in the liquid of both sides, and for stems the cube root of the water and the active
// ingredient in it. Water and active ingredient are relative to the amounts that landed.
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

// Numbers of one event. `Number` is double while an event is prepared, and vector lanes in the kernel. A name
// that begins with `by` denotes a reciprocal.
template <class Number>
struct LayerTerms {
  LeafTerms<Number> leaf;
  Number area;                     // leaf area per area of bench [1]
  Number landed[2], by_landed[2];  // water that landed on a side per leaf area [m]; reciprocal of its mass
                                   // per leaf area, 0 without water [m2/kg]
  Number permeance[2];             // of the leaves, as in UptakeTerms
  Number fresh[2];                 // active ingredient in this water, per leaf area [kg/m2]
  Number side_share[2];            // share of the side in the water that landed on the layer [1]
  Number by_clock_unit[2];         // reciprocal of the unit of each side's clock [1/m2]
  Number lets_go,
      dries;     // sigma at which the edge of a drop begins to recede, and at which it counts as dry [1]
  Number given;  // leaf temperature before the spray [K]; 0 if the leaf was in balance with its air
  Number liquid_heat;    // share of the liquid in the heat capacity of the wet leaf [1]
  Number last_square;    // base area of a receding drop that counts as dry, relative to the fresh drop [1]
  Number of_leaf_water;  // share of the layer in the water that landed on leaves [1]
  CylinderTerms<Number> stem;
  Number stems,
      stem_light;  // lateral area per area of bench [1]; light that they absorb, relative to that above the
                   // crop [1]
  Number by_on_stem;  // reciprocal of the mass of water on stems per area of bench, 0 without water [m2/kg]
  Number stem_share;  // share of the stems in all water that was delivered [1]
  Number stem_depth,
      stem_fresh;  // depth of the fresh film [m]; active ingredient in it, per lateral area [kg/m2]
};
/// Terms of the evaporation of a droplet, common to all droplets of an event (droplet_course.hpp).
template <class Number>
struct CourseTerms {
  Number at_release;             // the relative base area of a receding drop is at_release - receding sigma
  Number receding, by_receding;  // see at_release [1]; its reciprocal, large if the base area does not fall
  Number abrupt;     // 1 if the drop recedes in a fraction of the time for which its edge is pinned, else 0
  Number by_pinned;  // reciprocal of sigma when the edge begins to recede; 0 if it is never pinned [1]
  Number factor[course_terms];  // evaporation factor of a pinned drop relative to that of a receding one, in
                                // powers of sigma x by_pinned
};
template <class Number>
struct Terms {
  Number base, wet_bulb;  // reference temperature of warmth; wet-bulb temperature of the air at the start [K]
  Number by_density;      // reciprocal of the density of water [m3/kg]
  HouseTerms<Number> house;
  StomataTerms<Number> stomata;
  DiffusionFits<Number> diffusion;
  UptakeTerms<Number> uptake;
  Number leaf_capacity, water_capacity;  // heat capacities: of a dry leaf [J/m2/K], of water [J/m3/K]
  Number stem_cuticle;                   // permeance of stems relative to that of leaves [1]
  Number bench, bench_conductance;       // wet area per area of bench [1]; conductance for vapour [m/s]
  Number by_on_bench;  // reciprocal of the mass of water on the bench, 0 without water [m2/kg]
  Number bench_share;  // share of the bench in all water that was delivered [1]
  CourseTerms<Number> course;
  Number absolute, relative;  // tolerances of a step
  Number of_clocks;  // relative tolerance of clocks and time, whose errors add up to those of drying times
};

/// One class of droplets on a side.
struct ClassTerms {
  double square, by_square;  // R_0^2 / clock unit: ratio of the side's clock to sigma; its reciprocal [1]
  double shell, disc;        // n pi R_0 f while receding [1/m], n pi R_0^2 [1]
  double share;              // share of the class in the liquid that landed on its side [1]
  double weight;     // share of the class in the edges of all wet classes of its side when it dries [1]
  double most_fall;  // largest relative decrease of its base area in a step [1]
};

/// Dry active ingredient on a surface, per area of the surface.
struct DryDeposit {
  double mobile = 0, locked = 0;  // [kg/m2]
  double exposure = 0,
         time = 0;  // to which uptake and loss have been computed: integral of the rate [1], time [s]
  double taken = 0, lost = 0;  // total uptake from the mobile part, total loss of the locked part [kg/m2]
};
using LayerDeposits = std::array<DryDeposit, surfaces>;

/// One event, prepared for the kernel.
///
/// Drops with water activity one all follow the clock of their side, s = integral of D (rho_sat - rho_s) /
/// rho_l dt: the state of a drop of base radius R_0 is a function of sigma = s / R_0^2 alone. While the edge
/// is pinned, the evaporation factor is a polynomial of sigma, so that the sum over all pinned classes of a
/// side is one polynomial of the side's clock. Once the edge recedes, the contact angle is constant and the
/// base area decreases linearly.
struct Event {
  /// Sums over the pinned classes, which are those from a given class on.
  struct Pinned {
    std::array<double, course_terms> shell;  // sum of n pi R_0 f, in powers of the side's clock [1/m]
    double disc;                             // sum of n pi R_0^2 [1]
  };
  struct Side {  // large; only the entries up to `count` are set
    std::size_t count = 0;
    std::array<ClassTerms, most_classes> classes;  // from the smallest, which is the first to dry
    std::array<Pinned, most_classes + 1> pinned;   // from each class on
  };

  /// Always inlined, since a kernel shares no function with the rest of the library.
  [[gnu::always_inline]] Event() = default;

  std::size_t layers = 0;
  Terms<double> terms{};
  std::array<LayerTerms<double>, most_layers> layer{};
  std::array<std::array<Side, 2>, most_layers> side;
  std::array<double, most_entries> state{};  // at the start
  const CropAir* air = nullptr;
  double start = 0, last = 0;  // start in the record [s]; longest duration [s]
  const Uptake* uptake = nullptr;
  std::array<LayerDeposits, most_layers> deposit{};  // dry active ingredient at the start
  double dry_share = 0;                              // share of the landed water at which leaves count as dry
  std::array<double, most_layers> water_share{};     // share of the layer in all water that was delivered
  double pinned = 0;                                 // sigma at which the edge begins to recede [1]
  std::array<double, course_terms + 1>
      course_share{};  // share of the volume of a pinned drop that is left, in powers of sigma / pinned
  double receding_share = 0;                 // the same share when the edge begins to recede
  std::array<double, most_layers> solute{};  // share of the liquid that does not evaporate
  std::array<double, most_layers>
      last_flow{};  // decrease of a class's water with sigma when it counts as dry [1]
  std::array<double, most_layers> last_moments{};  // see last_moments() in wet_crop.hpp
};

/// Result of an event.
struct Solution {
  bool followed = false;  // false if dew fell, or a state was reached for which the clocks are not exact
  double wet_time, last_drop_time, stem_wet_time;
  std::array<double, most_layers> layer_wet_time, stem_dry_time;
  std::array<LayerDeposits, most_layers> deposit;
  std::array<std::array<double, surfaces>, most_layers>
      dried;              // share of the active ingredient in liquid that has dried [1]
  double wet_warmth = 0;  // warmth_sum when the leaves became dry
  std::array<double, most_entries> state{};
  int steps = 0;
};

/// Supplies a kernel with events and receives their results.
class EventSupply {
 public:
  virtual ~EventSupply() = default;
  /// Prepares the next event; false if there is none. `slot` identifies it until done() is called.
  virtual bool next(std::size_t slot, Event& event) = 0;
  virtual void done(std::size_t slot, const Solution& solution) = 0;
};

/// Integrates all events of a supply; returns the number of evaluations of the equations, summed over lanes.
using Kernel = std::int64_t (*)(EventSupply&, const AirFits&);

/// The kernels of one instruction set, with all lanes and with one lane; null if it was not built.
struct Kernels {
  Kernel full = nullptr, one = nullptr;
};

}  // namespace wetspan::clocks
