// Why one bench of a crop comes out uneven: a nozzle's pattern, carried along its path, over plants in rows.
//
// A nozzle at height h spreads its flow over a footprint on the crop by straight rays: every length of the
// footprint grows with h. A path is straight passes at constant speed v; one pass of length l along s leaves,
// at distance a across it,
//
//     D(a, s) = Q / v  integral over u = 0 .. l of p(a, s - u) du                    [m3/m2 = m]
//
// with p the footprint's density. Footprints are made of bars - a strip across the pass with a density linear
// in a, even along s - so that D is linear in a times linear in s on every rectangle between the corners of
// both. Each rectangle is cut along the lines of the grid, whatever the direction of the pass, and integrated
// exactly: what falls in the cells and beside the bench adds up to what was emitted, to rounding.
//
// Straight rays: no drift, no air jet, no lean of the nozzle, and the footprint turns with the direction of
// travel. What speed, height and spacing do in a real hand is noise here, with a stated coefficient of
// variation.
//
// References
// - Box GEP, Muller ME 1958, Ann. Math. Stat. 29:610-611.
// - Steele GL, Lea D, Flood CH 2014, OOPSLA: 453-472 (from memory).
// - Uhlenbeck GE, Ornstein LS 1930, Phys. Rev. 36:823-841.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "wetspan/parameters.hpp"
#include "wetspan/study/scenario.hpp"

