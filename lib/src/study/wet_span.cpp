#include "wetspan/study/wet_span.hpp"

// Boost 1.74's dense output needs the stepper's header before its own.
#include <boost/numeric/odeint/stepper/runge_kutta_dopri5.hpp>

#include <boost/numeric/odeint/stepper/controlled_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/dense_output_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/generation.hpp>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <numbers>
#include <sstream>
#include <tuple>

#include "wetspan/errors.hpp"
#include "wetspan/plant/canopy.hpp"
#include "wetspan/plant/drying.hpp"
#include "wetspan/plant/leaf.hpp"
#include "wetspan/plant/uptake.hpp"
#include "wetspan/properties/water.hpp"

namespace wetspan {
namespace {

using std::numbers::pi;
using State = std::vector<double>;

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr double gone = 1e-4;           // share of a class at which what is left is let go at once
constexpr double longest_step = 600.0;  // s: no step jumps over a change of the weather
constexpr int most_steps = 100'000;

// The state vector; every entry is of order one.
enum Entry : std::size_t {
  leaf_warmth,   // (leaf temperature - air temperature at the start) / 10 K
  house_heat,    // house temperature added by the spray / 10 K
  house_vapour,  // vapour added to the house's air, over the liquid that can evaporate
  carried_off,   // vapour carried off by ventilation or condensed on the cover, likewise
  leaf_taken,    // active ingredient taken up, over that on leaves
  stem_taken,    // likewise on stems
  stem_left,     // liquid left on stems, over landed
  bench_left,    // liquid left on the bench, over landed
  first_class    // liquid left in each class, upper side then lower, over landed in the class
};
constexpr double warmth_unit = 10.0;

/// The coupled equations of one wet span; everything per area of bench is in m3/m2 = m of liquid.
struct Equations {
  const Scenario& scenario;
  const CropAir& air;
  double start, base_temperature;
  double leaves, stems;               // leaf and stem area per area of bench [1]
  double bench_area;                  // where liquid lies, per area of bench [1]
  double on_leaf, on_stem, on_bench;  // liquid landed per area of bench [m]
  double view;
  bool house_answers;
  std::vector<DropletClass> classes;  // upper side, then lower
  std::size_t lower;                  // index of the first class on the lower side
  std::vector<bool> wet;              // classes not yet dried out

  Equations(const Scenario& s, const Spectrum& spectrum, const Split& split, const CropAir& record, double t0)
      : scenario(s),
        air(record),
        start(t0),
        base_temperature(record.at(t0).temperature),
        leaves(leaf_area_index(s.canopy)),
        stems(stem_area_index(s.canopy)),
        bench_area(1.0 - pot_cover(s.canopy)),
        on_leaf(split.leaf * s.application.volume_rate),
        on_stem(split.stem * s.application.volume_rate),
        on_bench(bench_area > 0.0 ? split.bench * s.application.volume_rate : 0.0),
        view(outward_view(s.canopy)),
        house_answers(s.house.enclosed && s.house.sprayed_share > 0.0) {
    const double per_leaf = on_leaf / leaves, underleaf = s.retention.underleaf;
    classes = deposit(spectrum, per_leaf * (1.0 - underleaf), s.leaf.contact_angle, s.leaf.receding_angle);
    lower = classes.size();
    const auto below = deposit(spectrum, per_leaf * underleaf, s.leaf.contact_angle, s.leaf.receding_angle);
    classes.insert(classes.end(), below.begin(), below.end());
    wet.assign(classes.size(), true);
  }

  double liquid() const { return on_leaf + on_stem + on_bench; }
  double per_bench(std::size_t i) const { return leaves * classes[i].landed; }

