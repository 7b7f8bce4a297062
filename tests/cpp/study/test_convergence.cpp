// The tables of convergence in docs/science/drying.md and clocks.md. Skipped unless asked for:
//
//   wetspan_tests --no-skip --test-case="convergence*"
#include <doctest/doctest.h>

#include <cmath>
#include <cstdio>
#include <vector>

#include "wetspan/study/clock.hpp"
#include "wetspan/study/simulate.hpp"

using namespace wetspan;

namespace {

/// The default scenario in a house; in the open; there in 2 m/s with 0.3 of the volume; in a dark house.
std::vector<Scenario> scenarios() {
  Scenario house, open, windy, dark;
  open.house.enclosed = windy.house.enclosed = false;
  windy.air.speed = 2.0;
  windy.application.volume_rate *= 0.3;
  dark.air.shortwave = 0.0;
  return {house, open, windy, dark};
}

/// Follows the spray of a scenario at a tolerance, by the full system or on the clocks. All sprays land at
/// the default tolerance, so that only the span differs.
WetSpan followed(Scenario scenario, double tolerance, bool clock = false) {
  const CropAir air = steady_air(scenario.air, scenario.house, scenario.numerics.longest);
  const Load load = load_of(scenario, land(scenario, air.at(0.0)));
  scenario.numerics.tolerance = tolerance;
  if (!clock) return wet_span(scenario, load, air, 0.0);
  const SpanJob job{&scenario, &load, &air, 0.0};
  return clock_spans({&job, 1}, instructions_here().back()).spans.front().value();
}

double deviation(double value, double from) { return value / from - 1.0; }

}  // namespace

TEST_CASE("convergence with the tolerance and the classes, in the tables of the documentation" *
          doctest::skip()) {
  for (const bool clock : {false, true}) {
    std::printf("%s: deviation of the wet time from the full system at 1e-11 (accepted steps)\n",
                clock ? "clocks" : "full system");
    for (const double tolerance : {1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8, 1e-9}) {
      if (clock && tolerance < 1e-8) break;  // refused there
      std::printf("| %.0e |", tolerance);
      for (const Scenario& scenario : scenarios()) {
        const double exact = followed(scenario, 1e-11).wet_time;
        const WetSpan span = followed(scenario, tolerance, clock);
        CHECK(std::abs(deviation(span.wet_time, exact)) < 0.03 * std::sqrt(tolerance));
        std::printf(" %.0e (%d) |", std::abs(deviation(span.wet_time, exact)), span.steps);
      }
      std::printf("\n");
    }
  }
  std::printf(
      "wet time in house, open, windy; leaf uptake, last drop in house: deviation from 150 classes\n");
  const auto with = [](std::size_t place, int bins) {
    Scenario scenario = scenarios()[place];
    scenario.droplets.bins = bins;
    return followed(scenario, 1e-8);
  };
  for (const int bins : {3, 6, 12, 16, 24, 48}) {
    std::printf("| %d |", bins);
    for (const std::size_t place : {0U, 1U, 2U}) {
      const double off = deviation(with(place, bins).wet_time, with(place, 150).wet_time);
      CHECK(std::abs(off) < 2.0 / bins);
      std::printf(" %+.1f %% |", 100.0 * off);
    }
    const WetSpan some = with(0, bins), many = with(0, 150);
    std::printf(" %+.1f %% | %+.0f %% |\n", 100.0 * deviation(some.leaf_uptake, many.leaf_uptake),
                100.0 * deviation(some.last_drop_time, many.last_drop_time));
  }
}
