// Flights side by side in vector lanes: what the kernel is given, what it gives back.
//
// The kernel (flight_kernel.cpp) is compiled once for each instruction set. It takes the equations of
// flight_equations.hpp by the laws of the default, fitted; flight.cpp follows all others by Odeint.
#pragma once

#include <array>
#include <cstddef>
#include <span>

#include "../properties/fitted_air.hpp"
#include "flight_equations.hpp"
#include "wetspan/instructions.hpp"

namespace wetspan::flight {

/// How a droplet's flight ended.
struct Ending {
  std::array<double, flight_entries> state{};
  double time = 0;  // [s]
  FlightEnd end = FlightEnd::still_aloft;
  bool wet = true, relaxed = false;
  bool followed = false;  // within most_steps; nothing else holds otherwise
};

/// Terminal speed over that of Stokes' law, of droplets that may count as relaxed, in powers of
/// z / half_fall - 1 where z is the Reynolds number at Stokes' terminal speed to the power 0.657: so the
/// default law of drag is smooth in it.
struct FallFit {
  static constexpr double power = 0.657, most_reynolds = 0.5;
  double half_fall;  // [-]
  std::array<double, 12> share;
};
const FallFit& fall_fit();

/// Whether the kernel's laws are those of a flight, and good enough for its tolerance.
bool for_kernel(const FlightInput& input);

struct Kernel {
  /// Follows a droplet of each diameter; the input is one that for_kernel() allows.
  void (*follow)(const FlightInput& input, const Film& film, const AirFits& air, const FallFit& fall,
                 std::span<const double> diameters, std::span<Ending> endings);
};
const Kernel& kernel(Instructions instructions);

}  // namespace wetspan::flight
