#include "wetspan/spray/passes.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <span>
#include <vector>

#include "approx.hpp"
#include "footprints.hpp"
#include "reference.hpp"
#include "wetspan/errors.hpp"

using namespace wetspan;

namespace {

constexpr double no_number = std::numeric_limits<double>::quiet_NaN();

}  // namespace

TEST_CASE("noise is made of its coordinates, and normal") {
  for (const auto& row : reference::rows("bench", "noise")) {
    const auto coordinate = [&](const char* name) { return static_cast<std::uint64_t>(row[name]); };
    CHECK(reference::holds(row, noise(coordinate("seed"), coordinate("stream"), coordinate("index"))));
  }
  // moments, along the index and along the seed
  for (const bool by_seed : {false, true}) {
    double sum = 0, squares = 0, fourth = 0, neighbours = 0, last = 0;
    constexpr int count = 40000;
    for (std::uint64_t i = 0; i < count; ++i) {
      const double z = by_seed ? noise(i, 1, 3) : noise(3, 1, i);
      sum += z, squares += z * z, fourth += z * z * z * z, neighbours += z * last;
      last = z;
    }
    CHECK(std::abs(sum / count) < 0.02);
    CHECK(squares / count == Approx(1).epsilon(0.03));
    CHECK(fourth / count == Approx(3).epsilon(0.1));
    CHECK(std::abs(neighbours / count) < 0.02);
  }
  std::vector<double> factors, inverses;
  for (std::uint64_t i = 0; i < 40000; ++i) {
    factors.push_back(lognormal(noise(1, 1, i), 0.3));
    inverses.push_back(1 / factors.back());
  }
  CHECK(mean(factors) == Approx(1).epsilon(0.01));
  CHECK(variation(factors) == Approx(0.3).epsilon(0.03));
  CHECK(variation(inverses) == Approx(0.3).epsilon(0.03));
  CHECK(lognormal(2.0, 0) == 1);
  for (const double variation : {0.1, 0.5, 2.0}) {  // mean 1: exp(s z - s^2 / 2), s^2 = ln(1 + variation^2)
    const double square = std::log1p(variation * variation);
    CHECK(lognormal(0.7, variation) * lognormal(-0.7, variation) == Approx(std::exp(-square)).epsilon(1e-14));
    CHECK(std::log(lognormal(0.7, variation) / lognormal(-0.7, variation)) ==
          Approx(1.4 * std::sqrt(square)).epsilon(1e-14));
  }
}

TEST_CASE("a wand sweeps over the bench as told") {
  const Wand steady{.pace = 0.25,
                    .period = 3,
                    .reach = 0.1,
                    .overrun = 0.2,
                    .turning = 0,
                    .speed_variation = 0,
                    .height_variation = 0,
                    .spacing_variation = 0};
  const auto passes = wand_passes(steady, 2, 1, 1e-5, 1);
  CHECK(passes.front().x0 == Approx(-0.2));
  CHECK(passes.front().y0 == Approx(-0.1));
  const auto sides = std::minmax_element(passes.begin(), passes.end(),
                                         [](const Pass& p, const Pass& q) { return p.y1 < q.y1; });
  CHECK(sides.first->y1 == Approx(-0.1));
  CHECK(sides.second->y1 == Approx(1.1));
  // 2.4 m at 0.375 m a stroke: 7 strokes of 1.5 s, the pace kept
  CHECK(duration(passes) == Approx(7 * 1.5));
  CHECK(passes.back().x1 == Approx(-0.2 + 7 * 0.375));
  CHECK(emitted(passes) == Approx(7 * 1.5 * 1e-5));
  for (std::size_t i = 0; i + 1 < passes.size(); ++i) {
    CHECK(passes[i].x1 == Approx(passes[i + 1].x0));
    CHECK(passes[i].y1 == Approx(passes[i + 1].y0));
    CHECK(passes[i].speed == Approx(std::hypot(0.375, 1.2) / 1.5));
    CHECK(std::hypot(passes[i].x1 - passes[i].x0, passes[i].y1 - passes[i].y0) <= steady.step * (1 + 1e-9));
  }
  // slowing down for the turns: the same time, top speed 1 / (1 - turning / 2) of the mean, slow at the edges
  Wand turning = steady;
  turning.turning = 0.6;
  turning.step = 0.005;
  const auto slowed = wand_passes(turning, 2, 1, 1e-5, 1);
  CHECK(duration(slowed) == Approx(duration(passes)));
  double fastest = 0;
  for (const Pass& pass : slowed) fastest = std::max(fastest, pass.speed);
  CHECK(fastest == Approx(std::hypot(0.375, 1.2) / 1.5 / (1 - 0.3)));
  CHECK(slowed.front().speed < 0.2 * fastest);
  // constant acceleration: speed goes with the square root of the way
  const double ramp = 0.25 * 0.6 / (1 - 0.3) * std::hypot(0.375, 1.2);
  for (const Pass& pass : slowed) {
    const double gone = std::hypot(pass.x1 + 0.2, pass.y1 + 0.1);
    if (gone > ramp) break;
    if (gone > 0.2 * ramp) CHECK(pass.speed == Approx(fastest * std::sqrt(gone / ramp)).epsilon(0.06));
  }
}

