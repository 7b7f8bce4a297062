#include "wetspan/study/batch.hpp"

#include <algorithm>
#include <array>
#include <atomic>
#include <chrono>
#include <exception>
#include <limits>
#include <map>
#include <memory>
#include <mutex>
#include <thread>

#include "clock.hpp"
#include "simulation.hpp"
#include "wet_crop.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/study/outcomes.hpp"

namespace wetspan {
namespace {

Outcome failed() {
  constexpr double nan = std::numeric_limits<double>::quiet_NaN();
  Outcome outcome;
  outcome.wet.status = Status::failed;
  for (WetSpan* span : {&outcome.wet, &outcome.rewet}) {
    for (double* value :
         {&span->wet_time, &span->last_drop_time, &span->stem_wet_time, &span->wet_duration,
          &span->degree_seconds, &span->end, &span->leaf_uptake, &span->stem_uptake, &span->lost_from_leaves,
          &span->lost_from_stems, &span->wet_share, &span->cover, &span->water_balance}) {
      *value = nan;
    }
    span->layer_wet_time.assign(1, nan), span->layer_leaf_uptake.assign(1, nan);
  }
  for (double* value : {&outcome.landing.shattered, &outcome.landing.rebounded, &outcome.landing.stem_run_off,
                        &outcome.applied}) {
    *value = nan;
  }
  Growth& growth = outcome.growth;
  for (double* value :
       {&growth.untreated, &growth.treated, &growth.control, &growth.largest_inhibition, &growth.half_gone,
        &growth.leaf_mobile, &growth.stem_mobile, &growth.substrate, &growth.lost_from_substrate}) {
    *value = nan;
  }
  growth.uptake = growth.tips = {nan, nan, nan};
  growth.plant = {nan, nan, nan, nan, nan, nan};
  growth.applications.assign(1, {nan, nan, growth.uptake, growth.tips});
  outcome.landing.split = {nan, nan, nan, nan, nan, nan};
  outcome.account = {nan, nan, nan, nan, nan, nan, nan, nan, nan, nan};
  return outcome;
}

/// The work of a batch as the threads see it.
class Work {
 public:
  virtual ~Work() = default;
  virtual std::size_t count() const = 0;
  /// Number of leaf layers of a row. All lanes of a kernel have the same number.
  virtual std::size_t layers(std::size_t row) const = 0;
  /// The job of a row. A scenario or air that is made for this row is stored in `scenario` and `air`. Throws
  /// InputError.
  virtual Job job(std::size_t row, Scenario& scenario, CropAir& air) const = 0;
  virtual void store(std::size_t row, Outcome&& outcome) = 0;
  /// Called from a handler, with the exception that is the reason.
  virtual void fail(std::size_t row, const std::string& reason) = 0;
  /// Called with the reason for each row that the full system computes.
  virtual void refused(std::size_t, std::string_view) {}
};

/// Ends the computation of a row after the batch was stopped.
struct Stopped : std::exception {};

/// State that the threads of a batch share.
struct Course {
  Work& work;
  const BatchOptions& options;
  Instructions instructions;
  std::size_t block = 1;                                                 // rows that a thread takes at once
  std::array<std::atomic<std::size_t>, clocks::most_layers + 1> next{};  // row, for each number of layers
  std::atomic<std::size_t> done{0};
  std::atomic<bool> stopped{false};
};

/// The work of one thread. It takes the next row whenever a lane is free. Rows for which the clock path
/// cannot be used are computed immediately with the full system.
class Hand : public clocks::EventSupply {
 public:
  Hand(Course& course, bool calls_back) : course_(course), calls_back_(calls_back) {}

  void work() {
    const clocks::Kernels& kernels = clocks::kernels(course_.instructions);
    if (course_.work.count() == 1) {
      layers_ = course_.work.layers(0);
      kernels.one(*this, air_fits());
      return;
    }
    for (layers_ = 1; layers_ <= clocks::most_layers; ++layers_) kernels.full(*this, air_fits());
  }