  /// Air as the spray has left it.
  AirState air_at(const State& y, double t) const {
    AirState now = air.at(start + t);
    if (!house_answers) return now;
    const double record_vapour = air::vapour_density(now.vapour_pressure, now.temperature);
    now.temperature += warmth_unit * y[house_heat];
    const double vapour = record_vapour + added_vapour(y);
    now.vapour_pressure = std::max(0.0, air::vapour_pressure_from_density(vapour, now.temperature));
    return now;
  }
  /// Vapour density added to the house's air [kg/m3].
  double added_vapour(const State& y) const {
    return y[house_vapour] * liquid() * liquid_density() * scenario.house.sprayed_share /
           scenario.house.height;
  }
  double liquid_density() const { return water::density(std::clamp(base_temperature, 273.15, 323.15)); }

  double leaf_temperature(const State& y) const { return base_temperature + warmth_unit * y[leaf_warmth]; }

  /// Liquid on leaves, over landed [1].
  double leaf_left(const State& y) const {
    double sum = 0.0;
    for (std::size_t i = 0; i < classes.size(); ++i) sum += y[first_class + i] * per_bench(i);
    return sum / on_leaf;
  }

  double wet_share_of(const State& y, std::size_t from, std::size_t to) const {
    double discs = 0.0;
    for (std::size_t i = from; i < to; ++i) {
      if (!wet[i]) continue;
      const double radius = cap(classes[i], y[first_class + i]).radius;
      discs += classes[i].number * pi * radius * radius;
    }
    return wet_share(discs);
  }