TEST_CASE("a boom's nozzles travel side by side") {
  const Boom boom{.nozzles = 3,
                  .spacing = 0.4,
                  .runs = 2,
                  .overrun = 0.3,
                  .speed_variation = 0.2,
                  .spacing_variation = 0};
  const auto passes = boom_passes(boom, 2, 1, 1e-5, 4);
  CHECK(passes[0].y0 == Approx(0.1));
  CHECK(passes[1].y0 == Approx(0.5));
  CHECK(passes[2].y0 == Approx(0.9));
  CHECK(passes[0].speed == passes[2].speed);
  CHECK(passes[0].height == passes[2].height);
  CHECK(passes[0].speed != passes[3].speed);
  CHECK(passes.front().x0 == Approx(-0.3));
  CHECK(passes[passes.size() / 2 - 1].x1 == Approx(2.3));
  CHECK(passes[passes.size() / 2].x0 == Approx(2.3));  // and back
  CHECK(passes.back().x1 == Approx(-0.3));
  // as many as cover the bench
  const auto enough = boom_passes({.spacing = 0.5, .spacing_variation = 0}, 1, 1.6, 1e-5, 4);
  CHECK(enough[0].y0 == Approx(0.05));
  CHECK(enough[3].y0 == Approx(1.55));
  // 2.1 / 0.3 is above 7 by rounding: 7 nozzles nevertheless
  CHECK(boom_passes({.spacing = 0.3, .spacing_variation = 0}, 1, 2.1, 1e-5, 4)[0].y0 == Approx(0.15));
  // each nozzle has an aim of its own, the same all along
  const Boom turned{.nozzles = 1000, .spacing = 0.02, .overrun = 0, .spacing_variation = 0.3, .step = 0.5};
  const auto aimed = boom_passes(turned, 1, 20, 1e-5, 4);
  std::vector<double> off;
  for (std::size_t j = 0; j < 1000; ++j) {
    off.push_back(1 + (aimed[j].y0 - 0.02 * (static_cast<double>(j) + 0.5)) / 0.02);
    CHECK(aimed[j + 1000].y0 == aimed[j].y0);
  }
  CHECK(mean(off) == Approx(1).epsilon(0.03));
  CHECK(variation(off) == Approx(0.3).epsilon(0.07));
}

TEST_CASE("a boom that runs to and fro goes on where it stopped") {
  const auto passes = boom_passes({.nozzles = 1, .runs = 3, .spacing_variation = 0.0}, 4.0, 1.0, 1e-5, 3);
  double way = 0.0;
  for (std::size_t i = 0; i < passes.size(); ++i) {
    if (i > 0) CHECK(passes[i].x0 == Approx(passes[i - 1].x1).epsilon(1e-12));
    way += std::abs(passes[i].x1 - passes[i].x0);
  }
  CHECK(way == Approx(3.0 * (passes.back().x1 - passes.front().x0)).epsilon(1e-12));
}

