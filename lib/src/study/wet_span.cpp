#include "wetspan/study/wet_span.hpp"

// Boost 1.74's dense output needs the stepper's header before its own.
#include <boost/numeric/odeint/stepper/runge_kutta_dopri5.hpp>

#include <boost/numeric/odeint/algebra/vector_space_algebra.hpp>
#include <boost/numeric/odeint/external/eigen/eigen_resize.hpp>
#include <boost/numeric/odeint/stepper/controlled_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/dense_output_runge_kutta.hpp>

#include <Eigen/Core>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <limits>
#include <numbers>
#include <sstream>
#include <tuple>

#include "unchecked.hpp"
#include "wet_crop.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/plant/uptake.hpp"
#include "wetspan/properties/constants.hpp"
#include "wetspan/properties/water.hpp"

namespace wetspan {
namespace {

using std::numbers::pi;
using State = Eigen::VectorXd;
namespace odeint = boost::numeric::odeint;

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr double longest_step = 600.0;  // s: no step jumps over a change of the weather
constexpr int most_steps = 200'000;

/// Share taken up, of the entry that keeps it: -ln of the share that is left, since what is left decays.
double share_taken(double entry) { return -std::expm1(-entry); }

double film_share(double left) {
  if (left <= 0.0) return 0.0;
  const double root = std::cbrt(left);
  return std::min(1.0, root * root);
}

/// Largest error of a step over what is allowed, odeint's usual measure; a step to a value that is not finite
/// is refused.
struct StepError {
  using value_type = double;
  using algebra_type = odeint::vector_space_algebra;
  using operations_type = odeint::default_operations;

  double absolute, relative;

  double error(const algebra_type&, const State& y, const State& rate, const State& errors, double dt) const {
    const auto allowed = absolute + relative * (y.array().abs() + std::abs(dt) * rate.array().abs());
    const double largest = (errors.array().abs() / allowed).maxCoeff();
    return errors.allFinite() ? largest : infinity;
  }
};
using Controlled = odeint::controlled_runge_kutta<
    odeint::runge_kutta_dopri5<State, double, State, double, odeint::vector_space_algebra>, StepError>;

// a class settles when its water is within this share of its balance with the air around it, or this near to
// it, over what landed; beyond four times that it moves again
constexpr double settles_within = 0.02, settles_near = 3e-5;

/// The coupled equations of one wet span; everything per area of bench is in m3/m2 = m of water.
class Equations : public WetCrop {
 public:
  using WetCrop::WetCrop;

  bool settles() const {
    return std::any_of(layers.begin(), layers.end(),
                       [](const Layer& layer) { return layer.hygroscopicity > 0.0; });
  }

  double temperature(const Layer& layer, const State& y) const {
    return base_temperature + warmth_unit * y[layer.warmth];
  }

  /// Air as the spray has left it.
  AirState air_at(const State& y, double t) const {
    AirState now = air.at(start + t);
    now.speed = std::max(now.speed, stillest);
    if (!house_answers) return now;
    const double vapour = air::vapour_density(now.vapour_pressure, now.temperature) + added_vapour(y);
    now.temperature += warmth_unit * y[house_heat];
    now.vapour_pressure = std::max(0.0, air::vapour_pressure_from_density(vapour, now.temperature));
    return now;
  }
  /// Vapour density added to the house's air [kg/m3].
  double added_vapour(const State& y) const {
    return y[house_vapour] * came * density * scenario.house.sprayed_share / scenario.house.height;
  }

  /// Sprayed water and dew on a layer, per area of bench [m].
  double water_on(const Layer& layer, const State& y) const {
    double sum = y[layer.dew] * dew_unit() * layer.area;
    for (std::size_t i = 0; i < layer.classes.size(); ++i) sum += y[layer.entry(i)] * layer.per_bench(i);
    return sum;
  }

  /// Water that a layer would keep in balance with its air, per area of bench [m]; infinite at saturation.
  double settled_water(const Layer& layer, const State& y, const AirState& now) const {
    if (layer.hygroscopicity <= 0.0) return 0.0;
    const double humidity = air::vapour_density(now.vapour_pressure, now.temperature) /
                            air::saturation_vapour_density(temperature(layer, y));
    return humidity < 1.0 ? layer.water * layer.hygroscopicity * humidity / (1.0 - humidity) : infinity;
  }