namespace wetspan {

enum class Shape { uniform, triangular, trapezoid, elliptical, cone, ring };
enum class Arrangement { square, staggered };
template <>
inline constexpr std::array<std::string_view, 6> choice_names<Shape>{"uniform",    "triangular", "trapezoid",
                                                                     "elliptical", "cone",       "ring"};
template <>
inline constexpr std::array<std::string_view, 2> choice_names<Arrangement>{"square", "staggered"};

// clang-format off

/// Inputs of `PatternInput`, columns as in parameters.hpp.
#define WETSPAN_PATTERN(P) \
  P(Shape, shape, Shape::triangular, 0, 5, 1.0, "1", "1", D, \
    "assumption: a flat fan that tapers to its edges, made to overlap", \
    "Density across a flat fan (uniform, triangular, trapezoid, elliptical), or a cone: full or a ring") \
  P(double, angle, 1.396, 0.05, 2.6, 1.1, "rad", "deg", D, "the scenario's nozzle: 80 degrees", \
    "Opening of the fan or cone; left out, nozzle.fan_angle") \
  P(double, thickness_angle, 0.3, 0.05, 2.6, 1.5, "rad", "deg", D, "the scenario's nozzle: a flat fan", \
    "Opening of a flat fan along its travel; a cone has only one angle; left out, nozzle.fan_thickness") \
  P(double, top, 0.5, 0.0, 1.0, 1.3, "1", "1", D, "assumption", \
    "Width of a trapezoid's level top over its base: 0 is triangular, 1 uniform") \
  P(double, hollow, 0.6, 0.0, 0.98, 1.3, "1", "1", D, "assumption", \
    "Inner over outer radius of a ring")

/// Inputs of `Wand`.
#define WETSPAN_WAND(P) \
  P(double, height, 0.45, 0.05, 3.0, 1.3, "m", "cm", D, "the scenario's nozzle", \
    "Nozzle above the crop; left out, nozzle.height") \
  P(double, pace, 0.20, 0.005, 5.0, 1.5, "m/s", "m/s", D, "the user's way of spraying", \
    "Advance along the bench") \
  P(double, period, 2.0, 0.1, 60.0, 1.5, "s", "s", D, "the user's way of spraying", \
    "Time of one sweep across the bench and back") \
  P(double, reach, 0.05, -5.0, 5.0, 1.0, "m", "cm", D, "assumption", \
    "How far beyond the edge of the bench the sweep turns round; negative is short of it") \
  P(double, overrun, 0.10, -5.0, 5.0, 1.0, "m", "cm", D, "assumption", \
    "How far before and beyond the ends of the bench spraying starts and stops") \
  P(double, turning, 0.30, 0.0, 1.0, 1.5, "1", "percent", D, "assumption", \
    "Share of a stroke's time spent slowing down before a turn and speeding up after it") \
  P(double, speed_variation, 0.25, 0.0, 2.0, 1.6, "1", "percent", D, \
    "assumption: no measured series of a hand's speed is at hand", \
    "Coefficient of variation of the speed along the path") \
  P(double, height_variation, 0.15, 0.0, 1.0, 1.6, "1", "percent", D, "assumption", \
    "Coefficient of variation of the height") \
  P(double, spacing_variation, 0.20, 0.0, 1.0, 1.6, "1", "percent", D, "assumption", \
    "Standard deviation of the turning points along the bench, over the advance per stroke") \
  P(double, correlation_length, 1.5, 0.0, 100.0, 2.0, "m", "m", D, "assumption: about one stroke", \
    "Path over which speed and height forget what they were; 0 is white noise, new at every step") \
  P(double, step, 0.02, 0.005, 1.0, 1.0, "m", "cm", B, "convergence shown in docs/science/bench.md", \
    "Longest piece of path at one speed and height")

/// Inputs of `Boom`.
#define WETSPAN_BOOM(P) \
  P(double, height, 0.50, 0.05, 3.0, 1.1, "m", "cm", D, "the user's boom", "Nozzles above the crop") \
  P(double, speed, 0.30, 0.005, 20.0, 1.1, "m/s", "m/s", D, "the user's boom", "Travel along the bench") \
  P(int, nozzles, 0, 0, 1000, 1.0, "1", "1", D, "the user's boom", \
    "Nozzles side by side, centred on the bench; 0 is as many as cover its width") \
  P(double, spacing, 0.50, 0.02, 5.0, 1.0, "m", "cm", D, "the user's boom; 50 cm is usual", \
    "Distance between nozzles") \
  P(int, runs, 1, 1, 1000, 1.0, "1", "1", D, "the user's way of spraying", \
    "How often the boom travels over the bench, there and back in turn") \
  P(double, overrun, 0.30, -5.0, 5.0, 1.0, "m", "cm", D, "assumption", \
    "How far before and beyond the ends of the bench the nozzles are on") \
  P(double, speed_variation, 0.05, 0.0, 2.0, 1.6, "1", "percent", D, \
    "assumption: what horizontal movement does to deposits under field booms is 3.5-5.2 % (Ooms et al. 2003)", \
    "Coefficient of variation of the speed along the path") \
  P(double, height_variation, 0.05, 0.0, 1.0, 1.6, "1", "percent", D, "assumption", \
    "Coefficient of variation of the height, one for the whole boom") \
  P(double, spacing_variation, 0.02, 0.0, 1.0, 1.6, "1", "percent", D, "assumption: nozzles slightly turned", \
    "Standard deviation of the aim of each nozzle, over their spacing") \
  P(double, correlation_length, 0.5, 0.0, 100.0, 2.0, "m", "m", D, "assumption", \
    "Path over which speed and height forget what they were; 0 is white noise, new at every step") \
  P(double, step, 0.02, 0.005, 1.0, 1.0, "m", "cm", B, "convergence shown in docs/science/bench.md", \
    "Longest piece of path at one speed and height")

/// Inputs of `Layout`.
#define WETSPAN_LAYOUT(P) \
  P(int, rows, 10, 1, 1000, 1.0, "1", "1", D, "the user's bench; a made-up one by default", \
    "Rows of plants across the bench") \
  P(int, columns, 20, 1, 1000, 1.0, "1", "1", D, "the user's bench; a made-up one by default", \
    "Plants in a row, along the bench") \
  P(double, spacing, 0.1524, 0.01, 2.0, 1.0, "m", "cm", A, \
    "6 in by 6 in: a trade magazine's spacing table", "Distance of a plant to the next in its row") \
  P(Arrangement, arrangement, Arrangement::square, 0, 1, 1.0, "1", "1", D, "the user's bench", \
    "Square, or staggered: every second row shifted by half a spacing, rows sqrt(3)/2 spacings apart") \
  P(double, size_variation, 0.10, 0.0, 1.0, 1.6, "1", "percent", D, \
    "assumption; heights within a dose vary by 3.6-12.5 % (Welham et al. 2015, data set)", \
    "Coefficient of variation of the plants' linear size when they are sprayed")

/// How a bench is computed and judged, columns as in parameters.hpp.
#define WETSPAN_BENCH(P) \
  P(double, volume, 1e-3, 1e-9, 100.0, 1.0, "m^3", "L", D, \
    "left out: as much as gives the bench application.volume_rate on average", \
    "Volume emitted, what falls beside the bench included") \
  P(double, cell, 0.02, 0.001, 0.5, 1.0, "m", "cm", B, "convergence shown in docs/science/bench.md", \
    "Size of the map's cells, made to fit the bench") \
  P(double, band, 0.05, 0.0, 1.0, 1.0, "1", "percent", D, "convention", \
    "Plants whose height is further than this from the mean height, over it, are outside the band")

// clang-format on

#define WETSPAN_MEMBER(type, name, standard, low, high, spread, unit, shown, grade, source, meaning) \
  type name = standard;
struct PatternInput {
  WETSPAN_PATTERN(WETSPAN_MEMBER)
};
/// A nozzle swept from side to side by someone who walks along the bench.
struct Wand {
  WETSPAN_WAND(WETSPAN_MEMBER)
};
/// Nozzles side by side that travel along the bench together.
struct Boom {
  WETSPAN_BOOM(WETSPAN_MEMBER)
};
struct Layout {
  WETSPAN_LAYOUT(WETSPAN_MEMBER)
};
#undef WETSPAN_MEMBER

/// Every row of the five tables, with its grade and source; sections "pattern", "wand", "boom", "layout",
/// "bench".
std::span<const Parameter> bench_parameters();

// The nozzle's pattern -------------------------------------------------------------------------------------

/// Part of a footprint; lengths per nozzle height [1], x pointing across the travel and y along it.
struct Bar {
  double left = 0, right = 0;        ///< extent across, left < right
  double at_left = 0, at_right = 0;  ///< share of the flow per length across there, linear in between
  double back = 0, front = 0;        ///< extent along, back < front; even in between
};

/// A footprint; the shares of its bars sum to 1.
using Pattern = std::vector<Bar>;

/// Share of the flow in a bar [1]: (right - left) (at_left + at_right) / 2.
double share(const Bar& bar);

/// The footprint of a nozzle. Uniform, triangular and trapezoid fans are exact; the ellipse
/// sqrt(1 - (a / A)^2) and the cones (even density between inner and outer radius) are made of 24 or more
/// strips with cosine spacing. Half widths are tan(angle / 2) per height.
/// @throws InputError for a value outside its row in the table
Pattern pattern(const PatternInput& input);

/// A fan as measured on a patternator at `height` [m]: `amounts` (any unit) at `offsets` [m] from the nozzle,
/// linear in between and nothing beyond them.
/// @param thickness_angle [rad], as in the table
/// @throws InputError unless there are two points or more, offsets increase and amounts are finite, none
///         below 0 and not all 0
Pattern measured_pattern(std::span<const double> offsets, std::span<const double> amounts, double height,
                         double thickness_angle);

// The path -------------------------------------------------------------------------------------------------

/// A straight stretch of a nozzle's path at constant speed, height and flow. The bench lies at
/// 0 <= x <= length, 0 <= y <= width.
struct Pass {
  double x0 = 0, y0 = 0, x1 = 0, y1 = 0;  ///< from and to [m]
  double speed = 0;                       ///< [m/s]
  double height = 0;                      ///< of the nozzle above the crop [m]
  double flow = 0;                        ///< [m3/s]; 0 is off
};

/// Volume the passes emit [m3]: sum of flow length / speed.
double emitted(std::span<const Pass> passes);

/// Time the passes take [s].
double duration(std::span<const Pass> passes);

/// A nozzle swept across a bench of `length` and `width` [m] by hand: straight strokes between turning points
/// on either side, each taking half a period, the next pace period / 2 further along. A stroke speeds up over
/// turning / 2 of its time, and slows down over the last turning / 2, at constant acceleration. Time on a
/// piece of path and height are multiplied by lognormal noise of mean 1; turning points are shifted by normal
/// noise. `flow` [m3/s].
/// @throws InputError for a value outside its row, or a path of more than a million pieces
std::vector<Pass> wand_passes(const Wand& wand, double length, double width, double flow, std::uint64_t seed);

/// A boom's nozzles along a bench, parallel lines; speed and height noise, as for the wand, is common to all
/// nozzles. `flow` [m3/s] is each nozzle's.
/// @throws InputError as above
std::vector<Pass> boom_passes(const Boom& boom, double length, double width, double flow, std::uint64_t seed);

/// The same path at one speed that takes as long; what is off stays as it is.
std::vector<Pass> with_even_speed(std::vector<Pass> passes);

/// The same path at one height, the mean over the path that is sprayed.
std::vector<Pass> with_even_height(std::vector<Pass> passes);

// The deposit ----------------------------------------------------------------------------------------------

/// A bench under cells, and a margin of some more cells around it.
struct Grid {
  double length = 0, width = 0;  ///< of the bench, along x and y [m]
  int columns = 0, rows = 0;     ///< cells along x and y
  int margin = 0;                ///< further cells on every side

