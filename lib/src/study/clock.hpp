// Making events ready for the clock kernel, and reading what became of them.
#pragma once

#include "clock_kernel.hpp"
#include "wetspan/study/clock.hpp"

namespace wetspan {

/// Throws InputError unless this build has these instructions and this machine can run them.
void require_instructions(Instructions instructions);

namespace clocks {

/// The kernels of one instruction set, which are here.
const Kernels& kernels(Instructions instructions);

/// Fills in an event of `crop`, which carries `load`.
void make_ready(Event& event, const WetCrop& crop, const Load& load);

/// The wet span that a solution tells of.
WetSpan read(const Solution& solution, const WetCrop& crop, const Load& load);

}  // namespace clocks
}  // namespace wetspan
