// The footprint that a nozzle leaves on the crop below it: straight rays from the nozzle, so that every
// length grows with its height. A footprint is made of bars: strips across the travel with a density linear
// across it and even along it.
//
// Straight rays: no drift, no air jet, no lean of the nozzle.
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

/// Inputs of `PatternInput`, columns as in parameters.hpp.
#define WETSPAN_PATTERN(P) \
  P(Shape, shape, Shape::triangular, 0, 5, 1.0, "1", "1", D, \
    "assumption: a flat fan that tapers to its edges, made to overlap", \
    "Density across a flat fan (uniform, triangular, trapezoid, elliptical), or a cone: full or a ring") \
  P(double, angle, 1.396, 0.05, 2.6, 1.1, "rad", "deg", D, "the scenario's nozzle: 80 degrees", \
    "Opening of the fan or cone; left out, nozzle.fan_angle") \
  P(double, thickness_angle, 0.3, 0.05, 2.6, 1.5, "rad", "deg", D, "the scenario's nozzle: a flat fan", \
    "Opening of a flat fan along its travel; a cone has only one angle; left out, nozzle.fan_thickness") \
  P(double, top, 0.5, 0.0, 1.0, 1.3, "1", "1", D, "assumption", \
    "Width of a trapezoid's level top over its base: 0 is triangular, 1 uniform") \
  P(double, hollow, 0.6, 0.0, 0.98, 1.3, "1", "1", D, "assumption", \
    "Inner over outer radius of a ring")

// clang-format on

#define WETSPAN_MEMBER(type, name, standard, low, high, spread, unit, shown, grade, source, meaning) \
  type name = standard;
/// A nozzle's footprint; `bench_parameters` tells unit, bounds and source of each number.
struct PatternInput {
  WETSPAN_PATTERN(WETSPAN_MEMBER)
};
#undef WETSPAN_MEMBER

/// Part of a footprint; lengths per nozzle height [1], x pointing across the travel and y along it.
struct Bar {
  double left = 0, right = 0;        ///< extent across, left < right
  double at_left = 0, at_right = 0;  ///< share of the flow per length across there, linear in between
  double back = 0, front = 0;        ///< extent along, back < front; even in between
};

/// A footprint; the shares of its bars sum to 1.
using Pattern = std::vector<Bar>;

/// Share of the flow in a bar [1]: (right - left) (at_left + at_right) / 2.
double share(const Bar& bar);

/// The footprint of a nozzle. Uniform, triangular and trapezoid fans are exact; the ellipse
/// sqrt(1 - (a / A)^2) and the cones (even density between inner and outer radius) are made of 24 or more
/// strips with cosine spacing. Half widths are tan(angle / 2) per height.
/// @throws InputError for a value outside its row in the table
Pattern pattern(const PatternInput& input);

/// A fan as measured on a patternator at `height` [m]: `amounts` (any unit) at `offsets` [m] from the nozzle,
/// linear in between and nothing beyond them.
/// @param thickness_angle [rad], as in the table
/// @throws InputError unless there are two points or more, offsets increase and amounts are finite, none
///         below 0 and not all 0
Pattern measured_pattern(std::span<const double> offsets, std::span<const double> amounts, double height,
                         double thickness_angle);

}  // namespace wetspan
