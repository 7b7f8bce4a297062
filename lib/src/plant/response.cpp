#include "wetspan/plant/response.hpp"

#include <cmath>

namespace wetspan {

BySite at_the_tips(const BySite& uptake, const Crop& crop) {
  return {.leaf = uptake.leaf * crop.growing_leaf_share,
          .stem = uptake.stem * crop.tip_share,
          .root = uptake.root * crop.tip_share};
}

double growth_control(double dose, const Crop& crop) {
  return dose > 0.0 ? crop.largest_control / (1.0 + std::pow(crop.half_dose / dose, crop.slope)) : 0.0;
}

}  // namespace wetspan
