// What the tests of patterns, passes and deposits share.
#pragma once

#include <cmath>
#include <numeric>
#include <vector>

#include "wetspan/spray/pattern.hpp"

inline constexpr wetspan::Shape all_shapes[] = {wetspan::Shape::uniform,   wetspan::Shape::triangular,
                                                wetspan::Shape::trapezoid, wetspan::Shape::elliptical,
                                                wetspan::Shape::cone,      wetspan::Shape::ring};

inline wetspan::Pattern of(wetspan::Shape shape) { return wetspan::pattern({.shape = shape}); }

inline double mean(const std::vector<double>& values) {
  return std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
}

/// Coefficient of variation over a whole population.
inline double variation(const std::vector<double>& values) {
  const double middle = mean(values);
  double squares = 0;
  for (const double value : values) squares += (value - middle) * (value - middle);
  return std::sqrt(squares / static_cast<double>(values.size())) / middle;
}

/// Footprint density [1/m2] at `a` across and `s` along from below a nozzle at height h.
inline double density(const wetspan::Pattern& footprint, double a, double s, double h) {
  double sum = 0;
  for (const wetspan::Bar& bar : footprint) {
    const double x = a / h, y = s / h;
    if (x < bar.left || x >= bar.right || y < bar.back || y >= bar.front) continue;
    sum += (bar.at_left + (bar.at_right - bar.at_left) * (x - bar.left) / (bar.right - bar.left)) /
           (bar.front - bar.back) / (h * h);
  }
  return sum;
}
