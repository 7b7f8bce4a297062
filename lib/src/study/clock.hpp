// The interface between wet spans and the clock kernel: when the clock path is exact (docs/science/clocks.md,
// "Where it is not exact"), how a span becomes an event of the kernel, and how its solution becomes a span.
#pragma once

#include <string_view>

#include "clock_kernel.hpp"
#include "wetspan/study/clock.hpp"

namespace wetspan {

/// Reasons why a spray is computed with the full system.
namespace refusal {
inline constexpr std::string_view none = "", no_liquid = "no liquid on leaves",
                                  hygroscopic = "a hygroscopic liquid", dew = "dew on the leaves",
                                  beyond_drying = "followed beyond drying",
                                  not_to_the_end = "not followed to the end",
                                  tolerance = "a tolerance beyond the polynomials",
                                  contact_angle = "a contact angle beyond the polynomial",
                                  many_classes = "too many droplet classes",
                                  rewetting = "a re-wetting follows",
                                  given_up = "dew, or the like, on the way", asked = "the caller asks for it";
}  // namespace refusal

namespace clocks {

/// The kernels of an instruction set, which must be available on this machine.
const Kernels& kernels(Instructions instructions);

/// Sets `event` to the span of `crop`, which carries `load`.
void make_ready(Event& event, const WetCrop& crop, const Load& load);

/// The wet span of a solution.
WetSpan read(const Solution& solution, const WetCrop& crop, const Load& load);

}  // namespace clocks
}  // namespace wetspan
