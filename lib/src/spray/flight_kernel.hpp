// Interface of the kernel that integrates several flights at once in vector lanes.
//
// The kernel (flight_kernel.cpp) is compiled once for each instruction set. It solves the equations of
// flight_equations.hpp with polynomial fits of the default laws; flight.cpp integrates all other flights with
// Odeint.
#pragma once

#include <array>
#include <cstddef>
#include <span>

#include "../properties/fitted_air.hpp"
#include "flight_equations.hpp"
#include "wetspan/instructions.hpp"

namespace wetspan::flight {

/// The end of a droplet's flight.
struct Ending {
  std::array<double, flight_entries> state{};
  double time = 0;  // [s]
  FlightEnd end = FlightEnd::still_aloft;
  bool wet = true, relaxed = false;
  bool followed = false;  // finished within most_steps; otherwise the other members are invalid
};

/// Terminal speed over that of Stokes' law, for droplets below relaxed_diameter, as a polynomial in
/// z / half_fall - 1. z is the Reynolds number at Stokes' terminal speed to the power 0.657, a variable in
/// which the default drag law is smooth.
struct FallFit {
  static constexpr double power = 0.657, most_reynolds = 0.5;
  double half_fall;  // [-]
  std::array<double, 12> share;
};
const FallFit& fall_fit();

/// Whether the kernel's laws are those of the input, and accurate enough for its tolerance.
bool for_kernel(const FlightInput& input);

struct Kernel {
  /// Integrates the flight of a droplet of each diameter; for_kernel(input) must hold.
  void (*follow)(const FlightInput& input, const Film& film, const AirFits& air, const FallFit& fall,
                 std::span<const double> diameters, std::span<Ending> endings);
};
const Kernel& kernel(Instructions instructions);

}  // namespace wetspan::flight
