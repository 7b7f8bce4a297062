#include "wetspan/study/rates.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "wetspan/errors.hpp"

namespace wetspan {
namespace {

constexpr double nan = std::numeric_limits<double>::quiet_NaN();

/// A scenario whose concentrations are `factor` times as high.
Scenario times(const Scenario& scenario, std::size_t concentration, double factor) {
  Scenario changed = scenario;
  changed.application.concentration *= factor;
  for (Treatment& each : changed.applications) {
    for (Treatment::Change& change : each.changes) {
      if (change.input == concentration) change.value *= factor;
    }
  }
  return changed;
}

/// The largest concentration of a scenario's applications [kg/m3].
double strongest(const Scenario& scenario, std::size_t concentration) {
  double most = scenario.application.concentration;
  for (const Treatment& each : scenario.applications) {
    for (const Treatment::Change& change : each.changes) {
      if (change.input == concentration) most = std::max(most, change.value);
    }
  }
  return most;
}

}  // namespace

std::string_view name_of(RateForHeight::Reach reach) {
  switch (reach) {
    case RateForHeight::Reach::found:
      return "found";
    case RateForHeight::Reach::none_needed:
      return "none needed";
    case RateForHeight::Reach::too_late:
      return "not reachable";
    case RateForHeight::Reach::failed:
      return "failed";
  }
  return "";
}

std::vector<RateForHeight> rates_for_height(std::span<const Job> jobs, double wanted,
                                            const BatchOptions& options) {
  if (!(wanted > 0.0 && std::isfinite(wanted))) throw InputError("a wanted height is above 0 m");
  static const std::size_t concentration = parameter_index("application.concentration");
  const double allowed = parameters()[concentration].high;
  std::vector<RateForHeight> found(jobs.size());
  std::vector<double> low(jobs.size()), high(jobs.size());  // logs of the factors that enclose the one sought
  std::vector<std::size_t> open;
  const auto at = [&](const std::vector<std::size_t>& which, auto factor_of) {
    std::vector<Scenario> scenarios(which.size());
    std::vector<Job> asked;
    for (std::size_t i = 0; i < which.size(); ++i) {
      const Job& job = jobs[which[i]];
      scenarios[i] = times(*job.scenario, concentration, factor_of(which[i]));
      asked.push_back({&scenarios[i], job.air, job.start, job.weeks});
    }
    return simulate_all(asked, options);
  };
  for (std::size_t i = 0; i < jobs.size(); ++i) {
    const double most = strongest(*jobs[i].scenario, concentration);
    found[i].concentration = found[i].height = found[i].least_height = nan;
    if (!(most > 0.0)) {
      found[i].reason = "application.concentration is 0 everywhere: there is nothing to raise or to lower";
    } else if (jobs[i].scenario->crop.final_height <= wanted) {
      found[i].reach = RateForHeight::Reach::none_needed;
      found[i].concentration = 0.0, found[i].height = jobs[i].scenario->crop.final_height;
    } else {
      high[i] = std::log(allowed / most * (1.0 - 1e-12));
      low[i] = high[i] - std::log(1e12);
      open.push_back(i);
    }
  }
  Batch most = at(open, [&](std::size_t i) { return std::exp(high[i]); });
  std::vector<std::size_t> sought;
  for (std::size_t k = 0; k < open.size(); ++k) {
    RateForHeight& own = found[open[k]];
    if (!most.reasons[k].empty()) {
      own.reason = most.reasons[k];
      continue;
    }
    own.least_height = most.outcomes[k].growth.treated;
    own.reach = own.least_height <= wanted ? RateForHeight::Reach::found : RateForHeight::Reach::too_late;
    if (own.reach == RateForHeight::Reach::found) sought.push_back(open[k]);
  }
  // halving: 28 of a range of 1e12 leave 1e-7
  for (int round = 0; round < 28 && !sought.empty(); ++round) {
    const Batch middle = at(sought, [&](std::size_t i) { return std::exp(0.5 * (low[i] + high[i])); });
    for (std::size_t k = 0; k < sought.size(); ++k) {
      const std::size_t i = sought[k];
      const double here = 0.5 * (low[i] + high[i]), height = middle.outcomes[k].growth.treated;
      (height > wanted ? low[i] : high[i]) = here;
      found[i].height = height;
    }
  }
  for (const std::size_t i : sought) {
    found[i].concentration = jobs[i].scenario->application.concentration * std::exp(0.5 * (low[i] + high[i]));
  }
  return found;
}

Scenario as_drench(const Scenario& scenario, double volume) {
  if (!(volume > 0.0)) throw InputError("the volume of a drench is above 0 m3 for each plant");
  Scenario drench = scenario;
  drench.applications.clear();
  drench.application.method = Method::drench;
  drench.rewetting.volume_rate = 0.0;
  drench.application.volume_rate = volume * scenario.canopy.plant_density;
  check(drench);
  return drench;
}

AsDrench spray_as_drench(const Job& job, double volume) {
  const Scenario& spray = *job.scenario;
  if (spray.application.method != Method::spray || !spray.applications.empty()) {
    throw InputError("a spray as a drench wants a scenario of one spray, without a calendar");
  }
  const Scenario drench = as_drench(spray, volume);
  const Outcome outcome = simulate(spray, *job.air, job.start, false, job.weeks);
  // what reaches the substrate is there, taken up by roots, or lost from it when height is judged
  const Account& account = outcome.account;
  const double in_pot = (account.substrate + account.root + account.lost) * outcome.applied;
  const Job other{&drench, job.air, job.start, job.weeks};
  return {.same_amount = in_pot / volume,
          .same_control = rates_for_height({&other, 1}, outcome.growth.treated, {.threads = 1}).front()};
}

RateForHeight drench_as_spray(const Job& drench, const Scenario& spray) {
  if (spray.application.method != Method::spray) throw InputError("a drench as a spray wants a spray");
  const Outcome outcome = simulate(*drench.scenario, *drench.air, drench.start, false, drench.weeks);
  const Job other{&spray, drench.air, drench.start, drench.weeks};
  return rates_for_height({&other, 1}, outcome.growth.treated, {.threads = 1}).front();
}

}  // namespace wetspan