  void operator()(const State& y, State& dy, double t) const {
    const AirState now = air_at(y, t);
    const double temperature = leaf_temperature(y);
    const double air_vapour = air::vapour_density(now.vapour_pressure, now.temperature);
    const double surface_pressure = air::saturation_pressure(temperature);
    const double deficit = air::vapour_density(surface_pressure, temperature) - air_vapour;
    const double latent = water::latent_heat(temperature);
    const double diffusivity = air::vapour_diffusivity(0.5 * (temperature + now.temperature), now.pressure,
                                                       scenario.air.diffusivity);
    const double density = liquid_density();
    const auto layers = boundary_layers(temperature, surface_pressure, now, scenario.leaf.width,
                                        scenario.leaf.turbulence, scenario.air.diffusivity);

    // droplets on both sides, each class through its own diffusion shell, all through the side's boundary
    // layer
    double evaporation = 0.0, wet_landed = 0.0, film_left = 0.0, wet_area = 0.0;
    double lower_wet_share = 0.0;
    for (const bool below : {false, true}) {
      const std::size_t from = below ? lower : 0, to = below ? classes.size() : lower;
      const double layer = below ? layers.lower.vapour : layers.upper.vapour;
      double shells = 0.0, discs = 0.0;
      for (std::size_t i = from; i < to; ++i) {
        double& rate = dy[first_class + i];
        rate = 0.0;
        if (!wet[i]) continue;
        const DropletClass& droplets = classes[i];
        const Cap shape = cap(droplets, y[first_class + i]);
        const double conductance =
            droplets.number * pi * shape.radius * diffusivity * evaporation_factor(shape.half_tangent);
        shells += conductance;
        discs += droplets.number * pi * shape.radius * shape.radius;
        rate = -conductance / (density * droplets.landed);
        wet_landed += droplets.landed;
        film_left += droplets.landed * std::max(0.0, y[first_class + i]);
      }
      const double limiter = layer > 0.0 ? layer / (layer + shells) : 0.0;
      for (std::size_t i = from; i < to; ++i) dy[first_class + i] *= limiter * deficit;
      evaporation += shells * limiter * deficit;
      wet_area += wet_share(discs);
      if (below) lower_wet_share = wet_share(discs);
    }

    const double sun = absorbed_shortwave(now.shortwave, scenario.leaf, scenario.canopy);
    const double stomata = stomatal_conductance(sun, scenario.leaf) * (1.0 - lower_wet_share);
    const double series =
        stomata > 0.0 ? stomata * layers.lower.vapour / (stomata + layers.lower.vapour) : 0.0;
    const double transpiration = series * std::max(0.0, deficit);
    const double gain = sun + longwave(temperature, now, view, scenario.leaf.emissivity) -
                        (layers.upper.heat + layers.lower.heat) * (temperature - now.temperature) -
                        latent * (evaporation + transpiration);
    const double capacity =
        scenario.leaf.heat_capacity + water::specific_heat(base_temperature) * density * film_left;
    dy[leaf_warmth] = gain / capacity / warmth_unit;

    // stems and bench: films that take their heat from the air
    const auto stem_layer = boundary_layers(now.temperature, now.vapour_pressure, now, scenario.stem.diameter,
                                            scenario.leaf.turbulence, scenario.air.diffusivity)
                                .upper;
    const double stem_cover = film_share(y[stem_left]);
    const double stem_rate =
        on_stem > 0.0 ? stem_cover * stems * adiabatic_evaporation(now, stem_layer) : 0.0;
    dy[stem_left] = on_stem > 0.0 ? -stem_rate / (density * on_stem) : 0.0;

    const double to_heat = air::density(now.temperature, now.vapour_pressure, now.pressure) *
                           air::specific_heat(air::humidity_ratio(now.vapour_pressure, now.pressure));
    const Conductance bench_layer{.heat = scenario.house.bench_conductance * to_heat,
                                  .vapour = scenario.house.bench_conductance};
    const double bench_rate =
        on_bench > 0.0 ? film_share(y[bench_left]) * bench_area * adiabatic_evaporation(now, bench_layer)
                       : 0.0;
    dy[bench_left] = on_bench > 0.0 ? -bench_rate / (density * on_bench) : 0.0;

    // the house: vapour from all that dries, heat taken for it; per area of bench
    const double source = leaves * evaporation + stem_rate + bench_rate, total = liquid() * density;
    if (house_answers) {
      const House& house = scenario.house;
      const double added = added_vapour(y), ventilated = now.air_changes * y[house_vapour];
      const double cover = air::saturation_vapour_density(now.radiant_temperature);
      const double condensed =
          house.cover_conductance / house.sprayed_share / total *
          (std::max(0.0, air_vapour - cover) - std::max(0.0, air_vapour - added - cover));
      dy[house_vapour] = source / total - ventilated - condensed;
      dy[carried_off] = ventilated + condensed;
      const double loss = house.heat_loss + now.air_changes * house.height * to_heat;
      dy[house_heat] =
          (-latent * source * house.sprayed_share / warmth_unit - loss * y[house_heat]) / house.heat_capacity;
    } else {
      dy[house_vapour] = dy[house_heat] = 0.0;
      dy[carried_off] = source / total;
    }

    // uptake: the dissolved part of what wet deposits carry, through what they cover
    const double concentration = scenario.application.concentration;
    const double saturated = solubility(scenario.active, temperature);
    const double through = permeance(scenario.active, scenario.uptake, temperature);
    const auto taking = [&](double landed, double left, double taken, double cover, double permeability) {
      if (concentration <= 0.0 || left <= 0.0) return 0.0;
      const double mass = concentration * landed * (1.0 - taken);
      return permeability * cover * dissolved(mass, left, saturated) / concentration;
    };
    dy[leaf_taken] = on_leaf > 0.0
                         ? taking(wet_landed, film_left, y[leaf_taken], wet_area, through) * leaves / on_leaf
                         : 0.0;
    dy[stem_taken] = on_stem > 0.0 ? taking(on_stem / stems, y[stem_left] * on_stem / stems, y[stem_taken],
                                            stem_cover, through * scenario.uptake.stem_cuticle) *
                                         stems / on_stem
                                   : 0.0;
  }

  static double film_share(double left) {
    if (left <= 0.0) return 0.0;
    const double root = std::cbrt(left);
    return std::min(1.0, root * root);
  }

  /// How long the last `gone` of a liquid would take at its present `rate`: dv/dt is steady for a pinned
  /// edge, goes as v^(1/3) for a receding one and as v^(2/3) for a film.
  double last_moments(std::size_t entry, const State& rate) const {
    if (rate[entry] >= 0.0) return 0.0;
    const double slowing = entry < first_class                            ? 3.0
                           : gone < classes[entry - first_class].receding ? 1.5
                                                                          : 1.0;
    return slowing * gone / -rate[entry];
  }

