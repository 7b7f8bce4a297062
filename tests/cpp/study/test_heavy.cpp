// The heaviest sprays that the bounds allow. Takes minutes, so it is skipped unless asked for:
//
//   wetspan_tests --no-skip --test-case="heavy*"
#include <doctest/doctest.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <random>
#include <string>

#include "drawn.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/study/simulate.hpp"

using namespace wetspan;

namespace {

/// A humectant or a salt in up to 200 classes a side on up to four layers, for up to a month, with or without
/// a re-wetting, at tolerances from 1e-12 to 1e-2. Half of the sprays have usual crops, so that much lands.
Scenario heavy(std::uint64_t seed) {
  std::mt19937_64 bits(seed);
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  const auto within = [&](double low, double high) { return drawn_within(bits, low, high); };
  const auto evenly_in_log = [&](double low, double high) {
    return std::exp(std::log(low) + (std::log(high) - std::log(low)) * uniform(bits));
  };
  Scenario s;
  const Scenario usual;
  for (std::size_t i = 0; i < parameters().size(); ++i) {
    const Parameter& row = parameters()[i];
    double value = within(row.low, row.high);
    if (row.kind != Kind::number)
      value = std::min(row.high, std::floor(row.low + (row.high - row.low + 1.0) * uniform(bits)));
    set(s, i, std::clamp(value, row.low, row.high));
  }
  if (uniform(bits) < 0.5) {
    const Scenario drawn = s;
    s = usual;
    s.liquid = drawn.liquid, s.air = drawn.air, s.numerics = drawn.numerics, s.rewetting = drawn.rewetting;
    s.liquid.surface_tension = usual.liquid.surface_tension;
    s.droplets.dv50 = within(5e-5, 5e-4), s.application.volume_rate = within(3e-5, 1e-3);
    s.retention.underleaf = within(0.0, 0.5);
  }
  s.application.method = Method::spray;
  s.leaf.receding_angle = within(0.0, s.leaf.contact_angle);
  s.liquid.humectant = evenly_in_log(1e-7, 0.3), s.liquid.kappa = evenly_in_log(1e-3, 8.0);
  if (uniform(bits) < 0.5) s.liquid.deliquescence = 0.0;
  s.liquid.efflorescence = uniform(bits) < 0.7 ? within(0.0, s.liquid.deliquescence) : 0.0;
  s.crop.initial_height = within(0.005, 0.99 * s.crop.final_height);
  s.house.heating_temperature = within(263.15, std::min(313.15, s.house.vent_temperature - 0.1));
  Canopy& canopy = s.canopy;
  canopy.pot_diameter = within(0.01, std::min(0.6, 1.12 / std::sqrt(canopy.plant_density)));
  canopy.stem_area = within(0.0, std::min(0.2, 20.0 * canopy.crown_cover / canopy.plant_density));
  canopy.layers = uniform(bits) < 0.7 ? 4 : 1 + static_cast<int>(4.0 * uniform(bits));
  s.droplets.bins = uniform(bits) < 0.6 ? 200 : 2 + static_cast<int>(198.0 * uniform(bits));
  s.numerics.tolerance = evenly_in_log(1e-12, 1e-2);
  if (uniform(bits) < 0.5) s.numerics.longest = 172'800.0;
  s.numerics.follow = std::min(s.numerics.follow, s.numerics.longest);
  if (uniform(bits) < 0.4) s.rewetting.volume_rate = 0.0;
  s.rewetting.delay = within(0.0, 2.0 * s.numerics.longest);
  return s;
}

}  // namespace

TEST_CASE("heavy sprays with humectants and salts: none is given up, all accounts close" * doctest::skip()) {
  int tried = 0, refused = 0, slow = 0, steps = 0;
  double longest = 0.0, longest_usual = 0.0, balance = 0.0;
  for (std::uint64_t seed = 0; tried < 300; ++seed) {
    const Scenario s = heavy(seed);
    CAPTURE(seed);
    const auto begin = std::chrono::steady_clock::now();
    Outcome outcome;
    try {
      outcome = simulate(s);
    } catch (const InputError&) {  // it contradicts itself
      ++refused;
      continue;
    } catch (const std::exception& error) {
      FAIL_CHECK(error.what());
    }
    const double took = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
    ++tried, slow += took > 2.0;
    longest = std::max(longest, took);
    if (s.numerics.tolerance >= 1e-7) longest_usual = std::max(longest_usual, took);
    for (const WetSpan* span : {&outcome.wet, &outcome.rewet}) {
      balance = std::max(balance, std::abs(span->water_balance)), steps = std::max(steps, span->steps);
    }
  }
  CHECK(balance < 1e-12);
  CHECK(steps < 12'000);
  MESSAGE(tried << " tried, " << refused << " contradict themselves; most steps of a span " << steps
                << ", longest " << longest << " s (at 1e-7 or looser " << longest_usual << " s), above 2 s "
                << slow << ", worst balance " << balance);
}