  bool next(std::size_t slot, clocks::Event& event) override {
    Held& held = held_[slot];
    while (next_ < end_ || take_block()) {
      if (course_.stopped) return false;
      const std::size_t row = next_++;
      if (course_.work.layers(row) != layers_) continue;
      bool for_the_clock = false;
      in_row(held, row, [&] {
        held.crop.reset();
        const Job job = course_.work.job(row, held.scenario, held.air);
        held.simulation.emplace(*job.scenario, *job.air, job.start, job.weeks, [this] { look(); });
        const std::string_view why =
            course_.options.reference_only ? refusal::asked : held.simulation->clock_refuses();
        for_the_clock = why.empty();
        if (for_the_clock) {
          const Simulation& now = *held.simulation;
          held.crop.emplace(now.scenario(), now.load(), *job.air, now.start());
          clocks::make_ready(event, *held.crop, held.simulation->load());
        } else {
          follow(held, why);
        }
      });
      if (for_the_clock && held.crop) return true;
      report();
    }
    return false;
  }

  void done(std::size_t slot, const clocks::Solution& solution) override {
    Held& held = held_[slot];
    in_row(held, held.row, [&] {
      if (solution.followed) {
        finish(held, clocks::read(solution, *held.crop, held.simulation->load()));
      } else {
        follow(held, refusal::given_up);
      }
    });
    report();
  }

 private:
  struct Held {
    std::size_t row = 0;
    Scenario scenario;
    CropAir air;
    std::optional<Simulation> simulation;
    std::optional<WetCrop> crop;
  };

  /// Takes the next rows from those that are left for this number of layers; false if there are none.
  bool take_block() {
    const std::size_t count = course_.work.count();
    next_ = course_.next[layers_].fetch_add(course_.block);
    end_ = std::min(next_ + course_.block, count);
    return next_ < count;
  }

  /// Does a part of a row's work; an exception marks this row as failed.
  template <class Part>
  void in_row(Held& held, std::size_t row, Part part) {
    held.row = row;
    try {
      part();
    } catch (const Stopped&) {
      held.crop.reset();
    } catch (const std::exception& error) {
      held.crop.reset();
      course_.work.fail(row, error.what());
    }
  }

  /// Computes a row with the full system.
  void follow(Held& held, std::string_view why) {
    course_.work.refused(held.row, why);
    finish(held, held.simulation->wet_span(false));
  }

  void finish(Held& held, WetSpan wet) {
    course_.work.store(held.row, held.simulation->finish(std::move(wet)));
  }

  void report() {
    ++course_.done;
    tell();
  }

  /// Called repeatedly within a long row.
  void look() {
    tell();
    if (course_.stopped) throw Stopped{};
  }

  void tell() {
    if (!calls_back_ || !course_.options.progress || course_.stopped) return;
    const auto now = std::chrono::steady_clock::now();
    if (now - told_ < std::chrono::milliseconds(100)) return;
    told_ = now;
    try {
      if (!course_.options.progress(course_.done)) course_.stopped = true;
    } catch (...) {
      course_.stopped = true;
      throw;
    }
  }

