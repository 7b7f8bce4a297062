// Numbers drawn at and between bounds, for random tests.
#pragma once

#include <cmath>
#include <random>

/// Draws from low to high: one in fifty is either bound; evenly in the logarithm where the bounds are more
/// than tenfold apart and above 0. Two draws of `bits` are taken.
inline double drawn_within(std::mt19937_64& bits, double low, double high) {
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  const double where = uniform(bits), edge = uniform(bits);
  if (edge < 0.02) return low;
  if (edge > 0.98) return high;
  return low > 0.0 && high > 10.0 * low ? low * std::pow(high / low, where) : low + (high - low) * where;
}
