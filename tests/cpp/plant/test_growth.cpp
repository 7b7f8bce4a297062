#include "wetspan/plant/growth.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <random>

#include "approx.hpp"
#include "wetspan/errors.hpp"

using namespace wetspan;

namespace {

constexpr double day = 86400.0;

/// The equations of plant/growth.hpp one by one, with the method of Runge and Kutta in `steps` a day.
struct Plain {
  double leaf = 0, growing = 0, stem = 0, pot = 0, depot = 0, tips = 0, untreated = 0, treated = 0;

  Plain operator+(const Plain& o) const {
    return {leaf + o.leaf,   growing + o.growing, stem + o.stem,           pot + o.pot,
            depot + o.depot, tips + o.tips,       untreated + o.untreated, treated + o.treated};
  }
  Plain operator*(double x) const {
    return {leaf * x, growing * x, stem * x, pot * x, depot * x, tips * x, untreated * x, treated * x};
  }
};

Plain plain(const Growing& g, std::span<const Arrival> arrivals, int steps) {
  const Crop& crop = g.crop;
  const auto temperature = [&](double t) {
    const auto d = static_cast<std::size_t>(t / day);
    return d < g.daily_temperature.size() ? g.daily_temperature[d] : crop.mean_temperature;
  };
  const auto speed = [&](double t) {
    return std::max(0.0, std::min(temperature(t), crop.optimum_temperature) - crop.base_temperature);
  };
  const int days = static_cast<int>(g.uptake.horizon / day);
  double theta_end = 0.0;
  for (int d = 0; d < days; ++d) theta_end += day * speed(d * day);
  const auto s = [&](double theta) {
    return 1.0 / (1.0 + std::exp(-crop.growth_steepness * (theta - crop.growth_middle)));
  };
  const double scale = (crop.final_height - crop.initial_height) / (s(theta_end) - s(0.0));
  Plain now{.untreated = crop.initial_height, .treated = crop.initial_height};
  double theta = 0.0;
  std::size_t next = 0;
  for (int i = 0; i < days * steps; ++i) {
    const double t = i * day / steps, h = day / steps, T = temperature(t), v = speed(t);
    while (next < arrivals.size() && arrivals[next].time <= t + 1e-6) {
      const Arrival& a = arrivals[next++];
      now.leaf += a.leaf_mobile, now.growing += a.growing_mobile;
      now.stem += a.stem_mobile, now.pot += a.substrate;
      now.depot += a.entered.stem + a.entered.root, now.tips += crop.leaf_tip_share * a.entered_growing;
    }
    const double metabolism = crop.metabolism * std::pow(crop.metabolism_q10, (T - 293.15) / 10.0);
    const double dilution = crop.dilution * v / (293.15 - crop.base_temperature);
    const double enters = mobile_rate(g.uptake, T), enters_growing = g.uptake.growing_cuticle * enters;
    const auto rate = [&](const Plain& y, double th) {
      const double p = s(th), rise = scale * crop.growth_steepness * p * (1.0 - p) * v;
      Plain dy;
      dy.leaf = -enters * y.leaf, dy.growing = -enters_growing * y.growing, dy.stem = -enters * y.stem;
      dy.pot = -(g.roots.up + g.roots.loss) * y.pot;
      dy.depot = enters * y.stem + g.roots.up * y.pot - (crop.depot_rate + metabolism) * y.depot;
      dy.tips = crop.tip_share * crop.depot_rate * y.depot +
                crop.leaf_tip_share * enters_growing * y.growing - (metabolism + dilution) * y.tips;
      dy.untreated = rise;
      dy.treated = rise * (1.0 - crop.largest_inhibition * y.tips / (y.tips + crop.half_amount));
      return dy;
    };
    const Plain a = rate(now, theta), b = rate(now + a * (h / 2), theta + v * h / 2);
    const Plain c = rate(now + b * (h / 2), theta + v * h / 2), d = rate(now + c * h, theta + v * h);
    now = now + (a + b * 2.0 + c * 2.0 + d) * (h / 6.0);
    theta += v * h;
  }
  return now;
}

const RootRates roots = root_rates(Active{}, Uptake{}, Substrate{});
constexpr std::array<Applied, 1> at_start{Applied{}};

}  // namespace

