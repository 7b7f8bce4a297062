// Deposit of nozzles on a bench: a footprint moves along a path of straight passes.
//
// The deposit of one pass of length l at speed v along s is, at the distance a across it,
//
//     D(a, s) = Q / v  integral over u = 0 .. l of p(a, s - u) du                    [m3/m2 = m]
//
// with p the density of the footprint. A footprint consists of bars, so that D is the product of a linear
// function of a and a linear function of s on every rectangle between the corners of bar and pass. Each
// rectangle is cut along the lines of the grid, for any direction of the pass, and integrated exactly. The
// deposits in the cells and beside the bench add up to the emitted volume, to rounding. The footprint turns
// with the direction of travel.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "wetspan/spray/passes.hpp"
#include "wetspan/spray/pattern.hpp"

namespace wetspan {

/// A grid of cells over a bench, with a margin of cells around it.
struct Grid {
  double length = 0, width = 0;  ///< of the bench, along x and y [m]
  int columns = 0, rows = 0;     ///< cells along x and y
  int margin = 0;                ///< additional cells on every side

  double dx() const { return length / columns; }
  double dy() const { return width / rows; }
  std::size_t all_columns() const {
    return static_cast<std::size_t>(columns) + 2 * static_cast<std::size_t>(margin);
  }
  std::size_t all_rows() const {
    return static_cast<std::size_t>(rows) + 2 * static_cast<std::size_t>(margin);
  }
};

/// A grid with a whole number of cells of about `cell` [m] over the bench, and a margin of at least
/// `overhang` [m].
/// @throws InputError for a grid of more than four million cells
Grid grid_over(double length, double width, double cell, double overhang);

/// The deposit of all passes.
struct DepositMap {
  Grid grid;
  std::vector<double> depth;  ///< [m] = m3/m2, row by row from the lowest y, margin included
  double on_bench = 0;        ///< [m3]
  double off_bench = 0;       ///< [m3]: on the margin and beyond it
};

/// Computes the deposit of the passes by the exact integration described above. on_bench + off_bench is the
/// emitted volume, to rounding; both are sums of deposits, neither is a difference.
/// @throws InputError for a grid without cells or with more than four million, or for an impossible pass or
///         bar of the pattern
DepositMap deposit_passes(const Grid& grid, const Pattern& pattern, std::span<const Pass> passes);

/// A disc on the bench [m].
struct Disc {
  double x = 0, y = 0, diameter = 0;
};

/// Mean depth [m] over each disc; each cell is weighted by its area of overlap with the disc.
/// @param depth as in DepositMap
/// @throws InputError for a disc that does not lie within the grid and its margin
std::vector<double> mean_over(const Grid& grid, std::span<const double> depth, std::span<const Disc> discs);

/// Area [1] of the intersection of the unit disc at the origin with the quadrant u <= x, v <= y.
/// @throws InputError for NaN
double circle_in_quadrant(double x, double y);

}  // namespace wetspan
