#include "wetspan/plant/response.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <sstream>

#include "wetspan/errors.hpp"

namespace wetspan {
namespace {

[[noreturn]] void refuse(const Crop& crop, double control) {
  std::ostringstream message;
  message << "no course of heights ends at a growth control of " << control << ": plants "
          << crop.initial_height << " m tall when sprayed, of " << crop.final_height
          << " m in the end, can be held back by at most " << 1.0 - crop.initial_height / crop.final_height
          << "; look at crop.initial_height and crop.largest_control";
  throw InputError(message.str());
}

}  // namespace

BySite at_the_tips(const BySite& uptake, const Crop& crop) {
  return {.leaf = uptake.leaf * crop.growing_leaf_share,
          .stem = uptake.stem * crop.tip_share,
          .root = uptake.root * crop.tip_share};
}

double growth_control(double dose, const Crop& crop) {
  return dose > 0.0 ? crop.largest_control / (1.0 + std::pow(crop.half_dose / dose, crop.slope)) : 0.0;
}

HeightCourse heights(const Crop& crop, const BySite& tips, double root_rate, double control, double horizon,
                     int points) {
  if (!(control >= 0.0 && control <= 1.0 - crop.initial_height / crop.final_height)) refuse(crop, control);
  if (!(horizon > 0.0 && points >= 2)) {
    throw InputError("a course of heights needs a horizon above 0 s and two points or more");
  }
  HeightCourse course;
  const double loss = std::numbers::ln2 / crop.tip_half_life, entering = root_rate;
  const auto present = [&](double t) {  // substance at the tips, over what ever arrives there
    const double at_once = (tips.leaf + tips.stem) * std::exp(-loss * t);
    const double arriving = 1.0 - std::exp(-entering * horizon);
    if (arriving <= 0.0) return at_once;
    const double apart = loss - entering;
    const double grown = std::abs(apart * horizon) > 1e-9
                             ? entering * (std::exp(-entering * t) - std::exp(-loss * t)) / apart
                             : entering * t * std::exp(-loss * t);
    return at_once + tips.root / arriving * grown;
  };
  // logistic from initial_height to final_height, scaled to meet both ends
  constexpr double steepness = 8.0, middle = 0.45;
  const auto logistic = [](double x) { return 1.0 / (1.0 + std::exp(-steepness * (x - middle))); };
  const double begin = logistic(0.0), rise = logistic(1.0) - begin;
  double largest = 0.0;
  std::vector<double> amount;
  for (int i = 0; i < points; ++i) {
    const double x = static_cast<double>(i) / (points - 1);
    course.time.push_back(x * horizon);
    course.untreated.push_back(crop.initial_height +
                               (crop.final_height - crop.initial_height) * (logistic(x) - begin) / rise);
    amount.push_back(present(x * horizon));
    largest = std::max(largest, amount.back());
  }
  const auto follow =
      [&](double factor) {  // treated heights when growth is held back by factor times the amount
        course.treated.assign(1, course.untreated[0]);
        course.inhibited.assign(1, largest > 0.0 ? std::min(1.0, factor * amount[0] / largest) : 0.0);
        for (std::size_t i = 1; i < course.time.size(); ++i) {
          course.inhibited.push_back(largest > 0.0 ? std::min(1.0, factor * amount[i] / largest) : 0.0);
          const double held = 0.5 * (course.inhibited[i - 1] + course.inhibited[i]);
          course.treated.push_back(course.treated[i - 1] +
                                   (1.0 - held) * (course.untreated[i] - course.untreated[i - 1]));
        }
        return 1.0 - course.treated.back() / course.untreated.back();
      };
  double low = 0.0, high = 1.0;
  while (follow(high) < control) {
    low = high, high *= 4.0;
    if (high > 1e100) refuse(crop, control);  // even growth held back wholly is not enough
  }
  for (int i = 0; i < 60; ++i) {
    const double factor = 0.5 * (low + high);
    (follow(factor) < control ? low : high) = factor;
  }
  follow(0.5 * (low + high));
  return course;
}

}  // namespace wetspan
