// The library's two paths over the events.
//
//   with_wetspan EVENTS TOLERANCE FROM TO reference
//   with_wetspan EVENTS TOLERANCE FROM TO clock baseline|avx2|avx512 one|full THREADS
//   with_wetspan instructions            prints the vector instructions that this machine has
//
// Of the clock path the best of several passes is reported, since one is short: processor time of one thread,
// wall time of more.

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <limits>
#include <stdexcept>
#include <string>
#include <thread>
#include <wetspan/study/clock.hpp>
#include <wetspan/wetspan.hpp>

#include "event.hpp"
#include "jobs.hpp"
#include "report.hpp"

namespace {

using namespace wetspan;
using benchmark::Event;
using benchmark::Job;

void time_reference(const std::vector<Job>& jobs) {
  std::vector<double> wet_times;
  long steps = 0;
  const double begin = benchmark::thread_time();
  for (const Job& job : jobs) {
    const WetSpan span = wet_span(job.scenario, job.load, job.air, job.start);
    wet_times.push_back(span.wet_time);
    steps += span.steps;
    for (const Load::Layer& layer : span.left.layers) {
      if (layer.dew != 0.0) throw std::runtime_error("dew fell in an event that should be without");
    }
  }
  // a step accepted at the first trial takes six evaluations; those refused are not counted
  benchmark::print_report(benchmark::thread_time() - begin, 6.0 * static_cast<double>(steps), wet_times);
}

Instructions instructions_of(const std::string& name) {
  for (const Instructions each : instructions_here()) {
    if (name_of(each) == name) return each;
  }
  throw std::runtime_error("this machine has no instructions '" + name + "'");
}

/// The only place that calls the clock path.
ClockRun follow(std::span<const SpanJob> jobs, Instructions instructions, bool one_lane) {
  return clock_spans(jobs, instructions, one_lane);
}

void time_clock(const std::vector<Job>& jobs, Instructions instructions, bool one_lane, unsigned threads) {
  constexpr double enough = 0.3;  // [s] of passes
  constexpr int fewest = 3;
  std::vector<SpanJob> all;
  for (const Job& job : jobs) all.push_back({&job.scenario, &job.load, &job.air, job.start});
  std::vector<ClockRun> runs(threads);
  const auto pass = [&] {
    std::vector<std::jthread> others;
    for (unsigned i = threads; i-- > 0;) {
      const std::size_t from = all.size() * i / threads, to = all.size() * (i + 1) / threads;
      const auto part = [&, i, from, to] {
        runs[i] = follow(std::span(all).subspan(from, to - from), instructions, one_lane);
      };
      if (i > 0) others.emplace_back(part);
      else part();
    }
  };
  double best = std::numeric_limits<double>::infinity(), spent = 0.0;
  for (int i = 0; i < fewest || spent < enough; ++i) {
    const double begin = benchmark::wall_time(), processor = benchmark::thread_time();
    pass();
    const double wall = benchmark::wall_time() - begin;
    best = std::min(best, threads > 1 ? wall : benchmark::thread_time() - processor);
    spent += wall;
  }
  std::vector<double> wet_times;
  double evaluations = 0.0;
  for (const ClockRun& run : runs) {
    evaluations += static_cast<double>(run.evaluations);
    for (const auto& span : run.spans) {
      wet_times.push_back(span ? span->wet_time : std::numeric_limits<double>::quiet_NaN());
    }
  }
  benchmark::print_report(best, evaluations, wet_times);
}

int run(const std::vector<std::string>& words) {
  if (words.size() == 1 && words[0] == "instructions") {
    for (const Instructions each : instructions_here()) std::puts(std::string(name_of(each)).c_str());
    return 0;
  }
  if (words.size() < 5) throw std::runtime_error("with_wetspan EVENTS TOLERANCE FROM TO reference|clock ...");
  const std::vector<Event> events =
      benchmark::read_events(words[0], std::stoul(words[2]), std::stoul(words[3]));
  std::vector<Job> jobs;
  for (const Event& event : events) jobs.push_back(benchmark::job_of(event, std::stod(words[1])));
  if (words[4] == "reference") {
    time_reference(jobs);
    return 0;
  }
  if (words[4] == "clock" && words.size() == 8) {
    time_clock(jobs, instructions_of(words[5]), words[6] == "one",
               static_cast<unsigned>(std::stoul(words[7])));
    return 0;
  }
  throw std::runtime_error("no path '" + words[4] + "'");
}

}  // namespace

int main(int count, char** arguments) try {
  return run({arguments + 1, arguments + count});
} catch (const std::exception& error) {
  std::fprintf(stderr, "with_wetspan: %s\n", error.what());
  return 2;
}