  /// Largest departure of the liquid's account from what landed, over it.
  double imbalance(const State& y) const {
    double sum =
        y[stem_left] * on_stem + y[bench_left] * on_bench + (y[house_vapour] + y[carried_off]) * liquid();
    for (std::size_t i = 0; i < classes.size(); ++i) sum += y[first_class + i] * per_bench(i);
    return sum / liquid() - 1.0;
  }
};

/// The last moment in [from, to] at which `before` still holds, by halving; it holds at `from`, not at `to`.
template <class Predicate>
double locate(double from, double to, Predicate before) {
  for (int i = 0; i < 60 && to - from > 1e-12 * to; ++i) {
    const double middle = 0.5 * (from + to);
    (before(middle) ? from : to) = middle;
  }
  return to;
}

[[noreturn]] void give_up(const Equations& equations, const State& y, double t, const std::string& reason) {
  std::ostringstream message;
  message << "the wet span could not be followed beyond " << t << " s after the spray (" << reason
          << "): leaf at " << equations.leaf_temperature(y) << " K, " << equations.leaf_left(y)
          << " of the landed liquid left; look at droplets.dv50, air.speed and numerics.tolerance first";
  throw IntegrationError(message.str());
}

}  // namespace

std::string_view name_of(Status status) {
  switch (status) {
    case Status::dry:
      return "dry";
    case Status::wet_at_end:
      return "wet at end";
    case Status::nothing_wet:
      return "nothing wet";
    case Status::failed:
      return "failed";
  }
  return "";
}

WetSpan wet_span(const Scenario& scenario, const Spectrum& landed, const Split& split, const CropAir& air,
                 double start, bool keep_history) {
  if (!(start >= air.time.front() && start < air.time.back())) {
    std::ostringstream message;
    message << "the spray at " << start << " s is not within the air record, " << air.time.front() << " to "
            << air.time.back() << " s";
    throw InputError(message.str());
  }
  WetSpan result;
  Equations equations(scenario, landed, split, air, start);
  if (equations.on_leaf <= 0.0) return result;  // a drench

  // a leaf in balance with its air, wetted by liquid at the air's wet bulb
  const AirState first = air.at(start);
  const double dry_leaf =
      dry_leaf_temperature(scenario.leaf, scenario.canopy, first, scenario.air.diffusivity);
  const double wet_bulb = air::wet_bulb(first.temperature, first.vapour_pressure, first.pressure);
  const double film = water::specific_heat(first.temperature) * equations.liquid_density() *
                      equations.on_leaf / equations.leaves;
  const double mixed =
      (scenario.leaf.heat_capacity * dry_leaf + film * wet_bulb) / (scenario.leaf.heat_capacity + film);

  State y(first_class + equations.classes.size(), 0.0);
  y[leaf_warmth] = (mixed - first.temperature) / warmth_unit;
  y[stem_left] = equations.on_stem > 0.0 ? 1.0 : 0.0;
  y[bench_left] = equations.on_bench > 0.0 ? 1.0 : 0.0;
  std::fill(y.begin() + first_class, y.end(), 1.0);

  const double last = std::min(air.time.back() - start, scenario.numerics.longest);
  const double tolerance = scenario.numerics.tolerance;
  result.wet_share = equations.wet_share_of(y, 0, equations.lower);
  result.wet_time = result.last_drop_time = infinity;
  result.stem_wet_time = equations.on_stem > 0.0 ? infinity : 0.0;

  double warmth_integral = 0.0, previous_time = 0.0, previous_temperature = mixed;
  const auto note = [&](const State& now, double t) {
    const double temperature = equations.leaf_temperature(now);
    warmth_integral += 0.5 * (t - previous_time) * (temperature + previous_temperature);
    previous_time = t, previous_temperature = temperature;
    if (!keep_history) return;
    const AirState house = equations.air_at(now, t);
    History& history = result.history;
    history.time.push_back(t);
    history.leaf_temperature.push_back(temperature);
    history.air_temperature.push_back(house.temperature);
    history.relative_humidity.push_back(air::relative_humidity(house.vapour_pressure, house.temperature));
    history.leaf_water.push_back(equations.leaf_left(now));
    history.stem_water.push_back(now[stem_left]);
    history.wet_share.push_back(equations.wet_share_of(now, 0, equations.lower));
    history.leaf_uptake.push_back(now[leaf_taken]);
    history.stem_uptake.push_back(now[stem_taken]);
  };
  note(y, 0.0);

  namespace odeint = boost::numeric::odeint;
  auto stepper = odeint::make_dense_output(0.1 * tolerance, tolerance, longest_step,
                                           odeint::runge_kutta_dopri5<State>());
  double t = 0.0, trial_step = 1e-2;
  stepper.initialize(y, t, trial_step);
  State inside(y.size()), rate(y.size());
  const auto at = [&](double when) -> const State& {
    stepper.calc_state(when, inside);
    return inside;
  };

  // the entries that dry out: leaf classes, stems, bench
  std::vector<std::size_t> liquids{stem_left, bench_left};
  for (std::size_t i = 0; i < equations.classes.size(); ++i) liquids.push_back(first_class + i);
  std::erase_if(liquids, [&](std::size_t entry) { return y[entry] <= 0.0; });

  bool finished = false;
  while (!finished) {
    if (++result.steps > most_steps) give_up(equations, y, t, "too many steps");
    double from = 0.0, to = 0.0;
    try {
      std::tie(from, to) = stepper.do_step(std::ref(equations));
    } catch (const std::exception& error) {
      give_up(equations, y, t, error.what());
    }
    const State& ahead = stepper.current_state();
    if (!std::all_of(ahead.begin(), ahead.end(), [](double value) { return std::isfinite(value); })) {
      give_up(equations, y, t, "a value is not finite");
    }

    // the earliest drying-out within the step, if any
    double until = std::min(to, last);
    std::size_t dried = 0;
    for (const std::size_t entry : liquids) {
      if (ahead[entry] >= gone) continue;
      const double moment = locate(from, to, [&](double when) { return at(when)[entry] >= gone; });
      if (moment < until) until = moment, dried = entry;
    }
    y = until < to ? at(until) : ahead;
    if (result.wet_time == infinity && equations.leaf_left(y) < scenario.numerics.dry_share) {
      result.wet_time = locate(from, until, [&](double when) {
        return equations.leaf_left(at(when)) >= scenario.numerics.dry_share;
      });
    }
    t = until;
    note(y, t);

    if (dried != 0) {
      equations(y, rate, t);
      const double left = dried == stem_left    ? equations.on_stem
                          : dried == bench_left ? equations.on_bench
                                                : equations.per_bench(dried - first_class);
      y[equations.house_answers ? house_vapour : carried_off] += y[dried] * left / equations.liquid();
      y[dried] = 0.0;
      std::erase(liquids, dried);
      if (dried >= first_class) equations.wet[dried - first_class] = false;
      if (dried == stem_left) result.stem_wet_time = t + equations.last_moments(dried, rate);
      if (std::none_of(equations.wet.begin(), equations.wet.end(), std::identity())) {
        if (result.last_drop_time == infinity)
          result.last_drop_time = t + equations.last_moments(dried, rate);
        finished = result.stem_wet_time < infinity;
      }
      trial_step = std::max(1e-3, 0.1 * (to - from));
      stepper.initialize(y, t, trial_step);
    }
    finished = finished || t >= last;
  }

  result.status =
      result.wet_time < infinity && result.stem_wet_time < infinity ? Status::dry : Status::wet_at_end;
  result.end = t;
  result.leaf_uptake = y[leaf_taken];
  result.stem_uptake = y[stem_taken];
  result.mean_leaf_temperature = t > 0.0 ? warmth_integral / t : mixed;
  result.end_temperature = equations.leaf_temperature(y);
  result.water_balance = equations.imbalance(y);
  return result;
}

}  // namespace wetspan
