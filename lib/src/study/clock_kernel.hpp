// The equations of drying crops on their clocks, side by side in vector lanes: what the kernel is given, what
// it gives back. The kernel itself is compiled once for each instruction set (clock_kernel.cpp).
#pragma once

#include <array>
#include <cstddef>
#include <limits>
#include <vector>

#include "wet_crop.hpp"

namespace wetspan::clocks {

constexpr std::size_t most_layers = 4, most_classes = 48;  // leaf layers; droplet classes on a side
constexpr std::size_t most_lanes = 8;                      // of the widest instructions
constexpr int course_terms = 13;                           // of the pinned course's polynomial

// The state. Its first entries are those of the full system, but that of active ingredient it has the share
// that remains, and of water on stems and bench the cube root, besides which the house's vapour or what is
// carried off counts it too; then come the time and the sum of the top layer's warmth over it, and a block
// for each leaf layer.
enum : std::size_t { stem_remains = stem_taken, elapsed = first_layer, warmth_sum, first_leaf };
enum LayerEntry : std::size_t { warmth, remains, upper_clock, lower_clock, water, layer_entries };
constexpr std::size_t most_entries = first_leaf + most_layers * layer_entries;
constexpr std::size_t entry_of(std::size_t layer, LayerEntry entry) {
  return first_leaf + layer * layer_entries + entry;
}
constexpr std::size_t clock_of(std::size_t layer, std::size_t below) {
  return entry_of(layer, below ? lower_clock : upper_clock);
}

/// Functions of the air as polynomials: of temperature in (T - middle) / half_width, and of r, the vapour
/// pressure over the whole, in r / half_moist - 1. With the viscosity mu, the conductivity k, and of moist
/// air the specific heat c(r), the molar mass w(r) and the molar heat m(r) = w c: density is P w / (R T),
/// volumetric heat P m / (R T).
struct Properties {
  static constexpr double coldest = 273.15, hottest = 343.15;          // [K]
  static constexpr double ice_middle = 226.15, ice_half_width = 47.0;  // [K]: radiant
  static constexpr double middle = 0.5 * (coldest + hottest), half_width = 0.5 * (hottest - coldest);
  static constexpr double half_moist = 0.1;  // [1]: r of 0 to 0.2
  static constexpr double prandtl_middle = 0.75, prandtl_half_width = 0.15;
  std::array<double, 10> saturation_pressure;  // [Pa]
  std::array<double, 10> saturation_slope;     // of the pressure [Pa/K]
  std::array<double, 14> over_ice;      // ln of the pressure [Pa], in (T - ice_middle) / ice_half_width
  std::array<double, 8> latent_heat;    // [J/kg]
  std::array<double, 6> conductivity;   // k [W/m/K]
  std::array<double, 6> viscosity;      // mu / k [kg K/J]: the Prandtl number over c
  std::array<double, 6> fluidity;       // 1 / (R T mu) [mol m s/J/kg]: 1 / kinematic viscosity, over P w
  std::array<double, 7> forced;         // k (mu / k)^(1/3) (R T mu)^(-1/2): see `forced_moist`
  std::array<double, 7> free;           // k (R^2 T^3 mu k)^(-1/4)
  std::array<double, 2> heat;           // m [J/mol/K]
  std::array<double, 5> specific_heat;  // c [J/kg/K]
  std::array<double, 5> forced_moist;   // w^(1/2) c^(1/3)
  std::array<double, 5> free_moist;     // (w m)^(1/4)
  std::array<double, 5> vapour_moist;   // m^(-1/3)
  std::array<double, 9> mixing;         // (1 + x)^(2/7): 0 to 1
  std::array<double, 8> turbulent;      // (1 + x)^(4/5), likewise
  std::array<double, 7> round;          // (1 + (0.4 / Pr)^(2/3))^(-1/4) of a cylinder's boundary layer
};
const Properties& properties();

// Numbers of one event. `Number` is double where one event is made ready and vector lanes in the kernel. A
// name that begins with `by` is one over what follows.
template <class Number>
struct LayerTerms {
  Number area;          // leaf area per area of bench [1]
  Number sun;           // absorbed, over the shortwave above the crop [1]
  Number above, below;  // emissivity x Stefan-Boltzmann constant x view [W/m2/K4]
  Number forced;        // 0.664 turbulence (air speed over that above the crop / length)^(1/2) [m^(-1/2)]
  Number landed,
      by_landed;    // water per leaf area when it landed [m]; by it and its density, 0 without [m2/kg]
  Number fresh;     // active ingredient when it landed, per leaf area [kg/m2]
  Number dilute;    // the same over the liquid it came in [kg/m3]
  Number residue;   // cover / fresh / wet_to_dry, 0 without [m2/kg]
  Number takes_up;  // 1 with active ingredient, else 0
  Number by_clock_unit[2];  // of the two sides' clocks [1/m2]
  Number lets_go, dries;    // sigma at which a drop's edge lets go, and at which it counts as dry [1]
  Number given;             // temperature before the spray [K]; 0 where the leaf was in balance with its air
  Number film;              // share of the liquid in the heat capacity of the wet leaf [1]
  Number last_square;       // base area of a receding drop when it counts as dry, over the fresh one [1]
  Number of_leaf_water;     // share of the leaves' water when it landed [1]
};
template <class Number>
struct Terms {
  Number base, wet_bulb;       // temperature that warmth is counted from; of the air at the start [K]
  Number by_density, by_came;  // of water [m3/kg]; of all water that came, per area of bench [m2/kg]
  Number answers;              // 1 where the house answers to the spray, else 0
  Number vapour;               // density of the vapour added, over the state's entry [kg/m3]
  Number height, sprayed, by_capacity;   // of the house [m], [1], [m2 K/J]
  Number heat_loss, condensing;          // [W/m2/K]; cover conductance / sprayed x by_came
  Number buoyancy;                       // 0.54 (gravity / length of the boundary layer)^(1/4) [s^(-1/2)]
  Number leaf_capacity, water_capacity;  // [J/m2/K]; of water [J/m3/K]
  Number stomata, half_light;            // [m/s], [W/m2]
  Number diffusivity[6];                 // of vapour, times pressure [Pa m2/s]: as in Properties
  Number vapour_over_heat[6];            // of the conductances, times pressure m^(1/3)
  Number permeance[2], solubility[2];    // exp(a - b / T): [m/s], [kg/m3]
  Number stems, stem_root, by_diameter,
      stem_cuticle;                // per area of bench [1]; of the diameter [m^(1/2)]; [1/m]; [1]
  Number by_on_stem, by_on_bench;  // of the mass of water on them, 0 without [m2/kg]
  Number stem_share, bench_share;  // of all water that came [1]
  Number stem_depth, stem_fresh, stem_dilute, stem_residue, stem_takes_up;  // as in LayerTerms
  Number bench, bench_conductance;                                          // per area of bench [1], [m/s]
  Number at_release;  // base area of a receding drop, over the fresh one, is at_release - receding sigma
  Number receding, by_receding;  // its fall with sigma [1], and the inverse, large where it does not fall
  Number abrupt;     // 1 where it falls to nothing in a fraction of the time the edge holds, else 0
  Number by_pinned;  // of sigma when the edge lets go; 0 where it never held [1]
  Number course[course_terms];  // evaporation factor of a pinned drop over that of a receding one, in
                                // sigma x by_pinned
  Number absolute, relative;    // tolerances
  Number of_clocks;  // what clocks and the time are held to, relative: drying times add up from them
};

/// One class of droplets on a side.
struct ClassTerms {
  double square, by_square;  // R_0^2 / clock unit: the side's clock over sigma; its inverse [1]
  double shell, disc;        // n pi R_0 f while receding [1/m], n pi R_0^2 [1]
  double share;              // of its layer's liquid, as landed [1]
  double weight;             // of the edges of all that is wet on its side when it dries [1]
  double most_fall;          // of its base area in a step, over what it is when that begins [1]
};

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

  std::size_t layers = 0;
  Terms<double> terms{};
  std::array<LayerTerms<double>, most_layers> layer{};
  std::array<std::array<Side, 2>, most_layers> side;
  std::array<double, most_entries> state{};  // at the start
  const CropAir* air = nullptr;
  double start = 0, last = 0;                           // [s], in the record; how long to follow [s]
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
  std::array<double, most_layers> layer_wet_time;
  double wet_warmth = 0;  // warmth_sum when the leaves were dry
  std::array<double, most_entries> state{};
  int steps = 0;
};

/// Where a kernel gets its events and leaves what became of them.
class Feed {
 public:
  virtual ~Feed() = default;
  /// Makes the next event ready; false when there is none. `slot` is the caller's name for it until done().
  virtual bool next(std::size_t slot, Event& event) = 0;
  virtual void done(std::size_t slot, const Solution& solution) = 0;
};

/// Follows all that the feed gives; returns how often the equations were evaluated, lanes counted singly.
using Kernel = long (*)(Feed&, const Properties&);

/// The kernels of one instruction set, at full width and in one lane; null where it was not built.
struct Kernels {
  Kernel full = nullptr, one = nullptr;
};

}  // namespace wetspan::clocks
