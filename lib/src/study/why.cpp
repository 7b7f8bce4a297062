#include "wetspan/study/why.hpp"

#include <algorithm>
#include <cmath>
#include <exception>
#include <numbers>
#include <utility>

namespace wetspan {
namespace {

constexpr double degree = std::numbers::pi / 180.0;
/// Changes of growth control below this value are not reported [1].
constexpr double nothing = 0.0005;
/// Largest receding angle with a wetting agent [rad]. Assumption (grade D).
constexpr double wetted_receding = 20.0 * degree;

bool changes(const Lever& lever, std::string_view key) {
  return std::any_of(lever.inputs.begin(), lever.inputs.end(),
                     [&](const InputChange& each) { return each.key == key; });
}

}  // namespace

std::span<const Lever> levers() {
  static const std::vector<Lever> rows{
      {"half as much again of the same liquid", {{"application.volume_rate", 1.5}}},
      {"the same substance in half as much again of water",
       {{"application.volume_rate", 1.5}, {"application.concentration", 1.0 / 1.5}}},
      {"a quarter more substance in the liquid", {{"application.concentration", 1.25}}},
      {"the same substance as a drench",
       {{"application.method", static_cast<double>(Method::drench), false}}},
      {"droplets two thirds as large", {{"droplets.dv50", 2.0 / 3.0}}},
      {"droplets half as large again", {{"droplets.dv50", 1.5}}},
      {"a third of the air speed at the leaves", {{"air.speed", 1.0 / 3.0}}},
      {"three times the air changes with the vents closed", {{"house.air_changes", 3.0}}},
      {"half of the leaf area and crown cover, a younger crop",
       {{"canopy.leaf_area", 0.5}, {"canopy.crown_cover", 0.5}}},
      {"a wetting agent: 30 mN/m, contact angle 40 deg",
       {{"liquid.surface_tension", 0.030, false}, {"leaf.contact_angle", 40.0 * degree, false}}},
      {"a light pass of water later (0.1 L/m2)", {{"rewetting.volume_rate", 1e-4, false}}}};
  return rows;
}

std::optional<Scenario> moved(const Scenario& scenario, const Lever& lever) {
  const bool wets_leaves = scenario.application.method == Method::spray;
  if (!wets_leaves && !changes(lever, "application.volume_rate") &&
      !changes(lever, "application.concentration"))
    return std::nullopt;
  if (scenario.rewetting.volume_rate > 0.0 && changes(lever, "rewetting.volume_rate")) return std::nullopt;
  Scenario other = scenario;
  for (const InputChange& each : lever.inputs) {
    const std::size_t at = parameter_index(each.key);
    const Parameter& row = parameters()[at];
    set(other, at, each.times ? std::clamp(get(scenario, at) * each.value, row.low, row.high) : each.value);
  }
  if (changes(lever, "leaf.contact_angle"))
    other.leaf.receding_angle = std::min(scenario.leaf.receding_angle, wetted_receding);
  if (other == scenario) return std::nullopt;
  return other;
}

Why why(const Scenario& scenario, const CropAir& air, double start, std::size_t most,
        std::span<const double> weeks, const BatchOptions& options) {
  std::vector<Scenario> tried{scenario};
  std::vector<std::string_view> change{"as it is"};
  for (const Lever& lever : levers()) {
    if (auto other = moved(scenario, lever)) {
      tried.push_back(*std::move(other));
      change.push_back(lever.change);
    }
  }
  const RowTable outcomes = simulate_scenarios(tried, air, start, weeks, options);
  if (!outcomes.failed.empty() && outcomes.failed.front().row == 0) {
    std::rethrow_exception(outcomes.failed.front().error);
  }

  const auto control = outcomes.column("growth_control");
  Why told;
  told.control = control[0];
  const BySite tips{outcomes.column("tips.leaf")[0], outcomes.column("tips.stem")[0],
                    outcomes.column("tips.root")[0]};
  if (const double sum = tips.sum(); sum > 0.0)
    told.through = {tips.leaf / sum, tips.stem / sum, tips.root / sum};
  for (std::size_t i = 1; i < tried.size(); ++i) {
    const double gain = control[i] - control[0];
    if (std::abs(gain) >= nothing) told.levers.push_back({change[i], control[i], gain});
  }
  std::stable_sort(told.levers.begin(), told.levers.end(), [](const LeverEffect& a, const LeverEffect& b) {
    return std::abs(a.gain) > std::abs(b.gain);
  });
  if (told.levers.size() > most) told.levers.resize(most);
  return told;
}

}  // namespace wetspan
