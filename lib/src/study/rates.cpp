#include "wetspan/study/rates.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "wetspan/errors.hpp"

namespace wetspan {
namespace {

constexpr double nan = std::numeric_limits<double>::quiet_NaN();

/// The concentration is found by bisection between the largest allowed and that divided by `range`. This
/// number of halvings gives a relative precision of 1e-7.
constexpr double range = 1e12;
constexpr int halvings = 28;
constexpr double rounding = 1e-12;  // [1]: keeps the largest rate that is tried within what is allowed

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

/// Finds, for every job that could be computed, the concentration of the other method that gives its height.
std::vector<Equivalent> equivalents(std::span<const Job> jobs, const Batch& now,
                                    std::span<const Scenario* const> others, const BatchOptions& options) {
  std::vector<Equivalent> told(jobs.size());
  std::vector<Job> sought;
  std::vector<double> heights;
  std::vector<std::size_t> computed;
  for (std::size_t i = 0; i < jobs.size(); ++i) {
    const Growth& growth = now.outcomes[i].growth;
    told[i] = {.control = growth.control, .same_amount = nan, .same_control = {}};
    told[i].same_control.reason = now.reasons[i];
    if (!now.reasons[i].empty()) continue;
    sought.push_back({others[i], jobs[i].air, jobs[i].start, jobs[i].weeks});
    heights.push_back(growth.treated);
    computed.push_back(i);
  }
  std::vector<RateForHeight> found = rates_for_height(sought, heights, options);
  for (std::size_t k = 0; k < computed.size(); ++k) told[computed[k]].same_control = std::move(found[k]);
  return told;
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
  return rates_for_height(jobs, std::vector<double>(jobs.size(), wanted), options);
}

std::vector<RateForHeight> rates_for_height(std::span<const Job> jobs, std::span<const double> wanted,
                                            const BatchOptions& options) {
  if (wanted.size() != jobs.size()) throw InputError("rates want a height for each job");
  for (const double height : wanted) {
    if (!(height > 0.0 && std::isfinite(height))) throw InputError("a wanted height is above 0 m");
  }
  static const std::size_t concentration = parameter_index("application.concentration");
  const double allowed = parameters()[concentration].high;
  std::vector<RateForHeight> found(jobs.size());
  std::vector<double> low(jobs.size()), high(jobs.size());  // bounds on the logarithm of the factor
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
    } else if (jobs[i].scenario->crop.final_height <= wanted[i]) {
      found[i].reach = RateForHeight::Reach::none_needed;
      found[i].concentration = 0.0, found[i].height = jobs[i].scenario->crop.final_height;
    } else {
      high[i] = std::log(allowed / most * (1.0 - rounding));
      low[i] = high[i] - std::log(range);
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
    own.reach =
        own.least_height <= wanted[open[k]] ? RateForHeight::Reach::found : RateForHeight::Reach::too_late;
    if (own.reach == RateForHeight::Reach::found) sought.push_back(open[k]);
  }
  for (int round = 0; round < halvings && !sought.empty(); ++round) {
    const Batch middle = at(sought, [&](std::size_t i) { return std::exp(0.5 * (low[i] + high[i])); });
    for (std::size_t k = 0; k < sought.size(); ++k) {
      const std::size_t i = sought[k];
      const double here = 0.5 * (low[i] + high[i]), height = middle.outcomes[k].growth.treated;
      if (found[i].reason.empty()) found[i].reason = middle.reasons[k];
      (height > wanted[i] ? low[i] : high[i]) = here;
      found[i].height = height;
    }
  }
  for (const std::size_t i : sought) {
    if (!found[i].reason.empty()) {
      found[i].reach = RateForHeight::Reach::failed;
      found[i].height = nan;
      continue;
    }
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

std::vector<Equivalent> sprays_as_drenches(std::span<const Job> jobs, double volume,
                                           const BatchOptions& options) {
  std::vector<Scenario> drenches;
  std::vector<const Scenario*> others;
  drenches.reserve(jobs.size());
  for (const Job& job : jobs) {
    if (job.scenario->application.method != Method::spray || !job.scenario->applications.empty()) {
      throw InputError("a spray as a drench wants a scenario of one spray, without a calendar");
    }
    others.push_back(&drenches.emplace_back(as_drench(*job.scenario, volume)));
  }
  const Batch now = simulate_all(jobs, options);
  std::vector<Equivalent> told = equivalents(jobs, now, others, options);
  for (std::size_t i = 0; i < jobs.size(); ++i) {
    // when height is judged the amount applied to the substrate is in it, taken up by roots, or lost from it
    const Account& account = now.outcomes[i].account;
    told[i].same_amount =
        (account.substrate + account.root + account.lost) * now.outcomes[i].applied / volume;
  }
  return told;
}

std::vector<Equivalent> drenches_as_sprays(std::span<const Job> jobs, std::span<const Scenario* const> sprays,
                                           const BatchOptions& options) {
  if (sprays.size() != jobs.size()) throw InputError("drenches as sprays want a spray for each");
  for (const Scenario* spray : sprays) {
    if (spray->application.method != Method::spray) throw InputError("a drench as a spray wants a spray");
  }
  return equivalents(jobs, simulate_all(jobs, options), sprays, options);
}

}  // namespace wetspan
