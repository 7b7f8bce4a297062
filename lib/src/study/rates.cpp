#include "wetspan/study/rates.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <utility>

#include "../require.hpp"
#include "../root.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/plant/growth.hpp"
#include "wetspan/plant/substrate.hpp"
#include "wetspan/plant/uptake.hpp"

namespace wetspan {
namespace {

constexpr double nan = std::numeric_limits<double>::quiet_NaN();

/// The concentration is sought between the largest allowed and that divided by `range`.
constexpr double range = 1e12;
constexpr double rate_found = 1e-7;  // relative, of a concentration [1]
constexpr double rounding = 1e-12;   // [1]: keeps the largest rate that is tried within what is allowed
constexpr double half_amount_found = 1e-12;  // [1], of its logarithm

double logit(double share) { return std::log(share / (1.0 - share)); }

void require_complete(std::span<const Job> jobs) {
  for (const Job& job : jobs) {
    if (job.scenario == nullptr || job.air == nullptr) throw InputError("a job needs a scenario and an air");
  }
}

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

/// The search of one job's concentration, by the logarithm of the factor on all its concentrations. The
/// logit of growth control is nearly linear in it.
class RateSearch {
 public:
  RateSearch(const Job& job, double wanted, std::size_t concentration)
      : job_(&job), concentration_(concentration), wanted_(wanted) {
    const double untreated = job.scenario->crop.final_height;
    const double most = strongest(*job.scenario, concentration);
    found_.concentration = found_.height = found_.least_height = nan;
    if (!(most > 0.0)) {
      found_.reason = "application.concentration is 0 everywhere: there is nothing to raise or to lower";
    } else if (untreated <= wanted) {
      found_.reach = RateForHeight::Reach::none_needed;
      found_.concentration = 0.0, found_.height = untreated;
    } else {
      place_ = std::log(parameters()[concentration].high / most * (1.0 - rounding));
      wants_more_ = true;
    }
  }

  bool wants_more() const { return wants_more_; }
  Scenario scenario() const { return times(*job_->scenario, concentration_, std::exp(place_)); }

  /// Takes the result for scenario().
  void take(const Growth& growth, const std::string& reason) {
    if (!reason.empty()) return fail(reason);
    const double over = logit(growth.control) - logit(1.0 - wanted_ / growth.untreated);
    if (over >= 0.0) {
      found_.concentration = job_->scenario->application.concentration * std::exp(place_);
      found_.height = growth.treated;
    }
    search_ ? search_->take(place_, over) : begin(growth.treated, over);
    wants_more_ = search_ && search_->goes_on();
    if (wants_more_) place_ = search_->place();
  }

  RateForHeight result() && { return std::move(found_); }

 private:
  /// Begins with the result for the largest concentration.
  void begin(double height, double over) {
    found_.least_height = height;
    found_.reach = over >= 0.0 ? RateForHeight::Reach::found : RateForHeight::Reach::too_late;
    if (!(over >= 0.0)) return;
    const double none = -std::numeric_limits<double>::infinity();  // the logit without a product
    search_.emplace(
        Bracket<double>{.from = place_ - std::log(range), .to = place_, .at_from = none, .at_to = over},
        rate_found, true);
  }
  void fail(const std::string& reason) {
    found_.reason = reason;
    found_.reach = RateForHeight::Reach::failed;
    found_.concentration = found_.height = nan;
    wants_more_ = false;
  }

  const Job* job_;
  std::size_t concentration_;  // position in parameters()
  double wanted_, place_ = 0.0;
  bool wants_more_ = false;
  std::optional<Narrowing<Plain>> search_;
  RateForHeight found_;
};

/// Computes the next trial of every search that wants one, all in one batch; false if none does.
bool advance(std::vector<RateSearch>& searches, std::span<const Job> jobs, const BatchOptions& options) {
  std::vector<std::size_t> which;
  std::vector<Scenario> scenarios;
  for (std::size_t i = 0; i < searches.size(); ++i) {
    if (!searches[i].wants_more()) continue;
    which.push_back(i);
    scenarios.push_back(searches[i].scenario());
  }
  if (which.empty()) return false;
  std::vector<Job> trials;
  for (std::size_t k = 0; k < which.size(); ++k) {
    const Job& job = jobs[which[k]];
    trials.push_back({&scenarios[k], job.air, job.start, job.weeks});
  }
  const Batch results = simulate_all(trials, options);
  for (std::size_t k = 0; k < which.size(); ++k)
    searches[which[k]].take(results.outcomes[k].growth, results.reasons[k]);
  return true;
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
    require_above_zero("the wanted height [m]", height);
  }
  require_complete(jobs);
  std::vector<RateSearch> searches;
  for (std::size_t i = 0; i < jobs.size(); ++i)
    searches.emplace_back(jobs[i], wanted[i], parameter_index("application.concentration"));
  while (advance(searches, jobs, options)) {
  }
  std::vector<RateForHeight> found;
  for (RateSearch& search : searches) found.push_back(std::move(search).result());
  return found;
}

Scenario as_drench(const Scenario& scenario, double volume) {
  require_above_zero("the volume of a drench [m3 for each plant]", volume);
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
  require_complete(jobs);
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
    if (spray == nullptr || spray->application.method != Method::spray)
      throw InputError("a drench as a spray wants a spray");
  }
  return equivalents(jobs, simulate_all(jobs, options), sprays, options);
}

double half_amount_for(const Scenario& scenario, double volume, double concentration, double control) {
  check(scenario);
  check(parameters()[parameter_index("application.concentration")], concentration);
  require("growth control", control, 0.0, 1.0, "");
  const Placement placed = place(scenario.substrate, scenario.application.method, volume);
  Growing growing{.crop = scenario.crop,
                  .uptake = scenario.uptake,
                  .roots = root_rates(scenario.active, scenario.uptake, scenario.substrate)};
  growing.roots.up *= placed.availability;
  constexpr Applied at_start;
  const Arrival arrival{.substrate = placed.held * volume * concentration};
  const auto too_strong = [&](double log_amount) {
    growing.crop.half_amount = std::exp(log_amount);
    return logit(grow(growing, {&at_start, 1}, {&arrival, 1}).control) - logit(control);
  };
  // growth control falls as the half amount rises
  static const Parameter& row = parameters()[parameter_index("crop.half_amount")];
  const double least = std::log(row.low), most = std::log(row.high);
  const Bracket<double> bounds{least, most, too_strong(least), too_strong(most)};
  if (!(bounds.at_from >= 0.0 && bounds.at_to <= 0.0)) return nan;
  return std::exp(narrowed(bounds, half_amount_found, too_strong).to);
}

}  // namespace wetspan
