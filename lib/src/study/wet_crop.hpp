// A sprayed crop: the quantities that are constant while it dries. The reference path and the clock path use
// them.
#pragma once

#include <algorithm>
#include <array>
#include <cstddef>
#include <limits>
#include <vector>

#include "wetspan/plant/drying.hpp"
#include "wetspan/plant/leaf.hpp"
#include "wetspan/study/wet_span.hpp"

namespace wetspan {

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr double gone = 1e-3;           // share of a liquid below which the rest is treated as evaporated
constexpr double warmth_unit = 10.0;    // K: unit of the temperature differences in the state
constexpr double longest_step = 600.0;  // s: longest integration step
constexpr double stillest = 0.002;      // m/s: least air speed; still air conducts as much (grade D)

/// Time for the rest of a liquid to evaporate, over the time at its present rate. dv/dt is constant for a
/// pinned contact line, and proportional to v^(1/3) for a receding one and to v^(2/3) for a film.
constexpr double last_moments(bool receding, bool film) { return film ? 3.0 : receding ? 1.5 : 1.0; }

/// The surfaces of a layer that carry active ingredient.
enum Surface : std::size_t { on_upper, on_lower, on_stem, surfaces };

/// The stems and petioles of a leaf layer.
struct StemTerms {
  double area;   // lateral, per area of bench [1]
  double water;  // that came, per area of bench [m]
  double light;  // share of the light above the crop that they absorb, per lateral area [1]
};

/// Hygroscopicity kappa V_solute / V_water of a liquid of which `solute` does not evaporate [1]. Below 1e-10
/// it counts as none: even in 99.9 % humidity the water in balance would be a film of 1e-11 m on the area of
/// a droplet, thinner than a molecule of water, and no liquid.
double hygroscopicity(const Liquid& liquid, double solute);

/// State of a class of droplets.
enum class Wetness {
  active,    // exchanges water
  balanced,  // a solution in balance with the air just outside it
  dried      // evaporated, or crystallised
};

/// A leaf layer, and the positions of its entries in the state of the full system.
struct Layer {
  double area;            // leaf area per area of bench [1]
  double light;           // share of the light above the crop that it intercepts, per leaf area [1]
  Views views;            // per leaf area
  double air_speed;       // over that at the top of the crop [1]
  double cuticle;         // permeance of its leaves over that of mature ones [1]
  double solute;          // share of the liquid's volume that does not evaporate [1]
  double hygroscopicity;  // kappa V_solute / V_water of the landed liquid [1]
  double dries_at;        // share of a class's water at which it counts as dried out
  bool deliquesces;       // whether a crystal takes up water again
  double water;           // sprayed water that landed, per area of bench [m]
  double cover;           // wet area of the fresh deposit per leaf area, both sides [1]
  std::array<OnSurface, surfaces>
      came;        // active ingredient per area of bench [kg/m2]; none in liquid without water
  StemTerms stem;  // its stems and petioles
  std::vector<DropletClass> classes;          // upper side, then lower; `landed` is liquid per leaf area [m]
  std::size_t lower;                          // first class of the lower side
  std::vector<Wetness> state;                 // of each class
  std::size_t warmth, dew, stem_left, first;  // entries of the state, and the first of its classes

  std::size_t entry(std::size_t i) const { return first + i; }

  /// Water of class `i` per area of bench when it landed [m].
  double per_bench(std::size_t i) const { return area * classes[i].landed * (1.0 - solute); }
  double activity(double left) const {
    return hygroscopicity > 0.0 ? std::max(0.0, left) / (std::max(0.0, left) + hygroscopicity) : 1.0;
  }
  /// Share of its liquid volume that a class still has, if the share `left` of its water is left.
  double volume(double left) const { return solute + (1.0 - solute) * std::max(0.0, left); }
};

// The state of the full system; every entry is of order one. These entries are followed by one block for each
// leaf layer.
enum Entry : std::size_t {
  house_heat,    // house temperature added by the spray / 10 K
  house_vapour,  // water vapour added to the house's air, over all water delivered
  carried_off,   // vapour carried off by ventilation or condensed on the cover, likewise
  bench_left,    // water left on the bench, over the water that landed there
  first_layer
};

/// Throws InputError unless a spray at `start` [s] lies within the record.
void check_start(const CropAir& air, double start);

/// Throws InputError unless a load has the layers of the canopy, and droplet sizes for the liquid on each.
void check_load(const Load& load, const Scenario& scenario);

/// Everything per area of bench is in m3/m2 = m of water.
struct WetCrop {
  WetCrop(const Scenario& scenario, const Load& load, const CropAir& record, double start);

  const Scenario& scenario;
  const CropAir& air;
  double start, base_temperature, density;
  double bench_area;
  double on_bench, in_air;
  bool house_answers;
  std::vector<Layer> layers;
  double delivered = 0;                     // all water delivered, per area of bench [m]
  double came = 0;                          // delivered, or a positive scale if it is 0 [m]
  double leaf_water = 0, stem_water = 0;    // on all layers
  double leaf_active = 0, stem_active = 0;  // likewise, in liquid, mobile and locked
  std::size_t size = 0;                     // of the full system's state

  double dew_unit() const { return scenario.leaf.dew_film; }

  /// Wet-bulb temperature of the air at the start [K].
  double wet_bulb() const;
  /// Share of its liquid in the heat capacity of a layer's wet leaves [1].
  double liquid_heat(std::size_t layer) const;
  /// Leaf temperatures [K] just after the spray has landed. Leaves start in balance with their air, unless
  /// the load gives a temperature, and mix with liquid at the wet-bulb temperature of the air.
  std::vector<double> first_temperatures(const Load& load) const;
};

}  // namespace wetspan
