// The kernel that follows drying crops on their clocks, compiled once for each instruction set: WETSPAN_WIDTH
// is its number of lanes; WETSPAN_LANES_NAMESPACE and WETSPAN_KERNELS keep the copies apart.
//
// The equations are those of wet_span.hpp without dew and hygroscopic liquids, written anew: here a class of
// droplets is a function of its side's clock, a property of the air a polynomial, and quotients share
// divisions.

#ifndef WETSPAN_WIDTH
#define WETSPAN_WIDTH 2
#define WETSPAN_LANES_NAMESPACE baseline_lanes
#define WETSPAN_KERNELS baseline_kernels
#endif
#ifndef WETSPAN_LANES  // a benchmark counts operations with its own
#define WETSPAN_LANES "lanes.hpp"
#endif

#include <algorithm>
#include <bit>
#include <cmath>
#include <memory>

#include "clock_kernel.hpp"
#include WETSPAN_LANES
#include "wetspan/properties/constants.hpp"

namespace wetspan::clocks {
inline namespace WETSPAN_LANES_NAMESPACE {
namespace {

using namespace constants;

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr double longest_step = 600.0;  // s
constexpr double most_settled = 12.0;   // longest step, over the time in which a leaf's temperature settles
constexpr double near = 1.5;  // of the water at which leaves count as dry: from there on it is summed
constexpr int most_steps = 20'000, most_refused = 100;
constexpr double tiny = 1e-300;

// Dormand and Prince 1980, order 5(4); dense output of Hairer, Norsett and Wanner 1993, II.6.
constexpr int stages = 7;
constexpr double nodes[stages] = {0.0, 0.2, 0.3, 0.8, 8.0 / 9.0, 1.0, 1.0};
constexpr double weights[stages][stages - 1] = {
    {},
    {0.2},
    {3.0 / 40.0, 9.0 / 40.0},
    {44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0},
    {19372.0 / 6561.0, -25360.0 / 2187.0, 64448.0 / 6561.0, -212.0 / 729.0},
    {9017.0 / 3168.0, -355.0 / 33.0, 46732.0 / 5247.0, 49.0 / 176.0, -5103.0 / 18656.0},
    {35.0 / 384.0, 0.0, 500.0 / 1113.0, 125.0 / 192.0, -2187.0 / 6784.0, 11.0 / 84.0}};
constexpr double error_weights[stages] = {71.0 / 57600.0,      0.0,          -71.0 / 16695.0, 71.0 / 1920.0,
                                          -17253.0 / 339200.0, 22.0 / 525.0, -1.0 / 40.0};
constexpr double dense_weights[stages] = {-12715105075.0 / 11282082432.0,  0.0,
                                          87487479700.0 / 32700410799.0,   -10690763975.0 / 1880347072.0,
                                          701980252875.0 / 199316789632.0, -1453857185.0 / 822651844.0,
                                          69997945.0 / 29380423.0};

/// The seven columns of an air record, in the order of AirState.
constexpr std::size_t columns = sizeof(AirState) / sizeof(double);

template <int Width>
class Crops {
  using L = Lanes<Width>;
  using R = typename L::R;
  using Mask = typename L::Mask;
  using State = std::array<R, most_entries>;

 public:
  Crops(Feed& feed, const Properties& fits) : feed_(feed), fits_(fits) {
    for (R& value : y_) value = R{};
    for (int lane = 0; lane < Width; ++lane) refill(lane);
  }

  long run() {
    while (busy_ > 0) step();
    return evaluations_;
  }

 private:
  /// What a lane is at, beside the numbers it computes with.
  struct Progress {
    bool busy = false, ended = false;
    Event event;
    Solution solution;
    std::size_t segment = 0;  // of the air
    std::size_t mark[most_layers][2] = {}, receded[most_layers][2] = {}, dried[most_layers][2] = {};
    std::size_t wet_classes = 0;
    bool stem_wet = false, bench_wet = false;
    int refused = 0;  // attempts at the present step
  };
  /// How a leaf settles during a step: T = rest + u exp(-settling time). Lawson 1967's transformation of a
  /// pair.
  struct Leaf {
    R settling;       // [1/s], where the step began
    R pace;           // the same, over the step's variable
    R drift;          // of where it would come to rest, as the last step told [1/s]
    R rest, moves;    // where it would come to rest at the beginning; how that moves, over the step
    R away;           // how far from it it began
    R grown, shrunk;  // exp(settling time) of the stage, and its inverse
  };
  struct Classes {
    std::size_t first = 0, last = 0;  // those that recede in some lane; in the others they count nothing
    R inverse_square[most_classes], shell[most_classes], disc[most_classes];
    R pinned_shell[course_terms], pinned_disc;  // of the classes still pinned, in powers of the clock
  };

  // ---- the equations -----------------------------------------------------------------------------------

  static R scaled(const R& temperature) {
    return (temperature - Properties::middle) * (1.0 / Properties::half_width);
  }
  R cube_root(const R& x) const { return L::polynomial(fits_.cube_root, (x - 0.8) * 5.0); }
  static R squared(const R& x) { return x * x; }
  static R two_thirds_power(const R& x) {  // of a share; 0 below 0
    const R power = L::exp((2.0 / 3.0) * L::log(L::max(x, 1e-30)));
    return L::select(x > L::all(0.0), L::min(power, 1.0), R{});
  }

  /// The air between a surface and the free air, at their mean.
  struct Film {
    R conductivity, vapour_diffusivity;  // [W/m/K], [m2/s]
    R by_viscosity;                      // 1 / kinematic viscosity [s/m2]
    R by_diffusion;                      // 1 / (kinematic viscosity x heat diffusivity) [s2/m4]
    R by_temperature;                    // [1/K]
    R volume_heat;                       // density x specific heat [J/m3/K]
    R prandtl;
    R vapour_over_heat;  // (alpha / D)^(1/3) D / conductivity: of the conductances [m3 K/J]
  };
  Film film(const R& temperature, const R& vapour_pressure, const R& pressure, const R& by_pressure) const {
    const R x = scaled(temperature);
    const R dry = pressure - vapour_pressure, moist = molar_mass_ratio * vapour_pressure, sum = dry + moist;
    const R mass = L::fma(vapour_pressure, L::all(molar_mass_water), dry * molar_mass_dry_air);
    const R heat = L::fma(moist, L::all(air::specific_heat_vapour), dry * air::specific_heat_dry_air);
    const R mass_heat = mass * heat, sum_temperature = sum * temperature;
    const R by_all = L::inverse(mass_heat * sum_temperature);  // one division for all quotients
    const R by_sum_temperature = by_all * mass_heat;
    const R volume_heat = mass_heat * by_sum_temperature * (1.0 / gas_constant);
    const R by_volume_heat = by_all * squared(sum_temperature) * gas_constant;
    Film result;
    result.by_temperature = by_sum_temperature * sum;
    const R density = mass * result.by_temperature * (1.0 / gas_constant);
    const R specific_heat = heat * by_sum_temperature * temperature;
    const R fluidity = L::polynomial(fits_.fluidity, x), resistivity = L::polynomial(fits_.resistivity, x);
    result.conductivity = L::polynomial(fits_.conductivity, x);
    result.vapour_diffusivity = L::polynomial(terms_.diffusivity, x) * by_pressure;
    result.by_viscosity = density * fluidity;
    result.by_diffusion = result.by_viscosity * volume_heat * resistivity;
    result.volume_heat = volume_heat;
    result.prandtl = L::polynomial(fits_.viscosity, x) * specific_heat * resistivity;
    const R resistance = L::polynomial(terms_.resistance, x) * pressure;
    result.vapour_over_heat = cube_root(result.conductivity * by_volume_heat * resistance) *
                              result.vapour_diffusivity * resistivity;
    return result;
  }

  /// Largest of two Nusselt numbers mixed with the other: (a^3.5 + b^3.5)^(1/3.5).
  R mixed(const R& forced, const R& free, const R& larger, const R& by_larger) const {
    const R ratio = L::min(forced, free) * by_larger;
    const R power = squared(ratio) * ratio * L::root(L::max(ratio, tiny));
    return larger * L::polynomial(fits_.mixing, L::fma(power, L::all(2.0), -1.0));
  }

  /// Rate of uptake [1/s], as in the full system. `wet` of the deposit is in solution, over the area
  /// `covered`.
  static R uptake(const R& through, const R& saturated, const R& fresh, const R& dilute, const R& residue,
                  const R& left, const R& wet, const R& covered, const R& depth) {
    const R from_residue = (1.0 - wet) * L::min(dilute, saturated) * residue;
    const R mass = fresh * left * wet;
    const R largest = L::max(L::max(saturated * depth, mass), tiny);
    const R dissolves = covered * wet * saturated * L::inverse(largest);
    return through * (from_residue + L::select(depth > L::all(0.0), dissolves, R{}));
  }

  /// Sums over a side's droplets of n pi R f [1/m] and n pi R^2 [1], with its clock at `clock`.
  void evaporation_of(const Classes& classes, const LayerTerms<R>& layer, const R& clock, R& shell,
                      R& disc) const {
    shell = L::polynomial(classes.pinned_shell, clock);
    disc = classes.pinned_disc;
    const R least = 0.25 * layer.last_square;  // for stages that look beyond the end
    const R falls = -terms_.receding * clock;
    for (std::size_t i = classes.first; i < classes.last; ++i) {
      const R square = L::max(L::fma(falls, classes.inverse_square[i], terms_.at_release), least);
      shell = L::fma(classes.shell[i], L::root(square), shell);
      disc = L::fma(classes.disc[i], square, disc);
    }
  }

  /// Rates by time [1/s].
  void rates(const State& y, State& dy) {
    const R since = y[elapsed] - segment_start_;
    const auto record = [&](std::size_t column) {
      return L::fma(air_slope_[column], since, air_value_[column]);
    };
    // the house's air
    const R recorded = record(0), recorded_pressure = record(1), pressure = record(2), speed = record(3);
    const R shortwave = record(4), radiant = record(5), air_changes = record(6);
    const R added = y[house_vapour] * terms_.vapour;
    const R temperature = L::fma(terms_.answers * warmth_unit, y[house_heat], recorded);
    const R by_pressure = L::inverse(pressure);
    const R by_temperatures = L::inverse(recorded * radiant);
    const R vapour_was = recorded_pressure * (by_temperatures * radiant) * (1.0 / gas_constant_water);
    const R vapour_pressure = L::max((vapour_was + added) * gas_constant_water * temperature, 0.0);
    const R air_x = scaled(temperature);
    const R saturation = L::polynomial(fits_.saturation_pressure, air_x);
    const Film at_air = film(temperature, vapour_pressure, pressure, by_pressure);
    const R vapour = vapour_pressure * at_air.by_temperature * (1.0 / gas_constant_water);
    const R air_saturated = saturation * at_air.by_temperature * (1.0 / gas_constant_water);
    const R virtual_air = temperature * pressure *
                          L::inverse(L::fma(vapour_pressure, L::all(molar_mass_ratio - 1.0), pressure));
    const R radiant_power = squared(squared(radiant)), air_power = squared(squared(temperature));
    unfit_ = L::min(unfit_, L::min(temperature - Properties::coldest, Properties::hottest - temperature));

    // Leaf by leaf in short passes, so that the leaves' chains of operations run beside each other.
    struct {
      R temperature, by_temperature, saturated, deficit, latent;
      Film air;
      R heat, through[2];
      R shells[2], bare[2];
      R conductance, evaporation, series, by_capacity, depth;
    } leaf[most_layers];
    for (std::size_t k = 0; k < layers_; ++k) {
      auto& its = leaf[k];
      its.temperature = L::fma(y[entry_of(k, warmth)], L::all(warmth_unit), terms_.base);
      const R x = scaled(its.temperature);
      its.latent = L::polynomial(fits_.latent_heat, x);
      const R surface_pressure = L::polynomial(fits_.saturation_pressure, x);
      const R drier = L::fma(surface_pressure, L::all(molar_mass_ratio - 1.0), pressure);
      const R by_both = L::inverse(its.temperature * drier);
      its.by_temperature = by_both * drier;
      its.saturated = surface_pressure * its.by_temperature * (1.0 / gas_constant_water);
      its.deficit = its.saturated - vapour;
      unfit_ = L::min(unfit_, L::min(its.deficit, L::min(its.temperature - Properties::coldest,
                                                         Properties::hottest - its.temperature)));
      its.air = film(0.5 * (its.temperature + temperature), 0.5 * (surface_pressure + vapour_pressure),
                     pressure, by_pressure);
      its.heat =
          its.temperature * pressure * (by_both * its.temperature) - virtual_air;  // lighter, for now [K]
    }
    for (std::size_t k = 0; k < layers_; ++k) {
      auto& its = leaf[k];
      const Film& air = its.air;
      const R lighter = its.heat;
      const R forced =
          terms_.forced *
          L::root(L::max(speed * layer_[k].air_speed * terms_.leaf_length * air.by_viscosity, tiny)) *
          cube_root(air.prandtl);
      const R rayleigh = L::abs(lighter) * air.by_temperature * terms_.buoyancy * air.by_diffusion;
      const R buoyant = L::root(L::root(L::max(rayleigh, tiny)));
      const R unstable = 0.54 * buoyant, steady = 0.27 * buoyant;
      const R more = L::max(L::max(forced, unstable), tiny), less = L::max(L::max(forced, steady), tiny);
      const R by_more_less = L::inverse(more * less);
      const R larger = mixed(forced, unstable, more, by_more_less * less);
      const R smaller = mixed(forced, steady, less, by_more_less * more);
      const Mask rises = lighter > L::all(0.0);
      const R per_length = air.conductivity * terms_.by_length, to_vapour = per_length * air.vapour_over_heat;
      its.heat = (larger + smaller) * per_length;
      its.through[0] = L::select(rises, larger, smaller) * to_vapour;
      its.through[1] = L::select(rises, smaller, larger) * to_vapour;
    }
    for (std::size_t k = 0; k < layers_; ++k) {
      for (std::size_t below = 0; below < 2; ++below) {
        R disc;
        evaporation_of(classes_[k][below], layer_[k], y[clock_of(k, below)], leaf[k].shells[below], disc);
        leaf[k].shells[below] *= leaf[k].air.vapour_diffusivity;
        leaf[k].bare[below] = L::exp(-disc);
      }
    }
    R source{};  // evaporation per area of bench [kg/m2/s]
    for (std::size_t k = 0; k < layers_; ++k) {
      auto& its = leaf[k];
      const LayerTerms<R>& layer = layer_[k];
      const R upper_sum = L::max(its.shells[0] + its.through[0], 1e-150);
      const R lower_sum = L::max(its.shells[1] + its.through[1], 1e-150);
      const R by_sums = L::inverse(upper_sum * lower_sum);
      // of the vapour density, between droplet and the air outside its shell, over the deficit
      const R fall[2] = {its.through[0] * by_sums * lower_sum, its.through[1] * by_sums * upper_sum};
      its.conductance = L::fma(its.shells[0], fall[0], its.shells[1] * fall[1]);  // of all droplets [m/s]
      its.evaporation = its.conductance * its.deficit;
      const R by_density = its.air.vapour_diffusivity * terms_.by_density * its.deficit;
      dy[entry_of(k, upper_clock)] = by_density * fall[0] * layer.by_clock_unit[0];
      dy[entry_of(k, lower_clock)] = by_density * fall[1] * layer.by_clock_unit[1];
      dy[entry_of(k, water)] = -its.evaporation * layer.by_landed;
      source = L::fma(layer.area, its.evaporation, source);
      const R sun = shortwave * layer.sun, open = terms_.stomata * sun * its.bare[1];
      its.series = open * its.through[1] *
                   L::inverse(L::max(L::fma(its.through[1], sun + terms_.half_light, open), tiny));
      its.depth = layer.landed * y[entry_of(k, water)];
      its.by_capacity = L::inverse(L::fma(terms_.water_capacity, its.depth, terms_.leaf_capacity));
    }
    for (std::size_t k = 0; k < layers_; ++k) {
      const auto& its = leaf[k];
      const LayerTerms<R>& layer = layer_[k];
      const R cube = squared(its.temperature) * its.temperature, power = cube * its.temperature;
      const R gain = shortwave * layer.sun + layer.above * (radiant_power - power) +
                     layer.below * (air_power - power) - its.heat * (its.temperature - temperature) -
                     its.latent * L::fma(its.series, L::max(its.deficit, 0.0), its.evaporation);
      dy[entry_of(k, warmth)] = gain * its.by_capacity * (1.0 / warmth_unit);
      // how fast the leaf's temperature settles
      const R slope = its.saturated * its.by_temperature *
                      L::fma(its.latent * its.by_temperature, L::all(1.0 / gas_constant_water), -1.0);
      const R answers = its.heat + 4.0 * (layer.above + layer.below) * cube +
                        its.latent * slope * (its.conductance + its.series);
      settling_[k] = L::max(answers * its.by_capacity, 1.0 / longest_step);
      const R permeance = L::exp(terms_.permeance[0] - terms_.permeance[1] * its.by_temperature);
      const R solubility = L::exp(terms_.solubility[0] - terms_.solubility[1] * its.by_temperature);
      dy[entry_of(k, taken)] =
          layer.takes_up * uptake(permeance, solubility, layer.fresh, layer.dilute, layer.residue,
                                  L::exp(-y[entry_of(k, taken)]), wet_part_[k],
                                  2.0 - its.bare[0] - its.bare[1], its.depth);
    }

    dy[elapsed] = L::all(1.0);
    dy[warmth_sum] = y[entry_of(0, warmth)];

    // stems and bench
    const R deficit = air_saturated - vapour;
    const R slope =
        (L::polynomial(fits_.saturation_slope, air_x) * (1.0 / gas_constant_water) - air_saturated) *
        at_air.by_temperature;
    const R latent = L::polynomial(fits_.latent_heat, air_x), latent_slope = latent * slope;
    const R reynolds = speed * terms_.stem_diameter * at_air.by_viscosity;
    const R root = cube_root(at_air.prandtl);
    constexpr double two_fifths = 0.5428835233189813;  // 0.4^(2/3)
    const R laminar = 0.62 * L::root(L::max(reynolds, tiny)) * root *
                      L::inverse(L::root(L::root(1.0 + two_fifths * L::inverse(root * root))));
    const R turbulent = L::pow(1.0 + L::pow(L::max(reynolds, 1e-30) * (1.0 / 282e3), 0.625), 0.8);
    const R stem_heat = L::fma(laminar, turbulent, 0.3) * at_air.conductivity * terms_.by_diameter;
    const R stem_vapour = stem_heat * at_air.vapour_over_heat;
    const auto adiabatic = [&](const R& heat, const R& through) {
      return through * deficit * heat * L::inverse(L::max(L::fma(latent_slope, through, heat), tiny));
    };
    const R stem_wet = two_thirds_power(y[stem_left]) * terms_.stem_wets;
    const R bench_wet = two_thirds_power(y[bench_left]) * terms_.bench_wets;
    const R from_stems = terms_.stems * stem_wet * adiabatic(stem_heat, stem_vapour);
    const R from_bench = terms_.bench * bench_wet *
                         adiabatic(terms_.bench_conductance * at_air.volume_heat, terms_.bench_conductance);
    dy[stem_left] = -from_stems * terms_.by_on_stem;
    dy[bench_left] = -from_bench * terms_.by_on_bench;
    source += from_stems + from_bench;
    const R through_stem =
        L::exp(terms_.permeance[0] - terms_.permeance[1] * at_air.by_temperature) * terms_.stem_cuticle;
    const R stem_solubility = L::exp(terms_.solubility[0] - terms_.solubility[1] * at_air.by_temperature);
    dy[stem_taken] =
        terms_.stem_takes_up * uptake(through_stem, stem_solubility, terms_.stem_fresh, terms_.stem_dilute,
                                      terms_.stem_residue, L::exp(-y[stem_taken]), stem_wet, stem_wet,
                                      terms_.stem_depth * L::max(y[stem_left], 0.0));

    // the house
    const R over_ice = L::exp(L::polynomial(
        fits_.over_ice, (radiant - Properties::ice_middle) * (1.0 / Properties::ice_half_width)));
    const R over_water = L::polynomial(fits_.saturation_pressure, scaled(radiant));
    const R cover = L::select(radiant < L::all(zero_celsius), over_ice, over_water) *
                    (by_temperatures * recorded) * (1.0 / gas_constant_water);
    const R condensed =
        terms_.condensing * (L::max(vapour - cover, 0.0) - L::max(vapour - added - cover, 0.0));
    const R leaving = terms_.answers * L::fma(air_changes, y[house_vapour], condensed);
    const R came = source * terms_.by_came;
    dy[carried_off] = leaving + (1.0 - terms_.answers) * came;
    dy[house_vapour] = terms_.answers * came - leaving;
    const R loss = L::fma(air_changes * terms_.height, at_air.volume_heat, terms_.heat_loss);
    dy[house_heat] = -terms_.answers * terms_.by_capacity *
                     L::fma(latent * source, terms_.sprayed * (1.0 / warmth_unit), loss * y[house_heat]);
  }

  static constexpr bool is_warmth(std::size_t i) {
    return i >= first_leaf && (i - first_leaf) % layer_entries == warmth;
  }
  static constexpr std::size_t layer_of(std::size_t i) { return (i - first_leaf) / layer_entries; }
  static constexpr bool is_clock(std::size_t i) {
    return i >= first_leaf && ((i - first_leaf) % layer_entries == upper_clock ||
                               (i - first_leaf) % layer_entries == lower_clock);
  }

  // ---- steps ---------------------------------------------------------------------------------------------

  /// The state at the share `theta` of the last step, one entry.
  struct Dense {
    R start, rise, c3, c4, c5;
    R at(const R& theta) const {
      const R rest = 1.0 - theta;
      return L::fma(theta, L::fma(rest, L::fma(theta, L::fma(rest, c5, c4), c3), rise), start);
    }
    R slope(const R& theta) const {
      const R rest = 1.0 - theta, inner = L::fma(rest, c5, c4), middle = L::fma(theta, inner, c3);
      // of theta (rise + rest (c3 + theta (c4 + rest c5)))
      const R middle_slope = inner - theta * c5;
      return L::fma(theta, rest * middle_slope - middle, L::fma(rest, middle, rise));
    }
    double at(double theta, int lane) const {
      const double rest = 1.0 - theta;
      return L::get(start, lane) +
             theta * (L::get(rise, lane) +
                      rest * (L::get(c3, lane) + theta * (L::get(c4, lane) + rest * L::get(c5, lane))));
    }
  };
  Dense dense(std::size_t i) const {
    const bool warms = is_warmth(i);
    const Leaf& leaf = leaf_[warms ? layer_of(i) : 0];
    const R start = warms ? leaf.away : y_[i];
    const R rise = (warms ? (ahead_[i] - leaf.rest - leaf.moves) * leaf.grown : ahead_[i]) - start;
    const R first = h_ * k_[0][i] - rise;
    R sum{};
    for (int s = 0; s < stages; ++s) {
      if (dense_weights[s] != 0.0) sum = L::fma(k_[s][i], L::all(dense_weights[s]), sum);
    }
    return {start, rise, first, rise - h_ * k_[stages - 1][i] - first, h_ * sum};
  }
  R within(std::size_t i, const R& theta) const {
    const R value = dense(i).at(theta);
    if (!is_warmth(i)) return value;
    const Leaf& leaf = leaf_[layer_of(i)];
    return L::fma(value, L::exp(-leaf.pace * h_ * theta), L::fma(leaf.moves, theta, leaf.rest));
  }

  /// Where a step passes `target`, as a share of it; 1 where `passes` is false. The step is monotone there.
  R passing(const Dense& course, const R& target, const Mask& passes) const {
    const auto between = [](const R& theta) { return L::min(L::max(theta, 0.0), 1.0); };
    R theta = between((target - course.start) / course.rise);
    for (int i = 0; i < 5; ++i) theta = between(theta - (course.at(theta) - target) / course.slope(theta));
    return L::select(passes & (theta == theta), theta, L::all(1.0));
  }

  /// One step of every lane, over the variable whose next mark is nearest: the clock of a side on which a
  /// class dries out next, or time, where the weather bends. So the step ends on the mark, and no class dries
  /// out within it.
  void step() {
    const std::size_t entries = entry_of(layers_, warmth);
    if (disturbed_) {
      rates(y_, start_);
      for (std::size_t k = 0; k < layers_; ++k) leaf_[k].settling = settling_[k];
    }
    disturbed_ = false;
    evaluations_ += busy_ * stages;

    // which variable, and how far
    R nearest = limit_ - y_[elapsed], gap = nearest, pace = L::all(1.0), over = L::all(-1.0);
    R span = L::min(trial_, longest_step);
    for (std::size_t k = 0; k < layers_; ++k) {
      span = L::min(span, most_settled * L::inverse(leaf_[k].settling));
      for (std::size_t below = 0; below < 2; ++below) {
        const std::size_t i = clock_of(k, below);
        const R room = next_[k][below] - y_[i], reach = room * L::inverse(L::max(start_[i], tiny));
        const Mask nearer = reach < nearest;
        nearest = L::select(nearer, reach, nearest);
        gap = L::select(nearer, room, gap);
        pace = L::select(nearer, start_[i], pace);
        over = L::select(nearer, L::all(static_cast<double>(i)), over);
      }
    }
    const Mask meets = nearest <= L::min(span, retry_);
    span = L::select(nearest < 2.0 * span, L::min(span, 0.5 * nearest), span);  // no scrap of a step behind
    span = L::min(span, retry_);
    span = L::select(meets, nearest, span);
    h_ = L::select(meets, gap, span * pace);
    const R by_pace = L::inverse(pace);
    const auto put_over = [&](State& rate) {
      R now = L::all(1.0);
      for (std::size_t k = 0; k < layers_; ++k) {
        for (std::size_t below = 0; below < 2; ++below) {
          const std::size_t i = clock_of(k, below);
          now = L::select(over == L::all(static_cast<double>(i)), rate[i], now);
        }
      }
      const R by_now = L::inverse(now);
      for (std::size_t i = 0; i < entries; ++i) rate[i] *= by_now;
    };

    // a leaf settles exponentially to where it would come to rest: what is left to integrate is how that
    // moves
    for (std::size_t i = 0; i < entries; ++i) k_[0][i] = start_[i] * by_pace;
    for (std::size_t k = 0; k < layers_; ++k) {
      const std::size_t i = entry_of(k, warmth);
      Leaf& leaf = leaf_[k];
      leaf.pace = leaf.settling * by_pace;
      leaf.away = (leaf.drift - start_[i]) * L::inverse(leaf.settling);
      leaf.rest = y_[i] - leaf.away;
      leaf.moves = leaf.drift * by_pace * h_;
      k_[0][i] = R{};
    }
    unfit_ = L::all(1.0);
    for (int s = 1; s < stages; ++s) {
      State& at = s + 1 < stages ? stage_ : ahead_;
      for (std::size_t i = 0; i < entries; ++i) {
        R sum = k_[0][i] * weights[s][0];
        for (int j = 1; j < s; ++j) {
          if (weights[s][j] != 0.0) sum = L::fma(k_[j][i], L::all(weights[s][j]), sum);
        }
        at[i] = L::fma(h_, sum, y_[i]);
      }
      for (std::size_t k = 0; k < layers_; ++k) {
        const std::size_t i = entry_of(k, warmth);
        Leaf& leaf = leaf_[k];
        if (s + 1 < stages) {
          leaf.grown = L::exp(leaf.pace * h_ * nodes[s]);
          leaf.shrunk = L::inverse(leaf.grown);
        }
        at[i] = L::fma(at[i] - leaf.rest, leaf.shrunk, L::fma(leaf.moves, L::all(nodes[s]), leaf.rest));
      }
      rates(at, k_[s]);
      if (s + 1 == stages) end_ = k_[s];
      put_over(k_[s]);
      for (std::size_t k = 0; k < layers_; ++k) {
        const std::size_t i = entry_of(k, warmth);
        const Leaf& leaf = leaf_[k];
        const R rest = L::fma(leaf.moves, L::all(nodes[s]), leaf.rest);
        k_[s][i] = leaf.grown * (L::fma(leaf.pace, at[i] - rest, k_[s][i]) - leaf.drift * by_pace);
      }
    }
    R error{};
    for (std::size_t i = 0; i < entries; ++i) {
      if (i == warmth_sum) continue;
      R sum = k_[0][i] * error_weights[0];
      for (int s = 2; s < stages; ++s) sum = L::fma(k_[s][i], L::all(error_weights[s]), sum);
      const R grows = span * L::abs(start_[i]);
      // films end in a flat tail, at a thousandth of what they were
      const bool film = i == stem_left || i == bench_left;
      R allowed = L::fma(terms_.relative, L::abs(y_[i]) + grows, (film ? 0.01 : 1.0) * terms_.absolute);
      if (i == elapsed || is_clock(i)) {
        // drying times add up from these
        allowed = terms_.of_clocks * (L::abs(y_[i]) + grows);
        if (is_clock(i)) {
          const R& mark = next_[layer_of(i)][i - clock_of(layer_of(i), 0)];
          allowed += L::select(mark < L::all(infinity), L::all(tiny), L::all(1.0));
        }
      }
      if (is_warmth(i)) sum *= leaf_[layer_of(i)].shrunk;
      const R ratio = h_ * L::abs(sum) * L::inverse(allowed);
      error = L::select(ratio > error, ratio,
                        L::select(ratio == ratio, error, ratio));  // what is no number stays
    }
    error = L::select(error == error, error, L::all(1e10));
    Mask accepted = error <= L::all(1.0);
    const R factor = 0.9 * L::pow(L::min(L::max(error, 1e-10), 1e10), -0.2);
    const R longer = (ahead_[elapsed] - y_[elapsed]) * L::min(factor, 5.0);
    trial_ = L::select(accepted, L::select(span < trial_, L::max(trial_, longer), longer),
                       span * L::max(L::min(factor, 0.9), 0.1));

    // what else dries out within the step: the first of it ends the step
    R theta = L::all(1.0);
    const auto meet = [&](std::size_t i, const R& target, const Mask& passes) {
      if (L::any(passes)) theta = L::min(theta, passing(dense(i), target, passes));
    };
    for (std::size_t k = 0; k < layers_; ++k) {
      for (std::size_t below = 0; below < 2; ++below) {
        const std::size_t i = clock_of(k, below);
        const Mask other = over != L::all(static_cast<double>(i));
        meet(i, next_[k][below], accepted & other & (ahead_[i] >= next_[k][below]));
      }
    }
    meet(elapsed, limit_, accepted & (over >= L::all(0.0)) & (ahead_[elapsed] >= limit_));
    for (const std::size_t i : {std::size_t{stem_left}, std::size_t{bench_left}}) {
      meet(i, L::all(gone), accepted & (y_[i] > L::all(gone)) & (ahead_[i] <= L::all(gone)));
    }
    // the dense output is good near the end; where it would be needed elsewhere, the step is taken anew
    const Mask early = accepted & (theta < L::all(0.98));
    retry_ = L::select(early, span * theta * 1.0005, L::all(infinity));
    accepted = accepted & (theta >= L::all(0.98));

    // where the step ends
    const Mask cut = theta < L::all(1.0);
    const bool any_cut = L::any(cut);
    theta_ = theta;
    for (std::size_t i = 0; i < entries; ++i) {
      stage_[i] = any_cut ? L::select(cut, within(i, theta), ahead_[i]) : ahead_[i];
    }
    // a step over time that something else cuts short does not reach the bend
    const Mask bends =
        (meets & (over < L::all(0.0)) & (theta >= L::all(1.0))) | (stage_[elapsed] >= limit_ * (1.0 - 1e-14));
    stage_[elapsed] = L::select(bends, limit_, stage_[elapsed]);
    R left{};
    Mask nearly_dry = L::all(0.0) > L::all(1.0);
    for (std::size_t k = 0; k < layers_; ++k) {
      left = L::fma(layer_[k].of_leaf_water, stage_[entry_of(k, water)], left);
      nearly_dry = nearly_dry | (stage_[entry_of(k, water)] <= near * layer_goal_[k]);
    }
    nearly_dry = nearly_dry | (left <= near * goal_);
    const Mask notable = nearly_dry | cut | meets | bends | (unfit_ < L::all(0.0));
    for (int lane = 0; lane < Width; ++lane) {
      Progress& progress = progress_[lane];
      if (!progress.busy) continue;
      if (L::holds(accepted, lane)) {
        progress.refused = 0;
        ++progress.solution.steps;
        if (L::holds(notable, lane)) settle(lane, L::holds(bends, lane), L::holds(nearly_dry, lane));
      } else {
        ++progress.refused;
      }
      if (progress.solution.steps > most_steps || progress.refused > most_refused) progress.ended = true;
    }

    const R began = y_[elapsed];
    for (std::size_t i = 0; i < entries; ++i) {
      y_[i] = L::select(accepted, stage_[i], y_[i]);
      if (!disturbed_) start_[i] = L::select(accepted, end_[i], start_[i]);
    }
    for (std::size_t k = 0; k < layers_; ++k) {
      Leaf& leaf = leaf_[k];
      const std::size_t i = entry_of(k, warmth);
      const R rest = ahead_[i] + (end_[i] - leaf.drift) * L::inverse(settling_[k]);
      const R took = ahead_[elapsed] - began;  // a scrap of a step does not tell how the rest moves
      const R drift =
          L::select(took * settling_[k] > L::all(0.01), (rest - leaf.rest) * L::inverse(took), R{});
      leaf.drift = L::select(accepted, drift, leaf.drift);
      leaf.settling = L::select(accepted, settling_[k], leaf.settling);
    }
    for (int lane = 0; lane < Width; ++lane) {
      if (progress_[lane].busy && progress_[lane].ended) {
        finish(lane);
        refill(lane);
      }
    }
  }

  // ---- what one lane meets -------------------------------------------------------------------------------

  /// Where in the last step, as a share of it up to theta, a falling function is 0; it is above at 0 and not
  /// at theta. Illinois' variant of the false position.
  template <class Function>
  static double falls_through(double theta, Function function) {
    double from = 0.0, to = theta, above = function(from), below = function(to);
    if (!(above > 0.0)) return 0.0;
    int kept = 0;
    for (int i = 0; i < 60 && to - from > 1e-13; ++i) {
      const double at = std::clamp(to - below * (to - from) / (below - above), from, to),
                   value = function(at);
      if (value > 0.0) {
        from = at, above = value;
        if (kept++ > 0) below *= 0.5;
      } else {
        to = at, below = value;
        if (value == 0.0) break;
        if (kept-- < 0) above *= 0.5;
      }
      kept = std::clamp(kept, -1, 1);
    }
    return to;
  }

  /// Water left on a layer, over that which came, with its clocks where they are: the sum over what is still
  /// wet.
  double water_left(const Progress& progress, std::size_t k, const double (&clocks)[2]) const {
    const Event& event = progress.event;
    double sum = 0.0;
    for (std::size_t below = 0; below < 2; ++below) {
      const Event::Side& side = event.side[k][below];
      for (std::size_t i = progress.dried[k][below]; i < side.count; ++i) {
        const double sigma = clocks[below] * side.classes[i].inverse_square;
        double share = 0.0;
        if (sigma < event.pinned) {
          share = Lanes<1>::polynomial(event.course_share, sigma / event.pinned);
        } else {
          const double square = std::max(0.0, event.terms.at_release - sigma * event.terms.receding);
          share = event.receding_share * square * std::sqrt(square);
        }
        sum += side.classes[i].share * (share - event.solute[k]) / (1.0 - event.solute[k]);
      }
    }
    return sum;
  }

  /// Hands a share of all water on to the house's air, or to the outside.
  void evaporate(int lane, double water) {
    const std::size_t into = L::get(terms_.answers, lane) > 0.0 ? house_vapour : carried_off;
    L::set(stage_[into], lane, L::get(stage_[into], lane) + water);
  }

  void settle(int lane, bool bends, bool nearly_dry) {
    Progress& progress = progress_[lane];
    const Event& event = progress.event;
    Solution& solution = progress.solution;
    const double until = L::get(stage_[elapsed], lane);
    disturbed_ = true;
    if (L::get(unfit_, lane) < 0.0) {
      progress.ended = true;
      return;
    }
    if (nearly_dry) see_what_is_dry(lane, true);

    if (progress.stem_wet && dries_out(lane, stem_left, event.stem_share)) {
      progress.stem_wet = false;
      solution.stem_wet_time = until + last_of_film_;
    }
    if (progress.bench_wet && dries_out(lane, bench_left, event.bench_share)) progress.bench_wet = false;
    for (std::size_t k = 0; k < layers_; ++k) {
      for (std::size_t below = 0; below < 2; ++below) pass_marks(lane, k, below, until);
    }
    if (nearly_dry || progress.wet_classes == 0) see_what_is_dry(lane, false);

    if (progress.wet_classes == 0 && solution.wet_time < infinity && solution.stem_wet_time < infinity) {
      solution.followed = progress.ended = true;
    } else if (bends) {
      if (until >= event.last) {
        solution.followed = progress.ended = true;
      } else {
        enter_segment(lane, progress.segment + 1);
      }
    }
  }

  /// Notes leaves and layers that count as dry at the step's end: from the moment within it, or, where a
  /// class has just been let go, from its end.
  void see_what_is_dry(int lane, bool within_step) {
    Progress& progress = progress_[lane];
    const Event& event = progress.event;
    Solution& solution = progress.solution;
    const double theta = L::get(theta_, lane), until = L::get(stage_[elapsed], lane);
    std::array<std::array<Dense, 2>, most_layers> clock;
    for (std::size_t k = 0; k < layers_; ++k) clock[k] = {dense(clock_of(k, 0)), dense(clock_of(k, 1))};
    const auto left_on = [&](std::size_t k, double part) {
      return water_left(progress, k, {clock[k][0].at(part, lane), clock[k][1].at(part, lane)});
    };
    const auto left = [&](double part) {
      double sum = 0.0;
      for (std::size_t k = 0; k < layers_; ++k) sum += event.layer[k].of_leaf_water * left_on(k, part);
      return sum;
    };
    const auto when_dry = [&](auto water) {
      return within_step ? falls_through(theta, [&](double part) { return water(part) - event.dry_share; })
                         : theta;
    };
    const auto time_at = [&](double part) { return part < theta ? dense(elapsed).at(part, lane) : until; };
    if (solution.wet_time == infinity && left(theta) <= event.dry_share) {
      const double part = when_dry(left);
      solution.wet_time = time_at(part);
      solution.wet_warmth = dense(warmth_sum).at(part, lane);
      L::set(goal_, lane, -infinity);
    }
    for (std::size_t k = 0; k < layers_; ++k) {
      if (solution.layer_wet_time[k] < infinity || left_on(k, theta) > event.dry_share) continue;
      solution.layer_wet_time[k] = time_at(when_dry([&](double part) { return left_on(k, part); }));
      L::set(layer_goal_[k], lane, -infinity);
    }
  }

  /// Lets go of what a film still has once it counts as dry; how long that would have taken is last_of_film_.
  bool dries_out(int lane, std::size_t film, double of_all) {
    const double rest = L::get(stage_[film], lane);
    if (rest > gone * (1.0 + 1e-9)) return false;
    evaporate(lane, rest * of_all);
    L::set(stage_[film], lane, 0.0);
    last_of_film_ = -3.0 * rest / by_time(lane, film);
    return true;
  }

  /// Rate of an entry where the step ended [1/s].
  double by_time(int lane, std::size_t i) const {
    return L::get(dense(i).slope(theta_), lane) / L::get(dense(elapsed).slope(theta_), lane);
  }

  void pass_marks(int lane, std::size_t k, std::size_t below, double until) {
    Progress& progress = progress_[lane];
    const Event& event = progress.event;
    const Event::Side& side = event.side[k][below];
    const std::size_t clock = clock_of(k, below), left = entry_of(k, water);
    std::size_t& dried = progress.dried[k][below];
    std::size_t& mark = progress.mark[k][below];
    while (mark < side.mark_count && L::get(stage_[clock], lane) >= side.marks[mark].clock * (1.0 - 1e-10)) {
      if (!side.marks[mark++].dries) {
        release(lane, k, below);
        continue;
      }
      const ClassTerms& drop = side.classes[dried];
      double rest = gone * drop.share, wet = L::get(wet_part_[k], lane) - drop.share;
      const bool last_of_layer =
          progress.dried[k][0] + progress.dried[k][1] + 1 == event.side[k][0].count + event.side[k][1].count;
      if (last_of_layer) rest = L::get(stage_[left], lane), wet = 0.0;  // and what the steps' errors left
      L::set(wet_part_[k], lane, wet);
      L::set(stage_[left], lane, last_of_layer ? 0.0 : L::get(stage_[left], lane) - rest);
      evaporate(lane, rest * event.water_share[k]);
      if (progress.receded[k][below] == dried) release(lane, k, below);  // pinned to its end
      L::set(classes_[k][below].shell[dried], lane, 0.0);
      L::set(classes_[k][below].disc[dried], lane, 0.0);
      ++dried;
      if (--progress.wet_classes == 0) {
        progress.solution.last_drop_time =
            until +
            event.last_moments[k] * gone / (event.last_flow[k] * by_time(lane, clock) * drop.inverse_square);
      }
    }
    L::set(next_[k][below], lane, mark < side.mark_count ? side.marks[mark].clock : infinity);
    bound_classes(k, below);
  }

  /// The smallest pinned class of a side lets its edge go.
  void release(int lane, std::size_t k, std::size_t below) {
    Progress& progress = progress_[lane];
    const Event::Side& side = progress.event.side[k][below];
    Classes& classes = classes_[k][below];
    const std::size_t i = progress.receded[k][below]++;
    L::set(classes.shell[i], lane, side.classes[i].shell);
    L::set(classes.disc[i], lane, side.classes[i].disc);
    pin(lane, k, below);
  }
  void pin(int lane, std::size_t k, std::size_t below) {
    Classes& classes = classes_[k][below];
    const Event::Pinned& pinned =
        progress_[lane].event.side[k][below].pinned[progress_[lane].receded[k][below]];
    for (std::size_t j = 0; j < course_terms; ++j) L::set(classes.pinned_shell[j], lane, pinned.shell[j]);
    L::set(classes.pinned_disc, lane, pinned.disc);
  }

  /// The range of classes that recede in some lane.
  void bound_classes(std::size_t k, std::size_t below) {
    Classes& classes = classes_[k][below];
    classes.first = most_classes, classes.last = 0;
    for (const Progress& progress : progress_) {
      if (!progress.busy || progress.dried[k][below] == progress.receded[k][below]) continue;
      classes.first = std::min(classes.first, progress.dried[k][below]);
      classes.last = std::max(classes.last, progress.receded[k][below]);
    }
  }

  void enter_segment(int lane, std::size_t segment) {
    Progress& progress = progress_[lane];
    const Event& event = progress.event;
    const CropAir& air = *event.air;
    progress.segment = segment;
    const double from = air.time[segment], span = air.time[segment + 1] - from;
    const auto before = std::bit_cast<std::array<double, columns>>(air.state[segment]);
    const auto after = std::bit_cast<std::array<double, columns>>(air.state[segment + 1]);
    for (std::size_t i = 0; i < columns; ++i) {
      L::set(air_value_[i], lane, before[i]);
      L::set(air_slope_[i], lane, (after[i] - before[i]) / span);
    }
    L::set(segment_start_, lane, from - event.start);
    const double end = from + span - event.start;
    L::set(limit_, lane, std::min(end, event.last));
  }

  void finish(int lane) {
    Progress& progress = progress_[lane];
    Solution& solution = progress.solution;
    for (std::size_t i = 0; i < most_entries; ++i) solution.state[i] = L::get(y_[i], lane);
    progress.busy = false;
    --busy_;
    feed_.done(static_cast<std::size_t>(lane), solution);
  }

  /// Puts numbers of one event into a lane of what the kernel computes with.
  template <class One, class Many>
  static void spread(const One& one, Many& many, int lane) {
    constexpr std::size_t count = sizeof(One) / sizeof(double);
    static_assert(sizeof(Many) == count * sizeof(R));
    const auto* from = reinterpret_cast<const double*>(&one);
    auto* to = reinterpret_cast<double*>(&many) + lane;
    for (std::size_t i = 0; i < count; ++i) to[i * Width] = from[i];
  }

  void refill(int lane) {
    Progress& progress = progress_[lane];
    Event& event = progress.event;
    disturbed_ = true;
    if (!feed_.next(static_cast<std::size_t>(lane), event)) {
      // an idle lane stands still
      L::set(trial_, lane, 0.0);
      for (std::size_t k = 0; k < most_layers; ++k) {
        for (std::size_t below = 0; below < 2; ++below) bound_classes(k, below);
      }
      return;
    }
    progress.busy = true, progress.ended = false;
    ++busy_;
    layers_ = event.layers;
    progress.solution = {};
    Solution& solution = progress.solution;
    solution.wet_time = solution.last_drop_time = solution.stem_wet_time = infinity;
    solution.layer_wet_time.fill(0.0);
    progress.refused = 0;
    progress.wet_classes = 0;
    spread(event.terms, terms_, lane);
    spread(event.layer, layer_, lane);
    for (std::size_t i = 0; i < most_entries; ++i) L::set(y_[i], lane, event.state[i]);
    for (std::size_t k = 0; k < layers_; ++k) {
      bool wet = false;
      for (std::size_t below = 0; below < 2; ++below) {
        const Event::Side& side = event.side[k][below];
        Classes& classes = classes_[k][below];
        for (std::size_t i = 0; i < most_classes; ++i) {
          L::set(classes.inverse_square[i], lane, i < side.count ? side.classes[i].inverse_square : 0.0);
          L::set(classes.shell[i], lane, 0.0);
          L::set(classes.disc[i], lane, 0.0);
        }
        progress.mark[k][below] = progress.receded[k][below] = progress.dried[k][below] = 0;
        pin(lane, k, below);
        progress.wet_classes += side.count;
        wet = wet || side.count > 0;
        std::size_t& mark = progress.mark[k][below];  // edges that never held are let go at once
        for (; mark < side.mark_count && side.marks[mark].clock <= 0.0; ++mark) release(lane, k, below);
        L::set(next_[k][below], lane, mark < side.mark_count ? side.marks[mark].clock : infinity);
        bound_classes(k, below);
      }
      L::set(wet_part_[k], lane, wet ? 1.0 : 0.0);
      L::set(layer_goal_[k], lane, wet ? event.dry_share + 10.0 * event.terms.relative : -infinity);
      if (wet) solution.layer_wet_time[k] = infinity;
    }
    progress.stem_wet = event.state[stem_left] > 0.0;
    progress.bench_wet = event.state[bench_left] > 0.0;
    if (!progress.stem_wet) solution.stem_wet_time = 0.0;
    L::set(goal_, lane, event.dry_share + 10.0 * event.terms.relative);
    L::set(retry_, lane, infinity);
    for (Leaf& leaf : leaf_) L::set(leaf.drift, lane, 0.0);
    L::set(trial_, lane, 5.0 * std::pow(event.terms.relative, 0.2));
    const auto& time = event.air->time;
    enter_segment(lane, static_cast<std::size_t>(
                            std::upper_bound(time.begin() + 1, time.end() - 1, event.start) - time.begin()) -
                            1);
  }

  Feed& feed_;
  const Properties& fits_;
  std::array<Progress, Width> progress_;
  int busy_ = 0;
  long evaluations_ = 0;
  bool disturbed_ = true;
  std::size_t layers_ = 1;

  Terms<R> terms_{};
  std::array<LayerTerms<R>, most_layers> layer_{};
  Classes classes_[most_layers][2] = {};
  R air_value_[columns] = {}, air_slope_[columns] = {}, segment_start_{};
  R wet_part_[most_layers] = {};             // liquid of the layer's wet classes, over all of it
  R next_[most_layers][2] = {};              // the clock at the next mark
  R goal_{}, layer_goal_[most_layers] = {};  // near which the water left is looked at; -infinity once dry

  State y_{}, stage_{}, ahead_{}, start_{}, end_{}, k_[stages] = {};
  R h_{}, trial_{}, retry_{}, limit_{}, theta_{};
  R settling_[most_layers] = {};  // of each leaf, as last evaluated [1/s]
  Leaf leaf_[most_layers] = {};
  double last_of_film_ = 0;  // [s]
  R unfit_{};                // below 0 where the clocks do not hold
};

template <int Width>
long follow(Feed& feed, const Properties& properties) {
  return std::make_unique<Crops<Width>>(feed, properties)->run();  // too large for some threads' stacks
}

}  // namespace
}  // namespace WETSPAN_LANES_NAMESPACE

extern const Kernels WETSPAN_KERNELS;
const Kernels WETSPAN_KERNELS{follow<WETSPAN_WIDTH>, follow<1>};

}  // namespace wetspan::clocks
