#include "wetspan/plant/retention.hpp"

#include <doctest/doctest.h>

#include "approx.hpp"
#include "reference.hpp"
#include "wetspan/parameters.hpp"

using namespace wetspan;

namespace {

/// Liquid [m] that a surface retains out of `landed` [m].
double retained(double landed, double store, double held = 0.0) {
  return landed * retained_share(landed, store, held);
}

}  // namespace

TEST_CASE("a store fills as dW/dV = 1 - W / W_max") {
  constexpr double store = 1e-4;
  for (const double held : {0.0, 3e-5}) {
    double water = held, landed = 0.0;  // midpoint rule
    constexpr double step = 1e-8;
    for (; landed < 3e-4 - 0.5 * step; landed += step) {
      const double middle = water + 0.5 * step * (1.0 - water / store);
      water += step * (1.0 - middle / store);
    }
    CHECK(retained(landed, store, held) == Approx(water - held).epsilon(1e-7));
  }
}

TEST_CASE("a store keeps little whole, and never holds more than it can") {
  CHECK(retained(1e-9, 1e-4) == Approx(1e-9).epsilon(1e-4));
  CHECK(retained(1.0, 1e-4) == Approx(1e-4));
  CHECK(retained(1.0, 1e-4, 0.8e-4) == Approx(0.2e-4));
  CHECK(retained(1.0, 1e-4, 1e-4) == 0.0);
  CHECK(retained(1.0, 1e-4, 2e-4) == 0.0);
  CHECK(retained(1e-4, 0.0) == 0.0);
  CHECK(retained(0.0, 1e-4) == 0.0);
}

TEST_CASE("the store of a leaf lies where published retention lies") {
  const double store = Retention{}.leaf_store;
  CHECK(reference::at_least(reference::rows("canopy", "leaf store, low").front(), store));
  CHECK(reference::at_most(reference::rows("canopy", "leaf store, high").front(), store));
  const auto rain = reference::rows("canopy", "interception store").front();
  CHECK(reference::at_most(rain, store * rain["L"]));
}

TEST_CASE("shares add up") {
  const Split split{
      .leaf = 0.1, .stem = 0.2, .substrate = 0.3, .bench = 0.15, .airborne = 0.2, .evaporated = 0.05};
  CHECK(split.sum() == Approx(1.0).epsilon(1e-15));
}
