// Retention of liquid by leaves and stems, and the split of the sprayed volume.
#pragma once

#include "wetspan/parameters.hpp"

namespace wetspan {

/// Shares of the sprayed volume by final place before drying [1]; they sum to 1.
struct Split {
  double leaf = 0, stem = 0, substrate = 0, bench = 0, airborne = 0, evaporated = 0;

  double sum() const { return leaf + stem + substrate + bench + airborne + evaporated; }
  bool operator==(const Split&) const = default;
};

/// Share [1] of `landed` liquid [m] that a surface retains, if its storage capacity is `store` [m] and it
/// already holds `held` [m]: (store - held) (1 - exp(-landed / store)) / landed, which solves dW/dV = 1 - W /
/// W_max (Merriam 1960; Aston 1979). In the limit of small `landed` it is 1 - held / store. Throws InputError
/// unless all are finite and at least 0.
double retained_share(double landed, double store, double held = 0.0);

/// Share of the run-off from leaves that follows petioles and stems [1]; the rest drips. Grade D: the share
/// of each habit is estimated from publications on whole plants (docs/science/landing.md).
/// @param odds factor on the odds of following the stem: 1 keeps the share of the habit, with 0 all drips
double stemflow_share(CrownHabit habit, double odds = 1.0);

}  // namespace wetspan
