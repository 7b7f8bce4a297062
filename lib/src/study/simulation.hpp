// The simulation of one crop in stages, so that a batch can compute the wet spans of several crops together.
#pragma once

#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "wetspan/plant/substrate.hpp"
#include "wetspan/study/simulate.hpp"

namespace wetspan {

/// The caller owns scenario, air and weeks, has checked them, and keeps them alive as long as this object.
class Simulation {
 public:
  /// Lands the first application. Throws InputError when the two contradict each other.
  Simulation(const Scenario& scenario, const CropAir& air, double start, std::span<const double> weeks = {},
             Watch watch = nullptr);
  Simulation(const Simulation&) = delete;
  Simulation& operator=(const Simulation&) = delete;

  /// The first application as a scenario of its own, and when it is in the record [s].
  const Scenario& scenario() const { return *scenario_; }
  double start() const { return start_; }

  /// The reason why the clock path cannot be used for the wet span; empty if it can be used.
  std::string_view clock_refuses() const;
  /// The initial load of the wet span.
  const Load& load() const { return load_; }

  /// Computes the wet span with the full system.
  WetSpan wet_span(bool keep_history) const;
  /// Computes everything after the wet span: further applications and the weeks of growth.
  Outcome finish(WetSpan wet, bool keep_history = false, HeightCourse* course = nullptr);

 private:
  /// The result of an application before the weeks of growth; masses per plant [kg], times after the start of
  /// growth [s].
  struct Settled {
    std::vector<Arrival> arrivals = {};
    struct Locked {
      double time = 0;
      double leaf = 0, stem = 0;
    };
    std::vector<Locked> locked = {};  // dried deposit that is not mobile
    double availability = 1;          // Placement::availability
    double applied = 0, weathered = 0, bench = 0, airborne = 0;

    void add(const Settled& more);
  };
  WetSpan wet_span_by_either_path() const;
  Settled settle(WetSpan& wet, WetSpan& rewet, double at, std::size_t position, bool keep_history);
  void take(const WetSpan& span, Settled& settled);
  void wet_again(Settled& settled);
  void dry_out(Settled& settled, const WetSpan& last, double ends, std::size_t position);
  Account account_of(const Settled& settled, const Growth& growth) const;

  const Scenario* scenario_;
  const CropAir& air_;
  double start_;
  std::span<const double> weeks_;
  std::optional<Applications> all_;  // of a calendar
  const Scenario& whole_;            // the calendar's own
  bool again_;                       // whether a re-wetting follows
  Following following_;
  Landing landing_;
  Load load_;
  Placement placed_;  // of the share that reached the substrate
};

}  // namespace wetspan
