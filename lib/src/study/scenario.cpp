#include "wetspan/study/scenario.hpp"

#include <algorithm>
#include <cmath>
#include <sstream>
#include <vector>

#include "../nearest.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/plant/canopy.hpp"
#include "wetspan/plant/uptake.hpp"

namespace wetspan {
namespace {

struct Access {
  double (*get)(const Scenario&);
  void (*set)(Scenario&, double);
};

std::vector<Access> collect() {
  std::vector<Access> access;
#define WETSPAN_ACCESS(type, name, standard, low, high, spread, unit, shown, grade, source, meaning) \
  access.push_back(                                                                                  \
      {[](const Scenario& scenario) { return static_cast<double>((scenario.*section).name); },       \
       [](Scenario& scenario, double value) { (scenario.*section).name = static_cast<type>(value); }});
#define WETSPAN_ACCESSES(member, Type, table, about)   \
  {                                                    \
    static constexpr auto section = &Scenario::member; \
    table(WETSPAN_ACCESS)                              \
  }
  WETSPAN_SECTIONS(WETSPAN_ACCESSES)
#undef WETSPAN_ACCESSES
#undef WETSPAN_ACCESS
  return access;
}

const std::vector<Access>& access() {
  static const std::vector<Access> rows = collect();
  return rows;
}

// kg/m3; a molecule weighs some 5e-25 kg, and so this is one in half a million m3. Of an amount near the
// smallest double, shares do not add up.
constexpr double faintest = 1e-30;
constexpr double finest_droplet = 1e-6;   // m, in diameter: finer is mist
constexpr double largest_droplet = 6e-3;  // m, in diameter: larger ones break up in flight
constexpr double most_stems = 20.0;  // m2 of stems over a m2 of crown; a bound for slips of unit (grade D)
// m/s; diffusion through the water before the cuticle is slower (grade D)
constexpr double most_permeance = 1e-4;

/// Throws for a spectrum with impossible droplets: finer than mist, or so large that they break up.
void check_sizes(const Scenario& scenario, double dv50, std::string_view key) {
  const auto sizes =
      spectrum(scenario.droplets.distribution, dv50, scenario.droplets.relative_span, scenario.droplets.bins)
          .diameter;
  if (sizes.front() >= finest_droplet && sizes.back() <= largest_droplet) return;
  std::ostringstream message;
  message << key << " = " << dv50 << " m with droplets.relative_span = " << scenario.droplets.relative_span
          << " gives droplets of " << sizes.front() * 1e6 << " to " << sizes.back() * 1e6
          << " um; they must lie within 1 and 6000 um, since larger ones break up in flight";
  throw InputError(message.str());
}

void require_input(std::size_t index) {
  if (index >= parameters().size())
    throw InputError("there is no input " + std::to_string(index) + "; the table has " +
                     std::to_string(parameters().size()));
}

/// Throws for a calendar that is not allowed.
void check_calendar(const Scenario& scenario) {
  constexpr double day = 86400.0;  // s
  double before = 0.0;
  for (const Treatment& each : scenario.applications) {
    std::ostringstream message;
    message << "an application " << each.at / day << " days after the start of growth ";
    if (!(each.at >= 0.0 && each.at < scenario.uptake.horizon)) {
      message << "does not lie between 0 and uptake.horizon, " << scenario.uptake.horizon / day << " days";
      throw InputError(message.str());
    }
    if (each.at < before) {
      message << "stands after one at " << before / day
              << " days: put applications in the order of their time";
      throw InputError(message.str());
    }
    before = each.at;
    for (const Treatment::Change& change : each.changes) {
      require_input(change.input);
      if (may_change(change.input)) continue;
      message << "changes " << key_of(parameters()[change.input])
              << ", which is the same for all applications of a scenario";
      throw InputError(message.str());
    }
  }
  const Applications all = applications_of(scenario);
  for (const Scenario& each : all.scenarios) check(each);
}

}  // namespace

Applications applications_of(const Scenario& scenario) {
  Applications all;
  Scenario plain = scenario;
  plain.applications.clear();
  if (scenario.applications.empty()) return {{std::move(plain)}, {0.0}};
  for (const Treatment& each : scenario.applications) {
    all.scenarios.push_back(plain);
    all.times.push_back(each.at);
    for (const Treatment::Change& change : each.changes) {
      set(all.scenarios.back(), change.input, change.value);
    }
  }
  return all;
}

bool may_change(std::size_t index) {
  static constexpr std::string_view sections[] = {
      "application", "nozzle", "liquid", "rewetting", "droplets", "canopy", "retention", "leaf", "stem"};
  if (index >= parameters().size()) return false;
  const Parameter& row = parameters()[index];
  return std::find(std::begin(sections), std::end(sections), row.section) != std::end(sections) &&
         key_of(row) != "canopy.layers";
}

std::size_t parameter_index(std::string_view key) {
  const auto rows = parameters();
  for (std::size_t i = 0; i < rows.size(); ++i) {
    if (key_of(rows[i]) == key) return i;
  }
  const std::size_t near = nearest(key, rows.size(), [&](std::size_t i) { return key_of(rows[i]); });
  throw InputError("unknown input '" + std::string(key) + "'; the nearest is '" + key_of(rows[near]) + "'");
}

double get(const Scenario& scenario, std::size_t index) {
  require_input(index);
  return access()[index].get(scenario);
}

void set(Scenario& scenario, std::size_t index, double value) {
  require_input(index);
  check(parameters()[index], value);
  access()[index].set(scenario, value);
}

void check(const Scenario& scenario) {
  const auto rows = parameters();
  for (std::size_t i = 0; i < rows.size(); ++i) check(rows[i], get(scenario, i));
  if (scenario.leaf.receding_angle > scenario.leaf.contact_angle) {
    throw InputError(
        "leaf.receding_angle is larger than leaf.contact_angle; a deposit recedes at the smaller one");
  }
  if (scenario.crop.initial_height >= scenario.crop.final_height) {
    throw InputError(
        "crop.initial_height is not below crop.final_height: the untreated check would not grow");
  }
  if (scenario.crop.base_temperature >= scenario.crop.optimum_temperature) {
    throw InputError(
        "crop.base_temperature is not below crop.optimum_temperature: the crop would not grow at any");
  }
  if (scenario.liquid.efflorescence > scenario.liquid.deliquescence) {
    throw InputError(
        "liquid.efflorescence is above liquid.deliquescence; a salt crystallises below where it dissolves");
  }
  if (scenario.house.enclosed && scenario.house.heating_temperature >= scenario.house.vent_temperature) {
    throw InputError(
        "house.heating_temperature is not below house.vent_temperature: it would heat with open vents");
  }
  check_sizes(scenario, scenario.droplets.dv50, "droplets.dv50");
  if (scenario.rewetting.volume_rate > 0.0) {
    check_sizes(scenario, scenario.rewetting.dv50, "rewetting.dv50");
  }
  const double concentration = scenario.application.concentration;
  if (concentration > 0.0 && concentration < faintest) {
    std::ostringstream message;
    message << "application.concentration = " << concentration
            << " kg/m^3 is less than a molecule in half a million m^3; give 0 for water alone";
    throw InputError(message.str());
  }
  if (!scenario.applications.empty()) check_calendar(scenario);
  pot_cover(scenario.canopy);  // throws when the pots do not fit
  const double stems = stem_area_index(scenario.canopy) / scenario.canopy.crown_cover;
  if (stems > most_stems) {
    std::ostringstream message;
    message << "canopy.plant_density, canopy.stem_area and canopy.crown_cover put " << stems
            << " m2 of stems over a m2 of crown; up to 20 is allowed";
    throw InputError(message.str());
  }
  const double permeance = cuticle_permeance(scenario.active.log_kow, scenario.active.molar_volume);
  if (permeance > most_permeance) {
    std::ostringstream message;
    message << "active.log_kow " << scenario.active.log_kow << " and active.molar_volume "
            << scenario.active.molar_volume << " m^3/mol would pass a cuticle at " << permeance
            << " m/s, faster than water could bring them to it: no molecule so small is so lipophilic";
    throw InputError(message.str());
  }
}

}  // namespace wetspan
