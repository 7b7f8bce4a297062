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

}  // namespace wetspan
