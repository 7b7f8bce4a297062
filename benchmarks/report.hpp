// How a program of the benchmark times one case and reports it.
#pragma once

#include <cstdio>
#include <ctime>
#include <vector>

#include "event.hpp"

namespace benchmark {

inline double now(clockid_t clock) {
  timespec time{};
  clock_gettime(clock, &time);
  return static_cast<double>(time.tv_sec) + 1e-9 * static_cast<double>(time.tv_nsec);
}

/// Processor time of this thread [s].
inline double thread_time() { return now(CLOCK_THREAD_CPUTIME_ID); }
inline double wall_time() { return now(CLOCK_MONOTONIC); }

/// One line "seconds evaluations", then the wet time of each event [s].
inline void print_report(double seconds, double evaluations, const std::vector<double>& wet_times) {
  std::printf("%.9g %.17g\n", seconds, evaluations);
  for (const double time : wet_times) std::printf("%.17g\n", time);
}

/// Follows every event with `solve`, after one untimed for warmth.
template <class Solve>
void time_events(const std::vector<Event>& events, Solve solve) {
  std::vector<double> wet_times;
  wet_times.reserve(events.size());
  long evaluations = 0;
  solve(events.front());
  const double begin = thread_time();
  for (const Event& event : events) {
    const auto result = solve(event);
    wet_times.push_back(result.wet_time);
    evaluations += result.evaluations;
  }
  print_report(thread_time() - begin, static_cast<double>(evaluations), wet_times);
}

}  // namespace benchmark
