// The footprint of a nozzle on the crop below it. Droplets follow straight rays from the nozzle, so that
// every length is proportional to its height; drift, the air jet and a tilt of the nozzle are neglected.
//
// A footprint consists of bars: rectangles whose density is linear across the direction of travel and uniform
// along it.
#pragma once

#include <span>
#include <vector>

#include "wetspan/parameters.hpp"

namespace wetspan {

enum class Shape { uniform, triangular, trapezoid, elliptical, cone, ring };  ///< of a nozzle's footprint
template <>
inline constexpr std::array<std::string_view, 6> choice_names<Shape>{"uniform",    "triangular", "trapezoid",
                                                                     "elliptical", "cone",       "ring"};

// clang-format off

/// Inputs of `PatternInput`; the columns are those of parameters.hpp.
#define WETSPAN_PATTERN(P) \
  P(Shape, shape, Shape::triangular, 0, 5, 1.0, "1", "1", D, \
    "assumption: a flat fan that tapers to its edges, made to overlap", \
    "Density across a flat fan (uniform, triangular, trapezoid, elliptical), or a cone: full or a ring") \
  P(double, angle, 1.396, 0.05, 2.6, 1.1, "rad", "deg", D, "the scenario's nozzle: 80 degrees", \
    "Opening of the fan or cone; by default nozzle.fan_angle") \
  P(double, thickness_angle, 0.3, 0.05, 2.6, 1.5, "rad", "deg", D, "the scenario's nozzle: a flat fan", \
    "Opening of a flat fan along its travel, by default nozzle.fan_thickness; a cone has only one angle") \
  P(double, top, 0.5, 0.0, 1.0, 1.3, "1", "1", D, "assumption", \
    "Width of a trapezoid's level top over its base: 0 is triangular, 1 uniform") \
  P(double, hollow, 0.6, 0.0, 0.98, 1.3, "1", "1", D, "assumption", \
    "Inner over outer radius of a ring")

// clang-format on

#define WETSPAN_MEMBER(type, name, standard, low, high, spread, unit, shown, grade, source, meaning) \
  type name = standard;
/// Shape of a nozzle's footprint; `bench_parameters` lists the unit, bounds and source of each number.
struct PatternInput {
  WETSPAN_PATTERN(WETSPAN_MEMBER)
};
#undef WETSPAN_MEMBER

/// Part of a footprint. Lengths are relative to the nozzle's height [1]; x points across the direction of
/// travel and y along it.
struct Bar {
  double left = 0, right = 0;        ///< extent in x, left < right
  double at_left = 0, at_right = 0;  ///< share of the flow per length in x at these edges, linear in between
  double back = 0, front = 0;        ///< extent in y, back < front; uniform in between
};

/// A footprint; the shares of its bars sum to 1.
using Pattern = std::vector<Bar>;

/// Share of the flow in a bar [1]: (right - left) (at_left + at_right) / 2.
double share(const Bar& bar);

/// The footprint of a nozzle. Uniform, triangular and trapezoid fans are exact. The ellipse
/// sqrt(1 - (a / A)^2) and the cones (uniform density between inner and outer radius) consist of 24 or more
/// bars with cosine spacing. Half widths are tan(angle / 2) times the height.
/// @throws InputError for a value outside the bounds of the table
Pattern pattern(const PatternInput& input);

/// The footprint of a fan measured on a patternator at `height` [m]: `amounts` (any unit) at `offsets` [m]
/// from the nozzle, interpolated linearly and 0 beyond the outermost offsets.
/// @param thickness_angle [rad], as in the table
/// @throws InputError unless there are at least two points, offsets increase, and amounts are finite, not
///         negative and not all 0
Pattern measured_pattern(std::span<const double> offsets, std::span<const double> amounts, double height,
                         double thickness_angle);

}  // namespace wetspan
