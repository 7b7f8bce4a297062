// The vector instructions that the library's kernels are built for.
#pragma once

#include <span>
#include <string_view>

namespace wetspan {

/// Instruction sets of the kernels; each has its own number of lanes, one droplet or one spray in each.
enum class Instructions {
  baseline,  ///< what every machine of the architecture has: 2 lanes
  avx2,      ///< x86-64 with AVX2 and FMA: 4 lanes
  avx512,    ///< x86-64 with AVX-512 F, DQ, BW, VL and CD: 8 lanes
};
std::string_view name_of(Instructions instructions);  ///< as text

/// Those that this build has and this machine can run, the fastest last.
std::span<const Instructions> instructions_here();

/// Throws InputError, naming those that there are, when this machine or this build has not the instructions.
void require_instructions(Instructions instructions);

}  // namespace wetspan
