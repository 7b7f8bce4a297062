// Nearly equal numbers, for the tests.
#pragma once

#include <doctest/doctest.h>

/// A number that another one equals within `epsilon` times the larger of the two [1]. doctest::Approx allows
/// `epsilon` times (1 + the larger) instead, so that two different numbers far below 1, as metres and
/// kilograms often are, are equal to it. `scale` adds a scale to the larger; what may be 0 wants one.
class Approx : public doctest::Approx {
 public:
  explicit Approx(double value) : doctest::Approx(value) { scale(1e-290); }
};
