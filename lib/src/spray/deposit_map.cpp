#include "wetspan/spray/deposit_map.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <sstream>
#include <string>
#include <utility>

#include "passes.hpp"

namespace wetspan {
namespace {

using std::numbers::pi;

constexpr double most_cells = 4e6;  // largest number of cells of a grid

// Polygons -------------------------------------------------------------------------------------------------

struct Point {
  double x = 0, y = 0;
};

/// A convex polygon. A rectangle cut by four lines has at most eight corners.
struct Polygon {
  std::array<Point, 10> corner;
  int count = 0;

  void add(Point p) { corner[static_cast<std::size_t>(count++)] = p; }
  const Point& operator[](int i) const { return corner[static_cast<std::size_t>(i)]; }

  std::pair<double, double> extent(double Point::* axis) const {
    double low = corner[0].*axis, high = low;
    for (int i = 1; i < count; ++i) {
      low = std::min(low, (*this)[i].*axis);
      high = std::max(high, (*this)[i].*axis);
    }
    return {low, high};
  }
};

/// Cuts `whole` along axis = `at`. Both parts have the same new corners, so that their areas add up exactly.
void cut(const Polygon& whole, double Point::* axis, double at, Polygon& below, Polygon& above) {
  below.count = above.count = 0;
  for (int i = 0; i < whole.count; ++i) {
    const Point p = whole[i], q = whole[i + 1 < whole.count ? i + 1 : 0];
    const double dp = p.*axis - at, dq = q.*axis - at;
    if (dp <= 0.0) below.add(p);
    if (dp >= 0.0) above.add(p);
    if ((dp < 0.0 && dq > 0.0) || (dp > 0.0 && dq < 0.0)) {
      const double w = dp / (dp - dq);
      Point between{p.x + w * (q.x - p.x), p.y + w * (q.y - p.y)};
      between.*axis = at;
      below.add(between);
      above.add(between);
    }
  }
}

/// The deposit on a rectangle aligned with a pass: a linear function across it times a linear function along
/// it.
struct Patch {
  Point origin, along;                          // start of the pass; unit vector of travel
  double left, right;                           // across [m], to the right of travel
  double back, front;                           // along [m]
  double at_left, at_right, at_back, at_front;  // the two factors at the edges; their product is [m]

  double at(Point p) const {
    const double x = p.x - origin.x, y = p.y - origin.y;
    const double s = x * along.x + y * along.y, a = x * along.y - y * along.x;
    return (at_left + (at_right - at_left) * (a - left) / (right - left)) *
           (at_back + (at_front - at_back) * (s - back) / (front - back));
  }

  Polygon outline() const {
    Polygon result;
    for (const auto [a, s] : {Point{left, back}, Point{right, back}, Point{right, front}, Point{left, front}})
      result.add({origin.x + s * along.x + a * along.y, origin.y + s * along.y - a * along.x});
    return result;
  }

  /// Volume on a part of the rectangle, by the mid-edge rule on triangles, which is exact for quadratic
  /// functions.
  double volume(const Polygon& part) const {
    double sum = 0.0;
    for (int i = 2; i < part.count; ++i) {
      const Point p = part[0], q = part[i - 1], r = part[i];
      const double doubled = (q.x - p.x) * (r.y - p.y) - (q.y - p.y) * (r.x - p.x);
      sum += std::abs(doubled) / 6.0 *
             (at({0.5 * (p.x + q.x), 0.5 * (p.y + q.y)}) + at({0.5 * (q.x + r.x), 0.5 * (q.y + r.y)}) +
              at({0.5 * (r.x + p.x), 0.5 * (r.y + p.y)}));
    }
    return sum;
  }
};

/// Volumes in the cells of a grid and beyond it.
class Cells {
 public:
  explicit Cells(const Grid& grid)
      : columns_(static_cast<int>(grid.all_columns())),
        rows_(static_cast<int>(grid.all_rows())),
        dx_(grid.dx()),
        dy_(grid.dy()),
        x0_(-grid.margin * dx_),
        y0_(-grid.margin * dy_),
        volume_(grid.all_columns() * grid.all_rows()) {}

  const std::vector<double>& volume() const { return volume_; }
  double beyond() const { return beyond_; }

