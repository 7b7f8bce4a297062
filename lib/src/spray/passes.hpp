// Declarations that paths, deposit maps and benches share.
#pragma once

#include <cmath>

#include "../require.hpp"
#include "wetspan/spray/passes.hpp"

namespace wetspan {

/// The purpose of a stream of noise. The numbers must not change, since the noise for a seed depends on them.
enum Stream : std::uint64_t { speed_stream = 1, height_stream, spacing_stream, size_stream, pour_stream };

/// Throws InputError for the first value of a pass that is not allowed.
void check(const Pass& pass);

inline double length_of(const Pass& pass) { return std::hypot(pass.x1 - pass.x0, pass.y1 - pass.y0); }

inline void require_bench(double length, double width) {
  require("the bench's length", length, 0.01, 1000.0, "m");
  require("the bench's width", width, 0.01, 100.0, "m");
}

}  // namespace wetspan
