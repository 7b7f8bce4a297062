// A fast method for many wet spans: the drying of all droplets of a leaf side as a function of one variable,
// its clock. It is used only where it is exact.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "wetspan/instructions.hpp"
#include "wetspan/study/wet_span.hpp"

namespace wetspan {

/// The reason why the clock path cannot be used for a span; empty if it can be used.
///
/// If every droplet of a leaf side has water activity one and evaporates into the same boundary layer, all
/// droplets follow one clock, s = integral of D (rho_sat - rho_s) / rho_l dt. The state of a size class is
/// then a known function of s divided by its base radius squared. A leaf layer with any number of classes
/// needs two clocks instead of one differential equation per class. This does not hold with a hygroscopic
/// solute, because the activity then differs among classes, nor where liquid takes up water (dew). A
/// re-wetting consists of two spans. The volume of a drop as a function of its clock is a polynomial here,
/// with an error of about 1e-8. Conditions that arise during the span, above all dew, are detected while it
/// is integrated, not by this function.
std::string_view clock_refuses(const Scenario& scenario, const Load& load, const Following& following = {});

/// Every reason why the full system is integrated for a spray: first none (""), then the reasons of
/// clock_refuses(), a re-wetting, conditions that arise during the span, and a request of the caller.
std::span<const std::string_view> clock_refusals();

/// One wet span to compute. The caller owns all the data.
struct SpanJob {
  const Scenario* scenario = nullptr;
  const Load* load = nullptr;
  const CropAir* air = nullptr;
  double start = 0;  ///< [s], in the record's time
};

/// Results of many spans.
struct ClockRun {
  std::vector<std::optional<WetSpan>> spans;  ///< absent where the clock path does not hold: use wet_span()
  std::int64_t evaluations = 0;               ///< evaluations of the equations, over all spans
};

/// Computes spans from spray to dry on the calling thread, like wet_span() without a history: it solves the
/// same equations with the same Dormand-Prince pair, locates the same drying-out times, and uses the same
/// tolerance. With `one_lane` it computes one span at a time with the same instructions; the results are
/// identical, bit for bit.
///
/// Throws InputError if this machine lacks the instructions, and for a job that wet_span() would refuse.
ClockRun clock_spans(std::span<const SpanJob> jobs, Instructions instructions, bool one_lane = false);

}  // namespace wetspan