TEST_CASE("growth agrees with its equations integrated one by one") {
  std::mt19937_64 bits(5);
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  const auto about = [&](double value, double factor) {
    return value * std::pow(factor, 2.0 * uniform(bits) - 1.0);
  };
  std::vector<double> weeks(40);
  for (std::size_t i = 0; i < weeks.size(); ++i)
    weeks[i] = 291.0 + 8.0 * std::sin(0.7 * static_cast<double>(i));
  for (int i = 0; i < 12; ++i) {
    Growing g{.crop = {}, .uptake = {}, .roots = {about(roots.up, 3.0), about(roots.loss, 3.0)}};
    if (i % 2 == 0) g.daily_temperature = weeks;
    g.crop.depot_rate = about(g.crop.depot_rate, 3.0), g.crop.metabolism = about(g.crop.metabolism, 4.0);
    g.crop.dilution = about(g.crop.dilution, 2.0), g.uptake.mobile_rate = about(g.uptake.mobile_rate, 4.0);
    g.uptake.growing_cuticle = about(g.uptake.growing_cuticle, 3.0);
    const std::array<Applied, 2> times{Applied{}, Applied{.time = 10.25 * day}};
    const double much = about(1.0, 30.0);
    const std::array<Arrival, 3> arrivals{
        Arrival{.time = 0.0,
                .application = 0,
                .entered = {2e-9 * much, 1e-10 * much, 0.0},
                .entered_growing = 8e-10 * much,
                .substrate = 5e-8},
        Arrival{.time = 0.0625 * day,
                .application = 0,
                .leaf_mobile = 7e-9 * much,
                .growing_mobile = 3e-9 * much,
                .stem_mobile = 3e-10 * much},
        Arrival{
            .time = 10.25 * day, .application = 1, .entered = {0.0, 4e-10, 0.0}, .substrate = 1e-7 * much}};
    const Growth growth = grow(g, times, arrivals);
    const Plain exact = plain(g, arrivals, 64);
    CAPTURE(i);
    CHECK(growth.treated == Approx(exact.treated).epsilon(5e-7));
    CHECK(growth.untreated == Approx(exact.untreated).epsilon(1e-9));
    CHECK(growth.plant.tips == Approx(exact.tips).epsilon(1e-8));
    CHECK(growth.plant.depot == Approx(exact.depot).epsilon(1e-8));
    CHECK(growth.leaf_mobile == Approx(exact.leaf + exact.growing).epsilon(1e-6));
    CHECK(growth.substrate == Approx(exact.pot).epsilon(1e-10));
  }
}

TEST_CASE("whenever active ingredient arrives, length saved is that of its equations") {
  // just before and after midnight, within a day, twice in a day; fast and slow compartments
  struct Case {
    double first, second, mobile_rate, growing_cuticle, metabolism, times = 1;  // what is applied
  };
  const std::array<Case, 9> cases{{{0.0, 10.25, 0.6, 2.0, 0.025},
                                   {0.9375, 10.5, 2.0, 5.0, 0.1},
                                   {3.0 - 1.0 / 64.0, 3.0 + 1.0 / 64.0, 2.0, 5.0, 0.1},
                                   {7.75, 7.875, 2.0, 50.0, 0.0},
                                   {20.25, 29.96875, 10.0, 1.0, 0.05},
                                   {1.0 - 1.0 / 64.0, 15.75, 40.0, 1.0, 0.1},
                                   {5.5, 12.984375, 1.0, 2.0, 4.0},
                                   {5.5, 12.984375, 1.0, 2.0, 0.1, 1e4},
                                   {0.96875, 8.0, 1.0, 2.0, 0.0, 1e3}}};
  std::vector<double> weeks(40);
  for (std::size_t i = 0; i < weeks.size(); ++i) weeks[i] = 284.0 + static_cast<double>(i * 7 % 17);
  for (const bool warming : {false, true}) {
    for (const auto& [first, second, mobile, cuticle, metabolism, much] : cases) {
      Growing g{.crop = {}, .uptake = {}, .roots = roots};
      if (warming) g.daily_temperature = weeks;
      g.uptake.horizon = 40.0 * day;
      g.uptake.mobile_rate = mobile / day, g.uptake.growing_cuticle = cuticle;
      g.crop.metabolism = metabolism / day;
      const std::array<Applied, 2> times{Applied{.time = first * day}, Applied{.time = second * day}};
      Arrival one{.time = first * day,
                  .application = 0,
                  .entered = {1e-9 * much, 5e-11 * much, 0.0},
                  .entered_growing = 4e-10 * much,
                  .leaf_mobile = 7e-9 * much,
                  .growing_mobile = 9e-9 * much,
                  .stem_mobile = 6e-10 * much,
                  .substrate = 2e-8 * much};
      Arrival other = one;
      other.time = second * day, other.application = 1;
      const std::array<Arrival, 2> arrivals{one, other};
      const double saved = grow(g, times, arrivals).control * g.crop.final_height;
      const Plain exact = plain(g, arrivals, 2048);
      CAPTURE(warming);
      CAPTURE(first);
      CAPTURE(second);
      CHECK(saved == Approx(exact.untreated - exact.treated).epsilon(metabolism > 1.0 ? 2e-5 : 2e-6));
    }
  }
}

