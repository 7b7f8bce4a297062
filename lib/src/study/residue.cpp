#include "wetspan/study/residue.hpp"

#include <algorithm>

namespace wetspan {

ResidueEnds residue_ends(const Scenario& scenario) {
  check(scenario);
  static const Parameter& share = parameters()[parameter_index("uptake.mobile_share")];
  static const Parameter& tip = parameters()[parameter_index("crop.leaf_tip_share")];
  const double now = scenario.uptake.mobile_share;
  if (now == 0.0) return {scenario, scenario};
  const auto end = [&](double factor) {
    Scenario changed = scenario;
    const double mobile = std::clamp(now * factor, share.low, share.high);
    changed.uptake.mobile_share = mobile;
    changed.crop.leaf_tip_share = std::clamp(scenario.crop.leaf_tip_share * now / mobile, tip.low, tip.high);
    return changed;
  };
  return {.locked = end(1.0 / share.spread), .mobile = end(share.spread)};
}

OwedToWetTime owed_to_wet_time(const Scenario& scenario, const CropAir& air, double start,
                               std::span<const double> weeks, const BatchOptions& options) {
  const ResidueEnds wet = residue_ends(scenario);
  ResidueEnds dried = wet;  // at once: next to nothing enters from the liquid
  dried.locked.uptake.cuticle = dried.mobile.uptake.cuticle =
      parameters()[parameter_index("uptake.cuticle")].low;
  const RowTable found =
      simulate_scenarios({{wet.locked, wet.mobile, dried.locked, dried.mobile}}, air, start, weeks, options);
  found.require_all();
  const auto control = found.column("growth_control");
  return {.locked = 1.0 - control[2] / control[0], .mobile = 1.0 - control[3] / control[1]};
}

}  // namespace wetspan
