// Computes many sprays at once, in threads and in vector lanes.
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

/// Options for computing many sprays. The result of a row depends on that row alone: on machines with the
/// same instructions it is identical, bit for bit, for any number of threads and any division of the rows
/// into batches, and identical to the result of simulate().
struct BatchOptions {
  unsigned threads = 0;  ///< 0: one per processor
  /// Vector instructions of the clock path; if absent, the fastest that this machine can run.
  std::optional<Instructions> instructions = std::nullopt;
  bool reference_only = false;  ///< integrate the full system of equations for every row
  /// Called with the number of finished rows, on the calling thread, about ten times a second (also during a
  /// long row) and once at the end. If it returns false the batch ends, and unfinished rows count as failed.
  std::function<bool(std::size_t)> progress = nullptr;
};

/// One spray to compute. The caller owns the scenario and the air.
struct Job {
  const Scenario* scenario = nullptr;
  const CropAir* air = nullptr;
  double start = 0;                    ///< [s], in the record's time
  std::span<const double> weeks = {};  ///< daily mean temperatures from the start, as for simulate() [K]
};

/// Results of jobs, in the order of the jobs. A job that cannot be computed does not throw: its outcome has
/// Status::failed, every value is NaN, and `reasons` states why.
struct Batch {
  std::vector<Outcome> outcomes;
  std::vector<std::string> reasons;        ///< empty where the job succeeded
  std::vector<std::exception_ptr> errors;  ///< exception of simulate(); null where the job succeeded
};
/// Computes jobs in parallel threads. Throws InputError for a job without a scenario or without air, and for
/// instructions that this machine does not have.
Batch simulate_all(std::span<const Job> jobs, const BatchOptions& options = {});

/// Air temperatures of the weeks after each spray: daily means from the row's start [K], as for simulate().
struct Weeks {
  std::vector<std::span<const double>> means;
  std::span<const std::uint64_t> of = {};  ///< index into means for each row; empty: all rows use the first
};

/// Rows of sprays: scenarios with some inputs changed, given as columns. Nothing is copied; the caller owns
/// all the data.
struct Rows {
  /// One input whose value differs from row to row.
  struct Column {
    std::size_t input = 0;           ///< position in parameters()
    std::span<const double> values;  ///< one per row, in the unit of parameters()
  };
  std::size_t count = 0;
  std::vector<const Scenario*> scenarios;      ///< base scenarios, one or more
  std::span<const std::uint64_t> scenario_of;  ///< index into scenarios for each row; empty: all 0
  std::vector<Column> inputs;                  ///< inputs that differ from the base scenario
  std::vector<const CropAir*> airs;            ///< empty: each row in the constant air of its own scenario
  std::span<const std::uint64_t> air_of;       ///< index into airs for each row; empty: all 0
  std::span<const double> starts;              ///< start of each row [s]; empty: 0
  Weeks weeks = {};                            ///< empty: crop.mean_temperature
  std::span<const std::uint64_t> which = {};   ///< the rows to compute, in this order; empty: all
};

/// Results of rows, written to columns in the caller's memory, with one value per row.
struct RowResults {
  std::span<double>
      values;  ///< outcome_variables(), one after the other, `count` of each; NaN in a failed row
  std::span<std::uint8_t> status;  ///< Status
  std::span<std::uint8_t> path;    ///< Path
  /// Why the full system was integrated for a row: index into clock_refusals(), 0 for rows on the clock path.
  /// Not written if the span is empty.
  std::span<std::uint8_t> refusal = {};
  /// The members of Conditions at the start of each row, one after the other, `count` of each; NaN in a
  /// failed row. Not written if the span is empty.
  std::span<double> conditions = {};
};
/// A row that could not be computed, with the reason.
struct FailedRow {
  std::size_t row = 0;
  std::string reason;
  std::exception_ptr error = nullptr;  ///< the exception of simulate() for this row
};
/// Computes rows into columns and returns the failed rows in order; results of rows that are not among
/// `Rows::which` stay as they are. Apart from inputs and outputs, each
/// thread uses a constant amount of memory. Throws InputError when the columns differ in length, and for
/// instructions that this machine does not have.
std::vector<FailedRow> simulate_rows(const Rows& rows, const RowResults& results,
                                     const BatchOptions& options = {});

/// Results of rows; the table owns its memory.
struct RowTable {
  std::size_t count = 0;
  std::vector<double> values;         ///< outcome_variables(), one after the other, `count` of each
  std::vector<std::uint8_t> status;   ///< Status of each row
  std::vector<std::uint8_t> path;     ///< Path of each row
  std::vector<std::uint8_t> refusal;  ///< index into clock_refusals() for each row
  std::vector<FailedRow> failed;      ///< in order

  /// The values of the outcome `name`, one per row. @throws InputError that suggests the nearest valid name
  std::span<const double> column(std::string_view name) const;
  /// Throws the exception of the first failed row, if there is one.
  void require_all() const;
};
/// Computes rows into a new table.
RowTable simulate_rows(const Rows& rows, const BatchOptions& options = {});

/// Computes scenarios in the same air, all from `start` [s, in the record's time] and with the same `weeks`.
/// Row i holds the result of scenario i.
RowTable simulate_scenarios(std::span<const Scenario> scenarios, const CropAir& air, double start,
                            std::span<const double> weeks = {}, const BatchOptions& options = {});

}  // namespace wetspan
