#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "wetspan/errors.hpp"
#include "wetspan/plant/response.hpp"

using namespace wetspan;
using doctest::Approx;

namespace {

constexpr double day = 86400.0, horizon = 28.0 * day;
constexpr BySite at_once{.leaf = 1e-10, .stem = 2e-10}, through_root{.root = 5e-10};

double control_of(const HeightCourse& course) {
  return 1.0 - course.treated.back() / course.untreated.back();
}

/// Time at which `column` is largest.
double peak(const HeightCourse& course, const std::vector<double>& column) {
  return course
      .time[static_cast<std::size_t>(std::max_element(column.begin(), column.end()) - column.begin())];
}

}  // namespace

TEST_CASE("the course ends at the growth control, from none to nearly all") {
  for (const BySite& tips : {at_once, through_root, BySite{1e-10, 2e-10, 5e-10}}) {
    for (const double half_life : {1.0 * day, 14.0 * day, 180.0 * day}) {
      for (const double rate : {1e-9, 1e-7, 1e-5}) {
        for (const double control : {0.0, 0.01, 0.2, 0.5, 0.7}) {
          Crop crop;
          crop.tip_half_life = half_life;
          const HeightCourse course = heights(crop, tips, rate, control, horizon);
          CAPTURE(half_life);
          CAPTURE(rate);
          CHECK(control_of(course) == Approx(control).epsilon(1e-9));
          CHECK(course.time.front() == 0.0);
          CHECK(course.time.back() == Approx(horizon));
          CHECK(course.untreated.front() == Approx(crop.initial_height));
          CHECK(course.untreated.back() == Approx(crop.final_height));
          for (std::size_t i = 0; i < course.time.size(); ++i) {
            CHECK(course.treated[i] <= course.untreated[i] + 1e-15);  // never above the untreated check
            CHECK(course.inhibited[i] >= 0.0);
            CHECK(course.inhibited[i] <= 1.0);
            if (i > 0) CHECK(course.treated[i] >= course.treated[i - 1]);  // nor ever shorter
          }
        }
      }
    }
  }
}

TEST_CASE("what came at once is lost at its half-life; what roots bring rises first") {
  Crop crop;
  crop.tip_half_life = 7.0 * day;
  const HeightCourse course = heights(crop, at_once, 1e-7, 0.2, horizon, 29);  // a point a day
  for (std::size_t i = 7; i < course.time.size(); ++i) {
    CHECK(course.inhibited[i] == Approx(0.5 * course.inhibited[i - 7]).epsilon(1e-9));
  }
  for (std::size_t i = 1; i < course.time.size(); ++i) CHECK(course.inhibited[i] < course.inhibited[i - 1]);

  // fed at the rate k and lost at the rate l, it is largest at ln(k / l) / (k - l)
  const double lost = std::numbers::ln2 / (7.0 * day);
  for (const double rate : {0.5 * lost, 3.0 * lost}) {
    const HeightCourse fed = heights(crop, through_root, rate, 0.2, horizon, 2801);
    CHECK(fed.inhibited.front() == 0.0);
    CHECK(peak(fed, fed.inhibited) == Approx(std::log(rate / lost) / (rate - lost)).epsilon(2e-3));
    CHECK(fed.inhibited.back() <
          fed.inhibited[static_cast<std::size_t>(peak(fed, fed.inhibited) / horizon * 2800.0)]);
  }
  // equal rates: the limit, k t exp(-k t), is largest at 1 / k
  const HeightCourse equal = heights(crop, through_root, lost, 0.2, horizon, 2801);
  CHECK(peak(equal, equal.inhibited) == Approx(1.0 / lost).epsilon(2e-3));
  const HeightCourse nearly = heights(crop, through_root, lost * (1.0 + 1e-7), 0.2, horizon, 2801);
  CHECK(nearly.treated[1400] == Approx(equal.treated[1400]).epsilon(1e-6));
}

TEST_CASE("the number of points hardly moves the course") {
  const Crop crop;
  const HeightCourse coarse = heights(crop, {1e-10, 2e-10, 5e-10}, 1e-7, 0.3, horizon, 57);
  const HeightCourse fine = heights(crop, {1e-10, 2e-10, 5e-10}, 1e-7, 0.3, horizon, 57 * 40 - 39);
  for (std::size_t i = 0; i < coarse.time.size(); ++i)
    CHECK(coarse.treated[i] == Approx(fine.treated[40 * i]).epsilon(1e-3));
}

TEST_CASE("plants that would have to shrink are refused, and so is a course of nothing") {
  Crop crop;
  crop.initial_height = 0.2, crop.final_height = 0.3;  // a third is left to grow
  CHECK(control_of(heights(crop, at_once, 1e-7, 0.33, horizon)) == Approx(0.33).epsilon(1e-9));
  CHECK_THROWS_WITH_AS(heights(crop, at_once, 1e-7, 0.34, horizon), doctest::Contains("crop.initial_height"),
                       InputError);
  CHECK_THROWS_AS(heights(crop, {}, 1e-7, 0.1, horizon), InputError);  // control without a substance
  CHECK_THROWS_AS(heights(crop, at_once, 1e-7, -0.1, horizon), InputError);
  CHECK_THROWS_AS(heights(crop, at_once, 1e-7, std::nan(""), horizon), InputError);
  CHECK_THROWS_AS(heights(crop, at_once, 1e-7, 0.1, 0.0), InputError);
  CHECK_THROWS_AS(heights(crop, at_once, 1e-7, 0.1, horizon, 1), InputError);
  const HeightCourse untreated = heights(crop, {}, 1e-7, 0.0, horizon);
  CHECK(untreated.treated == untreated.untreated);
}
