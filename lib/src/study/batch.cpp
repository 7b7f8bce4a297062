#include "wetspan/study/batch.hpp"

#include <algorithm>
#include <atomic>
#include <exception>
#include <limits>
#include <thread>

namespace wetspan {
namespace {

Outcome failed() {
  constexpr double nan = std::numeric_limits<double>::quiet_NaN();
  Outcome outcome;
  outcome.wet.status = Status::failed;
  for (double* value : {&outcome.wet.wet_time, &outcome.wet.last_drop_time, &outcome.wet.stem_wet_time,
                        &outcome.wet.wet_duration, &outcome.wet.degree_seconds, &outcome.wet.wet_share,
                        &outcome.rewet.wet_time, &outcome.landing.shattered, &outcome.landing.rebounded,
                        &outcome.applied, &outcome.growth_control}) {
    *value = nan;
  }
  outcome.wet.layer_wet_time.assign(1, nan);
  outcome.landing.split = {nan, nan, nan, nan, nan, nan};
  outcome.uptake = outcome.tips = {nan, nan, nan};
  outcome.account = {nan, nan, nan, nan, nan, nan, nan, nan, nan};
  return outcome;
}

}  // namespace

Batch simulate_all(std::span<const Job> jobs, unsigned threads) {
  Batch batch{std::vector<Outcome>(jobs.size()), std::vector<std::string>(jobs.size())};
  std::atomic<std::size_t> next{0};
  const auto work = [&] {
    for (std::size_t i = next++; i < jobs.size(); i = next++) {
      try {
        batch.outcomes[i] = simulate(*jobs[i].scenario, *jobs[i].air, jobs[i].start);
      } catch (const std::exception& error) {
        batch.outcomes[i] = failed();
        batch.reasons[i] = error.what();
      }
    }
  };
  if (threads == 0) threads = std::max(1u, std::thread::hardware_concurrency());
  const auto helpers = std::min<std::size_t>(threads, jobs.size());
  {
    std::vector<std::jthread> crew;  // joins when the block ends
    for (std::size_t i = 1; i < helpers; ++i) crew.emplace_back(work);
    work();
  }
  return batch;
}

}  // namespace wetspan