TEST_CASE("stages of equal and nearly equal rates pass as others do") {
  const auto tips = [](double metabolism, double dilution, double depot_rate) {
    Growing g{.crop = {}, .uptake = {}, .roots = {2e-7, 1e-7}};
    g.crop.metabolism = metabolism, g.crop.dilution = dilution, g.crop.depot_rate = depot_rate;
    const std::array<Arrival, 1> arrivals{Arrival{
        .entered = {0.0, 1e-10, 0.0}, .growing_mobile = 1e-8, .stem_mobile = 1e-9, .substrate = 1e-7}};
    return grow(g, at_start, arrivals).treated;
  };
  // dilution = depot rate: both empty alike; the course is smooth across it
  for (const double rate : {3e-7, 1e-6, 7e-6}) {
    const double here = tips(2e-7, rate, rate);
    for (const double off : {1e-12, 1e-9, 1e-6, 1e-4}) {
      CHECK(tips(2e-7, rate, rate * (1.0 + off)) == Approx(here).epsilon(off + 1e-13));
    }
  }
}

TEST_CASE("active ingredient and length are accounted for to rounding") {
  std::vector<double> weeks(60);
  for (std::size_t i = 0; i < weeks.size(); ++i) weeks[i] = 270.0 + static_cast<double>(i % 17) * 2.5;
  const Growing g{.crop = {}, .uptake = {}, .roots = roots, .daily_temperature = weeks};
  const std::array<Applied, 3> times{Applied{}, Applied{.time = 7.3 * day, .availability = 0.6},
                                     Applied{.time = 30.0 * day}};
  std::vector<Arrival> arrivals;
  double came = 0.0;
  for (std::size_t i = 0; i < 3; ++i) {
    arrivals.push_back({.time = times[i].time,
                        .application = i,
                        .entered = {3e-9, 2e-10, 1e-11},
                        .entered_growing = 1e-9,
                        .leaf_mobile = 7e-9,
                        .growing_mobile = 3e-9,
                        .stem_mobile = 4e-10,
                        .substrate = 6e-8});
    came += 3e-9 + 2e-10 + 1e-11 + 1e-8 + 4e-10 + 6e-8;
  }
  HeightCourse course;
  const Growth growth = grow(g, times, arrivals, &course);
  const double booked = growth.uptake.sum() + growth.leaf_mobile + growth.stem_mobile + growth.substrate +
                        growth.lost_from_substrate;
  CHECK(std::abs(booked / came - 1.0) < 1e-12);
  CHECK(std::abs(growth.plant.sum() / growth.uptake.sum() - 1.0) < 1e-12);
  double saved = 0.0;
  for (const Effect& effect : growth.applications) saved += effect.saved;
  CHECK(std::abs((growth.treated + saved) / growth.untreated - 1.0) < 1e-12);
  CHECK(std::abs(course.treated.back() / growth.treated - 1.0) < 1e-12);
  CHECK(std::abs(course.untreated.back() / g.crop.final_height - 1.0) < 1e-12);
  CHECK(course.untreated.front() == Approx(g.crop.initial_height).epsilon(1e-14));
  for (std::size_t i = 1; i < course.time.size(); ++i) {
    CHECK(course.time[i] > course.time[i - 1]);
    CHECK(course.treated[i] >= course.treated[i - 1]);  // no plant shrinks
    CHECK(course.treated[i] <= course.untreated[i]);    // nor overtakes the check
  }
}

TEST_CASE("no application saves more than the growth still to come after it") {
  Growing g{.crop = {}, .uptake = {}, .roots = roots};
  g.crop.largest_inhibition = 1.0;
  for (const double at : {0.0, 14.0, 28.0, 42.0, 59.0}) {
    const std::array<Applied, 1> times{Applied{.time = at * day}};
    const std::array<Arrival, 1> arrivals{Arrival{.time = at * day, .entered = {0.0, 1e-3, 0.0}}};
    const Growth growth = grow(g, times, arrivals);
    CAPTURE(at);
    CHECK(growth.applications[0].saved <= growth.applications[0].to_come * (1.0 + 1e-6));
    CHECK(growth.applications[0].saved > 0.8 * growth.applications[0].to_come);  // a very large dose
    CHECK(growth.control <= 1.0 - g.crop.initial_height / g.crop.final_height + 1e-6);
  }
  g.crop.initial_height = 0.29;  // of 0.30 m: the last 3.3 % are left
  const std::array<Arrival, 1> much{Arrival{.entered = {0.0, 1e-3, 0.0}}};
  CHECK(grow(g, at_start, much).control == Approx(1.0 - 0.29 / 0.30).epsilon(0.02));
}

