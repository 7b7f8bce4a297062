// Long computations without Python's lock: progress, and an end when Python has a signal to handle.
#pragma once

#include <pybind11/pybind11.h>

#include <chrono>
#include <cstddef>

#include "wetspan/study/batch.hpp"

/// Ends a computation; Python's error is set.
struct Interrupted {};

/// Handles Python's signals, such as Ctrl-C, at most twenty times a second.
class Signals {
 public:
  void operator()() {
    const auto now = std::chrono::steady_clock::now();
    if (now - looked_ < std::chrono::milliseconds(50)) return;
    looked_ = now;
    const pybind11::gil_scoped_acquire acquire;
    if (PyErr_CheckSignals() != 0) throw Interrupted{};
  }

 private:
  std::chrono::steady_clock::time_point looked_ = std::chrono::steady_clock::now();
};

/// Options of a batch that looks for signals, such as Ctrl-C, and calls `progress` with the rows done.
inline wetspan::BatchOptions until_interrupted(unsigned threads,
                                               const pybind11::object& progress = pybind11::none()) {
  wetspan::BatchOptions options;
  options.threads = threads;
  options.progress = [progress](std::size_t done) {
    const pybind11::gil_scoped_acquire acquire;
    if (PyErr_CheckSignals() != 0) throw Interrupted{};
    if (progress.is_none()) return true;
    try {
      progress(done);
    } catch (pybind11::error_already_set& error) {
      error.restore();
      throw Interrupted{};
    }
    return true;
  };
  return options;
}

/// Calls without Python's lock; what `until_interrupted` ended is Python's error.
template <class Call>
auto released(Call call) {
  try {
    const pybind11::gil_scoped_release release;
    return call();
  } catch (const Interrupted&) {
    throw pybind11::error_already_set();
  }
}