  double wet_share_of(const Layer& layer, const State& y) const {
    double discs = 0.0;
    for (std::size_t i = 0; i < layer.lower; ++i) {
      if (layer.state[i] == Wetness::dried) continue;
      const double radius = cap(layer.classes[i], layer.volume(y[layer.entry(i)])).radius;
      discs += layer.classes[i].number * pi * radius * radius;
    }
    return wet_share(discs);
  }

  void operator()(const State& y, State& dy, double t) const {
    const AirState now = air_at(y, t);
    dy[carried_off] = 0.0;  // what drips off leaves
    double source = 0.0;    // evaporation per area of bench [kg/m2/s]
    for (const Layer& layer : layers) source += follow_leaf(layer, now, y, dy);

    // stems and bench: films that take their heat from the air
    const double to_heat = air::density(now.temperature, now.vapour_pressure, now.pressure) *
                           air::specific_heat(air::humidity_ratio(now.vapour_pressure, now.pressure));
    const Conductance stem_layer = cylinder_layer(now, scenario.stem.diameter, scenario.air.diffusivity);
    const Conductance bench_layer{.heat = scenario.house.bench_conductance * to_heat,
                                  .vapour = scenario.house.bench_conductance};
    const auto film = [&](Entry left, double area, double water, Conductance layer) {
      dy[left] = 0.0;
      if (water <= 0.0 || y[left] <= 0.0) return 0.0;
      const double rate = area * film_share(y[left]) * adiabatic_evaporation(now, layer);
      dy[left] = -rate / (density * water);
      return rate;
    };
    source += film(stem_left, stems, on_stem, stem_layer);
    source += film(bench_left, bench_area, on_bench, bench_layer);

    // the house: vapour from all that dries, heat taken for it
    const double total = came * density;
    dy[house_vapour] = dy[house_heat] = 0.0;
    if (!house_answers) {
      dy[carried_off] += source / total;
    } else {
      const House& house = scenario.house;
      const double vapour = air::vapour_density(now.vapour_pressure, now.temperature);
      const double cover = air::saturation_vapour_density(now.radiant_temperature);
      const double condensed =
          house.cover_conductance / house.sprayed_share / total *
          (std::max(0.0, vapour - cover) - std::max(0.0, vapour - added_vapour(y) - cover));
      const double leaving = now.air_changes * y[house_vapour] + condensed;
      dy[carried_off] += leaving;
      dy[house_vapour] = source / total - leaving;
      const double loss = house.heat_loss + now.air_changes * house.height * to_heat;
      dy[house_heat] = (-water::latent_heat(now.temperature) * source * house.sprayed_share / warmth_unit -
                        loss * y[house_heat]) /
                       house.heat_capacity;
    }

    dy[stem_taken] = 0.0;
    if (stem_active > 0.0) {
      const double saturated = solubility(scenario.active, now.temperature);
      const double through =
          permeance(scenario.active, scenario.uptake, now.temperature) * scenario.uptake.stem_cuticle;
      const double wet = film_share(y[stem_left]);
      dy[stem_taken] = uptake_rate(through, saturated, stem_active / stems, on_stem / stems, 1.0,
                                   y[stem_taken], wet, wet, on_stem / stems * y[stem_left]);
    }
  }

  /// Rate of uptake over what is left on a surface [1/s]: of the share `reached` by `water` [m] over the area
  /// `wet_area` [1] in solution, of the rest as dry residue, which gives as the fresh mass on its cover did.
  /// `fresh` [kg/m2] came in `liquid` [m] over `cover` [1]; `taken` is the state's entry.
  double uptake_rate(double through, double saturated, double fresh, double liquid, double cover,
                     double taken, double reached, double wet_area, double water) const {
    double rate = 0.0;
    if (cover > 0.0 && liquid > 0.0) {
      rate = (1.0 - reached) * residue_rate(through, dissolved(fresh, liquid, saturated), fresh / cover,
                                            scenario.uptake.wet_to_dry);
    }
    if (reached > 0.0 && water > 0.0) {
      const double mass = fresh * std::exp(-taken) * reached;
      rate += through * wet_area * reached * (mass < saturated * water ? 1.0 / water : saturated / mass);
    }
    return rate;
  }

