// What leaves and stems can hold, and the split of the sprayed volume.
#pragma once

#include "wetspan/parameters.hpp"

namespace wetspan {

/// Shares of the sprayed volume by where they end up before drying [1]; they sum to 1.
struct Split {
  double leaf = 0, stem = 0, substrate = 0, bench = 0, airborne = 0, evaporated = 0;

  double sum() const { return leaf + stem + substrate + bench + airborne + evaporated; }
  bool operator==(const Split&) const = default;
};

/// Liquid retained [m] of `landed` [m] on a surface that holds at most `store` [m] and holds `held` [m]
/// already: (store - held) (1 - exp(-landed / store)), the solution of dW/dV = 1 - W / W_max (Merriam 1960;
/// Aston 1979).
/// Throws InputError unless all are finite and at least 0.
double retained(double landed, double store, double held = 0.0);

/// The same over `landed` [1]; of very little, the share of the store that is free.
double retained_share(double landed, double store, double held = 0.0);

/// Share of what runs off leaves that follows petioles and stems [1]; the rest drips. Grade D: from what is
/// published on whole plants a share per habit is taken (docs/science/landing.md).
/// @param odds of following the stem over those of the habit: 1 leaves the habit's share, 0 lets all drip
double stemflow_share(CrownHabit habit, double odds = 1.0);

}  // namespace wetspan
