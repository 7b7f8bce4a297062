#include "wetspan/spray/pattern.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <utility>

#include "../parameter_rows.hpp"
#include "../require.hpp"

namespace wetspan {
namespace {

using std::numbers::pi;

constexpr int strips = 24;  // of a curved profile, edge to edge

void check(const PatternInput& value){WETSPAN_CHECK_ROWS("pattern", WETSPAN_PATTERN)}

/// Scales the bars' shares to sum to 1.
Pattern whole(Pattern bars) {
  double sum = 0.0;
  for (const Bar& bar : bars) sum += share(bar);
  for (Bar& bar : bars) {
    bar.at_left /= sum;
    bar.at_right /= sum;
  }
  return bars;
}

/// Bars through the points of a profile; bars of zero width are omitted.
Pattern fan(std::span<const double> across, std::span<const double> density, double half_thickness) {
  Pattern bars;
  for (std::size_t i = 0; i + 1 < across.size(); ++i) {
    if (across[i + 1] > across[i] && density[i] + density[i + 1] > 0.0)
      bars.push_back({across[i], across[i + 1], density[i], density[i + 1], -half_thickness, half_thickness});
  }
  return whole(std::move(bars));
}

/// `count` + 1 points from `from` to `to`, close together near both.
std::vector<double> cosine_points(double from, double to, int count) {
  std::vector<double> points;
  for (int i = 0; i <= count; ++i)
    points.push_back(0.5 * (from + to) - 0.5 * (to - from) * std::cos(pi * i / count));
  return points;
}

double half_chord(double radius, double across) {
  return std::sqrt(std::max(0.0, (radius - across) * (radius + across)));
}

/// Uniform density between the radii `inner` and `outer`.
Pattern cone(double inner, double outer) {
  std::vector<double> edges;
  if (inner > 0.0) {
    edges = cosine_points(-outer, -inner, strips / 2);
    edges.pop_back();
  }
  for (const double edge : cosine_points(inner > 0.0 ? -inner : -outer, inner > 0.0 ? inner : outer, strips))
    edges.push_back(edge);
  if (inner > 0.0) {
    const std::vector<double> last = cosine_points(inner, outer, strips / 2);
    edges.insert(edges.end(), last.begin() + 1, last.end());
  }
  Pattern bars;
  for (std::size_t i = 0; i + 1 < edges.size(); ++i) {
    const double left = edges[i], right = edges[i + 1], middle = 0.5 * (left + right);
    const auto chord = [&](double a) { return half_chord(outer, a) - half_chord(inner, a); };
    const double far = half_chord(outer, middle), near = half_chord(inner, middle);
    if (near > 0.0) {
      bars.push_back({left, right, chord(left), chord(right), -far, -near});
      bars.push_back({left, right, chord(left), chord(right), near, far});
    } else {
      bars.push_back({left, right, 2.0 * chord(left), 2.0 * chord(right), -far, far});
    }
  }
  return whole(std::move(bars));
}

}  // namespace

double share(const Bar& bar) { return 0.5 * (bar.right - bar.left) * (bar.at_left + bar.at_right); }

Pattern pattern(const PatternInput& input) {
  check(input);
  const double half = std::tan(0.5 * input.angle), thickness = std::tan(0.5 * input.thickness_angle);
  const auto trapezoid = [&](double top) {
    const std::array across{-half, -top * half, top * half, half};
    const double edge = top < 1.0 ? 0.0 : 1.0;
    return fan(across, std::array{edge, 1.0, 1.0, edge}, thickness);
  };
  switch (input.shape) {
    case Shape::uniform:
      return trapezoid(1.0);
    case Shape::triangular:
      return trapezoid(0.0);
    case Shape::trapezoid:
      return trapezoid(input.top);
    case Shape::elliptical: {
      const std::vector<double> across = cosine_points(-half, half, strips);
      std::vector<double> density;
      for (const double a : across) density.push_back(half_chord(half, a));
      return fan(across, density, thickness);
    }
    case Shape::cone:
      return cone(0.0, half);
    case Shape::ring:
      return cone(input.hollow * half, half);
  }
  throw InputError("there is no such pattern");
}

Pattern measured_pattern(std::span<const double> offsets, std::span<const double> amounts, double height,
                         double thickness_angle) {
  if (offsets.size() != amounts.size() || offsets.size() < 2)
    throw InputError("a measured pattern needs two points or more, and an amount for each offset");
  require("the measured pattern's height", height, 0.05, 3.0, "m");
  require("pattern.thickness_angle", thickness_angle, 0.05, 2.6, "rad");
  std::vector<double> across;
  double most = 0.0;
  for (std::size_t i = 0; i < offsets.size(); ++i) {
    require("an offset of the measured pattern", offsets[i], -100.0, 100.0, "m");
    require("an amount of the measured pattern", amounts[i], 0.0, 1e30, "");
    if (i > 0 && !(offsets[i] > offsets[i - 1]))
      throw InputError("the offsets of a measured pattern must increase");
    most = std::max(most, amounts[i]);
    across.push_back(offsets[i] / height);
  }
  if (most <= 0.0) throw InputError("the amounts of the measured pattern are all 0");
  return fan(across, amounts, std::tan(0.5 * thickness_angle));
}

}  // namespace wetspan