  /// Departure of the water's account from what came, over it.
  double imbalance(const State& y) const {
    double sum =
        y[stem_left] * on_stem + y[bench_left] * on_bench + (y[house_vapour] + y[carried_off]) * came;
    for (const Layer& layer : layers) sum += water_on(layer, y);
    return (sum - delivered) / came;
  }

  /// How long the last of a liquid would take at its present `rate`: dv/dt is steady for a pinned edge, goes
  /// as v^(1/3) for a receding one and as v^(2/3) for a film.
  static double last_moments(double left, double rate, bool receding, bool film) {
    return rate < 0.0 ? (film ? 3.0 : receding ? 1.5 : 1.0) * left / -rate : 0.0;
  }

 private:
  /// Sets the rates of one leaf layer; returns its evaporation per area of bench [kg/m2/s].
  double follow_leaf(const Layer& layer, const AirState& above, const State& y, State& dy) const {
    AirState now = above;
    now.speed *= layer.air_speed;
    const double leaf = temperature(layer, y);
    const double surface_pressure = air::saturation_pressure(leaf);
    const double saturated = air::vapour_density(surface_pressure, leaf);
    const double vapour = air::vapour_density(now.vapour_pressure, now.temperature);
    const double diffusivity =
        air::vapour_diffusivity(0.5 * (leaf + now.temperature), now.pressure, scenario.air.diffusivity);
    const auto sides = boundary_layers(leaf, surface_pressure, now, scenario.leaf.width,
                                       scenario.leaf.turbulence, scenario.air.diffusivity);

    const double dew_cover = film_share(y[layer.dew]), deficit = saturated - vapour;
    double evaporation = 0.0, dew = 0.0;  // per leaf area [kg/m2/s]
    double wet_area = 0.0, lower_bare = 1.0;
    double landed = 0.0, dissolving = 0.0;  // per leaf area [m]
    // leaves hold no more than their store: what condenses on full ones drips off
    double water = 0.0, solute = 0.0, dripping = 0.0;
    for (std::size_t i = 0; i < layer.classes.size(); ++i) {
      if (layer.state[i] == Wetness::dried) continue;
      water += layer.classes[i].landed * (1.0 - layer.solute) * std::max(0.0, y[layer.entry(i)]);
      solute += layer.classes[i].landed * layer.solute;
    }
    const double dew_water = std::max(0.0, y[layer.dew]) * dew_unit();
    const double full = (water + solute + dew_water) / scenario.retention.leaf_store;
    for (const bool below : {false, true}) {
      const std::size_t from = below ? layer.lower : 0, to = below ? layer.classes.size() : layer.lower;
      const double through = below ? sides.lower.vapour : sides.upper.vapour;
      double shells = 0.0, drive = 0.0, discs = 0.0;
      for (std::size_t i = from; i < to; ++i) {
        const DropletClass& droplets = layer.classes[i];
        double& rate = dy[layer.entry(i)];
        rate = 0.0;
        landed += droplets.landed;
        if (layer.state[i] == Wetness::dried) continue;
        const double left = y[layer.entry(i)];
        const Cap shape = cap(droplets, layer.volume(left));
        const double shell = droplets.number * pi * shape.radius * diffusivity * shape.factor;
        discs += droplets.number * pi * shape.radius * shape.radius;
        dissolving += droplets.landed;
        if (layer.state[i] == Wetness::settled) continue;
        shells += shell;
        drive += shell * layer.activity(left) * saturated;
        rate = shell;
      }
      const double outside =
          shells + through > 0.0 ? (drive + through * vapour) / (shells + through) : vapour;
      for (std::size_t i = from; i < to; ++i) {
        if (layer.state[i] != Wetness::active) continue;
        const double flux = dy[layer.entry(i)] * (layer.activity(y[layer.entry(i)]) * saturated - outside);
        const double drips = flux < 0.0 ? -flux * full : 0.0;
        dy[layer.entry(i)] = -(flux + drips) / (density * layer.classes[i].landed * (1.0 - layer.solute));
        evaporation += flux, dripping += drips;
      }
      // what droplets leave bare: dew condenses on it, or dries from where it lies
      const double covered = wet_share(discs), bare = 1.0 - covered;
      dew += through * bare * (deficit < 0.0 ? deficit : dew_cover * deficit);
      wet_area += covered + bare * dew_cover;
      if (below) lower_bare = bare * (1.0 - dew_cover);
    }
    const double drips = dew < 0.0 ? -dew * full : 0.0;
    dy[layer.dew] = -(dew + drips) / (density * dew_unit());
    dripping += drips;
    dy[carried_off] += layer.area * dripping / (came * density);
    evaporation += dew;

    const double sun = now.shortwave * scenario.leaf.absorptance * layer.light;
    const double stomata = stomatal_conductance(sun, scenario.leaf) * lower_bare;
    const double series = stomata > 0.0 ? stomata * sides.lower.vapour / (stomata + sides.lower.vapour) : 0.0;
    const double latent = water::latent_heat(leaf);
    const double gain = sun + longwave(leaf, now, layer.views, scenario.leaf.emissivity) -
                        (sides.upper.heat + sides.lower.heat) * (leaf - now.temperature) -
                        latent * (evaporation + series * std::max(0.0, deficit));
    const double capacity =
        scenario.leaf.heat_capacity + water::specific_heat(base_temperature) * density * (water + dew_water);
    dy[layer.warmth] = gain / capacity / warmth_unit;

    // uptake: the dissolved part of what wet deposits and dew reach, through what they cover; slowly from the
    // rest
    dy[layer.taken] = 0.0;
    if (layer.active > 0.0) {
      const double reached =
          landed > 0.0 ? dissolving / landed + (1.0 - dissolving / landed) * dew_cover : dew_cover;
      dy[layer.taken] = uptake_rate(permeance(scenario.active, scenario.uptake, leaf),
                                    solubility(scenario.active, leaf), layer.active / layer.area, landed,
                                    layer.cover, y[layer.taken], reached, wet_area, water + dew_water);
    }
    return layer.area * evaporation;
  }
};

/// The moment in [from, to] from which `before` no longer holds, by halving; it holds at `from`, not at `to`.
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
          << "): leaf at " << equations.temperature(equations.layers.front(), y)
          << " K; look at air.speed, leaf.heat_capacity, droplets.dv50 and numerics.tolerance first";
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

std::string_view name_of(Path path) { return path == Path::clock ? "clock" : "reference"; }

WetSpan wet_span(const Scenario& scenario, const Load& load, const CropAir& air, double start,
                 const Following& following, bool keep_history) {
  check(scenario);
  check(air);
  check_start(air, start);
  check_load(load, scenario);
  if (std::isnan(following.at_least) || std::isnan(following.at_most)) {
    throw InputError("how long to follow a wet span is not a number");
  }
  return unchecked::wet_span(scenario, load, air, start, following, keep_history);
}

WetSpan unchecked::wet_span(const Scenario& scenario, const Load& load, const CropAir& air, double start,
                            const Following& following, bool keep_history) {
  WetSpan result;
  Equations equations(scenario, load, air, start);
  std::vector<Layer>& layers = equations.layers;
  if (equations.leaf_water <= 0.0 && following.at_least <= 0.0) {  // a drench
    result.left = load;
    result.layer_wet_time.assign(layers.size(), 0.0);
    return result;
  }

  State y = State::Zero(static_cast<Eigen::Index>(equations.size));
  const std::vector<double> temperatures = equations.first_temperatures(load);
  for (std::size_t k = 0; k < layers.size(); ++k) {
    const Layer& layer = layers[k];
    y[layer.warmth] = (temperatures[k] - equations.base_temperature) / warmth_unit;
    y[layer.dew] = load.layers[k].dew / (equations.dew_unit() * layer.area);
    std::fill_n(y.begin() + static_cast<std::ptrdiff_t>(layer.first), layer.classes.size(), 1.0);
  }
  y[stem_left] = equations.on_stem > 0.0 ? 1.0 : 0.0;
  y[bench_left] = equations.on_bench > 0.0 ? 1.0 : 0.0;
  y[house_heat] = load.air_heat / warmth_unit;
  y[equations.house_answers ? house_vapour : carried_off] = equations.in_air / equations.came;

  const double last = std::min({air.time.back() - start, scenario.numerics.longest, following.at_most});
  const double dry_share = scenario.numerics.dry_share;
  result.wet_share = equations.wet_share_of(layers.front(), y);
  for (const Layer& layer : layers) result.cover += layer.cover / static_cast<double>(layers.size());
  result.wet_time = result.last_drop_time = equations.leaf_water > 0.0 ? infinity : 0.0;
  result.stem_wet_time = equations.on_stem > 0.0 ? infinity : 0.0;
  for (const Layer& layer : layers) result.layer_wet_time.push_back(layer.water > 0.0 ? infinity : 0.0);

  const auto is_wet = [&](const State& now, double t) {
    const AirState house = equations.air_at(now, t);
    double excess = 0.0;
    for (const Layer& layer : layers) {
      excess += std::max(0.0, equations.water_on(layer, now) - equations.settled_water(layer, now, house));
    }
    return excess > dry_share * (equations.leaf_water > 0.0 ? equations.leaf_water : equations.dew_unit());
  };
  const auto layer_wet = [&](const Layer& layer, const State& now, double t) {
    return equations.water_on(layer, now) - equations.settled_water(layer, now, equations.air_at(now, t)) >
           dry_share * layer.water;
  };

  double warmth_integral = 0.0, previous_time = 0.0;
  double previous_temperature = equations.temperature(layers.front(), y);
  bool was_wet = is_wet(y, 0.0);
  // to a moment of the present step, `halfway` since the moment before; integrals by Simpson's rule
  const auto note = [&](const State& now, const State& halfway, double t, bool wet) {
    const double temperature = equations.temperature(layers.front(), now), span = t - previous_time;
    const double middle = equations.temperature(layers.front(), halfway);
    const auto mean = [&](auto value) {
      return (value(previous_temperature) + 4.0 * value(middle) + value(temperature)) / 6.0;
    };
    warmth_integral += span * mean([](double warm) { return warm; });
    if (was_wet) {
      result.wet_duration += span;
      result.degree_seconds +=
          span * mean([](double warm) { return std::max(0.0, warm - constants::zero_celsius); });
    }
    previous_time = t, previous_temperature = temperature, was_wet = wet;
    if (!keep_history) return;
    const AirState house = equations.air_at(now, t);
    double water = 0.0, taken = 0.0;
    for (const Layer& layer : layers) {
      water += equations.water_on(layer, now);
      taken += layer.active * share_taken(now[layer.taken]);
    }
    History& history = result.history;
    history.time.push_back(t);
    history.leaf_temperature.push_back(temperature);
    history.air_temperature.push_back(house.temperature);
    history.relative_humidity.push_back(air::relative_humidity(house.vapour_pressure, house.temperature));
    history.leaf_water.push_back(equations.leaf_water > 0.0 ? water / equations.leaf_water : 0.0);
    history.stem_water.push_back(now[stem_left]);
    history.wet_share.push_back(equations.wet_share_of(layers.front(), now));
    history.leaf_uptake.push_back(equations.leaf_active > 0.0 ? taken / equations.leaf_active : 0.0);
    history.stem_uptake.push_back(share_taken(now[stem_taken]));
  };
  note(y, y, 0.0, was_wet);

  const double tolerance = scenario.numerics.tolerance;
  odeint::dense_output_runge_kutta<Controlled> stepper(Controlled(
      StepError{0.1 * tolerance, tolerance}, odeint::default_step_adjuster<double, double>(longest_step)));
  double t = 0.0, trial_step = 1e-2;
  stepper.initialize(y, t, trial_step);
  State inside(y.size()), middle(y.size()), rate(y.size());
  const auto at = [&](double when) -> const State& {
    stepper.calc_state(when, inside);
    return inside;
  };

  // what can dry out
  struct Drying {
    std::size_t entry;
    Layer* layer;   // null for stems and bench
    std::size_t i;  // class in the layer
    double water;   // per area of bench when it came [m]
    double limit;   // share at which it counts as dried out
  };
  std::vector<Drying> drying;
  if (equations.on_stem > 0.0) drying.push_back({stem_left, nullptr, 0, equations.on_stem, gone});
  if (equations.on_bench > 0.0) drying.push_back({bench_left, nullptr, 0, equations.on_bench, gone});
  for (Layer& layer : layers) {
    // what stays a solution never dries out
    const double limit =
        layer.hygroscopicity > 0.0 && scenario.liquid.efflorescence <= 0.0 ? -1.0 : layer.dries_at;
    for (std::size_t i = 0; i < layer.classes.size(); ++i) {
      drying.push_back({layer.entry(i), &layer, i, layer.per_bench(i), limit});
    }
  }
  std::vector<Drying> crystals;  // dried classes of a salt, which may take up water again
  const auto humidity_at = [&](const Layer& layer, const State& now, double when) {
    const AirState house = equations.air_at(now, when);
    return air::vapour_density(house.vapour_pressure, house.temperature) /
           air::saturation_vapour_density(equations.temperature(layer, now));
  };
  // whether a class wants another state
  const auto changes = [&](const Drying& liquid, const State& now, double when) {
    if (liquid.layer == nullptr || liquid.layer->hygroscopicity <= 0.0) return false;
    const double humidity = humidity_at(*liquid.layer, now, when);
    const double balance =
        humidity < 1.0 ? liquid.layer->hygroscopicity * humidity / (1.0 - humidity) : infinity;
    const double apart = std::abs(now[liquid.entry] - balance);
    const double near = std::max(settles_within * balance, settles_near);
    switch (liquid.layer->state[liquid.i]) {
      case Wetness::active:
        return humidity < 1.0 && now[liquid.entry] > 0.0 && apart < near;
      case Wetness::settled:
        return humidity >= 1.0 || apart > 4.0 * near;
      case Wetness::dried:
        return liquid.layer->deliquesces && humidity > scenario.liquid.deliquescence;
    }
    return false;
  };

  while (t < last) {
    if (++result.steps > most_steps) give_up(equations, y, t, "too many steps");
    double from = 0.0, to = 0.0;
    try {
      std::tie(from, to) = stepper.do_step(std::ref(equations));
    } catch (const std::exception& error) {
      give_up(equations, y, t, error.what());
    }
    const State& ahead = stepper.current_state();
    if (!std::all_of(ahead.begin(), ahead.end(), [](double value) { return std::isfinite(value); })) {
      // a step so long that it left the range of the equations, which the error estimate cannot see
      trial_step = 0.1 * (to - from);
      if (trial_step < 1e-9) give_up(equations, y, t, "a value is not finite");
      stepper.initialize(y, t, trial_step);
      continue;
    }

    // the earliest drying-out, or wetting again, within the step
    double until = std::min(to, last);
    const Drying* dried = nullptr;
    const Drying* changed = nullptr;
    for (const Drying& liquid : drying) {
      if (ahead[liquid.entry] >= liquid.limit) continue;
      const double moment =
          locate(from, to, [&](double when) { return at(when)[liquid.entry] >= liquid.limit; });
      if (moment < until) until = moment, dried = &liquid;
    }
    for (const auto* liquids : {&drying, &crystals}) {
      for (const Drying& liquid : *liquids) {
        if (!changes(liquid, ahead, to)) continue;
        const double moment = locate(from, to, [&](double when) { return !changes(liquid, at(when), when); });
        if (moment < until) until = moment, dried = nullptr, changed = &liquid;
      }
    }
    y = until < to ? at(until) : ahead;
    const bool wet = is_wet(y, until);
    if (wet != was_wet) {
      const double moment =
          locate(from, until, [&](double when) { return is_wet(at(when), when) == was_wet; });
      if (result.wet_time == infinity && !wet) result.wet_time = moment;
      stepper.calc_state(0.5 * (previous_time + moment), middle);
      note(at(moment), middle, moment, wet);
    }
    for (std::size_t k = 0; k < layers.size(); ++k) {
      if (result.layer_wet_time[k] < infinity || layer_wet(layers[k], y, until)) continue;
      result.layer_wet_time[k] =
          locate(from, until, [&](double when) { return layer_wet(layers[k], at(when), when); });
    }
    t = until;
    stepper.calc_state(0.5 * (previous_time + t), middle);
    note(y, middle, t, wet);

    const std::size_t exchange = equations.house_answers ? house_vapour : carried_off;
    if (dried != nullptr) {
      const Drying liquid = *dried;
      equations(y, rate, t);
      const bool receding = liquid.layer != nullptr && liquid.layer->solute <= 0.0 &&
                            y[liquid.entry] < liquid.layer->classes[liquid.i].receding;
      const double rest =
          Equations::last_moments(y[liquid.entry], rate[liquid.entry], receding, liquid.layer == nullptr);
      y[exchange] += y[liquid.entry] * liquid.water / equations.came;
      y[liquid.entry] = 0.0;
      std::erase_if(drying, [&](const Drying& other) { return other.entry == liquid.entry; });
      if (liquid.layer != nullptr) {
        liquid.layer->state[liquid.i] = Wetness::dried;
        if (liquid.layer->deliquesces) crystals.push_back(liquid);
        const bool any = std::any_of(layers.begin(), layers.end(), [](const Layer& layer) {
          return std::any_of(layer.state.begin(), layer.state.end(),
                             [](Wetness state) { return state != Wetness::dried; });
        });
        if (!any && result.last_drop_time == infinity) result.last_drop_time = t + rest;
      }
      if (liquid.entry == stem_left) result.stem_wet_time = t + rest;
      // where leaves count as dry with less than what was let go
      if (was_wet && !is_wet(y, t)) was_wet = false, result.wet_time = std::min(result.wet_time, t);
      for (std::size_t k = 0; k < layers.size(); ++k) {
        if (!layer_wet(layers[k], y, t)) result.layer_wet_time[k] = std::min(result.layer_wet_time[k], t);
      }
    }
    if (changed != nullptr) {
      const Drying liquid = *changed;
      Wetness& state = liquid.layer->state[liquid.i];
      if (state == Wetness::dried) {
        y[liquid.entry] = 1.01 * std::max(liquid.limit, gone);  // a first film, from the air
        y[exchange] -= y[liquid.entry] * liquid.water / equations.came;
        std::erase_if(crystals, [&](const Drying& other) { return other.entry == liquid.entry; });
        drying.push_back(liquid);
      }
      state = state == Wetness::active ? Wetness::settled : Wetness::active;
    }
    if (dried != nullptr || changed != nullptr) {
      trial_step = std::max(1e-3, 0.3 * (to - from));
      stepper.initialize(y, t, trial_step);
    }
    const bool droplets_done =
        result.last_drop_time < infinity || (equations.settles() && result.wet_time < infinity);
    if (t >= following.at_least && droplets_done && result.wet_time < infinity &&
        result.stem_wet_time < infinity)
      break;
  }

  const bool dry = result.wet_time < infinity && result.stem_wet_time < infinity;
  result.status = equations.leaf_water <= 0.0 ? Status::nothing_wet : dry ? Status::dry : Status::wet_at_end;
  if (equations.settles() && result.last_drop_time == infinity) result.last_drop_time = result.wet_time;
  result.end = t;
  result.mean_leaf_temperature = t > 0.0 ? warmth_integral / t : previous_temperature;
  result.end_temperature = equations.temperature(layers.front(), y);
  result.water_balance = equations.imbalance(y);
  result.stem_uptake = share_taken(y[stem_taken]);
  for (std::size_t k = 0; k < layers.size(); ++k) {
    const Layer& layer = layers[k];
    if (equations.leaf_active > 0.0)
      result.leaf_uptake += layer.active * share_taken(y[layer.taken]) / equations.leaf_active;
    double liquid = load.layers[k].liquid * layer.solute;
    for (std::size_t i = 0; i < layer.classes.size(); ++i) {
      liquid += y[layer.entry(i)] * layer.per_bench(i);
    }
    // what does not evaporate stays, in ever less liquid
    const double strength = liquid > 0.0 ? load.layers[k].strength * load.layers[k].liquid / liquid : 1.0;
    result.left.layers.push_back({.liquid = liquid,
                                  .strength = strength,
                                  .active = layer.active * std::exp(-y[layer.taken]),
                                  .dew = y[layer.dew] * equations.dew_unit() * layer.area,
                                  .temperature = equations.temperature(layer, y),
                                  .droplets = load.layers[k].droplets});
  }
  result.left.stem_liquid = y[stem_left] * equations.on_stem;
  result.left.stem_active = equations.stem_active * std::exp(-y[stem_taken]);
  result.left.bench_liquid = y[bench_left] * equations.on_bench;
  result.left.air_vapour = equations.house_answers ? y[house_vapour] * equations.came : 0.0;
  result.left.air_heat = warmth_unit * y[house_heat];
  return result;
}

}  // namespace wetspan
