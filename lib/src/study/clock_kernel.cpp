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
#include <utility>

#include "clock_kernel.hpp"
#include WETSPAN_LANES
#include "wetspan/properties/constants.hpp"

namespace wetspan::clocks {
inline namespace WETSPAN_LANES_NAMESPACE {
namespace {

using namespace constants;

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr double longest_step = 600.0;  // s
constexpr double most_settled = 4.0;    // longest step, over the time in which a leaf's temperature settles
constexpr double near = 1.2;       // of the water at which leaves count as dry: from there on it is summed
constexpr double from_end = 0.02;  // of a step: within that of either end its dense output is good
constexpr double beyond = 1.0005;  // a step taken anew goes a little beyond what it is to meet
constexpr int most_steps = 20'000, most_refused = 100;
constexpr double tiny = 1e-300;
constexpr double root_gone = 0.1;  // the cube root of `gone`
static_assert(gone == 1e-3);

constexpr int moments = 4;  // of the droplets' evaporation that a step keeps

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
    while (busy_ != 0) step();
    return evaluations_;
  }

 private:
  /// What a lane is at, beside the numbers it computes with.
  struct Progress {
    Event event;
    Solution solution;
    std::size_t segment = 0;                 // of the air
    std::size_t dried[most_layers][2] = {};  // classes of a side
    std::size_t wet_classes = 0;
    std::array<double, most_layers + 1> dries_within;  // see find_dry(); infinity where nothing does
  };
  /// How a leaf settles during a step: T = rest + u exp(-settling time). Lawson 1967's transformation of a
  /// pair.
  struct Leaf {
    R settling;            // [1/s], where the step began
    R pace;                // the same, over the step's variable
    R drift;               // of where it would come to rest, as the last step told [1/s]
    R rest, shift, moves;  // where it would come to rest at the beginning; how that moves, and over the step
    R away;                // how far from it it began
    R warming, end_warming;                   // rate of its temperature there and where the step ended [1/s]
    R grown[stages - 1], shrunk[stages - 1];  // exp(settling time) of the stages, and the inverse
  };
  /// The classes of a side that have let go of their edge before a step ends, from the next to dry on.
  struct Classes {
    R square[most_classes], by_square[most_classes], shell[most_classes], disc[most_classes];
    R receding, were;   // their number, and what it was when the step began
    R lets_go, let_go;  // the clocks at which the next after those of either number lets go
    R most_fall;        // of the first one's base area in a step, over what it is when that begins [1]
    R pinned_shell[course_terms], pinned_disc;  // of all others, in powers of the clock
  };
  /// What the droplets of a side amount to along a step of its clock: the cubics of (clock - from) x
  /// by_length that have the same moments.
  struct Course {
    R from, by_length;
    R shell[moments], disc[moments];  // sums of n pi R f [1/m] and n pi R^2 [1]

    R place(const R& clock) const { return (clock - from) * by_length; }
    static R at(const R (&c)[moments], const R& x) {
      return L::fma(L::fma(L::fma(c[3], x, c[2]), x, c[1]), x, c[0]);
    }
  };

  // ---- the equations -----------------------------------------------------------------------------------

  static R scaled(const R& temperature) {
    return (temperature - Properties::middle) * (1.0 / Properties::half_width);
  }
  static R squared(const R& x) { return x * x; }
  /// r / half_moist - 1, of the vapour pressure; `by_half` is one over half_moist x the whole pressure.
  static R moist(const R& vapour_pressure, const R& by_half) {
    return L::fma(vapour_pressure, by_half, -1.0);
  }

  /// Largest of two conductances mixed with the other: (a^3.5 + b^3.5)^(1/3.5).
  R mixed(const R& forced, const R& free, const R& larger, const R& by_larger) const {
    const R ratio = L::min(forced, free) * by_larger;
    const R power = squared(ratio) * ratio * L::sqrt(L::max(ratio, tiny));
    return larger * L::polynomial(fits_.mixing, power);
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

  /// Adds what is `weight` at x to moments.
  static void add(R (&sums)[moments], const R& x, R weight) {
    sums[0] += weight;
    for (int j = 1; j < moments; ++j) sums[j] += (weight *= x);
  }
  /// Turns moments over 0 to 1 into the cubic that has them.
  static void to_cubic(const R (&sums)[moments], R (&cubic)[moments]) {
    constexpr double inverse[moments][moments] = {{16.0, -120.0, 240.0, -140.0},
                                                  {-120.0, 1200.0, -2700.0, 1680.0},
                                                  {240.0, -2700.0, 6480.0, -4200.0},
                                                  {-140.0, 1680.0, -4200.0, 2800.0}};
    for (int i = 0; i < moments; ++i) {
      cubic[i] = sums[0] * inverse[i][0];
      for (int j = 1; j < moments; ++j) cubic[i] = L::fma(sums[j], L::all(inverse[i][j]), cubic[i]);
    }
  }

  /// The moments of what is 1 from x on, and one more.
  static void from_on(const R& x, R (&sums)[moments + 1]) {
    R power = L::all(1.0);
    for (int j = 0; j <= moments; ++j) sums[j] = (1.0 - (power *= x)) * (1.0 / (j + 1));
  }

  // Gauss and Legendre's points and weights on 0 to 1.
  static constexpr double points[] = {0.1127016653792583, 0.5, 0.8872983346207417},
                          point_weights[] = {5.0 / 18.0, 8.0 / 18.0, 5.0 / 18.0};
  static constexpr double four_points[] = {0.06943184420297371, 0.33000947820757187, 0.66999052179242813,
                                           0.93056815579702629},
                          four_weights[] = {0.17392742256872693, 0.32607257743127307, 0.32607257743127307,
                                            0.17392742256872693};

  /// Sums up a side's droplets over a step that takes its clock `to` there; no class dries out before.
  void sum_up(std::size_t k, std::size_t below, const R& to) {
    const Classes& classes = classes_[k][below];
    const Course& before = kept_[k][below];
    Course& now = course_[k][below];
    now.from = y_[clock_of(k, below)];
    const R length = L::max(to - now.from, tiny);
    now.by_length = L::inverse(length);
    const auto clock = [&](const R& x) { return L::fma(x, length, now.from); };
    R shell[moments] = {}, disc[moments] = {};

    // what the last step has summed up ahead of where it ended
    const R begin = L::max(now.place(summed_[k][below]), 0.0), rest = 1.0 - begin;
    if (L::any(begin > L::all(0.0))) {
      for (int j = 0; j < 3; ++j) {
        const R x = begin * points[j], there = before.place(clock(x)), weight = begin * point_weights[j];
        add(shell, x, weight * Course::at(before.shell, there));
        add(disc, x, weight * Course::at(before.disc, there));
      }
    }
    // classes that stay pinned
    for (int j = 0; j < 3; ++j) {
      const R x = L::fma(rest, L::all(points[j]), begin);
      add(shell, x, rest * point_weights[j] * L::polynomial(classes.pinned_shell, clock(x)));
    }
    // and those that let go of their edge and recede: the square of their radius u falls linearly
    const LayerTerms<R>& layer = layer_[k];
    const R least = 0.25 * layer.last_square;
    R full = classes.pinned_disc, later[moments + 1];
    for (std::size_t i = 0; i < most_classes; ++i) {
      const Mask its = L::all(static_cast<double>(i)) < classes.receding;
      if (!L::any(its)) break;
      const R of_shell = L::select(its, classes.shell[i], R{}),
              of_disc = L::select(its, classes.disc[i], R{});
      const R lets_go = L::min(L::max(now.place(layer.lets_go * classes.square[i]), begin), 1.0);
      const R falls = terms_.receding * classes.by_square[i];
      const R square = L::fma(-falls, now.from, terms_.at_release), slope = -falls * length;
      const auto radius = [&](const R& x) { return L::sqrt(L::max(L::fma(slope, x, square), least)); };
      const R first = radius(lets_go), last = radius(L::all(1.0)),
              per_radius = (1.0 - lets_go) * L::inverse(first + last);
      for (int j = 0; j < 4; ++j) {
        const R u = L::fma(first - last, L::all(-four_points[j]), first);
        const R x = L::fma(per_radius * four_points[j], first + u, lets_go);
        add(shell, x, of_shell * (2.0 * four_weights[j]) * per_radius * squared(u));
      }
      full += of_disc;
      from_on(lets_go, later);
      for (int j = 0; j < moments; ++j) {
        disc[j] = L::fma(of_disc, L::fma(square - 1.0, later[j], slope * later[j + 1]), disc[j]);
      }
      const Mask holds = its & (lets_go > begin);
      if (!L::any(holds)) continue;
      const R held = L::select(holds, lets_go - begin, R{});
      for (int j = 0; j < 3; ++j) {
        const R x = L::fma(held, L::all(points[j]), begin);
        const R along = L::min(clock(x) * classes.by_square[i] * terms_.by_pinned, 1.0);
        add(shell, x, of_shell * (point_weights[j] * held) * L::polynomial(terms_.course, along));
      }
    }
    from_on(begin, later);
    for (int j = 0; j < moments; ++j) disc[j] = L::fma(full, later[j], disc[j]);
    to_cubic(shell, now.shell);
    to_cubic(disc, now.disc);
  }

  /// The air over the leaves.
  struct Air {
    R temperature, vapour, vapour_pressure, pressure, by_pressure, x, virtual_temperature;
    R by_quarter;            // one over twice half_moist x the pressure: see moist()
    R buoyancy, root_speed;  // of the boundary layers
  };
  Air air_of(const R& temperature, const R& vapour, const R& vapour_pressure, const R& pressure,
             const R& by_pressure, const R& speed) const {
    const R drier = L::fma(vapour_pressure, L::all(molar_mass_ratio - 1.0), pressure);
    return {temperature,
            vapour,
            vapour_pressure,
            pressure,
            by_pressure,
            scaled(temperature),
            temperature * pressure * L::inverse(drier),
            by_pressure * (0.5 / Properties::half_moist),
            terms_.buoyancy * L::sqrt(pressure),
            L::sqrt(L::max(speed, stillest) * pressure)};
  }
  /// What a leaf of some temperature is in.
  struct Surroundings {
    R temperature, by_temperature, saturated, deficit, latent, diffusivity;
    R heat, through[2];  // conductances of the boundary layers: both sides' heat [W/m2/K], vapour [m/s]
  };
  /// `Wet`: whether the air at the leaf is saturated; else it is as moist as the free air.
  template <bool Wet>
  [[gnu::always_inline]] Surroundings around(std::size_t k, const R& temperature, const Air& air) {
    Surroundings its;
    its.temperature = temperature;
    const R surface_x = scaled(temperature), x = 0.5 * (surface_x + air.x);
    const R saturated_pressure = L::polynomial(fits_.saturation_pressure, surface_x);
    const R surface_pressure = Wet ? saturated_pressure : air.vapour_pressure;
    const R drier = L::fma(surface_pressure, L::all(molar_mass_ratio - 1.0), air.pressure);
    const R by_both = L::inverse(temperature * drier);
    its.latent = L::polynomial(fits_.latent_heat, surface_x);
    its.by_temperature = by_both * drier;
    its.saturated = saturated_pressure * its.by_temperature * (1.0 / gas_constant_water);
    its.deficit = its.saturated - air.vapour;
    const R lighter = temperature * air.pressure * (by_both * temperature) - air.virtual_temperature;
    const R share = moist(surface_pressure + air.vapour_pressure, air.by_quarter);
    unfit_ =
        L::min(unfit_, L::min(L::min(its.deficit, 1.0 - share),
                              L::min(temperature - Properties::coldest, Properties::hottest - temperature)));
    const R forced = layer_[k].forced * air.root_speed * L::polynomial(fits_.forced, x) *
                     L::polynomial(fits_.forced_moist, share);
    const R unstable = L::sqrt(L::sqrt(L::max(L::abs(lighter), tiny))) * air.buoyancy *
                       L::polynomial(fits_.free, x) * L::polynomial(fits_.free_moist, share);
    const R steady = 0.5 * unstable;
    const R more = L::max(L::max(forced, unstable), tiny), less = L::max(L::max(forced, steady), tiny);
    const R by_more_less = L::inverse(more * less);
    const R larger = mixed(forced, unstable, more, by_more_less * less);
    const R smaller = mixed(forced, steady, less, by_more_less * more);
    const Mask rises = lighter > L::all(0.0);
    const R to_vapour = air.by_pressure * L::polynomial(terms_.vapour_over_heat, x) *
                        L::polynomial(fits_.vapour_moist, share);
    its.diffusivity = L::polynomial(terms_.diffusivity, x) * air.by_pressure;
    its.heat = larger + smaller;
    its.through[0] = L::select(rises, larger, smaller) * to_vapour;
    its.through[1] = L::select(rises, smaller, larger) * to_vapour;
    return its;
  }

  /// Conductance of the stomata of the share `bare` of the lower side, in series with its boundary layer
  /// [m/s].
  R transpires(const Surroundings& its, const R& sun, const R& bare) const {
    const R open = terms_.stomata * sun * bare;
    return open * its.through[1] *
           L::inverse(L::max(L::fma(its.through[1], sun + terms_.half_light, open), tiny));
  }
  /// Heat that a leaf gains, the water it gives off considered [W/m2].
  R gain(std::size_t k, const Surroundings& its, const Air& air, const R& sun, const R& radiant_power,
         const R& air_power, const R& vapour_flux) const {
    const R power = squared(squared(its.temperature));
    return sun + layer_[k].above * (radiant_power - power) + layer_[k].below * (air_power - power) -
           its.heat * (its.temperature - air.temperature) - its.latent * vapour_flux;
  }

  /// The air's record, in the order of AirState.
  std::array<R, columns> recorded_air(const R& time) const {
    const R since = time - segment_start_;
    std::array<R, columns> record;
    for (std::size_t i = 0; i < columns; ++i) record[i] = L::fma(air_slope_[i], since, air_value_[i]);
    return record;
  }

  /// Rates by time [1/s].
  void rates(const State& y, State& dy) {
    // the house's air
    const auto [recorded, recorded_pressure, pressure, speed, shortwave, radiant, air_changes] =
        recorded_air(y[elapsed]);
    const R stem_square = squared(y[stem_left]), bench_square = squared(y[bench_left]);
    const R films = L::fma(terms_.stem_share * stem_square, y[stem_left],
                           terms_.bench_share * bench_square * y[bench_left]);
    const R house = y[house_vapour] - terms_.answers * films, added = house * terms_.vapour;
    const R temperature = L::fma(terms_.answers * warmth_unit, y[house_heat], recorded);
    // one division for all quotients
    const R temperatures = recorded * radiant, pressure_temperature = pressure * temperature;
    const R by_all = L::inverse(temperatures * pressure_temperature);
    const R by_temperatures = by_all * pressure_temperature, by_pt = by_all * temperatures;
    const R by_pressure = by_pt * temperature, by_temperature = by_pt * pressure;
    const R vapour_was = recorded_pressure * (by_temperatures * radiant) * (1.0 / gas_constant_water);
    const R vapour = L::max(vapour_was + added, 0.0);
    const R vapour_pressure = vapour * gas_constant_water * temperature;
    const Air air = air_of(temperature, vapour, vapour_pressure, pressure, by_pressure, speed);
    const R& air_x = air.x;
    const R air_moist = moist(vapour_pressure, 2.0 * air.by_quarter);
    const R radiant_power = squared(squared(radiant)), air_power = squared(squared(temperature));
    unfit_ =
        L::min(unfit_, L::min(L::min(temperature - Properties::coldest, Properties::hottest - temperature),
                              1.0 - air_moist));

    // stems and bench
    const R latent = L::polynomial(fits_.latent_heat, air_x);
    const R volume_heat =
        pressure * by_temperature * (1.0 / gas_constant) * L::polynomial(fits_.heat, air_moist);
    const R stem_wet = L::min(stem_square, 1.0), bench_wet = L::min(bench_square, 1.0);
    R from_stems{}, from_bench{};
    if (L::any(stem_wet + bench_wet > L::all(0.0))) {
      const R saturated =
          L::polynomial(fits_.saturation_pressure, air_x) * by_temperature * (1.0 / gas_constant_water);
      const R deficit = saturated - vapour;
      const R slope =
          (L::polynomial(fits_.saturation_slope, air_x) * (1.0 / gas_constant_water) - saturated) *
          by_temperature;
      const R latent_slope = latent * slope;
      const R root_reynolds = air.root_speed * terms_.stem_root;
      const R prandtl = L::polynomial(fits_.viscosity, air_x) * L::polynomial(fits_.specific_heat, air_moist);
      const R laminar = 0.62 * root_reynolds * L::polynomial(fits_.forced, air_x) *
                        L::polynomial(fits_.forced_moist, air_moist) *
                        L::polynomial(fits_.round, (prandtl - Properties::prandtl_middle) *
                                                       (1.0 / Properties::prandtl_half_width));
      const R molar_mass = L::fma(vapour_pressure * by_pressure,
                                  L::all(molar_mass_water - molar_mass_dry_air), L::all(molar_mass_dry_air));
      const R reynolds = squared(root_reynolds) * molar_mass * L::polynomial(fits_.fluidity, air_x);
      const R over = L::sqrt(L::max(reynolds * (1.0 / 282e3), tiny));  // and to the power of 5/8
      const R turbulent = L::polynomial(fits_.turbulent, over * L::sqrt(L::sqrt(over)));
      unfit_ = L::min(unfit_, L::select(stem_wet > L::all(0.0), 1.0 - over, L::all(1.0)));
      const R stem_heat =
          L::fma(laminar, turbulent, 0.3 * L::polynomial(fits_.conductivity, air_x)) * terms_.by_diameter;
      const R stem_vapour = stem_heat * by_pressure * L::polynomial(terms_.vapour_over_heat, air_x) *
                            L::polynomial(fits_.vapour_moist, air_moist);
      const auto adiabatic = [&](const R& heat, const R& through) {
        return through * deficit * heat * L::inverse(L::max(L::fma(latent_slope, through, heat), tiny));
      };
      from_stems = terms_.stems * stem_wet * adiabatic(stem_heat, stem_vapour);
      from_bench = terms_.bench * bench_wet *
                   adiabatic(terms_.bench_conductance * volume_heat, terms_.bench_conductance);
    }

    // Leaf by leaf in two passes, so that the leaves' chains of operations run beside each other.
    Surroundings leaf[most_layers];
    for (std::size_t k = 0; k < layers_; ++k) {
      leaf[k] = around<true>(k, L::fma(y[entry_of(k, warmth)], L::all(warmth_unit), terms_.base), air);
    }
    R source{};  // evaporation per area of bench [kg/m2/s]
    for (std::size_t k = 0; k < layers_; ++k) {
      const auto& its = leaf[k];
      const LayerTerms<R>& layer = layer_[k];
      R shells[2], bare[2];
      for (std::size_t below = 0; below < 2; ++below) {
        const Course& course = course_[k][below];
        const R x = course.place(y[clock_of(k, below)]);
        shells[below] = Course::at(course.shell, x) * its.diffusivity;
        bare[below] = L::exp_within(-Course::at(course.disc, x));
      }
      const R upper_sum = L::max(shells[0] + its.through[0], 1e-150);
      const R lower_sum = L::max(shells[1] + its.through[1], 1e-150);
      const R by_sums = L::inverse(upper_sum * lower_sum);
      // of the vapour density, between droplet and the air outside its shell, over the deficit
      const R fall[2] = {its.through[0] * by_sums * lower_sum, its.through[1] * by_sums * upper_sum};
      const R conductance = L::fma(shells[0], fall[0], shells[1] * fall[1]);  // of all droplets [m/s]
      const R evaporation = conductance * its.deficit;
      const R by_density = its.diffusivity * terms_.by_density * its.deficit;
      dy[entry_of(k, upper_clock)] = by_density * fall[0] * layer.by_clock_unit[0];
      dy[entry_of(k, lower_clock)] = by_density * fall[1] * layer.by_clock_unit[1];
      dy[entry_of(k, water)] = -evaporation * layer.by_landed;
      source = L::fma(layer.area, evaporation, source);
      const R sun = shortwave * layer.sun, series = transpires(its, sun, bare[1]);
      const R depth = layer.landed * y[entry_of(k, water)];
      const R by_capacity = L::inverse(L::fma(terms_.water_capacity, depth, terms_.leaf_capacity));
      const R vapour_flux = L::fma(series, L::max(its.deficit, 0.0), evaporation);
      dy[entry_of(k, warmth)] =
          gain(k, its, air, sun, radiant_power, air_power, vapour_flux) * by_capacity * (1.0 / warmth_unit);
      // how fast the leaf's temperature settles
      const R slope = its.saturated * its.by_temperature *
                      L::fma(its.latent * its.by_temperature, L::all(1.0 / gas_constant_water), -1.0);
      const R cube = squared(its.temperature) * its.temperature;
      const R answers =
          its.heat + 4.0 * (layer.above + layer.below) * cube + its.latent * slope * (conductance + series);
      settling_[k] = L::max(answers * by_capacity, 1.0 / longest_step);
      const R permeance = L::exp_within(terms_.permeance[0] - terms_.permeance[1] * its.by_temperature);
      const R solubility = L::exp_within(terms_.solubility[0] - terms_.solubility[1] * its.by_temperature);
      const R left = y[entry_of(k, remains)];
      dy[entry_of(k, remains)] = -layer.takes_up * left *
                                 uptake(permeance, solubility, layer.fresh, layer.dilute, layer.residue, left,
                                        wet_part_[k], 2.0 - bare[0] - bare[1], depth);
    }

    dy[elapsed] = L::all(1.0);
    dy[warmth_sum] = y[entry_of(0, warmth)];

    const R from_leaves = source;
    source += from_stems + from_bench;
    // cube roots fall evenly, whatever is left
    const R of_stem = L::max(stem_square, 1e-100), of_bench = L::max(bench_square, 1e-100);
    const R by_squares = (1.0 / 3.0) * L::inverse(of_stem * of_bench);
    dy[stem_left] = -from_stems * terms_.by_on_stem * by_squares * of_bench;
    dy[bench_left] = -from_bench * terms_.by_on_bench * by_squares * of_stem;
    const R through_stem =
        L::exp_within(terms_.permeance[0] - terms_.permeance[1] * by_temperature) * terms_.stem_cuticle;
    const R stem_solubility = L::exp_within(terms_.solubility[0] - terms_.solubility[1] * by_temperature);
    dy[stem_remains] = -terms_.stem_takes_up * y[stem_remains] *
                       uptake(through_stem, stem_solubility, terms_.stem_fresh, terms_.stem_dilute,
                              terms_.stem_residue, y[stem_remains], stem_wet, stem_wet,
                              terms_.stem_depth * stem_square * L::max(y[stem_left], 0.0));

    // the house
    R leaving{};
    if (L::any(terms_.answers > L::all(0.0))) {
      const Mask freezes = radiant < L::all(zero_celsius);
      R cover = L::polynomial(fits_.saturation_pressure, scaled(radiant));
      if (L::any(freezes)) {
        const R x = (radiant - Properties::ice_middle) * (1.0 / Properties::ice_half_width);
        cover = L::select(freezes, L::exp(L::polynomial(fits_.over_ice, x)), cover);
      }
      cover *= (by_temperatures * recorded) * (1.0 / gas_constant_water);
      const R condensed =
          terms_.condensing * (L::max(vapour - cover, 0.0) - L::max(vapour - added - cover, 0.0));
      leaving = terms_.answers * L::fma(air_changes, house, condensed);
    }
    const R came = from_leaves * terms_.by_came;
    dy[carried_off] = leaving + (1.0 - terms_.answers) * came;
    dy[house_vapour] = terms_.answers * came - leaving;
    const R loss = L::fma(air_changes * terms_.height, volume_heat, terms_.heat_loss);
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
    const R rise =
        (warms ? (ahead_[i] - leaf.rest - leaf.moves) * leaf.grown[stages - 2] : ahead_[i]) - start;
    const R first = goes_[0] * k_[0][i] - rise;
    R sum{};
    for (int s = 0; s < stages; ++s) {
      if (dense_weights[s] != 0.0) sum = L::fma(k_[s][i], dense_weights[s] * goes_[s], sum);
    }
    return {start, rise, first, rise - goes_[stages - 1] * k_[stages - 1][i] - first, sum};
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

  /// One step of every lane.
  void step() {
    const std::size_t entries = entry_of(layers_, warmth);
    if (L::any(new_ > L::all(0.0))) begin_events();
    evaluations_ += std::popcount(busy_) * stages;
    choose_step();
    sum_up_droplets();
    integrate(entries);
    const R error = error_of_step(entries);
    Mask accepted = error <= L::all(1.0);
    const R factor = 0.9 * L::pow(L::min(L::max(error, 1e-10), 1e10), -0.2);
    const R longer = (ahead_[elapsed] - y_[elapsed]) * L::min(factor, 5.0);
    trial_ = L::select(accepted, L::select(span_ < trial_, L::max(trial_, longer), longer),
                       span_ * L::max(L::min(factor, 0.9), 0.1));
    theta_ = first_met(accepted);
    // the dense output is good near either end; where it would be needed elsewhere, the step is taken anew
    const Mask early = accepted & (theta_ < L::all(1.0 - from_end)) & (theta_ > L::all(from_end));
    retry_ = L::select(early, span_ * theta_ * beyond, L::all(infinity));
    accepted = accepted & !early;
    const Mask astray = accepted & went_astray();
    trial_ = L::select(astray, 0.7 * span_, trial_);
    accepted = accepted & !astray;

    // where the step ends
    const Mask cut = theta_ < L::all(1.0);
    const bool any_cut = L::any(cut);
    for (std::size_t i = 0; i < entries; ++i) {
      stage_[i] = any_cut ? L::select(cut, within(i, theta_), ahead_[i]) : ahead_[i];
    }
    // a step over time that something else cuts short does not reach the bend
    const Mask bends = (meets_ & (over_ < L::all(0.0)) & (theta_ >= L::all(1.0))) |
                       (stage_[elapsed] >= limit_ * (1.0 - 1e-14));
    stage_[elapsed] = L::select(bends, limit_, stage_[elapsed]);
    R left{};
    Mask nearly_dry = L::all(0.0) > L::all(1.0);
    for (std::size_t k = 0; k < layers_; ++k) {
      left = L::fma(layer_[k].of_leaf_water, stage_[entry_of(k, water)], left);
      nearly_dry = nearly_dry | (stage_[entry_of(k, water)] <= near * layer_goal_[k]);
    }
    nearly_dry = nearly_dry | (left <= near * goal_);
    accepted = accepted & read_dryness(accepted & nearly_dry);
    meet_ends(accepted, nearly_dry, bends);
    keep(accepted, entries);
    in_each(std::exchange(ended_, 0), [&](int lane) {
      finish(lane);
      refill(lane);
    });
  }

  /// Leaves that were in balance with their air, or had the temperature given, are wetted by a film at the
  /// wet bulb.
  void wet_leaves(const Mask& fresh) {
    const auto [temperature, vapour_pressure, pressure, speed, shortwave, radiant, air_changes] =
        recorded_air(y_[elapsed]);
    const R vapour = vapour_pressure * L::inverse(temperature * gas_constant_water);
    const Air air = air_of(temperature, vapour, vapour_pressure, pressure, L::inverse(pressure), speed);
    const R radiant_power = squared(squared(radiant)), air_power = squared(squared(temperature));
    const R coldest = L::max(temperature - 30.0, Properties::coldest),
            hottest = L::min(temperature + 40.0, Properties::hottest);
    for (std::size_t k = 0; k < layers_; ++k) {
      const LayerTerms<R>& layer = layer_[k];
      const R sun = shortwave * layer.sun;
      const auto surplus = [&](const R& at) {
        const Surroundings its = around<false>(k, at, air);
        const R vapour_flux = transpires(its, sun, L::all(1.0)) * L::max(its.deficit, 0.0);
        return gain(k, its, air, sun, radiant_power, air_power, vapour_flux);
      };
      // as in dry_leaf_temperature()
      R low = coldest, high = hottest, at = temperature, is = surplus(at), next = at + is * (1.0 / 25.0);
      Mask moves = fresh & (layer.given <= L::all(0.0));
      for (int i = 0; i < 100 && L::any(moves); ++i) {
        low = L::select(is > L::all(0.0), at, low);
        high = L::select(is > L::all(0.0), high, at);
        next = L::select((next >= low) & (next <= high), next, 0.5 * (low + high));
        const R step = next - at, was = is;
        at = L::select(moves, next, at);
        moves = moves & (L::abs(step) >= L::all(1e-6));
        is = surplus(at);
        next = at - is * step / (is - was);
      }
      const Mask found = (at - coldest > L::all(1e-3)) & (hottest - at > L::all(1e-3));
      const R dry = L::select(layer.given > L::all(0.0), layer.given,
                              L::select(found, at, L::all(std::numeric_limits<double>::quiet_NaN())));
      const R wetted = L::fma(layer.film, terms_.wet_bulb - dry, dry);
      R& warm = y_[entry_of(k, warmth)];
      warm = L::select(fresh, (wetted - terms_.base) * (1.0 / warmth_unit), warm);
      end(L::bits_of(fresh & (dry != dry)));
    }
  }

  /// The state and the rates with which new events begin.
  void begin_events() {
    const Mask fresh = new_ > L::all(0.0);
    evaluations_ += std::popcount(L::bits_of(fresh) & busy_);
    wet_leaves(fresh);
    for (std::size_t k = 0; k < layers_; ++k) course_[k][0] = kept_[k][0], course_[k][1] = kept_[k][1];
    rates(y_, stage_);
    for (std::size_t k = 0; k < layers_; ++k) {
      for (std::size_t below = 0; below < 2; ++below) {
        R& rate = clock_rate_[k][below];
        rate = L::select(fresh, stage_[clock_of(k, below)], rate);
      }
      leaf_[k].settling = L::select(fresh, settling_[k], leaf_[k].settling);
    }
    new_ = R{};
  }

  /// How far to go, and over which variable: that whose next mark is nearest, the clock of a side on which a
  /// class dries out next, or time, where the weather bends. So the step ends on the mark, and no class dries
  /// out within it.
  void choose_step() {
    R nearest = limit_ - y_[elapsed], gap = nearest, pace = L::all(1.0);
    over_ = L::all(-1.0);
    span_ = L::min(trial_, longest_step);
    for (std::size_t k = 0; k < layers_; ++k) {
      span_ = L::min(span_, most_settled * L::inverse(leaf_[k].settling));
      for (std::size_t below = 0; below < 2; ++below) {
        const std::size_t i = clock_of(k, below);
        const R room = next_stop(k, below) - y_[i],
                reach = room * L::inverse(L::max(clock_rate_[k][below], tiny));
        const Mask nearer = reach < nearest;
        nearest = L::select(nearer, reach, nearest);
        gap = L::select(nearer, room, gap);
        pace = L::select(nearer, clock_rate_[k][below], pace);
        over_ = L::select(nearer, L::all(static_cast<double>(i)), over_);
      }
    }
    meets_ = nearest <= L::min(span_, retry_);
    // no scrap of a step behind
    span_ = L::select(nearest < 2.0 * span_, L::min(span_, 0.5 * nearest), span_);
    span_ = L::select(meets_, nearest, L::min(span_, retry_));
    h_ = L::select(meets_, gap, span_ * pace);
  }

  /// A side's clock where a step over it has to end: where its next class dries out, or has receded as far as
  /// a cubic can tell; where a drop's end is abrupt also where its edge lets go.
  R next_stop(std::size_t k, std::size_t below) const {
    const Classes& classes = classes_[k][below];
    const R& clock = y_[clock_of(k, below)];
    const R lets_go = layer_[k].lets_go * classes.square[0];
    const R now = L::fma(-terms_.receding * classes.by_square[0], clock, terms_.at_release);
    const R falls = classes.most_fall * L::min(L::max(now, layer_[k].last_square), 1.0);
    const Mask stops = (clock < lets_go * (1.0 - 1e-9)) & (terms_.abrupt > L::all(0.0));
    const R far =
        L::max(clock, lets_go) + L::select(stops, R{}, falls * classes.square[0] * terms_.by_receding);
    const R& dries = next_[k][below];
    return L::select(dries < L::all(infinity), L::min(dries, far), dries);
  }

  /// What the droplets amount to on the way, as far as the clocks are expected to go.
  void sum_up_droplets() {
    constexpr double rather_further = 1.03;
    for (std::size_t k = 0; k < layers_; ++k) {
      for (std::size_t below = 0; below < 2; ++below) {
        const std::size_t i = clock_of(k, below);
        const R expected = clock_rate_[k][below] * span_ * stretch_[k][below] * rather_further;
        const R goes = L::select(over_ == L::all(static_cast<double>(i)), h_, expected);
        to_[k][below] = L::min(L::max(y_[i] + goes, summed_[k][below]), next_[k][below]);
      }
    }
    see_who_recedes();
    for (std::size_t k = 0; k < layers_; ++k) {
      for (std::size_t below = 0; below < 2; ++below) sum_up(k, below, to_[k][below]);
    }
  }

  /// The rate of the variable that the step is over [1/s].
  R rate_over(const State& rate) const {
    R now = L::all(1.0);
    for (std::size_t k = 0; k < layers_; ++k) {
      for (std::size_t below = 0; below < 2; ++below) {
        const std::size_t i = clock_of(k, below);
        now = L::select(over_ == L::all(static_cast<double>(i)), rate[i], now);
      }
    }
    return now;
  }

  /// The stages. A leaf settles exponentially to where it would come to rest: what is left to integrate is
  /// how that moves.
  void integrate(std::size_t entries) {
    rates(y_, k_[0]);
    const R by_pace = L::inverse(rate_over(k_[0]));
    goes_[0] = h_ * by_pace;
    for (std::size_t k = 0; k < layers_; ++k) {
      R& warming = k_[0][entry_of(k, warmth)];
      Leaf& leaf = leaf_[k];
      leaf.settling = settling_[k];
      leaf.pace = leaf.settling * by_pace;
      leaf.away = (leaf.drift - warming) * L::inverse(leaf.settling);
      leaf.rest = y_[entry_of(k, warmth)] - leaf.away;
      leaf.shift = leaf.drift * by_pace;
      leaf.moves = leaf.shift * h_;
      leaf.warming = warming;
      warming = R{};
      // nodes are so many 90ths
      const R x1 = L::exp(leaf.pace * h_ * (1.0 / 90.0)), x8 = squared(squared(squared(x1))), x9 = x8 * x1,
              x18 = squared(x9), x72 = squared(squared(x18));
      const R grown[] = {L::all(1.0), x18, x18 * x9, x72, x72 * x8, x72 * x18};
      for (int s = 1; s + 1 < stages; ++s) leaf.grown[s] = grown[s], leaf.shrunk[s] = L::inverse(grown[s]);
    }
    unfit_ = L::all(1.0);
    const auto all = [&]<int... S>(std::integer_sequence<int, S...>) { (stage<S + 1>(entries), ...); };
    all(std::make_integer_sequence<int, stages - 1>());
  }
  template <int S>
  void stage(std::size_t entries) {
    constexpr bool last = S + 1 == stages;
    constexpr int node = last ? S - 1 : S;  // the last two are at the end
    State& at = last ? ahead_ : stage_;
    R goes[S];
    for (int j = 0; j < S; ++j) goes[j] = weights[S][j] * goes_[j];
    for (std::size_t i = 0; i < entries; ++i) {
      R sum = L::fma(k_[0][i], goes[0], y_[i]);
      for (int j = 1; j < S; ++j) {
        if (weights[S][j] != 0.0) sum = L::fma(k_[j][i], goes[j], sum);
      }
      at[i] = sum;
    }
    for (std::size_t k = 0; k < layers_; ++k) {
      const Leaf& leaf = leaf_[k];
      R& warm = at[entry_of(k, warmth)];
      warm = L::fma(warm - leaf.rest, leaf.shrunk[node], L::fma(leaf.moves, L::all(nodes[S]), leaf.rest));
    }
    rates(at, k_[S]);
    const R now = rate_over(k_[S]);
    goes_[S] = h_ * L::inverse(now);
    for (std::size_t k = 0; k < layers_; ++k) {
      const std::size_t i = entry_of(k, warmth);
      Leaf& leaf = leaf_[k];
      R& warming = k_[S][i];
      if (last) leaf.end_warming = warming;
      const R rest = L::fma(leaf.moves, L::all(nodes[S]), leaf.rest);
      warming = leaf.grown[node] * L::fma(L::fma(leaf.pace, at[i] - rest, -leaf.shift), now, warming);
    }
  }

  /// Of the pair, over what is allowed: the largest of all entries.
  R error_of_step(std::size_t entries) const {
    R error{}, sound{}, share[stages];
    for (int s = 0; s < stages; ++s) share[s] = error_weights[s] * goes_[s];
    for (std::size_t i = 0; i < entries; ++i) {
      if (i == warmth_sum) continue;
      R sum = k_[0][i] * share[0];
      for (int s = 2; s < stages; ++s) sum = L::fma(k_[s][i], share[s], sum);
      const R grows = span_ * L::abs(is_warmth(i) ? leaf_[layer_of(i)].warming : k_[0][i]);
      R allowed = L::fma(terms_.relative, L::abs(y_[i]) + grows, terms_.absolute);
      if (i == stem_left || i == bench_left) allowed = terms_.absolute;
      if (i == elapsed || is_clock(i)) {
        // drying times add up from these
        allowed = terms_.of_clocks * (L::abs(y_[i]) + grows);
        if (is_clock(i)) {
          const R& mark = next_[layer_of(i)][i - clock_of(layer_of(i), 0)];
          allowed += L::select(mark < L::all(infinity), L::all(tiny), L::all(1.0));
        }
      }
      if (is_warmth(i)) sum *= leaf_[layer_of(i)].shrunk[stages - 2];
      const R ratio = L::abs(sum) * L::inverse(allowed);
      error = L::max(ratio, error);  // the latter where the ratio is no number
      sound += ratio;
    }
    return L::select(sound == sound, error, L::all(1e10));
  }

  /// What else dries out within the step, or bends: the share of it at which the first does.
  R first_met(const Mask& accepted) const {
    R theta = L::all(1.0);
    const auto meet = [&](std::size_t i, const R& target, const Mask& passes) {
      if (L::any(passes)) theta = L::min(theta, passing(dense(i), target, passes));
    };
    for (std::size_t k = 0; k < layers_; ++k) {
      for (std::size_t below = 0; below < 2; ++below) {
        const std::size_t i = clock_of(k, below);
        const Mask other = over_ != L::all(static_cast<double>(i));
        meet(i, next_[k][below], accepted & other & (ahead_[i] >= next_[k][below]));
      }
    }
    meet(elapsed, limit_, accepted & (over_ >= L::all(0.0)) & (ahead_[elapsed] >= limit_));
    for (const std::size_t i : {std::size_t{stem_left}, std::size_t{bench_left}}) {
      meet(i, L::all(root_gone), accepted & (y_[i] > L::all(root_gone)) & (ahead_[i] <= L::all(root_gone)));
    }
    return theta;
  }

  /// Where a clock went further than what its droplets were summed up for.
  Mask went_astray() const {
    Mask astray = L::all(0.0) > L::all(1.0);
    for (std::size_t k = 0; k < layers_; ++k) {
      for (std::size_t below = 0; below < 2; ++below) {
        const R& to = to_[k][below];
        const std::size_t i = clock_of(k, below);
        astray = astray | ((next_[k][below] < L::all(infinity)) & (to < next_[k][below]) &
                           (ahead_[i] - to > 0.05 * (to - y_[i])));
      }
    }
    return astray;
  }

  /// Finds when leaves were dry within the step, for those that are near it. Where the step's cubics are too
  /// coarse for that but near its ends, it is taken anew to that moment: false in such lanes.
  Mask read_dryness(const Mask& nearly_dry) {
    R coarse{};
    in_each(L::bits_of(nearly_dry) & busy_, [&](int lane) {
      Progress& progress = progress_[lane];
      progress.dries_within.fill(infinity);
      find_dry(lane, true, [&](std::size_t k, double part) { progress.dries_within[k] = part; });
      const double part = *std::min_element(progress.dries_within.begin(), progress.dries_within.end());
      if (part < from_end || part > 0.95 * L::get(theta_, lane)) return;
      const double step = L::get(span_, lane), time = L::get(y_[elapsed], lane) + step;
      if (0.01 * unlike_cubics(lane) * step < progress.event.terms.relative * time) return;
      L::set(retry_, lane, step * part * beyond);
      L::set(coarse, lane, 1.0);
    });
    return coarse <= L::all(0.0);
  }

  /// Lets every lane meet what it meets where its step ends.
  void meet_ends(const Mask& accepted, const Mask& nearly_dry, const Mask& bends) {
    steps_ = L::select(accepted, steps_ + 1.0, steps_);
    refused_ = L::select(accepted, L::all(0.0), refused_ + 1.0);
    const Mask unfit = accepted & (unfit_ < L::all(0.0));
    const Mask fit = accepted & !unfit;
    end(L::bits_of(unfit | (steps_ > L::all(most_steps)) | (refused_ > L::all(most_refused))));
    const unsigned lanes = L::bits_of(fit) & busy_, near_end = L::bits_of(nearly_dry) & lanes;
    in_each(near_end, [&](int lane) {
      for (std::size_t k = 0; k <= layers_; ++k) {
        const double part = progress_[lane].dries_within[k];
        if (part < infinity) note_dry(lane, k, part);
      }
    });
    const auto at_end = [&](std::size_t film) {
      return fit & (y_[film] > L::all(0.0)) & (stage_[film] <= L::all(root_gone * (1.0 + 1e-9)));
    };
    unsigned changed = near_end;
    const auto film = [&](std::size_t i) {
      const unsigned its = L::bits_of(at_end(i)) & busy_;
      in_each(its, [&](int lane) { film_dries(lane, i); });
      changed |= its;
    };
    film(stem_left);
    film(bench_left);
    for (std::size_t k = 0; k < layers_; ++k) {
      for (std::size_t below = 0; below < 2; ++below) {
        Classes& classes = classes_[k][below];
        classes.were = L::select(accepted, classes.receding, classes.were);
        classes.lets_go = L::select(accepted, classes.let_go, classes.lets_go);
      }
    }
    unsigned dries = 0;
    on_each_side(
        [&](std::size_t k, std::size_t below) {
          return fit & (stage_[clock_of(k, below)] >= next_[k][below] * (1.0 - 1e-10));
        },
        [&](int lane, std::size_t k, std::size_t below) {
          pass_marks(lane, k, below);
          dries |= 1U << lane;
        });
    in_each(dries, [&](int lane) {
      if ((near_end >> lane & 1U) == 0 && progress_[lane].wet_classes > 0) return;
      find_dry(lane, false, [&](std::size_t k, double part) { note_dry(lane, k, part); });
    });
    in_each(changed | dries, [&](int lane) {
      const Progress& progress = progress_[lane];
      const Solution& solution = progress.solution;
      if (progress.wet_classes == 0 && solution.wet_time < infinity && solution.stem_wet_time < infinity) {
        follow_no_further(lane);
      }
    });
    in_each(L::bits_of(fit & bends) & busy_ & ~ended_, [&](int lane) {
      if (L::get(stage_[elapsed], lane) >= progress_[lane].event.last) follow_no_further(lane);
      else enter_segment(lane, progress_[lane].segment + 1);
    });
  }

  /// Makes where the step ended the state, in the lanes that accept it.
  void keep(const Mask& accepted, std::size_t entries) {
    for (std::size_t k = 0; k < layers_; ++k) {
      for (std::size_t below = 0; below < 2; ++below) {
        const std::size_t i = clock_of(k, below);
        const R at_start = k_[0][i] * span_;
        const R went = (ahead_[i] - y_[i]) * L::inverse(L::max(at_start, tiny));
        stretch_[k][below] = L::select(at_start > L::all(0.0), L::min(L::max(went, 0.5), 4.0), L::all(1.0));
        clock_rate_[k][below] = L::select(accepted, k_[stages - 1][i], k_[0][i]);
        Course &kept = kept_[k][below], &now = course_[k][below];
        kept.from = L::select(accepted, now.from, kept.from);
        kept.by_length = L::select(accepted, now.by_length, kept.by_length);
        for (int j = 0; j < moments; ++j) {
          kept.shell[j] = L::select(accepted, now.shell[j], kept.shell[j]);
          kept.disc[j] = L::select(accepted, now.disc[j], kept.disc[j]);
        }
        summed_[k][below] = L::select(accepted, to_[k][below], summed_[k][below]);
      }
    }
    for (std::size_t k = 0; k < layers_; ++k) {
      Leaf& leaf = leaf_[k];
      const std::size_t i = entry_of(k, warmth);
      const R rest = ahead_[i] + (leaf.end_warming - leaf.drift) * L::inverse(settling_[k]);
      const R took = ahead_[elapsed] - y_[elapsed];  // a scrap of a step does not tell how the rest moves
      const R drift =
          L::select(took * settling_[k] > L::all(0.01), (rest - leaf.rest) * L::inverse(took), R{});
      leaf.drift = L::select(accepted, drift, leaf.drift);
      leaf.settling = L::select(accepted, settling_[k], leaf.settling);
    }
    for (std::size_t i = 0; i < entries; ++i) y_[i] = L::select(accepted, stage_[i], y_[i]);
  }

  // ---- what one lane meets -------------------------------------------------------------------------------

  /// Where in the last step, as a share of it up to theta, a falling function is 0; it is above at 0 and not
  /// at theta, where it is `below`. Illinois' variant of the false position.
  template <class Function>
  static double falls_through(double theta, double below, Function function) {
    double from = 0.0, to = theta, above = function(from);
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
        if (value > -1e-13) break;  // of the water
        if (kept-- < 0) above *= 0.5;
      }
      kept = std::clamp(kept, -1, 1);
    }
    return to;
  }

  /// Base area of a drop, over the fresh one.
  static double base_area(const Event& event, double sigma) {
    return std::clamp(event.terms.at_release - sigma * event.terms.receding, 0.0, 1.0);
  }

  /// Water left on a layer, over that which came, with its clocks where they are: the sum over what is still
  /// wet.
  double water_left(const Progress& progress, std::size_t k, const double (&clocks)[2]) const {
    const Event& event = progress.event;
    double sum = 0.0;
    for (std::size_t below = 0; below < 2; ++below) {
      const Event::Side& side = event.side[k][below];
      for (std::size_t i = progress.dried[k][below]; i < side.count; ++i) {
        const double sigma = clocks[below] * side.classes[i].by_square;
        double share = 0.0;
        if (sigma < event.pinned) {
          share = Lanes<1>::polynomial(event.course_share, sigma / event.pinned);
        } else {
          const double square = base_area(event, sigma);
          share = event.receding_share * square * std::sqrt(square);
        }
        sum += side.classes[i].share * (share - event.solute[k]);
      }
    }
    return sum / (1.0 - event.solute[k]);
  }

  /// Hands a share of all water on to the house's air, or to the outside.
  void evaporate(int lane, double water) {
    const std::size_t into = L::get(terms_.answers, lane) > 0.0 ? house_vapour : carried_off;
    L::set(stage_[into], lane, L::get(stage_[into], lane) + water);
  }

  /// The water left in a lane along its last step, over that which came.
  struct Left {
    const Crops& crops;
    int lane;
    std::array<std::array<Dense, 2>, most_layers> clock;

    Left(const Crops& of, int its) : crops(of), lane(its) {
      for (std::size_t k = 0; k < of.layers_; ++k)
        clock[k] = {of.dense(clock_of(k, 0)), of.dense(clock_of(k, 1))};
    }
    double on_layer(std::size_t k, double part) const {
      return crops.water_left(crops.progress_[lane], k,
                              {clock[k][0].at(part, lane), clock[k][1].at(part, lane)});
    }
    double on_leaves(double part) const {
      double sum = 0.0;
      for (std::size_t k = 0; k < crops.layers_; ++k) {
        sum += crops.progress_[lane].event.layer[k].of_leaf_water * on_layer(k, part);
      }
      return sum;
    }
  };

  /// Calls `found` with each layer, or all leaves as the number of layers, that counts as dry at the end of
  /// the last step and did not before, and with the part of it at which it does.
  template <class Found>
  void find_dry(int lane, bool within_step, Found found) const {
    const Progress& progress = progress_[lane];
    const double theta = L::get(theta_, lane), share = progress.event.dry_share;
    const Left left(*this, lane);
    std::array<double, most_layers + 1> at_end{};
    for (std::size_t k = 0; k < layers_; ++k) {
      at_end[k] = left.on_layer(k, theta);
      at_end[layers_] += progress.event.layer[k].of_leaf_water * at_end[k];
    }
    for (std::size_t k = 0; k <= layers_; ++k) {
      const bool all = k == layers_;
      const double noted = all ? progress.solution.wet_time : progress.solution.layer_wet_time[k];
      if (noted < infinity || at_end[k] > share) continue;
      const auto above = [&](double part) {
        return (all ? left.on_leaves(part) : left.on_layer(k, part)) - share;
      };
      found(k, within_step ? falls_through(theta, at_end[k] - share, above) : theta);
    }
  }

  /// How far, about, the cubics of a step are from what they stand for, over it. What falls most is the
  /// radius of each side's next class to dry: see most_fall().
  double unlike_cubics(int lane) const {
    const Progress& progress = progress_[lane];
    double most = 0.0;
    for (std::size_t k = 0; k < layers_; ++k) {
      for (std::size_t below = 0; below < 2; ++below) {
        const Event::Side& side = progress.event.side[k][below];
        const std::size_t i = progress.dried[k][below], clock = clock_of(k, below);
        if (i == side.count) continue;
        const ClassTerms& drop = side.classes[i];
        const auto radius = [&](const State& y) {
          return std::sqrt(base_area(progress.event, L::get(y[clock], lane) * drop.by_square));
        };
        const double first = radius(y_), last = radius(ahead_);
        const double ratio = (first - last) / std::max(first + last, 1e-10);
        most = std::max(most, drop.weight * ratio * ratio * ratio * ratio);
      }
    }
    return most;
  }

  /// Calls `meet` with each of these lanes.
  template <class Meet>
  static void in_each(unsigned lanes, Meet meet) {
    for (; lanes != 0; lanes &= lanes - 1) meet(std::countr_zero(lanes));
  }
  /// Calls `meet` with each busy lane and side of which `those`, a mask, holds.
  template <class Those, class Meet>
  void on_each_side(Those those, Meet meet) {
    static_assert(2 * most_layers * Width <= 64);
    std::uint64_t marks = 0;
    for (std::size_t side = 0; side < 2 * layers_; ++side) {
      marks |= std::uint64_t{L::bits_of(those(side / 2, side % 2)) & busy_} << (side * Width);
    }
    for (; marks != 0; marks &= marks - 1) {
      const auto mark = static_cast<std::size_t>(std::countr_zero(marks));
      meet(static_cast<int>(mark % Width), mark / Width / 2, mark / Width % 2);
    }
  }
  void end(unsigned lanes) { ended_ |= lanes & busy_; }
  void follow_no_further(int lane) {
    progress_[lane].solution.followed = true;
    end(1U << lane);
  }

  /// Notes a layer, or all leaves, as dry from a part of the last step on.
  void note_dry(int lane, std::size_t k, double part) {
    Solution& solution = progress_[lane].solution;
    const double time =
        part < L::get(theta_, lane) ? dense(elapsed).at(part, lane) : L::get(stage_[elapsed], lane);
    if (k < layers_) {
      solution.layer_wet_time[k] = time;
      L::set(layer_goal_[k], lane, -infinity);
    } else {
      solution.wet_time = time;
      solution.wet_warmth = dense(warmth_sum).at(part, lane);
      L::set(goal_, lane, -infinity);
    }
  }

  /// Lets go of what a film still has once it counts as dry.
  void film_dries(int lane, std::size_t film) {
    const double rest = L::get(stage_[film], lane);
    L::set(stage_[film], lane, 0.0);
    if (film == stem_left) {
      progress_[lane].solution.stem_wet_time = L::get(stage_[elapsed], lane) - rest / by_time(lane, film);
    }
  }

  /// Rate of an entry where the step ended [1/s].
  double by_time(int lane, std::size_t i) const {
    const double first = L::get(k_[0][i], lane), last = L::get(k_[stages - 1][i], lane);
    return first + L::get(theta_, lane) * (last - first);
  }

  /// A side's clock when its next class dries out.
  static double next_dry(const Progress& progress, std::size_t k, std::size_t below) {
    const Event::Side& side = progress.event.side[k][below];
    const std::size_t i = progress.dried[k][below];
    return i < side.count ? progress.event.layer[k].dries * side.classes[i].square : infinity;
  }
  /// Moves on past classes that have dried out.
  void pass_marks(int lane, std::size_t k, std::size_t below) {
    Progress& progress = progress_[lane];
    const Event& event = progress.event;
    const Event::Side& side = event.side[k][below];
    const std::size_t clock = clock_of(k, below), left = entry_of(k, water);
    std::size_t& dried = progress.dried[k][below];
    const std::size_t released = dried + count(classes_[k][below].receding, lane);
    while (dried < side.count &&
           L::get(stage_[clock], lane) >= next_dry(progress, k, below) * (1.0 - 1e-10)) {
      const ClassTerms& drop = side.classes[dried++];
      double rest = gone * drop.share, wet = L::get(wet_part_[k], lane) - drop.share;
      const bool last_of_layer =
          progress.dried[k][0] + progress.dried[k][1] == event.side[k][0].count + event.side[k][1].count;
      if (last_of_layer) rest = L::get(stage_[left], lane), wet = 0.0;  // and what the steps' errors left
      L::set(wet_part_[k], lane, wet);
      L::set(stage_[left], lane, last_of_layer ? 0.0 : L::get(stage_[left], lane) - rest);
      evaporate(lane, rest * event.water_share[k]);
      if (--progress.wet_classes == 0) {
        progress.solution.last_drop_time =
            L::get(stage_[elapsed], lane) +
            event.last_moments[k] * gone / (event.last_flow[k] * by_time(lane, clock) * drop.by_square);
      }
    }
    if (dried == side.count) L::set(to_[k][below], lane, 0.0);  // nothing is left to sum up
    line_up(lane, k, below, std::max(released, dried));
    if (dried > released) pin(lane, k, below, dried);
  }

  /// After classes have dried out: those before `released` that recede, and the next to dry, into the lane.
  void line_up(int lane, std::size_t k, std::size_t below, std::size_t released) {
    const Progress& progress = progress_[lane];
    const Event::Side& side = progress.event.side[k][below];
    Classes& classes = classes_[k][below];
    const std::size_t dried = progress.dried[k][below];
    const bool wet = dried < side.count;
    load(lane, k, below, dried, std::max(released, dried + (wet ? 1 : 0)));
    L::set(classes.most_fall, lane, wet ? side.classes[dried].most_fall : 0.0);
    L::set(next_[k][below], lane, next_dry(progress, k, below));
    recede(lane, k, below, released);
    L::set(classes.were, lane, L::get(classes.receding, lane));
    L::set(classes.lets_go, lane, L::get(classes.let_go, lane));
  }
  void load(int lane, std::size_t k, std::size_t below, std::size_t from, std::size_t to) {
    const Progress& progress = progress_[lane];
    Classes& classes = classes_[k][below];
    for (std::size_t i = from; i < to; ++i) {
      const ClassTerms& drop = progress.event.side[k][below].classes[i];
      const std::size_t place = i - progress.dried[k][below];
      L::set(classes.square[place], lane, drop.square);
      L::set(classes.by_square[place], lane, drop.by_square);
      L::set(classes.shell[place], lane, drop.shell);
      L::set(classes.disc[place], lane, drop.disc);
    }
  }

  /// Which classes let go of their edge on the way of a step.
  void see_who_recedes() {
    on_each_side(
        [&](std::size_t k, std::size_t below) {
          const Classes& classes = classes_[k][below];
          return (to_[k][below] >= classes.lets_go) | (classes.receding != classes.were);
        },
        [&](int lane, std::size_t k, std::size_t below) {
          const Classes& classes = classes_[k][below];
          const std::size_t dried = progress_[lane].dried[k][below];
          const std::size_t before = dried + count(classes.receding, lane);
          std::size_t released = dried + count(classes.were, lane);
          while (L::get(to_[k][below], lane) >= release(lane, k, below, released)) ++released;
          if (released == before) return;
          load(lane, k, below, before, released);
          recede(lane, k, below, released);
          pin(lane, k, below, released);
        });
  }
  static std::size_t count(const R& number, int lane) {
    return static_cast<std::size_t>(L::get(number, lane));
  }
  /// A side's clock when its class `i` lets go of its edge.
  double release(int lane, std::size_t k, std::size_t below, std::size_t i) const {
    const Event& event = progress_[lane].event;
    const Event::Side& side = event.side[k][below];
    return i < side.count ? event.layer[k].lets_go * side.classes[i].square : infinity;
  }
  /// Takes note that the classes before `released` have let go of their edge where the step ends.
  void recede(int lane, std::size_t k, std::size_t below, std::size_t released) {
    Classes& classes = classes_[k][below];
    L::set(classes.receding, lane, static_cast<double>(released - progress_[lane].dried[k][below]));
    L::set(classes.let_go, lane, release(lane, k, below, released));
  }
  void pin(int lane, std::size_t k, std::size_t below, std::size_t from) {
    Classes& classes = classes_[k][below];
    const Event::Pinned& pinned = progress_[lane].event.side[k][below].pinned[from];
    for (std::size_t j = 0; j < course_terms; ++j) L::set(classes.pinned_shell[j], lane, pinned.shell[j]);
    L::set(classes.pinned_disc, lane, pinned.disc);
  }

  void enter_segment(int lane, std::size_t segment) {
    Progress& progress = progress_[lane];
    const Event& event = progress.event;
    const CropAir& air = *event.air;
    progress.segment = segment;
    const double from = air.time[segment], span = air.time[segment + 1] - from;
    const auto before = __builtin_bit_cast(std::array<double, columns>, air.state[segment]);
    const auto after = __builtin_bit_cast(std::array<double, columns>, air.state[segment + 1]);
    for (std::size_t i = 0; i < columns; ++i) {
      L::set(air_value_[i], lane, before[i]);
      L::set(air_slope_[i], lane, (after[i] - before[i]) / span);
    }
    L::set(segment_start_, lane, from - event.start);
    L::set(limit_, lane, std::min(air.time[segment + 1] - event.start, event.last));
  }

  void finish(int lane) {
    Progress& progress = progress_[lane];
    Solution& solution = progress.solution;
    for (std::size_t i = 0; i < most_entries; ++i) solution.state[i] = L::get(y_[i], lane);
    // of what is all but taken up the steps' errors may leave less than nothing
    const auto at_least_none = [&](std::size_t i) { solution.state[i] = std::max(0.0, solution.state[i]); };
    at_least_none(stem_remains);
    for (std::size_t k = 0; k < layers_; ++k) at_least_none(entry_of(k, remains));
    const Terms<double>& terms = progress.event.terms;
    for (const auto& [film, share] :
         {std::pair{stem_left, terms.stem_share}, {bench_left, terms.bench_share}}) {
      double& left = solution.state[film];
      left = left * left * left;
      solution.state[terms.answers > 0.0 ? house_vapour : carried_off] -= share * left;
    }
    solution.steps = static_cast<int>(L::get(steps_, lane));
    busy_ &= ~(1U << lane);
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
    if (!feed_.next(static_cast<std::size_t>(lane), event)) {
      L::set(trial_, lane, 0.0);  // an idle lane stands still
      for (auto& sides : classes_) {
        for (Classes& classes : sides) L::set(classes.receding, lane, 0.0);
      }
      return;
    }
    L::set(new_, lane, 1.0);
    busy_ |= 1U << lane;
    layers_ = event.layers;
    progress.solution = {};
    Solution& solution = progress.solution;
    solution.wet_time = solution.last_drop_time = solution.stem_wet_time = infinity;
    solution.layer_wet_time.fill(0.0);
    L::set(steps_, lane, 0.0);
    L::set(refused_, lane, 0.0);
    progress.wet_classes = 0;
    spread(event.terms, terms_, lane);
    spread(event.layer, layer_, lane);
    for (std::size_t i = 0; i < most_entries; ++i) L::set(y_[i], lane, event.state[i]);
    for (std::size_t k = 0; k < layers_; ++k) {
      bool wet = false;
      for (std::size_t below = 0; below < 2; ++below) {
        const Event::Side& side = event.side[k][below];
        progress.dried[k][below] = 0;
        line_up(lane, k, below, 0);
        pin(lane, k, below, 0);
        progress.wet_classes += side.count;
        wet = wet || side.count > 0;
        Course& kept = kept_[k][below];
        L::set(kept.from, lane, 0.0);
        L::set(kept.by_length, lane, 1.0);
        for (int j = 0; j < moments; ++j) {
          L::set(kept.shell[j], lane, j == 0 ? side.pinned[0].shell[0] : 0.0);
          L::set(kept.disc[j], lane, j == 0 ? side.pinned[0].disc : 0.0);
        }
        L::set(summed_[k][below], lane, 0.0);
        L::set(stretch_[k][below], lane, 1.0);
      }
      L::set(wet_part_[k], lane, wet ? 1.0 : 0.0);
      L::set(layer_goal_[k], lane, wet ? event.dry_share + 10.0 * event.terms.relative : -infinity);
      if (wet) solution.layer_wet_time[k] = infinity;
    }
    if (event.state[stem_left] <= 0.0) solution.stem_wet_time = 0.0;
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
  Progress progress_[Width];
  unsigned busy_ = 0, ended_ = 0;  // lanes that follow an event; those that have come to its end
  long evaluations_ = 0;
  R new_{};  // 1 in lanes that have just been filled
  std::size_t layers_ = 1;

  Terms<R> terms_{};
  std::array<LayerTerms<R>, most_layers> layer_{};
  Classes classes_[most_layers][2] = {};
  R air_value_[columns] = {}, air_slope_[columns] = {}, segment_start_{};
  R wet_part_[most_layers] = {};  // liquid of the layer's wet classes, over all of it
  Course course_[most_layers][2] = {}, kept_[most_layers][2] = {};  // of this step, and of the last accepted
  R to_[most_layers][2] = {}, summed_[most_layers][2] = {};         // the clocks where these end
  R clock_rate_[most_layers][2] = {},
    stretch_[most_layers][2] = {};           // at the state [1/s]; clocks' advance over what that tells
  R next_[most_layers][2] = {};              // the clock at the next mark
  R goal_{}, layer_goal_[most_layers] = {};  // near which the water left is looked at; -infinity once dry

  R steps_{}, refused_{};  // of the event; attempts at the present step

  State y_{}, stage_{}, ahead_{};
  State k_[stages] = {};  // rates by time; of warmth, of the part that is integrated
  R goes_[stages] = {};   // how far the step goes at each stage's pace [s]
  R over_{};              // the entry that the step is over, or -1 for time
  R h_{}, span_{};        // how far it goes: of that variable, and about in time [s]
  Mask meets_{};          // whether that is up to its next mark
  R trial_{}, retry_{};  // how long a step may be: by the error, and after one that was refused otherwise [s]
  R limit_{}, theta_{};  // where the weather bends [s]; the share of the step that is taken
  R settling_[most_layers] = {};  // of each leaf, as last evaluated [1/s]
  Leaf leaf_[most_layers] = {};
  R unfit_{};  // below 0 where the clocks do not hold
};

template <int Width>
long follow(Feed& feed, const Properties& properties) {
  return std::make_unique<Crops<Width>>(feed, properties)->run();  // too large for some threads' stacks
}

}  // namespace
}  // namespace WETSPAN_LANES_NAMESPACE

extern const Kernels WETSPAN_KERNELS;
static_assert(WETSPAN_WIDTH <= most_lanes);
const Kernels WETSPAN_KERNELS{follow<WETSPAN_WIDTH>, follow<1>};

}  // namespace wetspan::clocks
