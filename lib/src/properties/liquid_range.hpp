// Temperatures between which a sprayed liquid is followed.
#pragma once

namespace wetspan {

// K; colder liquid counts as this: the formulas of water hold from its triple point on
constexpr double coldest_liquid = 273.16;
// K; warmer liquid counts as this: the hottest air that droplets are flown in, see MoistAir
constexpr double hottest_liquid = 323.15;

}  // namespace wetspan