  void add(const Patch& patch) {
    Polygon rest = patch.outline(), below, above;
    const auto [low, high] = rest.extent(&Point::y);
    int row = index(low, y0_, dy_, rows_);
    for (; row < rows_ && line(row + 1, y0_, dy_) < high; ++row) {
      cut(rest, &Point::y, line(row + 1, y0_, dy_), below, above);
      add(patch, below, row);
      rest = above;
    }
    add(patch, rest, row);
  }

 private:
  /// Cell that holds a coordinate; -1 before the grid, `count` after it.
  static int index(double at, double start, double step, int count) {
    return static_cast<int>(std::clamp(std::floor((at - start) / step), -1.0, static_cast<double>(count)));
  }
  static double line(int i, double start, double step) { return start + i * step; }

  void add(const Patch& patch, Polygon rest, int row) {
    if (rest.count < 3) return;
    if (row < 0 || row >= rows_) {
      beyond_ += patch.volume(rest);
      return;
    }
    Polygon before, after;
    const auto [low, high] = rest.extent(&Point::x);
    int column = index(low, x0_, dx_, columns_);
    for (; column < columns_ && line(column + 1, x0_, dx_) < high; ++column) {
      cut(rest, &Point::x, line(column + 1, x0_, dx_), before, after);
      put(patch.volume(before), row, column);
      rest = after;
    }
    put(patch.volume(rest), row, column);
  }

  void put(double volume, int row, int column) {
    if (column < 0 || column >= columns_) beyond_ += volume;
    else
      volume_[static_cast<std::size_t>(row) * static_cast<std::size_t>(columns_) +
              static_cast<std::size_t>(column)] += volume;
  }