  Course& course_;
  bool calls_back_;
  std::size_t layers_ = 1;
  std::size_t next_ = 0, end_ = 0;  // rows that this thread has taken and not begun
  std::array<Held, clocks::most_lanes> held_;
  std::chrono::steady_clock::time_point told_ = std::chrono::steady_clock::now();
};

/// Threads that are joined at the end of a block, like std::jthread, which some versions of libc++ lack.
struct Crew {
  std::vector<std::thread> threads;
  ~Crew() {
    for (std::thread& thread : threads) thread.join();
  }
};

/// Eight results of a column are a cache line. Threads that take eight rows at once seldom write to the same
/// line, and seldom to the counter of rows. In a short batch the last block would keep the others waiting.
constexpr std::size_t rows_of_a_block = 8, long_batch = 32 * rows_of_a_block;  // rows of a thread

void compute(Work& work, const BatchOptions& options) {
  Course course{.work = work,
                .options = options,
                .instructions = options.instructions.value_or(instructions_here().back())};
  require_instructions(course.instructions);
  unsigned threads = options.threads;
  if (threads == 0) threads = std::max(1u, std::thread::hardware_concurrency());
  const auto hands = std::min<std::size_t>(threads, work.count());
  if (work.count() >= long_batch * hands) course.block = rows_of_a_block;
  {
    Crew crew;
    for (std::size_t i = 1; i < hands; ++i) {
      crew.threads.emplace_back([&course] { std::make_unique<Hand>(course, false)->work(); });
    }
    std::make_unique<Hand>(course, true)->work();
  }
  if (options.progress && !course.stopped) options.progress(course.done);
}

/// Whether an air is allowed; each air is checked once.
class Airs {
 public:
  void add(const CropAir& air) {
    const auto [at, added] = reasons_.try_emplace(&air);
    if (!added) return;
    try {
      check(air);
    } catch (const InputError& error) {
      at->second = error.what();
    }
  }
  void require(const CropAir& air) const {
    if (const std::string& reason = reasons_.at(&air); !reason.empty()) throw InputError(reason);
  }

 private:
  std::map<const CropAir*, std::string> reasons_;
};

class Jobs : public Work {
 public:
  Jobs(std::span<const Job> jobs, Batch& batch) : jobs_(jobs), batch_(batch) {
    for (const Job& job : jobs) {
      if (job.scenario == nullptr || job.air == nullptr) {
        throw InputError("a job needs a scenario and an air record");
      }
      airs_.add(*job.air);
    }
  }
  std::size_t count() const override { return jobs_.size(); }
  std::size_t layers(std::size_t row) const override {
    return static_cast<std::size_t>(std::clamp(jobs_[row].scenario->canopy.layers, 1, 4));
  }
  Job job(std::size_t row, Scenario&, CropAir&) const override {
    check(*jobs_[row].scenario);
    airs_.require(*jobs_[row].air);
    return jobs_[row];
  }
  void store(std::size_t row, Outcome&& outcome) override { batch_.outcomes[row] = std::move(outcome); }
  void fail(std::size_t row, const std::string& reason) override {
    batch_.outcomes[row] = failed();
    batch_.reasons[row] = reason;
    batch_.errors[row] = std::current_exception();
  }

 private:
  std::span<const Job> jobs_;
  Batch& batch_;
  Airs airs_;
};

constexpr std::array condition_members{&Conditions::temperature, &Conditions::relative_humidity,
                                       &Conditions::vapour_pressure_deficit, &Conditions::shortwave,
                                       &Conditions::air_changes};

class Table : public Work {
 public:
  Table(const Rows& rows, const RowResults& results)
      : rows_(rows), results_(results), layers_input_(parameter_index("canopy.layers")) {
    const auto wants = [&](bool fits, const char* what) {
      if (!fits) throw InputError(std::string("rows want ") + what);
    };
    for (const std::uint64_t row : rows.which) wants(row < rows.count, "to be rows that there are");
    for (const Rows::Column& column : rows.inputs) {
      wants(column.values.size() == rows.count, "one value a row in every column");
      wants(column.input < parameters().size(), "columns of inputs that there are");
      if (column.input == layers_input_) layers_column_ = column.values;
    }
    const auto there = [](const auto& all) {
      return std::find(all.begin(), all.end(), nullptr) == all.end();
    };
    wants(!rows.scenarios.empty() && there(rows.scenarios), "a scenario to start from");
    wants(there(rows.airs), "airs that there are");
    wants(rows.starts.empty() || rows.starts.size() == rows.count, "one start a row, or none");
    const auto positions = [&](std::span<const std::uint64_t> of, std::size_t size, const char* what) {
      wants(of.empty() || of.size() == rows.count, what);
      if (of.empty()) return;
      for (std::size_t place = 0; place < count(); ++place) wants(of[row(place)] < size, what);
    };
    positions(rows.air_of, rows.airs.size(), "one of the airs a row, or none");
    positions(rows.weeks.of, rows.weeks.means.size(), "one of the weeks a row, or none");
    positions(rows.scenario_of, rows.scenarios.size(), "one of the scenarios a row, or none");
    wants(results.values.size() == rows.count * outcome_variables().size() &&
              results.status.size() == rows.count && results.path.size() == rows.count &&
              (results.refusal.empty() || results.refusal.size() == rows.count) &&
              (results.conditions.empty() ||
               results.conditions.size() == rows.count * condition_members.size()),
          "results of a value a row");
    for (const CropAir* air : rows.airs) airs_.add(*air);
    if (rows.scenarios.size() == 1 && rows.inputs.empty()) check_alike();
    for (std::size_t place = 0; place < count(); ++place) {
      const std::size_t at = row(place);
      results.status[at] = static_cast<std::uint8_t>(Status::failed);
      results.path[at] = static_cast<std::uint8_t>(Path::reference);
      if (!results.refusal.empty()) results.refusal[at] = 0;
    }
  }

