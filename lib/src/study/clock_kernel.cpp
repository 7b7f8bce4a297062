// The kernel that follows drying crops on their clocks, compiled once for each instruction set: WETSPAN_WIDTH
// is its number of lanes; WETSPAN_LANES_NAMESPACE and WETSPAN_KERNELS distinguish the copies.
// docs/science/clocks.md derives the method:
//
//   clock_droplets.hpp    sums over the droplets of a leaf side within a step of their clock
//   clock_equations.hpp   the rates of change
//   clock_steps.hpp       steps from discontinuity to discontinuity
//   clock_events.hpp      the integration of events, and the order in which discontinuities are handled
//   clock_dryness.hpp     the time at which leaves count as dry
//   clock_marks.hpp       classes that begin to recede, and classes and films that dry out
//   clock_filling.hpp     beginning and end of events in lanes
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
