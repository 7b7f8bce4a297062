// Checks of a bench's layout.
#pragma once

#include "wetspan/study/bench.hpp"

namespace wetspan {

/// Throws InputError for the first value out of bounds.
void check(const Layout& layout);

}  // namespace wetspan
