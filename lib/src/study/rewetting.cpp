#include "wetspan/study/rewetting.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include "wetspan/errors.hpp"
#include "wetspan/study/residue.hpp"

namespace wetspan {

double rewetting_water(const Scenario& scenario) {
  double most = 0.0;
  for (const Scenario& each : applications_of(scenario).scenarios)
    most = std::max(most, each.rewetting.volume_rate);
  return most;
}

Scenario without_rewetting(const Scenario& scenario) {
  static const std::size_t water = parameter_index("rewetting.volume_rate");
  Scenario plain = scenario;
  plain.rewetting.volume_rate = 0.0;
  for (Treatment& each : plain.applications)
    std::erase_if(each.changes, [](const Treatment::Change& change) { return change.input == water; });
  return plain;
}

double RewettingGain::Control::gain() const {
  return without > 0.0 ? with / without - 1.0 : std::numeric_limits<double>::quiet_NaN();
}

RewettingGain rewetting_gain(const Scenario& scenario, const CropAir& air, double start,
                             std::span<const double> weeks, const BatchOptions& options) {
  const ResidueEnds ends = residue_ends(scenario);
  if (!(rewetting_water(scenario) > 0.0))
    throw InputError("the scenario has no re-wetting; set rewetting.volume_rate above 0");
  const std::vector<Scenario> tried{scenario,
                                    ends.locked,
                                    ends.mobile,
                                    without_rewetting(scenario),
                                    without_rewetting(ends.locked),
                                    without_rewetting(ends.mobile)};
  const RowTable found = simulate_scenarios(tried, air, start, weeks, options);
  found.require_all();
  const auto control = found.column("growth_control");
  return {.nominal = {.with = control[0], .without = control[3]},
          .locked = {.with = control[1], .without = control[4]},
          .mobile = {.with = control[2], .without = control[5]},
          .wet_time = found.column("rewet_time")[0]};
}

double mobile_share_if_rewetted(const Scenario& scenario) {
  check(scenario);
  constexpr double usual_back = 0.35;    // phi of the default crop: calibrated (grade C) [1]
  constexpr double usual_enters = 0.02;  // omega of the default crop: calibrated (grade C) [1]
  const Scenario usual;
  const double mobile = scenario.uptake.mobile_share, locked = 1.0 - mobile;
  if (!(locked > 0.0)) return 1.0;
  const double deposit = locked / (1.0 - usual.uptake.mobile_share);
  const double back =
      std::min(1.0, usual_back * scenario.active.solubility / usual.active.solubility / deposit);
  const double enters = 1.0 - std::pow(1.0 - usual_enters, scenario.uptake.cuticle / usual.uptake.cuticle);
  return mobile + locked * back * (enters + (1.0 - enters) * mobile);
}

}  // namespace wetspan
