// The ranges of FlightInput that others keep within.
#pragma once

namespace wetspan {

inline constexpr double most_draught = 5.0;      // m/s, across the spray
inline constexpr double longest_jet = 1.0;       // m
inline constexpr double finest_flight = 1e-12;   // tolerance [1]
inline constexpr double coarsest_flight = 1e-3;  // tolerance [1]

}  // namespace wetspan
