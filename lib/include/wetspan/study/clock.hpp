// Wet spans on the clocks of their droplets: the fast way to follow many, where it is exact.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "wetspan/instructions.hpp"
#include "wetspan/study/wet_span.hpp"

namespace wetspan {

/// Why a span is not for the clock path; empty when it is.
///
/// Where every droplet of a leaf side gives water of activity one into the same boundary layer, all follow
/// one clock, s = integral of D (rho_sat - rho_s) / rho_l dt, and a class of droplets is a known function of
/// s over its base radius squared: a leaf layer of any number of classes has two clocks instead of an
/// equation a class. That does not hold with a hygroscopic solute (the activity differs from class to class)
/// or where liquid takes up water (dew); a re-wetting is two spans; and the course of a drop is a polynomial
/// here, good to 1e-8 or so. What only shows on the way, dew above all, is found on the way.
std::string_view clock_refuses(const Scenario& scenario, const Load& load, const Following& following = {});

/// Every reason why a spray is followed by the full system: first none (""), then those of clock_refuses(), a
/// re-wetting, what shows on the way, and that the caller asked for it.
std::span<const std::string_view> clock_refusals();

/// One wet span to follow; everything is the caller's.
struct SpanJob {
  const Scenario* scenario = nullptr;
  const Load* load = nullptr;
  const CropAir* air = nullptr;
  double start = 0;  ///< [s], in the record's time
};

/// What became of many spans.
struct ClockRun {
  std::vector<std::optional<WetSpan>>
      spans;                     ///< none where the clock path does not hold: follow it by wet_span()
  std::int64_t evaluations = 0;  ///< of the equations, over all spans
};

/// Follows spans on the calling thread, from spray to dry, as wet_span() does without a history: the same
/// equations, the same pair of Dormand and Prince, the same dry-outs, to the same tolerance. `one_lane`
/// follows one span at a time with the same instructions; the results are the same bits.
///
/// Throws InputError when this machine has not the instructions, and for a job that wet_span() would refuse.
ClockRun clock_spans(std::span<const SpanJob> jobs, Instructions instructions, bool one_lane = false);

}  // namespace wetspan