TEST_CASE("late is weaker, warm is weaker, more is stronger, several add up") {
  const auto control = [](double at, double temperature, double amount) {
    Growing g{.crop = {}, .uptake = {}, .roots = roots};
    g.crop.mean_temperature = 273.15 + temperature;
    const std::array<Applied, 1> times{Applied{.time = at * day}};
    const std::array<Arrival, 1> arrivals{
        Arrival{.time = at * day, .growing_mobile = 3e-9 * amount, .substrate = 5e-8 * amount}};
    return grow(g, times, arrivals).control;
  };
  CHECK(control(14.0, 20.0, 1.0) < control(0.0, 20.0, 1.0));
  CHECK(control(28.0, 20.0, 1.0) < control(14.0, 20.0, 1.0));
  CHECK(control(42.0, 20.0, 1.0) < control(28.0, 20.0, 1.0));
  CHECK(control(0.0, 22.0, 1.0) < control(0.0, 16.0, 1.0));
  CHECK(control(0.0, 28.0, 1.0) < control(0.0, 22.0, 1.0));
  CHECK(control(0.0, 20.0, 2.0) > control(0.0, 20.0, 1.0));
  // two at once are one of twice the amount, each with half of what is saved
  const Growing g{.crop = {}, .uptake = {}, .roots = roots};
  const std::array<Applied, 2> twice{Applied{}, Applied{}};
  const std::array<Arrival, 2> two{Arrival{.application = 0, .substrate = 5e-8},
                                   Arrival{.application = 1, .substrate = 5e-8}};
  const std::array<Arrival, 1> one{Arrival{.substrate = 1e-7}};
  const Growth both = grow(g, twice, two), large = grow(g, at_start, one);
  CHECK(both.control == Approx(large.control).epsilon(1e-13));
  CHECK(both.applications[0].saved == Approx(both.applications[1].saved).epsilon(1e-13));
}

TEST_CASE("inhibition from a pulse at the tips halves when the amount there says so") {
  Growing g{.crop = {}, .uptake = {}, .roots = {}};
  g.crop.leaf_tip_share = 1.0;                      // all that enters growing blades acts
  for (const double amounts : {0.01, 1.0, 20.0}) {  // over A50
    const double amount = amounts * g.crop.half_amount;
    const std::array<Arrival, 1> arrivals{Arrival{.entered = {amount, 0.0, 0.0}, .entered_growing = amount}};
    const Growth growth = grow(g, at_start, arrivals);
    // I falls to half where A does to A50 x / (1 + x) / (2 - x / (1 + x)), x = A / A50
    const double share = amounts / (1.0 + amounts), left = share / (2.0 - share) / amounts;
    const double after = -std::log(left) / (g.crop.metabolism + g.crop.dilution);
    CAPTURE(amounts);
    CHECK(growth.largest_inhibition == Approx(g.crop.largest_inhibition * share).epsilon(1e-12));
    CHECK(growth.half_gone == Approx(after).epsilon(2e-3));  // linear between half days
  }
}

TEST_CASE("what enters mature blades stays there, and only what enters growing ones acts") {
  Growing g{.crop = {}, .uptake = {}, .roots = {}};
  const auto with = [&](const Arrival& arrival) { return grow(g, at_start, {&arrival, 1}); };
  const Growth mature = with({.entered = {1e-8, 0.0, 0.0}, .leaf_mobile = 1e-8});
  CHECK(mature.control == 0.0);
  CHECK(mature.plant.blades == Approx(mature.uptake.leaf).epsilon(1e-14));
  const Growth growing = with({.entered = {1e-8, 0.0, 0.0}, .entered_growing = 1e-8, .growing_mobile = 1e-8});
  CHECK(growing.control > 0.01);
  CHECK(growing.tips.leaf == Approx(g.crop.leaf_tip_share * growing.uptake.leaf).epsilon(1e-12));
  CHECK(growing.uptake.leaf == Approx(mature.uptake.leaf));  // in the end all that is mobile has entered
  g.uptake.horizon = 2.0 * day;
  const double early = with({.growing_mobile = 1e-8}).uptake.leaf;
  CHECK(early > 1.2 * with({.leaf_mobile = 1e-8}).uptake.leaf);  // but faster
}

