#include "wetspan/study/rates.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

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

/// The search of the concentration for each job. All jobs are computed together, in one batch for each
/// concentration that is tried.
class Search {
 public:
  Search(std::span<const Job> jobs, std::span<const double> wanted, const BatchOptions& options)
      : jobs_(jobs),
        wanted_(wanted),
        options_(options),
        concentration_(parameter_index("application.concentration")),
        found_(jobs.size()),
        low_(jobs.size()),
        high_(jobs.size()) {
    const double allowed = parameters()[concentration_].high;
    for (std::size_t i = 0; i < jobs.size(); ++i) {
      const double most = strongest(*jobs[i].scenario, concentration_);
      found_[i].concentration = found_[i].height = found_[i].least_height = nan;
      if (!(most > 0.0)) {
        found_[i].reason = "application.concentration is 0 everywhere: there is nothing to raise or to lower";
      } else if (jobs[i].scenario->crop.final_height <= wanted[i]) {
        found_[i].reach = RateForHeight::Reach::none_needed;
        found_[i].concentration = 0.0, found_[i].height = jobs[i].scenario->crop.final_height;
      } else {
        high_[i] = std::log(allowed / most * (1.0 - rounding));
        low_[i] = high_[i] - std::log(range);
        sought_.push_back(i);
      }
    }
  }

  /// Drops the jobs whose plants stay too tall at the largest concentration.
  void try_largest() {
    const std::vector<std::size_t> tried = std::move(sought_);
    const Batch largest = at(tried, [&](std::size_t i) { return std::exp(high_[i]); });
    sought_.clear();
    for (std::size_t k = 0; k < tried.size(); ++k) {
      RateForHeight& own = found_[tried[k]];
      if (!largest.reasons[k].empty()) {
        own.reason = largest.reasons[k];
        continue;
      }
      own.least_height = largest.outcomes[k].growth.treated;
      const bool low_enough = own.least_height <= wanted_[tried[k]];
      own.reach = low_enough ? RateForHeight::Reach::found : RateForHeight::Reach::too_late;
      if (low_enough) sought_.push_back(tried[k]);
    }
  }

  /// Halves the bounds of every job that is still sought.
  void halve() {
    if (sought_.empty()) return;
    const Batch middle = at(sought_, [&](std::size_t i) { return std::exp(0.5 * (low_[i] + high_[i])); });
    for (std::size_t k = 0; k < sought_.size(); ++k) {
      const std::size_t i = sought_[k];
      const double here = 0.5 * (low_[i] + high_[i]), height = middle.outcomes[k].growth.treated;
      if (found_[i].reason.empty()) found_[i].reason = middle.reasons[k];
      (height > wanted_[i] ? low_[i] : high_[i]) = here;
      found_[i].height = height;
    }
  }

  std::vector<RateForHeight> result() {
    for (const std::size_t i : sought_) {
      if (found_[i].reason.empty()) {
        found_[i].concentration =
            jobs_[i].scenario->application.concentration * std::exp(0.5 * (low_[i] + high_[i]));
      } else {
        found_[i].reach = RateForHeight::Reach::failed;
        found_[i].height = nan;
      }
    }
    return std::move(found_);
  }

 private:
  /// Computes some jobs, their concentrations multiplied by factor_of(job).
  template <class FactorOf>
  Batch at(const std::vector<std::size_t>& which, FactorOf factor_of) const {
    std::vector<Scenario> scenarios(which.size());
    std::vector<Job> asked;
    for (std::size_t i = 0; i < which.size(); ++i) {
      const Job& job = jobs_[which[i]];
      scenarios[i] = times(*job.scenario, concentration_, factor_of(which[i]));
      asked.push_back({&scenarios[i], job.air, job.start, job.weeks});
    }
    return simulate_all(asked, options_);
  }

  std::span<const Job> jobs_;
  std::span<const double> wanted_;
  const BatchOptions& options_;
  std::size_t concentration_;  // position in parameters()
  std::vector<RateForHeight> found_;
  std::vector<double> low_, high_;   // bounds on the logarithm of the factor
  std::vector<std::size_t> sought_;  // jobs whose concentration is still between its bounds
};

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
  Search search(jobs, wanted, options);
  search.try_largest();
  for (int round = 0; round < halvings; ++round) search.halve();
  return search.result();
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
