// One spray on its way from the nozzle to the height of the plant, in parts, so that many can be followed
// together.
#pragma once

#include <string_view>

#include "wetspan/plant/substrate.hpp"
#include "wetspan/study/simulate.hpp"

namespace wetspan {

/// Scenario and air are the caller's, are known to be allowed, and outlive it.
class Simulation {
 public:
  /// Lands the spray. Throws InputError when the two contradict each other.
  Simulation(const Scenario& scenario, const CropAir& air, double start);

  /// Why the clock path is not for its wet span; empty when it is.
  std::string_view clock_refuses() const;
  /// What it begins with.
  const Load& load() const { return load_; }

  /// Follows the wet span of the spray by the full system.
  WetSpan wet_span(bool keep_history) const;
  /// All that comes after it.
  Outcome finish(WetSpan wet, bool keep_history = false);

 private:
  /// Active ingredient per area of bench [kg/m2], by where it is while spans last.
  struct Masses {
    double leaf = 0, stem = 0;  // taken up
    double substrate = 0, bench = 0, airborne = 0;
  };
  void take(const WetSpan& span);
  void wet_again();

  const Scenario& scenario_;
  const CropAir& air_;
  double start_;
  bool again_;  // whether a re-wetting follows
  Following following_;
  Landing landing_;
  Load load_;
  Placement placed_;  // of what reached the substrate
  Masses masses_;
};

}  // namespace wetspan