  std::size_t count() const override { return rows_.which.empty() ? rows_.count : rows_.which.size(); }
  std::size_t layers(std::size_t place) const override {
    const std::size_t at = row(place);
    const double layers = layers_column_.empty() ? scenario(at).canopy.layers : layers_column_[at];
    return layers >= 1.0 && layers <= 4.0 ? static_cast<std::size_t>(layers)
                                          : 1;  // others fail in their turn
  }
  Job job(std::size_t place, Scenario& own, CropAir& air) const override {
    const std::size_t at = row(place);
    const Scenario& its = alike_ ? *rows_.scenarios.front() : made(own, at);
    if (refused_) std::rethrow_exception(refused_);
    const double start = rows_.starts.empty() ? 0.0 : rows_.starts[at];
    std::span<const double> weeks;
    if (const Weeks& all = rows_.weeks; !all.means.empty())
      weeks = all.means[all.of.empty() ? 0 : all.of[at]];
    if (rows_.airs.empty()) {
      air = steady_air(its);
      tell(at, conditions(its.air, its.house));
      return {&its, &air, start, weeks};
    }
    const CropAir& given = *rows_.airs[rows_.air_of.empty() ? 0 : rows_.air_of[at]];
    airs_.require(given);
    if (!results_.conditions.empty()) {
      check_start(given, start);
      tell(at, conditions(given.at(start)));
    }
    return {&its, &given, start, weeks};
  }
  void store(std::size_t place, Outcome&& outcome) override {
    const std::size_t at = row(place);
    const auto variables = outcome_variables();
    for (std::size_t i = 0; i < variables.size(); ++i) {
      results_.values[i * rows_.count + at] = variables[i].value(outcome);
    }
    results_.status[at] = static_cast<std::uint8_t>(outcome.wet.status);
    results_.path[at] = static_cast<std::uint8_t>(outcome.wet.path);
  }
  void fail(std::size_t place, const std::string& reason) override {
    const std::lock_guard lock(failures_);
    failed_.push_back({row(place), reason, std::current_exception()});
  }
  void refused(std::size_t place, std::string_view why) override {
    if (results_.refusal.empty()) return;
    const auto all = clock_refusals();
    results_.refusal[row(place)] =
        static_cast<std::uint8_t>(std::find(all.begin(), all.end(), why) - all.begin());
  }
  std::vector<FailedRow> take_failed() {
    std::sort(failed_.begin(), failed_.end(),
              [](const FailedRow& a, const FailedRow& b) { return a.row < b.row; });
    return std::move(failed_);
  }
  /// Writes NaN for the rows that failed or were not reached.
  void mark_failed() {
    constexpr double nan = std::numeric_limits<double>::quiet_NaN();
    for (std::size_t place = 0; place < count(); ++place) {
      const std::size_t at = row(place);
      if (results_.status[at] != static_cast<std::uint8_t>(Status::failed)) continue;
      for (const std::span<double> table : {results_.values, results_.conditions}) {
        for (std::size_t i = at; i < table.size(); i += rows_.count) table[i] = nan;
      }
    }
  }