  int columns_, rows_;
  double dx_, dy_, x0_, y0_;
  std::vector<double> volume_;
  double beyond_ = 0.0;
};

/// Adds the deposit of one bar along a pass. Along the pass it rises, is constant, and falls.
void add_bar(Cells& cells, const Bar& bar, const Pass& pass, double length) {
  const double h = pass.height, extent = h * (bar.front - bar.back), start = h * bar.back;
  const double ramp = std::min(extent, length), level = std::abs(extent - length);
  const double most = pass.flow / pass.speed * ramp / extent;
  const std::array<std::array<double, 4>, 3> stretches{
      {{start, start + ramp, 0.0, most},
       {start + ramp, start + ramp + level, most, most},
       {start + ramp + level, start + extent + length, most, 0.0}}};
  for (const auto& [back, front, at_back, at_front] : stretches) {
    if (!(front > back)) continue;
    cells.add({.origin = {pass.x0, pass.y0},
               .along = {(pass.x1 - pass.x0) / length, (pass.y1 - pass.y0) / length},
               .left = h * bar.left,
               .right = h * bar.right,
               .back = back,
               .front = front,
               .at_left = bar.at_left / h,
               .at_right = bar.at_right / h,
               .at_back = at_back,
               .at_front = at_front});
  }
}

void check(const Bar& bar) {
  const double most = 1e3;
  for (const double edge : {bar.left, bar.right, bar.back, bar.front})
    require("an edge of a footprint's bar", edge, -most, most, "heights");
  for (const double density : {bar.at_left, bar.at_right})
    require("the density of a footprint's bar", density, 0.0, 1e9, "");
  if (!(bar.left < bar.right && bar.back < bar.front))
    throw InputError("a footprint's bar has left below right and back below front");
}

void check(const Grid& grid) {
  require_bench(grid.length, grid.width);
  require("the grid's columns", grid.columns, 1, most_cells, "");
  require("the grid's rows", grid.rows, 1, most_cells, "");
  require("the grid's margin", grid.margin, 0, 1e4, "cells");
  require("the grid's cells in all",
          static_cast<double>(grid.all_columns()) * static_cast<double>(grid.all_rows()), 1, most_cells, "");
}

}  // namespace

Grid grid_over(double length, double width, double cell, double overhang) {
  require_bench(length, width);
  require("the grid's cells", cell, 1e-4, 10.0, "m");
  require("the overhang", overhang, 0.0, 10.0, "m");
  const auto cells = [&](double extent) {
    return static_cast<int>(std::max(1.0, std::round(extent / cell)));
  };
  Grid grid{.length = length, .width = width, .columns = cells(length), .rows = cells(width), .margin = 0};
  if (overhang > 0.0) grid.margin = static_cast<int>(std::ceil(overhang / std::min(grid.dx(), grid.dy())));
  check(grid);
  return grid;
}

DepositMap deposit_passes(const Grid& grid, const Pattern& pattern, std::span<const Pass> passes) {
  check(grid);
  for (const Bar& bar : pattern) check(bar);
  Cells cells(grid);
  for (const Pass& pass : passes) {
    check(pass);
    const double length = length_of(pass);
    if (length == 0.0 || pass.flow == 0.0) continue;
    for (const Bar& bar : pattern) add_bar(cells, bar, pass, length);
  }

  DepositMap map{.grid = grid, .depth = cells.volume()};
  map.off_bench = cells.beyond();
  const double area = grid.dx() * grid.dy();
  for (int row = 0; row < static_cast<int>(grid.all_rows()); ++row) {
    for (int column = 0; column < static_cast<int>(grid.all_columns()); ++column) {
      double& cell =
          map.depth[static_cast<std::size_t>(row) * grid.all_columns() + static_cast<std::size_t>(column)];
      const int i = column - grid.margin, j = row - grid.margin;
      (i >= 0 && i < grid.columns && j >= 0 && j < grid.rows ? map.on_bench : map.off_bench) += cell;
      cell /= area;
    }
  }
  return map;
}

double circle_in_quadrant(double x, double y) {
  if (std::isnan(x) || std::isnan(y)) throw InputError("the corner of a quadrant is not a number");
  x = std::clamp(x, -1.0, 1.0);
  y = std::clamp(y, -1.0, 1.0);
  const auto beyond = [](double t) { return std::acos(t) - t * std::sqrt((1.0 - t) * (1.0 + t)); };
  if (x * x + y * y >= 1.0) {  // the corner lies outside: the disc less segments, one segment, or nothing
    if (x >= 0.0 && y >= 0.0) return pi - beyond(x) - beyond(y);
    if (x >= 0.0) return beyond(-y);
    return y >= 0.0 ? beyond(-x) : 0.0;
  }
  const auto half = [](double t) { return 0.5 * (t * std::sqrt((1.0 - t) * (1.0 + t)) + std::asin(t)); };
  return x * y + 0.25 * pi + half(x) + half(y);
}

std::vector<double> mean_over(const Grid& grid, std::span<const double> depth, std::span<const Disc> discs) {
  check(grid);
  const std::size_t columns = grid.all_columns(), rows = grid.all_rows();
  if (depth.size() != columns * rows) throw InputError("a map needs one depth for each cell of its grid");
  const double x0 = -grid.margin * grid.dx(), y0 = -grid.margin * grid.dy();
  std::vector<double> means;
  for (const Disc& disc : discs) {
    const double radius = 0.5 * disc.diameter;
    require("a crown's diameter", disc.diameter, 1e-4, 10.0, "m");
    // the cells that the disc touches; the overlap with the outermost ones may be 0
    const double first_x = std::floor((disc.x - radius - x0) / grid.dx()),
                 last_x = std::floor((disc.x + radius - x0) / grid.dx());
    const double first_y = std::floor((disc.y - radius - y0) / grid.dy()),
                 last_y = std::floor((disc.y + radius - y0) / grid.dy());
    if (!(first_x >= 0.0 && first_y >= 0.0 && last_x < static_cast<double>(columns) &&
          last_y < static_cast<double>(rows))) {
      std::ostringstream message;
      message << "a crown " << disc.diameter << " m across at (" << disc.x << ", " << disc.y
              << ") m does not lie within the bench and its margin of " << grid.margin << " cells";
      throw InputError(message.str());
    }
    double sum = 0.0;
    const auto quadrant = [&](std::size_t i, std::size_t j) {
      return circle_in_quadrant((x0 + static_cast<double>(i) * grid.dx() - disc.x) / radius,
                                (y0 + static_cast<double>(j) * grid.dy() - disc.y) / radius);
    };
    for (auto j = static_cast<std::size_t>(first_y); j <= static_cast<std::size_t>(last_y); ++j) {
      for (auto i = static_cast<std::size_t>(first_x); i <= static_cast<std::size_t>(last_x); ++i) {
        const double shared =
            quadrant(i + 1, j + 1) - quadrant(i, j + 1) - quadrant(i + 1, j) + quadrant(i, j);
        sum += shared * depth[j * columns + i];
      }
    }
    means.push_back(require_finite("a mean depth over a crown", sum / pi));
  }
  return means;
}

}  // namespace wetspan
