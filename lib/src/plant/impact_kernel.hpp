// Interface of the kernel that computes what several droplets meet in a layer of a canopy, in vector lanes.
//
// The kernel (impact_kernel.cpp) is compiled once for each instruction set. It solves the equations of
// impact_equations.hpp and collection_equations.hpp.
#pragma once

#include <span>

#include "impact_equations.hpp"
#include "wetspan/instructions.hpp"

namespace wetspan::impacts {

/// Steepest lean of a path in the formula for stems, from straight down [rad].
inline constexpr double flattest = 1.5;

/// A layer of a canopy, as droplets meet it.
struct Layer {
  double interception;            // share of the flux that hits a leaf if there are no stems [1]
  double leaf_hits;               // mean number of leaves that a droplet hits [1]
  double leaf_sine, leaf_cosine;  // of the leaves' inclination [1]
  Wetting leaf;
  ImpactSurface surface;
  StemStand stems;
};

/// The fate of droplets of one size and path in a layer; shares of their volume.
struct Meeting {
  double on_leaf, on_stem;                 // hit a leaf, hit a stem
  double retained;                         // of what hits a leaf
  double retained_diameter;                // [m]
  double leaving_diameter, leaving_speed;  // [m], [m/s]
  bool rebounds;                           // rather than shatters, where not all is retained
};

struct Kernel {
  /// Computes the meeting of each droplet with the layer. `stem_hits` are the mean numbers of stems that the
  /// droplets hit; empty, they are computed by Langmuir & Blodgett's law.
  void (*meet)(const Layer& layer, std::span<const Parcel> droplets, std::span<const double> stem_hits,
               std::span<Meeting> meetings);
};
const Kernel& kernel(Instructions instructions);

}  // namespace wetspan::impacts