TEST_CASE("what leaves a compartment divides as the rates of its ways out") {
  Growing g{.crop = {}, .uptake = {}, .roots = {}};  // at crop.mean_temperature throughout
  const double amount = 3e-10, T = g.crop.mean_temperature;
  const std::array<Arrival, 1> arrivals{Arrival{.entered = {0.0, amount, 0.0}}};
  const Growth growth = grow(g, at_start, arrivals);
  const double metabolism = g.crop.metabolism * std::pow(g.crop.metabolism_q10, (T - 293.15) / 10.0);
  const double dilution =
      g.crop.dilution * (T - g.crop.base_temperature) / (293.15 - g.crop.base_temperature);
  const double left_depot = amount - growth.plant.depot;
  const double moved = left_depot * g.crop.depot_rate / (g.crop.depot_rate + metabolism);
  const double to_tips = g.crop.tip_share * moved, left_tips = to_tips - growth.plant.tips;
  const double grown_away = left_tips * dilution / (metabolism + dilution);
  CHECK(growth.tips.stem == Approx(to_tips).epsilon(1e-12));
  CHECK(growth.plant.elsewhere == Approx(moved - to_tips).epsilon(1e-12));
  CHECK(growth.plant.grown_away == Approx(grown_away).epsilon(1e-12));
  CHECK(growth.plant.metabolised == Approx(left_depot - moved + left_tips - grown_away).epsilon(1e-12));
}

TEST_CASE("a daminozide-like pulse fades over the published 34 days") {
  // Larsen and Lieth 1993 (seen as abstract): persistence 34 +- 1.2 d, fading linearly, so an integral of 17
  // d times the first inhibition. crop.dilution was set from it: a check of arithmetic, not of the model.
  Growing g{.crop = {}, .uptake = {}, .roots = {}};
  g.crop.metabolism = 0.0;  // Dicks 1972: the content of whole plants stays
  g.crop.leaf_tip_share = 1.0;
  const double amount = 0.3 * g.crop.half_amount;
  const std::array<Arrival, 1> arrivals{Arrival{.entered = {amount, 0.0, 0.0}, .entered_growing = amount}};
  HeightCourse course;
  grow(g, at_start, arrivals, &course);
  double integral = 0.0;
  for (std::size_t i = 1; i < course.time.size(); ++i) {
    integral +=
        0.5 * (course.inhibition[i] + course.inhibition[i - 1]) * (course.time[i] - course.time[i - 1]);
  }
  const double first = g.crop.largest_inhibition * 0.3 / 1.3;
  CHECK(integral / first / day > 11.0);
  CHECK(integral / first / day < 20.0);
}

TEST_CASE("the check's course is that of the published shoots") {
  // Gilbertz 1990, 1992 (seen as abstract): 5.4 and 14.9 cm two and four weeks after pinching, 67 % done at
  // week four. growth_middle and growth_steepness were set from it.
  Growing g{.crop = {}, .uptake = {}, .roots = {}};
  g.crop.initial_height = 1e-9, g.crop.final_height = 0.222;
  HeightCourse course;
  grow(g, at_start, {}, &course);
  CHECK(course.untreated[28] == Approx(0.67 * 0.222).epsilon(0.05));
  CHECK(course.untreated[14] == Approx(0.054).epsilon(0.2));
}

TEST_CASE("weeks too cold to grow, arrivals out of order and of nobody are refused") {
  Growing g{.crop = {}, .uptake = {}, .roots = roots};
  g.crop.mean_temperature = 268.15;
  CHECK_THROWS_WITH_AS(grow(g, at_start, {}), doctest::Contains("would not grow"), InputError);
  g.crop = {};
  g.crop.base_temperature = 293.15;  // dilution is stated at 20 degC, where nothing would grow
  g.crop.mean_temperature = 298.15;
  CHECK_THROWS_WITH_AS(grow(g, at_start, {}), doctest::Contains("not below 20 degC"), InputError);
  g.crop = {};
  const std::array<Arrival, 2> disorder{Arrival{.time = day}, Arrival{.time = 0.0}};
  CHECK_THROWS_AS(grow(g, at_start, disorder), InputError);
  const std::array<Arrival, 1> nobody{Arrival{.application = 1}};
  CHECK_THROWS_AS(grow(g, at_start, nobody), InputError);
  const Growth untreated = grow(g, at_start, {});
  CHECK(untreated.control == 0.0);
  CHECK(untreated.treated == untreated.untreated);
  CHECK(untreated.half_gone == 0.0);
}
