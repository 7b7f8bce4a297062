#include "wetspan/plant/retention.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "../require.hpp"

namespace wetspan {

double retained_share(double landed, double store, double held) {
  constexpr double most = 1e300;
  require("landed", landed, 0.0, most, "m");
  require("store", store, 0.0, most, "m");
  require("held", held, 0.0, most, "m");
  if (store == 0.0) return 0.0;
  const double fill = landed / store, room = std::max(0.0, 1.0 - held / store);
  return fill > 0.0 ? -room * std::expm1(-fill) / fill : room;
}

double stemflow_share(CrownHabit habit, double odds) {
  // funnel, rounded, pendulous; docs/science/landing.md gives the sources
  constexpr std::array<double, 3> shares{0.60, 0.15, 0.05};
  require("odds", odds, 0.0, 1e300, "");
  const double share = shares.at(static_cast<std::size_t>(habit));
  return share * odds / (share * odds + 1.0 - share);
}

}  // namespace wetspan