  double dx() const { return length / columns; }
  double dy() const { return width / rows; }
  std::size_t all_columns() const { return static_cast<std::size_t>(columns + 2 * margin); }
  std::size_t all_rows() const { return static_cast<std::size_t>(rows + 2 * margin); }
};

/// Cells of about `cell` [m] that fit the bench, and as many around it as `overhang` [m] needs.
/// @throws InputError for a grid of more than four million cells
Grid grid_over(double length, double width, double cell, double overhang);

/// What the passes left.
struct DepositMap {
  Grid grid;
  std::vector<double> depth;  ///< [m] = m3/m2, row by row from the lowest y, margin included
  double on_bench = 0;        ///< [m3]
  double off_bench = 0;       ///< [m3]: on the margin and beyond it
};

/// Deposits the passes; exact, as told above. On + off the bench is what was emitted, to rounding; both are
/// summed from what fell, neither by difference.
/// @throws InputError for a grid of no cells or more than four million, or a pass that is not possible
DepositMap deposit_passes(const Grid& grid, const Pattern& pattern, std::span<const Pass> passes);

/// A round patch of the bench [m].
struct Disc {
  double x = 0, y = 0, diameter = 0;
};

/// Mean depth [m] over each disc, every cell weighted by the area it shares with the disc.
/// @param depth as in DepositMap
/// @throws InputError for a disc that does not lie within the grid and its margin
std::vector<double> mean_over(const Grid& grid, std::span<const double> depth, std::span<const Disc> discs);

/// Area that a circle of unit radius at the origin shares with u <= x, v <= y.
double circle_in_quadrant(double x, double y);

// The plants -----------------------------------------------------------------------------------------------

/// Where a plant stands [m]; row and column from 0.
struct Place {
  double x = 0, y = 0;
  int row = 0, column = 0;
};

/// Distance between rows [m].
double row_spacing(const Layout& layout);
/// Plants per area [1/m2].
double plant_density(const Layout& layout);
/// Length and width of the bench [m]: half a spacing beyond the outermost plants.
double bench_length(const Layout& layout);
double bench_width(const Layout& layout);

/// Every place, row by row. @throws InputError for a value outside its row in the table
std::vector<Place> places(const Layout& layout);

/// Linear size of each plant over the mean [1]: lognormal of mean 1 and the layout's variation; the plant's
/// position in `places` and the seed make it.
std::vector<double> sizes(const Layout& layout, std::uint64_t seed);

/// Diameter of the crown of a plant of mean size [m]: crown_cover / plant_density as a disc.
double crown_diameter(const Canopy& canopy);

/// A plant as a scenario: sprayed with `deposit` [m], of linear size `size` over the mean [1], in a pot of
/// `pot_diameter` [m] among `density` [1/m2] plants.
///
/// Leaf and stem area, crown area and water use go with size^2; so does half_dose, since the same dose is
/// thinner in a larger plant (assumption, grade D). A crown that outgrows its ground closes with its
/// neighbours: cover is 1 and the leaves stand denser. Substrate goes with the cube of the pot's diameter.
/// @throws InputError for what makes no scenario
Scenario plant_on_bench(const Scenario& mean, double deposit, double size, double pot_diameter,
                        double density);

// Noise ----------------------------------------------------------------------------------------------------

/// Standard normal number [1] made of its coordinates alone, the same bits in every run: two outputs of
/// SplitMix64 (Steele, Lea and Flood 2014) at a place hashed from seed, stream and index, turned normal by
/// Box and Muller (1958).
double noise(std::uint64_t seed, std::uint64_t stream, std::uint64_t index);

/// Lognormal factor of mean 1 and coefficient of variation `variation` from a standard normal `z`:
/// exp(s z - s^2 / 2), s^2 = ln(1 + variation^2). Its inverse has the same coefficient of variation.
double lognormal(double z, double variation);

}  // namespace wetspan
