// The sets of vector instructions for which the library's kernels are built.
#pragma once

#include <span>
#include <string_view>

namespace wetspan {

/// Instruction sets of the kernels. They differ in the number of lanes; each lane computes one droplet or one
/// spray.
enum class Instructions {
  baseline,  ///< available on every machine of the architecture: 2 lanes
  avx2,      ///< x86-64 with AVX2 and FMA: 4 lanes
  avx512,    ///< x86-64 with AVX-512 F, DQ, BW, VL and CD: 8 lanes
};
std::string_view name_of(Instructions instructions);  ///< as text

/// Instruction sets that this build contains and this machine can run, the fastest last.
std::span<const Instructions> instructions_here();

/// Throws InputError, which lists the available sets, if this machine or this build lacks the instructions.
void require_instructions(Instructions instructions);

}  // namespace wetspan
