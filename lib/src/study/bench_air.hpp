// The air of a house after a spray, as the plants on a bench share it.
#pragma once

#include "wetspan/plant/crop_air.hpp"
#include "wetspan/study/wet_span.hpp"

namespace wetspan {

/// `air` from `start` [s] on, with what a spray changed in it: the differences to `course`, the history of
/// the mean plant's wet span.
CropAir with_course(const CropAir& air, const History& course, double start);

}  // namespace wetspan
