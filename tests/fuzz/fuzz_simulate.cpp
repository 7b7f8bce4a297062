// Any scenario: an answer whose balances close, or a refusal of one line; none is given up. Bytes
// set inputs to values within their bounds or to any double; what is allowed then is computed alone and as a
// batch of two. Most sprays are coarse, so that many are tried: few droplet sizes, one layer of leaves, two
// hours; one in sixteen is finer, and its batch has two threads.
//
// Built with clang (preset "fuzz"), run by `nox -s fuzz`.
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>

#include "bytes.hpp"
#include "wetspan/wetspan.hpp"

namespace {

using namespace wetspan;

Scenario scenario_of(Bytes& bytes, bool fine) {
  Scenario scenario;
  while (!bytes.empty()) {
    const std::size_t index = bytes.take<std::uint8_t>() % parameters().size();
    try {
      const Parameter& parameter = parameters()[index];
      set(scenario, index, bytes.number(parameter.low, parameter.high));
    } catch (const InputError& error) {
      one_line(error.what());
    }
  }
  // what only takes long
  Numerics& numerics = scenario.numerics;
  const double longest = fine ? 43200.0 : 7200.0;
  scenario.droplets.bins = std::min(scenario.droplets.bins, fine ? 8 : 3);
  scenario.canopy.layers = std::min(scenario.canopy.layers, fine ? 4 : 1);
  numerics.longest = std::min(numerics.longest, longest);
  numerics.follow = std::min(numerics.follow, longest);
  numerics.tolerance = std::max(numerics.tolerance, fine ? 1e-8 : 1e-4);
  return scenario;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  Bytes bytes(data, size);
  const bool fine = bytes.take<std::uint8_t>() % 16 == 15;
  const Scenario scenario = scenario_of(bytes, fine);
  try {
    const Outcome outcome = simulate(scenario);
    const double sum = outcome.account.sum();
    require(std::abs(sum - 1.0) < 1e-12 || outcome.applied == 0.0, "the active ingredient does not add up");
    require(std::isfinite(outcome.growth.control), "growth control is no number");
    require(outcome.growth.control > -1e-12 && outcome.growth.control <= 1.0, "growth control is no share");
    const CropAir air = steady_air(scenario);
    const Job jobs[] = {{.scenario = &scenario, .air = &air}, {.scenario = &scenario, .air = &air}};
    const Batch batch = simulate_all(jobs, {.threads = fine ? 2U : 1U});
    for (const Outcome& each : batch.outcomes) {
      require(each.growth.control == outcome.growth.control, "a batch comes to something else");
    }
  } catch (const InputError& error) {
    one_line(error.what());
  } catch (const IntegrationError& error) {
    std::fprintf(stderr, "%s\n", error.what());
    require(false, "a scenario that is allowed was given up");
  }
  return 0;
}
