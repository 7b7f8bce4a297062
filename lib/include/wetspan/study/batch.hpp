// Many sprays at once.
#pragma once

#include <cstddef>
#include <cstdint>
#include <exception>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "wetspan/study/clock.hpp"
#include "wetspan/study/simulate.hpp"

namespace wetspan {

/// How many sprays are computed. What comes out of a row depends on that row alone: the same bits for any
/// number of threads and any way of cutting rows into batches, and by simulate(), on machines with the same
/// instructions.
struct BatchOptions {
  unsigned threads = 0;  ///< 0: one per processor
  /// Vector instructions of the clock path; none: the fastest of this machine.
  std::optional<Instructions> instructions = std::nullopt;
  bool reference_only = false;  ///< follow every row by the full system
  /// Called on the calling thread about ten times a second, also within a long row, and at the end, with the
  /// number of rows done; false ends the batch: rows not done by then stay failed.
  std::function<bool(std::size_t)> progress = nullptr;
};

/// One spray to compute; the scenario and the air are the caller's.
struct Job {
  const Scenario* scenario = nullptr;
  const CropAir* air = nullptr;
  double start = 0;                    ///< [s], in the record's time
  std::span<const double> weeks = {};  ///< as for simulate(): means of the days from the start [K]
};

/// What became of jobs, each at its position. A job that cannot be computed throws nothing: its outcome has
/// Status::failed and NaN throughout, and a reason. Throws InputError for a job without scenario or air, and
/// for instructions that this machine has not.
struct Batch {
  std::vector<Outcome> outcomes;
  std::vector<std::string> reasons;        ///< empty where the job succeeded
  std::vector<std::exception_ptr> errors;  ///< what simulate() would throw; null where the job succeeded
};
/// Computes jobs, in threads.
Batch simulate_all(std::span<const Job> jobs, const BatchOptions& options = {});

/// Temperatures of the weeks after rows: as for simulate(), means of the days from each one's start [K].
struct Weeks {
  std::vector<std::span<const double>> means;
  std::span<const std::uint64_t> of = {};  ///< position in means, one a row; none: all in the first
};

/// Rows of sprays: scenarios with some inputs changed. Columns in, nothing copied; everything is the
/// caller's.
struct Rows {
  /// One input that rows change.
  struct Column {
    std::size_t input = 0;           ///< position in parameters()
    std::span<const double> values;  ///< one a row, in the table's unit
  };
  std::size_t count = 0;
  std::vector<const Scenario*> scenarios;      ///< what rows start from, one or more
  std::span<const std::uint64_t> scenario_of;  ///< position in scenarios, one a row; none: all in the first
  std::vector<Column> inputs;                  ///< what rows change in them
  std::vector<const CropAir*> airs;            ///< none: every row in the unchanging air of its own scenario
  std::span<const std::uint64_t> air_of;       ///< position in airs, one a row; none: all in the first
  std::span<const double> starts;              ///< [s], one a row; none: 0
  Weeks weeks = {};                            ///< none: crop.mean_temperature
};

/// What comes out of rows: columns of the caller's memory, a value a row.
struct RowResults {
  std::span<double>
      values;  ///< outcome_variables(), one after the other, `count` of each; NaN in a failed row
  std::span<std::uint8_t> status;  ///< Status
  std::span<std::uint8_t> path;    ///< Path
  /// Why a row was followed by the full system: position in clock_refusals(), 0 of others; none: not told
  std::span<std::uint8_t> refusal = {};
};
/// A row that could not be computed, and why.
struct FailedRow {
  std::size_t row = 0;
  std::string reason;
  std::exception_ptr error = nullptr;  ///< what it would have thrown by itself
};
/// Computes rows into columns; returns the rows that failed, in order. Beyond inputs and outputs the memory
/// is constant per thread. Throws InputError when the columns do not fit each other, and for instructions
/// that this machine has not.
std::vector<FailedRow> simulate_rows(const Rows& rows, const RowResults& results,
                                     const BatchOptions& options = {});

/// What comes out of rows, in memory of its own.
struct RowTable {
  std::size_t count = 0;
  std::vector<double> values;         ///< outcome_variables(), one after the other, `count` of each
  std::vector<std::uint8_t> status;   ///< Status, one a row
  std::vector<std::uint8_t> path;     ///< Path, one a row
  std::vector<std::uint8_t> refusal;  ///< position in clock_refusals(), one a row
  std::vector<FailedRow> failed;      ///< in order

  /// The values of an outcome by its name, one a row. @throws InputError naming the nearest there is
  std::span<const double> column(std::string_view name) const;
};
/// The same, into a table of its own.
RowTable simulate_rows(const Rows& rows, const BatchOptions& options = {});

/// Computes scenarios in one air, all from `start` [s, in the record's time] and with the same `weeks`: a row
/// each, in their order.
RowTable simulate_scenarios(std::span<const Scenario> scenarios, const CropAir& air, double start,
                            std::span<const double> weeks = {}, const BatchOptions& options = {});

}  // namespace wetspan
