// The path of nozzles over a bench, for a wand swept by hand or a boom, as straight passes at constant speed.
//
// The irregularity of speed, height and spacing is modelled as noise with a stated coefficient of variation.
//
// References
// - Box GEP, Muller ME 1958, Ann. Math. Stat. 29:610-611.
// - Steele GL, Lea D, Flood CH 2014, OOPSLA: 453-472 (from memory).
// - Uhlenbeck GE, Ornstein LS 1930, Phys. Rev. 36:823-841.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "wetspan/parameters.hpp"

namespace wetspan {

// clang-format off

/// Inputs of `Wand`.
#define WETSPAN_WAND(P) \
  P(double, height, 0.45, 0.05, 3.0, 1.3, "m", "cm", D, "the scenario's nozzle", \
    "Height of the nozzle above the crop; by default nozzle.height") \
  P(double, pace, 0.20, 0.005, 5.0, 1.5, "m/s", "m/s", D, "the user's way of spraying", \
    "Speed of the advance along the bench") \
  P(double, period, 2.0, 0.1, 60.0, 1.5, "s", "s", D, "the user's way of spraying", \
    "Time of one sweep across the bench and back") \
  P(double, reach, 0.05, -5.0, 5.0, 1.0, "m", "cm", D, "assumption", \
    "Distance beyond the edge of the bench at which the sweep turns; negative inside the edge") \
  P(double, overrun, 0.10, -5.0, 5.0, 1.0, "m", "cm", D, "assumption", \
    "Distance from the ends of the bench at which spraying starts and stops, outside the bench") \
  P(double, turning, 0.30, 0.0, 1.0, 1.5, "1", "percent", D, "assumption", \
    "Share of a stroke's time spent slowing down before a turn and speeding up after it") \
  P(double, speed_variation, 0.25, 0.0, 2.0, 1.6, "1", "percent", D, \
    "assumption: no measured speeds of a hand-held nozzle were found", \
    "Coefficient of variation of the speed along the path") \
  P(double, height_variation, 0.15, 0.0, 1.0, 1.6, "1", "percent", D, "assumption", \
    "Coefficient of variation of the height") \
  P(double, spacing_variation, 0.20, 0.0, 1.0, 1.6, "1", "percent", D, "assumption", \
    "Standard deviation of the turning points along the bench, over the advance per stroke") \
  P(double, correlation_length, 1.5, 0.0, 100.0, 2.0, "m", "m", D, "assumption: about one stroke", \
    "Length of path over which speed and height are correlated; with 0 every step is independent") \
  P(double, step, 0.02, 0.005, 1.0, 1.0, "m", "cm", B, "convergence shown in docs/science/bench.md", \
    "Longest piece of path at one speed and height")

/// Inputs of `Boom`.
#define WETSPAN_BOOM(P) \
  P(double, height, 0.50, 0.05, 3.0, 1.1, "m", "cm", D, "the user's boom", "Height of the nozzles above the crop") \
  P(double, speed, 0.30, 0.005, 20.0, 1.1, "m/s", "m/s", D, "the user's boom", "Travel speed along the bench") \
  P(int, nozzles, 0, 0, 1000, 1.0, "1", "1", D, "the user's boom", \
    "Number of nozzles side by side, centred on the bench; 0: as many as cover its width") \
  P(double, spacing, 0.50, 0.02, 5.0, 1.0, "m", "cm", D, "the user's boom; 50 cm is usual", \
    "Distance between nozzles") \
  P(int, runs, 1, 1, 1000, 1.0, "1", "1", D, "the user's way of spraying", \
    "Number of times the boom travels over the bench, in alternating directions") \
  P(double, overrun, 0.30, -5.0, 5.0, 1.0, "m", "cm", D, "assumption", \
    "Distance from the ends of the bench at which the nozzles are turned on and off, outside the bench") \
  P(double, speed_variation, 0.05, 0.0, 2.0, 1.6, "1", "percent", D, \
    "assumption: deposits under field booms vary by 3.5-5.2 % because of horizontal movement (Ooms et al. 2003)", \
    "Coefficient of variation of the speed along the path") \
  P(double, height_variation, 0.05, 0.0, 1.0, 1.6, "1", "percent", D, "assumption", \
    "Coefficient of variation of the height, one for the whole boom") \
  P(double, spacing_variation, 0.02, 0.0, 1.0, 1.6, "1", "percent", D, "assumption: nozzles slightly turned", \
    "Standard deviation of the aim of each nozzle, over their spacing") \
  P(double, correlation_length, 0.5, 0.0, 100.0, 2.0, "m", "m", D, "assumption", \
    "Length of path over which speed and height are correlated; with 0 every step is independent") \
  P(double, step, 0.02, 0.005, 1.0, 1.0, "m", "cm", B, "convergence shown in docs/science/bench.md", \
    "Longest piece of path at one speed and height")

// clang-format on

#define WETSPAN_MEMBER(type, name, standard, low, high, spread, unit, shown, grade, source, meaning) \
  type name = standard;
/// A nozzle swept from side to side by someone who walks along the bench.
struct Wand {
  WETSPAN_WAND(WETSPAN_MEMBER)
};
/// Nozzles side by side that travel along the bench together.
struct Boom {
  WETSPAN_BOOM(WETSPAN_MEMBER)
};
#undef WETSPAN_MEMBER

/// A straight segment of a nozzle's path with constant speed, height and flow. The bench occupies
/// 0 <= x <= length, 0 <= y <= width.
struct Pass {
  double x0 = 0, y0 = 0, x1 = 0, y1 = 0;  ///< start and end [m]
  double speed = 0;                       ///< [m/s]
  double height = 0;                      ///< of the nozzle above the crop [m]
  double flow = 0;                        ///< [m3/s]; 0 where the nozzle is off
};

/// Volume that the passes emit [m3]: the sum of flow length / speed. Like the functions of passes below, it
/// throws InputError unless coordinates are within 1e4 m, speeds 1e-6 .. 100 m/s, heights 1e-3 .. 10 m and
/// flows 0 .. 10 m3/s.
double emitted(std::span<const Pass> passes);

/// Duration of the passes [s].
double duration(std::span<const Pass> passes);

/// The path of a nozzle swept by hand across a bench of `length` and `width` [m], with `flow` [m3/s]. It
/// consists of straight strokes between turning points on the two sides. Each stroke takes half a period and
/// advances along the bench by pace period / 2. During the first turning / 2 of its time the stroke
/// accelerates, and during the last turning / 2 it decelerates, at a constant rate. The time spent on a
/// segment and the height are multiplied by lognormal noise with mean 1; turning points are shifted by normal
/// noise.
/// @throws InputError for a value outside the bounds of the table, or a path of more than a million segments
std::vector<Pass> wand_passes(const Wand& wand, double length, double width, double flow, std::uint64_t seed);

/// The paths of a boom's nozzles along a bench: parallel lines, each with `flow` [m3/s]. The noise of speed
/// and height is that of the wand and is common to all nozzles.
/// @throws InputError as above
std::vector<Pass> boom_passes(const Boom& boom, double length, double width, double flow, std::uint64_t seed);

/// The same path at a constant speed with the same duration. Segments without flow are unchanged.
std::vector<Pass> with_even_speed(std::vector<Pass> passes);

/// The same path at a constant height, the mean along the segments with flow, by their length.
std::vector<Pass> with_even_height(std::vector<Pass> passes);

// Noise ----------------------------------------------------------------------------------------------------

/// Standard normal number [1] that depends only on seed, stream and index, and is identical in every run. Two
/// outputs of SplitMix64 (Steele, Lea and Flood 2014), at a state hashed from seed, stream and index, are
/// transformed to a normal number by the method of Box and Muller (1958).
double noise(std::uint64_t seed, std::uint64_t stream, std::uint64_t index);

/// Lognormal factor with mean 1 and coefficient of variation `variation` from a standard normal number `z`:
/// exp(s z - s^2 / 2), s^2 = ln(1 + variation^2). Its reciprocal has the same coefficient of variation.
/// @throws InputError unless z is finite and variation 0 .. 100
double lognormal(double z, double variation);

}  // namespace wetspan
