#include "wetspan/spray/jug.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numeric>
#include <type_traits>

#include "../require.hpp"
#include "wetspan/properties/constants.hpp"
#include "wetspan/properties/water.hpp"
#include "wetspan/spray/droplets.hpp"

namespace wetspan {
namespace {

constexpr double critical_yield = 0.048;  // yield parameter at which a sphere stops [-], Beris et al. 1985
constexpr double drawn_off = 0.9;         // [1], of the depth, before what is left is assayed: CIPAC MT 161
constexpr double densest = 2e4;           // kg/m3, that particles may be, or a layer may hold
constexpr double least_pour = 1e-6;       // [1], of the jug: a drop; of less the amount would be rounding
constexpr double courant = 0.5;           // [-], with which the limited fluxes cannot empty a layer
constexpr double trace = 1e-20;  // [-], of the label: smaller concentrations do not move, which avoids
                                 // slow denormal numbers behind a front that has passed

template <class Type>
constexpr Kind number_kind = std::is_same_v<Type, int> ? Kind::count : Kind::number;

#define WETSPAN_ROW(type, name, standard, low, high, spread, unit, shown, grade, source, meaning) \
  {section, #name, number_kind<type>, standard, low,     high, spread,                            \
   unit,    shown, Grade::grade,      source,   meaning, {}},
constexpr auto jug_rows = [](std::string_view section) {
  return std::to_array<Parameter>({WETSPAN_JUG(WETSPAN_ROW)});
}("jug");
constexpr auto suspension_rows = [](std::string_view section) {
  return std::to_array<Parameter>({WETSPAN_SUSPENSION(WETSPAN_ROW)});
}("suspension");
#undef WETSPAN_ROW

#define WETSPAN_CHECK(type, name, standard, low, high, spread, unit, shown, grade, source, meaning) \
  require(#name, value.name, low, high, unit);
void check(const Suspension& value) { WETSPAN_SUSPENSION(WETSPAN_CHECK) }
void check(const ParticleClass& particles, double liquid) {
  require(particles.name + ": diameter", particles.diameter, 1e-8, 5e-5, "m");
  require(particles.name + ": density", particles.density, liquid, densest, "kg/m^3");
  require(particles.name + ": concentration", particles.concentration, std::numeric_limits<double>::min(),
          densest, "kg/m^3");
}

void check(const JugInput& value) {
  WETSPAN_JUG(WETSPAN_CHECK)
  if (value.classes.empty()) throw InputError("the jug is empty: give at least one particle class");
  const double liquid = water::density(value.temperature);
  double fraction = 0;
  for (const ParticleClass& particles : value.classes) {
    check(particles, liquid);
    fraction += particles.concentration / particles.density;
  }
  require("volume fraction of all particles", fraction, 0, value.packing, "(the packing)");
}
#undef WETSPAN_CHECK

/// Limited change over a layer, with which its edge values lie between the means of the neighbours: the
/// smaller of the differences to the two sides, and 0 at an extremum (minmod, Roe 1986). With sharper
/// limiters the method does not converge to the entropy solution where a rarefaction fan ends in a shock,
/// because phi (1 - phi)^n is concave and then convex.
double limited_change(double above, double here, double below) {
  const double upper = here - above, lower = below - here;
  if (upper * lower <= 0) return 0;
  return std::abs(upper) < std::abs(lower) ? upper : lower;
}

/// The layers and their explicit time step. A face has the number of the layer below it; face `n_` is the
/// bottom of the jug.
class Column {
 public:
  explicit Column(const JugInput& jug)
      : jug_(jug), n_(static_cast<std::size_t>(jug.cells)), thickness_(jug.height / jug.cells) {
    for (const ParticleClass& particles : jug.classes) speed_.push_back(sinking_speed(particles, jug));
    arrival_.resize(speed_.size() * (n_ + 1));
    crowd_.resize(n_);
    for (auto* at_face : {&arrival_volume_, &crowd_above_, &crowd_below_, &open_}) at_face->resize(n_ + 1);
  }

  /// Largest step [s]; infinite if nothing moves.
  double longest_step() const {
    return courant * thickness_ / *std::max_element(speed_.begin(), speed_.end());
  }

  /// One Heun step of the concentrations c[class][layer].
  void advance(std::vector<double>& c, double dt) {
    stage_ = c;
    euler(stage_, dt);
    euler(stage_, dt);
    for (std::size_t k = 0; k < c.size(); ++k) c[k] = 0.5 * (c[k] + stage_[k]);
  }

 private:
  void euler(std::vector<double>& c, double dt) {
    reconstruct(c);
    let_in(dt);
    for (std::size_t i = 0; i < speed_.size(); ++i) {
      double* layer = &c[i * n_];
      const double* arrival = &arrival_[i * (n_ + 1)];
      for (std::size_t k = 0; k < n_; ++k)
        layer[k] += (arrival[k] * open_[k] - arrival[k + 1] * open_[k + 1]) * dt / thickness_;
    }
  }

  /// Computes, from the concentrations, the unhindered flux to each face, by class [kg/m2/s] and in total
  /// [m/s], and the volume fractions in each layer and on both sides of each face.
  void reconstruct(const std::vector<double>& c) {
    for (auto* sum : {&arrival_volume_, &crowd_, &crowd_above_, &crowd_below_})
      std::fill(sum->begin(), sum->end(), 0.0);
    for (std::size_t i = 0; i < speed_.size(); ++i) {
      const double* layer = &c[i * n_];
      double* arrival = &arrival_[i * (n_ + 1)];
      const double clear = trace * jug_.classes[i].concentration;
      const double volume = 1 / jug_.classes[i].density;
      for (std::size_t k = 0; k < n_; ++k) {
        const double change = k > 0 && k + 1 < n_ ? limited_change(layer[k - 1], layer[k], layer[k + 1]) : 0;
        const double leaving = layer[k] > clear ? layer[k] + 0.5 * change : 0;
        arrival[k + 1] = speed_[i] * leaving;
        arrival_volume_[k + 1] += volume * arrival[k + 1];
        crowd_above_[k + 1] += volume * leaving;
        crowd_[k] += volume * layer[k];
        crowd_below_[k] += volume * (layer[k] - 0.5 * change);
      }
    }
  }

  /// Computes the share of the unhindered flux that passes each face. The loop runs from the bottom up,
  /// because the outflow of a layer makes room for its inflow.
  void let_in(double dt) {
    double passed_on = 0;  // volume of particles per area and time through the face below
    for (std::size_t k = n_; k-- > 1;) {
      open_[k] = 0;
      if (arrival_volume_[k] == 0) {
        passed_on = 0;
        continue;
      }
      const double room = std::max(0.0, (jug_.packing - crowd_[k]) * thickness_ / dt + passed_on);
      open_[k] = std::min(demand(crowd_above_[k]), supply(crowd_below_[k])) / crowd_above_[k];
      if (arrival_volume_[k] * open_[k] > room) open_[k] = room / arrival_volume_[k];
      passed_on = arrival_volume_[k] * open_[k];
    }
  }

  /// Godunov's flux between two volume fractions is the smaller of the demand of the upper layer and the
  /// supply of the lower layer. f = phi (1 - phi)^n rises up to phi = 1/(n + 1), where the speed of the
  /// slowest wave of any mixture of classes changes its sign.
  double demand(double above) const { return flux(std::min(above, fullest_)); }
  double supply(double below) const { return below < jug_.packing ? flux(std::max(below, fullest_)) : 0; }
  double flux(double fraction) const { return fraction * richardson_zaki(fraction, jug_.exponent); }

  const JugInput& jug_;
  std::size_t n_;
  double thickness_;                                                  // of a layer [m]
  double fullest_ = std::min(1 / (jug_.exponent + 1), jug_.packing);  // volume fraction of the largest flux
  std::vector<double> speed_;                                         // [class]
  std::vector<double> crowd_;                                         // [layer] volume fraction
  std::vector<double> arrival_;                                       // [class][face]
  std::vector<double> arrival_volume_, crowd_above_, crowd_below_;    // [face]
  std::vector<double> open_;                                          // [face]; 0 at surface and bottom
  std::vector<double> stage_;                                         // [class][layer]
};

double mean(std::span<const double> values) {
  return std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
}

/// Content of equal layers from the first down to the relative depth `share`, in units of concentration times
/// layer.
double content_above(std::span<const double> layers, double share) {
  const double depth = share * static_cast<double>(layers.size());
  const std::size_t whole = std::min(static_cast<std::size_t>(depth), layers.size());
  const double full =
      std::accumulate(layers.begin(), layers.begin() + static_cast<std::ptrdiff_t>(whole), 0.0);
  return whole < layers.size() ? full + (depth - static_cast<double>(whole)) * layers[whole] : full;
}

}  // namespace

std::span<const Parameter> jug_parameters() {
  static const std::vector<Parameter> rows = [] {
    std::vector<Parameter> all(jug_rows.begin(), jug_rows.end());
    all.insert(all.end(), suspension_rows.begin(), suspension_rows.end());
    return all;
  }();
  return rows;
}

std::vector<ParticleClass> particle_classes(double strength, const Suspension& suspension) {
  check(suspension);
  require("strength", strength, std::numeric_limits<double>::min(), 1000, "kg/m^3");
  std::vector<ParticleClass> classes;
  const int bins = suspension.active_bins;
  for (int k = 0; k < bins;
       ++k) {  // equal masses; the quantiles of sprays serve, since they scale with the median
    const double unit = 1e-3;
    const double relative =
        volume_quantile(Distribution::lognormal, unit, suspension.active_span, (k + 0.5) / bins) / unit;
    classes.push_back({"active ingredient", Role::active, suspension.active_diameter * relative,
                       suspension.active_density, strength / bins});
  }
  if (suspension.carrier_concentration > 0)
    classes.push_back({"carrier", Role::carrier, suspension.carrier_diameter, suspension.carrier_density,
                       suspension.carrier_concentration});
  return classes;
}

std::span<const double> JugResult::profile(std::size_t at_time, std::size_t at_class) const {
  if (at_time >= time.size() || at_class >= classes)
    throw InputError("the jug has " + std::to_string(time.size()) + " times and " + std::to_string(classes) +
                     " classes; there is no time " + std::to_string(at_time) + " of class " +
                     std::to_string(at_class));
  if (concentration.size() != time.size() * classes * cells)
    throw InputError("a jug's result needs one concentration for each time, class and layer");
  return std::span(concentration).subspan((at_time * classes + at_class) * cells, cells);
}

double stokes_speed(double diameter, double excess_density, double viscosity) {
  require_amount("diameter", diameter);
  require_finite("excess_density", excess_density);
  require("viscosity", viscosity, 1e-9, 1e9, "Pa s");
  return excess_density * constants::gravity * diameter * diameter / (18 * viscosity);
}

double gel_release(double yield_stress, double diameter, double excess_density) {
  require_amount("yield_stress", yield_stress);
  require_amount("diameter", diameter);
  require_amount("excess_density", excess_density);
  if (yield_stress == 0) return 1;
  return std::max(0.0, 1 - yield_stress / (critical_yield * excess_density * constants::gravity * diameter));
}

double richardson_zaki(double fraction, double exponent) {
  require("volume fraction", fraction, 0, 1, "");
  require_amount("exponent", exponent);
  return std::pow(1 - fraction, exponent);
}

double sinking_speed(const ParticleClass& particles, const JugInput& jug) {
  check(particles, water::density(jug.temperature));
  if (jug.formulation == Formulation::solution) return 0;
  const double excess = particles.density - water::density(jug.temperature);
  const double viscosity = jug.viscosity_ratio * water::dynamic_viscosity(jug.temperature);
  return stokes_speed(particles.diameter, excess, viscosity) *
         gel_release(jug.yield_stress, particles.diameter, excess);
}

JugResult settle(const JugInput& jug, std::span<const double> times) {
  check(jug);
  for (std::size_t k = 0; k < times.size(); ++k)
    require("time " + std::to_string(k), times[k], k > 0 ? times[k - 1] : 0, 3.2e9, "s");

  JugResult result;
  result.cells = static_cast<std::size_t>(jug.cells);
  result.classes = jug.classes.size();
  for (int edge = 0; edge <= jug.cells; ++edge) result.edge.push_back(jug.height * edge / jug.cells);

  std::vector<double> layers;
  for (const ParticleClass& particles : jug.classes)
    layers.insert(layers.end(), result.cells, particles.concentration);

  Column column(jug);
  const double longest = column.longest_step();
  double now = 0;
  for (const double time : times) {
    const double span = time - now;
    const double needed = std::ceil(span / longest);
    if (needed > static_cast<double>(jug.max_steps - result.steps)) {
      result.status = JugStatus::step_limit;
      break;
    }
    for (double step = 0; step < needed; ++step, ++result.steps) column.advance(layers, span / needed);
    now = time;
    result.time.push_back(time);
    result.concentration.insert(result.concentration.end(), layers.begin(), layers.end());
    for (std::size_t i = 0; i < result.classes; ++i) {
      const double kept = mean(std::span(layers).subspan(i * result.cells, result.cells));
      result.mass_error = std::max(result.mass_error, std::abs(kept / jug.classes[i].concentration - 1));
    }
  }
  return result;
}

std::vector<double> profile(const JugInput& jug, const JugResult& result, std::size_t at_time, Role role) {
  if (jug.classes.size() != result.classes) throw InputError("the result is that of another jug");
  std::vector<double> sum(result.cells, 0.0);
  for (std::size_t i = 0; i < result.classes; ++i) {
    if (jug.classes[i].role != role) continue;
    const auto layers = result.profile(at_time, i);
    for (std::size_t cell = 0; cell < result.cells; ++cell) sum[cell] += layers[cell];
  }
  return sum;
}

double suspensibility(std::span<const double> concentration) {
  for (const double layer : concentration) require("concentration of a layer", layer, 0, densest, "kg/m^3");
  const double all = content_above(concentration, 1);
  if (!(all > 0)) throw InputError("suspensibility needs layers with something in them");
  return content_above(concentration, drawn_off) / (drawn_off * all);
}

std::vector<double> pours(std::span<const double> concentration, std::span<const double> share, Draw from,
                          double shaken) {
  require("shaken", shaken, 0, 1, "");
  for (const double layer : concentration) require("concentration of a layer", layer, 0, densest, "kg/m^3");
  if (concentration.empty() || !(mean(concentration) > 0))
    throw InputError("pours need layers with something in them");
  std::vector<double> layers(concentration.begin(), concentration.end());
  if (from == Draw::bottom) std::reverse(layers.begin(), layers.end());

  std::vector<double> delivered;
  double drawn = 0, before = 0;
  const double label = mean(layers), count = static_cast<double>(layers.size());
  for (const double part : share) {
    require("share of a pour", part, least_pour, 1, "");
    drawn = require("share of all pours so far", drawn + part, 0, 1 + 1e-9, "");
    const double after = content_above(layers, drawn);
    const double still = (after - before) / (part * count) / label;
    delivered.push_back(still + shaken * (1 - still));
    before = after;
  }
  return delivered;
}

double spread(std::span<const double> pours) {
  for (const double pour : pours) require("a pour", pour, 0, 1e9, "");
  if (pours.size() < 2) return 0;
  const double centre = mean(pours);
  if (!(centre > 0)) throw InputError("pours with nothing in them have no coefficient of variation");
  double squares = 0;
  for (const double pour : pours) squares += (pour - centre) * (pour - centre);
  return std::sqrt(squares / static_cast<double>(pours.size() - 1)) / centre;
}

}  // namespace wetspan
