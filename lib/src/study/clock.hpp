// Making events ready for the clock kernel, and reading what became of them.
#pragma once

#include "clock_kernel.hpp"
#include "wetspan/study/clock.hpp"

namespace wetspan::clocks {

/// The kernels of one instruction set.
const Kernels& kernels(Instructions instructions);

/// Fills in an event of `crop`, which carries `load`.
void make_ready(Event& event, const WetCrop& crop, const Load& load);

/// The wet span that a solution tells of.
WetSpan read(const Solution& solution, const WetCrop& crop, const Load& load);

}  // namespace wetspan::clocks
