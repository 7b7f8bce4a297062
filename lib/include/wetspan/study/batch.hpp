// Many sprays at once.
#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <vector>

#include "wetspan/study/simulate.hpp"

namespace wetspan {

/// One spray to compute; the scenario and the air are the caller's.
struct Job {
  const Scenario* scenario = nullptr;
  const CropAir* air = nullptr;
  double start = 0;  ///< [s], in the record's time
};

/// Computes every job on `threads` threads (0: one per processor). The result at a position depends on the
/// job at that position alone: the same bits for any number of threads. A job that cannot be computed throws
/// nothing: its `Outcome` has Status::failed and NaN throughout, and its reason stands at its position in
/// `reasons`.
struct Batch {
  std::vector<Outcome> outcomes;
  std::vector<std::string> reasons;  ///< empty where the job succeeded
};
Batch simulate_all(std::span<const Job> jobs, unsigned threads = 0);

}  // namespace wetspan
