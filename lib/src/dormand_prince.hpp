// The pair of Dormand and Prince 1980, order 5(4), and its dense output by Hairer, Norsett and Wanner 1993,
// II.6.
#pragma once

namespace wetspan::dormand_prince {

constexpr int stages = 7;
/// The step length that meets a tolerance goes with the error to this power: the error of a step of order 4
/// goes with the fifth power of its length.
constexpr double step_by_error = -0.2;
constexpr double nodes_of_pair[stages] = {0.0, 0.2, 0.3, 0.8, 8.0 / 9.0, 1.0, 1.0};
constexpr double weights[stages][stages - 1] = {
    {},
    {0.2},
    {3.0 / 40.0, 9.0 / 40.0},
    {44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0},
    {19372.0 / 6561.0, -25360.0 / 2187.0, 64448.0 / 6561.0, -212.0 / 729.0},
    {9017.0 / 3168.0, -355.0 / 33.0, 46732.0 / 5247.0, 49.0 / 176.0, -5103.0 / 18656.0},
    {35.0 / 384.0, 0.0, 500.0 / 1113.0, 125.0 / 192.0, -2187.0 / 6784.0, 11.0 / 84.0}};
constexpr double error_weights[stages] = {71.0 / 57600.0,      0.0,          -71.0 / 16695.0, 71.0 / 1920.0,
                                          -17253.0 / 339200.0, 22.0 / 525.0, -1.0 / 40.0};
constexpr double dense_weights[stages] = {-12715105075.0 / 11282082432.0,  0.0,
                                          87487479700.0 / 32700410799.0,   -10690763975.0 / 1880347072.0,
                                          701980252875.0 / 199316789632.0, -1453857185.0 / 822651844.0,
                                          69997945.0 / 29380423.0};

/// The dense output of one entry, at the share `theta` of a step [1]. It is inlined always: a kernel shares
/// no function with the rest of the library.
struct Dense {
  double start, rise, c3, c4, c5;

  [[gnu::always_inline]] inline double at(double theta) const {
    const double rest = 1.0 - theta;
    return start + theta * (rise + rest * (c3 + theta * (c4 + rest * c5)));
  }
};

}  // namespace wetspan::dormand_prince
