// The kernel that follows drying crops on their clocks, compiled once for each instruction set: WETSPAN_WIDTH
// is its number of lanes; WETSPAN_LANES_NAMESPACE and WETSPAN_KERNELS keep the copies apart.
// docs/science/clocks.md says what it does, and why:
//
//   clock_droplets.hpp    what the droplets of a leaf side amount to along a step of their clock
//   clock_equations.hpp   the rates of change
//   clock_steps.hpp       steps from mark to mark
//   clock_events.hpp      what is met there, and in which order
//   clock_dryness.hpp     when leaves count as dry
//   clock_marks.hpp       what lets go of its edge, and what dries out
//   clock_filling.hpp     how events come into lanes and go
//
// It must emit no function that the rest of the library shares (DEVELOPERS.md).

#ifndef WETSPAN_WIDTH
#define WETSPAN_WIDTH 2
#define WETSPAN_LANES_NAMESPACE baseline_lanes
#define WETSPAN_KERNELS baseline_kernels
#endif

#include <memory>

#include "clock_dryness.hpp"
#include "clock_events.hpp"
#include "clock_filling.hpp"
#include "clock_marks.hpp"

namespace wetspan::clocks {

inline namespace WETSPAN_LANES_NAMESPACE {
namespace {

template <int Width>
std::int64_t follow(EventSupply& supply, const AirFits& fits) {
  return std::make_unique<Events<Width>>(supply, fits)->run();  // too large for some threads' stacks
}

}  // namespace
}  // namespace WETSPAN_LANES_NAMESPACE

extern const Kernels WETSPAN_KERNELS;
static_assert(WETSPAN_WIDTH >= 1 && WETSPAN_WIDTH <= most_lanes);
const Kernels WETSPAN_KERNELS{follow<WETSPAN_WIDTH>, follow<1>};

}  // namespace wetspan::clocks
