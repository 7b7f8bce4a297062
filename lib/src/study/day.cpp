#include "wetspan/study/day.hpp"

#include <algorithm>
#include <exception>
#include <limits>

#include "wetspan/errors.hpp"
#include "wetspan/study/simulate.hpp"

namespace wetspan {

Day compare_times(const Scenario& scenario, std::span<const CropAir* const> airs,
                  std::span<const std::uint64_t> air_of, std::span<const double> starts,
                  const BatchOptions& options, const Weeks& weeks) {
  if (starts.empty()) throw InputError("compare_times wants a time of spraying or more");
  if (airs.empty()) throw InputError("compare_times wants an air record");
  Day day;
  day.outcomes = simulate_rows({.count = starts.size(),
                                .scenarios = {&scenario},
                                .scenario_of = {},
                                .inputs = {},
                                .airs = {airs.begin(), airs.end()},
                                .air_of = air_of,
                                .starts = starts,
                                .weeks = weeks},
                               options);
  const auto air = [&](std::size_t i) -> const CropAir& { return *airs[air_of.empty() ? 0 : air_of[i]]; };
  if (!day.outcomes.failed.empty()) std::rethrow_exception(day.outcomes.failed.front().error);
  for (std::size_t i = 0; i < starts.size(); ++i) day.air.push_back(air(i).at(starts[i]));
  day.best = best_time(day.outcomes);
  const auto control = day.outcomes.column("growth_control");
  const double most = control[day.best];
  for (const double each : control) day.control_over_best.push_back(most > 0.0 ? each / most : 1.0);
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