TEST_CASE("the noise along a path has the mean, the variation and the correlation asked for") {
  // exp(-distance / length) between two places (Uhlenbeck and Ornstein 1930)
  constexpr double length = 0.04, step = 0.02;
  const Boom boom{.height = 0.5,
                  .speed = 0.3,
                  .nozzles = 1,
                  .speed_variation = 0.3,
                  .height_variation = 0.2,
                  .correlation_length = length,
                  .step = step};
  const auto passes = boom_passes(boom, 1000, 1, 1e-5, 6);
  std::vector<double> heights, slowness, logarithms;
  for (const Pass& pass : passes) {
    heights.push_back(pass.height);
    slowness.push_back(1 / pass.speed);
    logarithms.push_back(std::log(pass.height));
  }
  CHECK(mean(heights) == Approx(0.5).epsilon(0.01));
  CHECK(variation(heights) == Approx(0.2).epsilon(0.03));
  CHECK(mean(slowness) == Approx(1 / 0.3).epsilon(0.01));  // the mean time is that of the speed asked for
  CHECK(variation(slowness) == Approx(0.3).epsilon(0.03));
  const double middle = mean(logarithms);
  for (const std::size_t apart : {1, 2, 4}) {
    double products = 0, squares = 0;
    for (std::size_t i = 0; i + apart < logarithms.size(); ++i) {
      products += (logarithms[i] - middle) * (logarithms[i + apart] - middle);
      squares += (logarithms[i] - middle) * (logarithms[i] - middle);
    }
    CHECK(std::abs(products / squares - std::exp(-static_cast<double>(apart) * step / length)) < 0.015);
  }
  // a hand's strokes take half a period each, on the mean
  const Wand wand{
      .pace = 0.1, .period = 2, .reach = 0, .overrun = 0, .spacing_variation = 0, .correlation_length = 0};
  CHECK(duration(wand_passes(wand, 100, 1, 1e-5, 3)) == Approx(1000).epsilon(0.01));
  // 2.1 / 0.3 is above 7 by rounding: 7 strokes nevertheless
  Wand even = wand;
  even.speed_variation = 0;
  even.pace = 0.3;
  CHECK(duration(wand_passes(even, 2.1, 1, 1e-5, 3)) == Approx(7));
}

TEST_CASE("speed or height made even keeps the time, the path and what is emitted") {
  auto passes = wand_passes({}, 3, 1.5, 1e-5, 1);
  passes.push_back({0, 0, 3, 0, 2.0, 0.9, 0.0});  // the way back, off
  const auto speed = with_even_speed(passes), height = with_even_height(passes);
  CHECK(duration(speed) == Approx(duration(passes)));
  CHECK(emitted(speed) == Approx(emitted(passes)));
  CHECK(emitted(height) == emitted(passes));
  for (std::size_t i = 0; i + 1 < passes.size(); ++i) {
    CHECK(speed[i].speed == speed[0].speed);
    CHECK(speed[i].height == passes[i].height);
    CHECK(height[i].height == height[0].height);
    CHECK(height[i].speed == passes[i].speed);
  }
  CHECK(speed.back().speed == 2.0);
  CHECK(height.back().height == 0.9);
  CHECK(height[0].height == Approx(Wand{}.height).epsilon(0.2));
  // the mean along the path: 1 m at 0.3 m and 3 m at 0.7 m
  const std::vector<Pass> unequal{{0, 0, 1, 0, 1, 0.3, 1e-5}, {1, 0, 4, 0, 1, 0.7, 1e-5}};
  CHECK(with_even_height(unequal)[0].height == Approx(0.6).epsilon(1e-14));
}

TEST_CASE("paths that cannot be are refused") {
  CHECK_THROWS_WITH_AS(wand_passes({.pace = no_number}, 1, 1, 1, 1), doctest::Contains("wand.pace"),
                       InputError);
  CHECK_THROWS_WITH_AS(wand_passes({.reach = -0.5}, 1, 1, 1, 1), doctest::Contains("reach"), InputError);
  CHECK_THROWS_WITH_AS(wand_passes({.overrun = -0.5}, 1, 1, 1, 1), doctest::Contains("overrun"), InputError);
  CHECK_THROWS_WITH_AS(wand_passes({.pace = 0.005, .period = 0.1}, 500, 50, 1, 1),
                       doctest::Contains("pieces"), InputError);
  CHECK_THROWS_WITH_AS(boom_passes({.nozzles = -1}, 1, 1, 1, 1), doctest::Contains("boom.nozzles"),
                       InputError);
  CHECK_THROWS_WITH_AS(boom_passes({}, 1, 0, 1, 1), doctest::Contains("width"), InputError);
}
