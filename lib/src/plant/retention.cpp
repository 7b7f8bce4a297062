#include "wetspan/plant/retention.hpp"

#include <algorithm>
#include <cmath>

namespace wetspan {

double retained(double landed, double store, double held) {
  return store > 0.0 ? -std::max(0.0, store - held) * std::expm1(-landed / store) : 0.0;
}

}  // namespace wetspan