 private:
  /// Checks the scenario of all rows once, where no column changes it.
  void check_alike() {
    alike_ = true;
    try {
      check(*rows_.scenarios.front());
    } catch (const InputError&) {
      refused_ = std::current_exception();
    }
  }
  /// Makes the scenario of a row, and checks it.
  const Scenario& made(Scenario& own, std::size_t row) const {
    own = scenario(row);
    for (const Rows::Column& column : rows_.inputs) set(own, column.input, column.values[row]);
    check(own);
    return own;
  }
  std::size_t row(std::size_t place) const { return rows_.which.empty() ? place : rows_.which[place]; }
  const Scenario& scenario(std::size_t row) const {
    return *rows_.scenarios[rows_.scenario_of.empty() ? 0 : rows_.scenario_of[row]];
  }
  void tell(std::size_t row, const Conditions& conditions) const {
    if (results_.conditions.empty()) return;
    for (std::size_t i = 0; i < condition_members.size(); ++i) {
      results_.conditions[i * rows_.count + row] = conditions.*condition_members[i];
    }
  }

  const Rows& rows_;
  const RowResults& results_;
  std::size_t layers_input_;
  std::span<const double> layers_column_;
  bool alike_ = false;          // whether all rows have one scenario, which is checked
  std::exception_ptr refused_;  // why it is not allowed
  Airs airs_;
  std::mutex failures_;
  std::vector<FailedRow> failed_;
};

}  // namespace

Batch simulate_all(std::span<const Job> jobs, const BatchOptions& options) {
  Batch batch{std::vector<Outcome>(jobs.size(), failed()), std::vector<std::string>(jobs.size()),
              std::vector<std::exception_ptr>(jobs.size())};
  Jobs work(jobs, batch);
  compute(work, options);
  return batch;
}

std::vector<FailedRow> simulate_rows(const Rows& rows, const RowResults& results,
                                     const BatchOptions& options) {
  Table work(rows, results);
  compute(work, options);
  work.mark_failed();
  return work.take_failed();
}

std::span<const double> RowTable::column(std::string_view name) const {
  const std::size_t index = outcome_index(name);
  if (values.size() != outcome_variables().size() * count)
    throw InputError("a table needs one value a row of every outcome variable");
  return std::span(values).subspan(index * count, count);
}

void RowTable::require_all() const {
  if (!failed.empty()) std::rethrow_exception(failed.front().error);
}

RowTable simulate_rows(const Rows& rows, const BatchOptions& options) {
  RowTable table{.count = rows.count,
                 .values = std::vector<double>(outcome_variables().size() * rows.count),
                 .status = std::vector<std::uint8_t>(rows.count),
                 .path = std::vector<std::uint8_t>(rows.count),
                 .refusal = std::vector<std::uint8_t>(rows.count),
                 .failed = {}};
  table.failed =
      simulate_rows(rows, RowResults{table.values, table.status, table.path, table.refusal}, options);
  return table;
}

RowTable simulate_scenarios(std::span<const Scenario> scenarios, const CropAir& air, double start,
                            std::span<const double> weeks, const BatchOptions& options) {
  if (scenarios.empty()) return {};
  Rows rows;
  rows.count = scenarios.size(), rows.airs = {&air};
  std::vector<std::uint64_t> scenario_of;
  for (const Scenario& each : scenarios) {
    scenario_of.push_back(rows.scenarios.size());
    rows.scenarios.push_back(&each);
  }
  const std::vector<double> starts(scenarios.size(), start);
  rows.scenario_of = scenario_of, rows.starts = starts;
  if (!weeks.empty()) rows.weeks.means.push_back(weeks);
  return simulate_rows(rows, options);
}

}  // namespace wetspan
