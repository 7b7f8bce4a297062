#include "wetspan/study/day.hpp"

#include <algorithm>
#include <limits>
#include <string>
#include <utility>

#include "wetspan/errors.hpp"
#include "wetspan/study/outcomes.hpp"
#include "wetspan/study/residue.hpp"
#include "wetspan/study/simulate.hpp"

namespace wetspan {
namespace {

constexpr std::size_t scenario_count = 3;  // as it is, and at both ends of the residue

/// What a row has at each time, for one scenario after the other.
template <class Value>
std::vector<Value> for_each_scenario(std::span<const Value> at_each_time) {
  std::vector<Value> all;
  for (std::size_t i = 0; i < scenario_count; ++i)
    all.insert(all.end(), at_each_time.begin(), at_each_time.end());
  return all;
}

/// The first `count` rows of a table.
RowTable first_rows(RowTable table, std::size_t count) {
  for (std::size_t i = 0; i < outcome_variables().size(); ++i) {
    const auto column = table.values.begin() + static_cast<std::ptrdiff_t>(i * table.count);
    std::copy_n(column, count, table.values.begin() + static_cast<std::ptrdiff_t>(i * count));
  }
  table.values.resize(outcome_variables().size() * count);
  for (auto* codes : {&table.status, &table.path, &table.refusal}) codes->resize(count);
  table.count = count;
  return table;
}

}  // namespace

Day compare_times(const Scenario& scenario, std::span<const CropAir* const> airs,
                  std::span<const std::uint64_t> air_of, std::span<const double> starts,
                  const BatchOptions& options, const Weeks& weeks, std::span<const double> delays) {
  if (starts.empty()) throw InputError("compare_times wants a time of spraying or more");
  if (airs.empty()) throw InputError("compare_times wants an air record");
  const std::size_t times = starts.size();
  for (const std::size_t size : {air_of.size(), weeks.of.size(), delays.size()}) {
    if (size != 0 && size != times) throw InputError("compare_times wants one entry for each time");
  }
  const ResidueEnds ends = residue_ends(scenario);
  std::vector<std::uint64_t> scenario_of;
  for (std::size_t i = 0; i < scenario_count; ++i) scenario_of.insert(scenario_of.end(), times, i);
  const auto all_starts = for_each_scenario(starts), all_delays = for_each_scenario(delays);
  const auto all_air_of = for_each_scenario(air_of), weeks_of = for_each_scenario(weeks.of);
  Rows rows{.count = scenario_count * times,
            .scenarios = {&scenario, &ends.locked, &ends.mobile},
            .scenario_of = scenario_of,
            .inputs = {},
            .airs = {airs.begin(), airs.end()},
            .air_of = all_air_of,
            .starts = all_starts,
            .weeks = {.means = weeks.means, .of = weeks_of}};
  if (!delays.empty()) rows.inputs.push_back({parameter_index("rewetting.delay"), all_delays});
  RowTable table = simulate_rows(rows, options);
  table.require_all();

  Day day;
  for (std::size_t i = 0; i < times; ++i)
    day.air.push_back(airs[air_of.empty() ? 0 : air_of[i]]->at(starts[i]));
  const auto control = [&](std::size_t which) {
    return table.column("growth_control").subspan(which * times, times);
  };
  day.locked.control.assign(control(1).begin(), control(1).end());
  day.mobile.control.assign(control(2).begin(), control(2).end());
  day.outcomes = first_rows(std::move(table), times);
  day.best = best_time(day.outcomes);
  day.control_over_best = over_best(day.outcomes.column("growth_control"), day.best);
  for (Day::AtEnd* end : {&day.locked, &day.mobile})
    end->control_over_best = over_best(end->control, day.best);
  return day;
}

Day compare_times(const Scenario& scenario, const CropAir& air, std::span<const double> starts,
                  const BatchOptions& options) {
  const CropAir* const one = &air;
  std::vector<std::vector<double>> means;
  std::vector<std::uint64_t> of;
  for (const double start : starts) {
    means.push_back(daily_temperatures(air, start, scenario.uptake.horizon));
    of.push_back(of.size());
  }
  const Weeks weeks{.means = {means.begin(), means.end()}, .of = of};
  return compare_times(scenario, {&one, 1}, {}, starts, options, weeks);
}

Day compare_times(const Scenario& scenario, const Outdoor& weather, std::span<const double> starts,
                  const BatchOptions& options) {
  return compare_times(scenario, air_at_crop(scenario, weather), starts, options);
}

std::vector<double> over_best(std::span<const double> control, std::size_t best) {
  if (best >= control.size())
    throw InputError("there is no time " + std::to_string(best) + " among " + std::to_string(control.size()));
  std::vector<double> over;
  for (const double each : control) over.push_back(control[best] > 0.0 ? each / control[best] : 1.0);
  return over;
}

std::size_t best_time(std::span<const double> control, std::span<const std::uint8_t> wet_at_end) {
  if (control.empty()) throw InputError("a table without rows has no best time");
  if (wet_at_end.size() != control.size()) throw InputError("a best time needs columns of the same length");
  const bool none_dries =
      std::all_of(wet_at_end.begin(), wet_at_end.end(), [](std::uint8_t wet) { return wet != 0; });
  std::size_t best = 0;
  double most = -std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < control.size(); ++i) {
    if ((wet_at_end[i] != 0 && !none_dries) || !(control[i] > most)) continue;
    best = i, most = control[i];
  }
  return best;
}

std::size_t best_time(const RowTable& outcomes) {
  if (outcomes.count == 0) throw InputError("a table without rows has no best time");
  std::vector<std::uint8_t> wet_at_end;
  for (const std::uint8_t status : outcomes.status)
    wet_at_end.push_back(status == static_cast<std::uint8_t>(Status::wet_at_end));
  return best_time(outcomes.column("growth_control"), wet_at_end);
}

}  // namespace wetspan
