// What leaves and stems can hold, and the split of the sprayed volume.
#pragma once

#include "wetspan/parameters.hpp"
#include "wetspan/plant/canopy.hpp"

namespace wetspan {

/// Shares of the sprayed volume by where they end up before drying [1]; they sum to 1.
struct Split {
  double leaf = 0, stem = 0, substrate = 0, bench = 0, airborne = 0, evaporated = 0;

  double sum() const { return leaf + stem + substrate + bench + airborne + evaporated; }
  bool operator==(const Split&) const = default;
};

/// Liquid retained [m] of `landed` [m] on a surface that holds at most `store` [m]:
/// store (1 - exp(-landed / store)), the solution of dW/dV = 1 - W / W_max (Merriam 1960; Aston 1979).
double retained(double landed, double store);

/// Where the whole application ends up.
///
/// `landed` tells what meets what; leaves and stems keep what their stores allow. Of what runs off the
/// leaves a share goes down the stems, the rest drips on the ground below crowns; what stems cannot keep
/// reaches the substrate at the stem's base. Leaf area and stem area are in `canopy`.
/// `delivered` [1] is the share of the volume that arrives at the crop; `evaporated` and `airborne` the rest.
/// A drench puts everything on the substrate.
Split split(const Application& application, const Canopy& canopy, const Retention& retention,
            double evaporated = 0.0, double airborne = 0.0);

}  // namespace wetspan
