// What nozzles leave on a bench: a footprint carried along a path of straight passes.
//
// One pass of length l at speed v along s leaves, at distance a across it,
//
//     D(a, s) = Q / v  integral over u = 0 .. l of p(a, s - u) du                    [m3/m2 = m]
//
// with p the footprint's density. Since footprints are made of bars, D is linear in a times linear in s on
// every rectangle between the corners of both. Each rectangle is cut along the lines of the grid, whatever
// the direction of the pass, and integrated exactly: what falls in the cells and beside the bench adds up to
// what was emitted, to rounding. The footprint turns with the direction of travel.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "wetspan/spray/passes.hpp"
#include "wetspan/spray/pattern.hpp"

namespace wetspan {

/// A bench under cells, and a margin of some more cells around it.
struct Grid {
  double length = 0, width = 0;  ///< of the bench, along x and y [m]
  int columns = 0, rows = 0;     ///< cells along x and y
  int margin = 0;                ///< further cells on every side

  double dx() const { return length / columns; }
  double dy() const { return width / rows; }
  std::size_t all_columns() const {
    return static_cast<std::size_t>(columns) + 2 * static_cast<std::size_t>(margin);
  }
  std::size_t all_rows() const {
    return static_cast<std::size_t>(rows) + 2 * static_cast<std::size_t>(margin);
  }
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

}  // namespace wetspan
