#include "wetspan/study/bench.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <numeric>
#include <sstream>
#include <string>
#include <type_traits>

#include "../spray/require.hpp"
#include "wetspan/plant/canopy.hpp"

namespace wetspan {
namespace {

using std::numbers::pi;

constexpr double most_pieces = 1e6;  // of a path
constexpr double most_cells = 4e6;   // of a grid
constexpr int strips = 24;           // of a curved profile, edge to edge

template <class Type>
constexpr Kind kind_of() {
  if constexpr (std::is_enum_v<Type>) return Kind::choice;
  else if constexpr (std::is_same_v<Type, int>) return Kind::count;
  else return Kind::number;
}

#define WETSPAN_ROW(type, name, standard, low, high, spread, unit, shown, grade, source, meaning) \
  Parameter{section,                                                                              \
            #name,                                                                                \
            kind_of<type>(),                                                                      \
            static_cast<double>(standard),                                                        \
            low,                                                                                  \
            high,                                                                                 \
            spread,                                                                               \
            unit,                                                                                 \
            shown,                                                                                \
            Grade::grade,                                                                         \
            source,                                                                               \
            meaning,                                                                              \
            choice_names<type>},
const auto pattern_rows = [](std::string_view section) {
  return std::to_array<Parameter>({WETSPAN_PATTERN(WETSPAN_ROW)});
}("pattern");
const auto wand_rows = [](std::string_view section) {
  return std::to_array<Parameter>({WETSPAN_WAND(WETSPAN_ROW)});
}("wand");
const auto boom_rows = [](std::string_view section) {
  return std::to_array<Parameter>({WETSPAN_BOOM(WETSPAN_ROW)});
}("boom");
const auto layout_rows = [](std::string_view section) {
  return std::to_array<Parameter>({WETSPAN_LAYOUT(WETSPAN_ROW)});
}("layout");
const auto bench_rows = [](std::string_view section) {
  return std::to_array<Parameter>({WETSPAN_BENCH(WETSPAN_ROW)});
}("bench");
#undef WETSPAN_ROW

#define WETSPAN_CHECK(type, name, standard, low, high, spread, unit, shown, grade, source, meaning) \
  check(*row++, static_cast<double>(value.name));
void check(const PatternInput& value) {
  const Parameter* row = pattern_rows.data();
  WETSPAN_PATTERN(WETSPAN_CHECK)
}
void check(const Wand& value) {
  const Parameter* row = wand_rows.data();
  WETSPAN_WAND(WETSPAN_CHECK)
}
void check(const Boom& value) {
  const Parameter* row = boom_rows.data();
  WETSPAN_BOOM(WETSPAN_CHECK)
}
void check(const Layout& value) {
  const Parameter* row = layout_rows.data();
  WETSPAN_LAYOUT(WETSPAN_CHECK)
}
#undef WETSPAN_CHECK

// Noise ----------------------------------------------------------------------------------------------------

enum Stream : std::uint64_t { speed_stream = 1, height_stream, spacing_stream, size_stream };

/// SplitMix64's output function.
std::uint64_t mixed(std::uint64_t x) {
  x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9u;
  x = (x ^ (x >> 27)) * 0x94d049bb133111ebu;
  return x ^ (x >> 31);
}
constexpr std::uint64_t golden = 0x9e3779b97f4a7c15u;

/// Uniform in (0, 1), never either end.
double uniform(std::uint64_t bits) { return (static_cast<double>(bits >> 11) + 0.5) * 0x1p-53; }

/// Standard normal noise along a path, with autocorrelation exp(-distance / length) (Ornstein-Uhlenbeck).
class Course {
 public:
  Course(std::uint64_t seed, Stream stream, double length)
      : seed_(seed), stream_(stream), length_(length), value_(noise(seed, stream, 0)) {}

  double here() const { return value_; }
  void advance(double distance) {
    const double kept = length_ > 0.0 ? std::exp(-distance / length_) : 0.0;
    value_ = kept * value_ + std::sqrt(1.0 - kept * kept) * noise(seed_, stream_, ++index_);
  }

 private:
  std::uint64_t seed_, stream_, index_ = 0;
  double length_, value_;
};

// Paths ----------------------------------------------------------------------------------------------------

/// Top speed of a stroke over its mean speed.
double fastest(double turning) { return 1.0 / (1.0 - 0.5 * turning); }

/// Share of a stroke's length covered at time `t` over its whole time: constant acceleration in the first and
/// last turning / 2 of it, constant speed in between.
double way_of_stroke(double t, double turning) {
  if (t > 0.5) return 1.0 - way_of_stroke(1.0 - t, turning);
  if (t < 0.5 * turning) return fastest(turning) * t * t / turning;
  return fastest(turning) * (t - 0.25 * turning);
}

double length_of(const Pass& pass) { return std::hypot(pass.x1 - pass.x0, pass.y1 - pass.y0); }

/// Pieces that a stretch of path is cut into.
int pieces(double length, double step) { return std::max(1, static_cast<int>(std::ceil(length / step))); }

void require_pieces(double count) {
  if (count <= most_pieces) return;
  std::ostringstream message;
  message << "a path of " << count << " pieces is more than " << most_pieces
          << ": lengthen the step, or the advance per stroke";
  throw InputError(message.str());
}

void require_bench(double length, double width) {
  require("the bench's length", length, 0.01, 1000.0, "m");
  require("the bench's width", width, 0.01, 100.0, "m");
}

// Polygons -------------------------------------------------------------------------------------------------

struct Point {
  double x = 0, y = 0;
};

/// A convex polygon: a rectangle cut by four lines has eight corners at most.
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

/// Cuts `whole` along axis = `at`; both parts get the same new corners, so that nothing is lost between them.
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

/// What lies on a rectangle beside and along a pass: linear across it times linear along it.
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

  /// Volume on a part of it: exact, by the mid-edge rule on triangles, which integrates quadratics.
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

/// Adds what one bar leaves along a pass: rising, level and falling again from its back to its front.
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

void check(const Pass& pass) {
  for (const double coordinate : {pass.x0, pass.y0, pass.x1, pass.y1})
    require("a pass's coordinate", coordinate, -1e4, 1e4, "m");
  require("a pass's speed", pass.speed, 1e-6, 100.0, "m/s");
  require("a pass's height", pass.height, 1e-3, 10.0, "m");
  require("a pass's flow", pass.flow, 0.0, 10.0, "m3/s");
}

void check(const Grid& grid) {
  require_bench(grid.length, grid.width);
  require("the grid's columns", grid.columns, 1, most_cells, "");
  require("the grid's rows", grid.rows, 1, most_cells, "");
  require("the grid's margin", grid.margin, 0, 1e4, "cells");
  require("the grid's cells in all",
          static_cast<double>(grid.all_columns()) * static_cast<double>(grid.all_rows()), 1, most_cells, "");
}

// Patterns -------------------------------------------------------------------------------------------------

/// Scales the bars' shares to sum to 1.
Pattern whole(Pattern bars) {
  double sum = 0.0;
  for (const Bar& bar : bars) sum += share(bar);
  for (Bar& bar : bars) {
    bar.at_left /= sum;
    bar.at_right /= sum;
  }
  return bars;
}

/// Bars through the points of a profile, zero-width ones left out.
Pattern fan(std::span<const double> across, std::span<const double> density, double half_thickness) {
  Pattern bars;
  for (std::size_t i = 0; i + 1 < across.size(); ++i) {
    if (across[i + 1] > across[i] && density[i] + density[i + 1] > 0.0)
      bars.push_back({across[i], across[i + 1], density[i], density[i + 1], -half_thickness, half_thickness});
  }
  return whole(std::move(bars));
}

/// `count` + 1 points from `from` to `to`, close together near both.
std::vector<double> cosine_points(double from, double to, int count) {
  std::vector<double> points;
  for (int i = 0; i <= count; ++i)
    points.push_back(0.5 * (from + to) - 0.5 * (to - from) * std::cos(pi * i / count));
  return points;
}

double half_chord(double radius, double across) {
  return std::sqrt(std::max(0.0, (radius - across) * (radius + across)));
}

/// Even density between the radii `inner` and `outer`.
Pattern cone(double inner, double outer) {
  std::vector<double> edges;
  if (inner > 0.0) {
    edges = cosine_points(-outer, -inner, strips / 2);
    edges.pop_back();
  }
  for (const double edge : cosine_points(inner > 0.0 ? -inner : -outer, inner > 0.0 ? inner : outer, strips))
    edges.push_back(edge);
  if (inner > 0.0) {
    const std::vector<double> last = cosine_points(inner, outer, strips / 2);
    edges.insert(edges.end(), last.begin() + 1, last.end());
  }
  Pattern bars;
  for (std::size_t i = 0; i + 1 < edges.size(); ++i) {
    const double left = edges[i], right = edges[i + 1], middle = 0.5 * (left + right);
    const auto chord = [&](double a) { return half_chord(outer, a) - half_chord(inner, a); };
    const double far = half_chord(outer, middle), near = half_chord(inner, middle);
    if (near > 0.0) {
      bars.push_back({left, right, chord(left), chord(right), -far, -near});
      bars.push_back({left, right, chord(left), chord(right), near, far});
    } else {
      bars.push_back({left, right, 2.0 * chord(left), 2.0 * chord(right), -far, far});
    }
  }
  return whole(std::move(bars));
}

}  // namespace

std::span<const Parameter> bench_parameters() {
  static const std::vector<Parameter> rows = [] {
    std::vector<Parameter> all;
    for (const std::span<const Parameter> table :
         {std::span<const Parameter>(pattern_rows), std::span<const Parameter>(wand_rows),
          std::span<const Parameter>(boom_rows), std::span<const Parameter>(layout_rows),
          std::span<const Parameter>(bench_rows)})
      all.insert(all.end(), table.begin(), table.end());
    return all;
  }();
  return rows;
}

double share(const Bar& bar) { return 0.5 * (bar.right - bar.left) * (bar.at_left + bar.at_right); }

Pattern pattern(const PatternInput& input) {
  check(input);
  const double half = std::tan(0.5 * input.angle), thickness = std::tan(0.5 * input.thickness_angle);
  const auto trapezoid = [&](double top) {
    const std::array across{-half, -top * half, top * half, half};
    const double edge = top < 1.0 ? 0.0 : 1.0;
    return fan(across, std::array{edge, 1.0, 1.0, edge}, thickness);
  };
  switch (input.shape) {
    case Shape::uniform:
      return trapezoid(1.0);
    case Shape::triangular:
      return trapezoid(0.0);
    case Shape::trapezoid:
      return trapezoid(input.top);
    case Shape::elliptical: {
      const std::vector<double> across = cosine_points(-half, half, strips);
      std::vector<double> density;
      for (const double a : across) density.push_back(half_chord(half, a));
      return fan(across, density, thickness);
    }
    case Shape::cone:
      return cone(0.0, half);
    case Shape::ring:
      return cone(input.hollow * half, half);
  }
  throw InputError("there is no such pattern");
}

Pattern measured_pattern(std::span<const double> offsets, std::span<const double> amounts, double height,
                         double thickness_angle) {
  if (offsets.size() != amounts.size() || offsets.size() < 2)
    throw InputError("a measured pattern needs two points or more, and an amount for each offset");
  require("the measured pattern's height", height, 0.05, 3.0, "m");
  require("pattern.thickness_angle", thickness_angle, 0.05, 2.6, "rad");
  std::vector<double> across;
  double most = 0.0;
  for (std::size_t i = 0; i < offsets.size(); ++i) {
    require("an offset of the measured pattern", offsets[i], -100.0, 100.0, "m");
    require("an amount of the measured pattern", amounts[i], 0.0, 1e30, "");
    if (i > 0 && !(offsets[i] > offsets[i - 1]))
      throw InputError("the offsets of a measured pattern must increase");
    most = std::max(most, amounts[i]);
    across.push_back(offsets[i] / height);
  }
  if (most <= 0.0) throw InputError("the amounts of the measured pattern are all 0");
  return fan(across, amounts, std::tan(0.5 * thickness_angle));
}

double emitted(std::span<const Pass> passes) {
  double volume = 0.0;
  for (const Pass& pass : passes) volume += pass.flow * length_of(pass) / pass.speed;
  return volume;
}

double duration(std::span<const Pass> passes) {
  double time = 0.0;
  for (const Pass& pass : passes) time += length_of(pass) / pass.speed;
  return time;
}

std::vector<Pass> wand_passes(const Wand& wand, double length, double width, double flow,
                              std::uint64_t seed) {
  check(wand);
  require_bench(length, width);
  const double time = 0.5 * wand.period, advance = wand.pace * time;
  const double low = -wand.reach, high = width + wand.reach;
  if (!(high > low)) throw InputError("wand.reach leaves nothing to sweep: it is -width / 2 or less");
  const double along = length + 2.0 * wand.overrun;
  if (!(along > 0.0)) throw InputError("wand.overrun leaves nothing to spray: it is -length / 2 or less");
  const double strokes = std::max(1.0, std::ceil(along / advance * (1.0 - 1e-12)));
  require_pieces(strokes * std::ceil(std::hypot(advance, high - low) * fastest(wand.turning) / wand.step));

  std::vector<Pass> passes;
  Course slowness(seed, speed_stream, wand.correlation_length);
  Course rise(seed, height_stream, wand.correlation_length);
  const auto turn = [&](int i) {
    const double shift = wand.spacing_variation * noise(seed, spacing_stream, static_cast<std::uint64_t>(i));
    return Point{-wand.overrun + advance * (i + shift), i % 2 == 0 ? low : high};
  };
  for (int i = 0; i < static_cast<int>(strokes); ++i) {
    const Point from = turn(i), to = turn(i + 1);
    const double stroke = std::hypot(to.x - from.x, to.y - from.y);
    const int count = pieces(stroke * fastest(wand.turning), wand.step);  // equal in time
    const auto point = [&](int k) {
      const double s = way_of_stroke(static_cast<double>(k) / count, wand.turning);
      return Point{from.x + s * (to.x - from.x), from.y + s * (to.y - from.y)};
    };
    for (int k = 0; k < count; ++k) {
      const Point p = point(k), q = point(k + 1);
      const double way = std::hypot(q.x - p.x, q.y - p.y);
      const double taken = time / count * lognormal(slowness.here(), wand.speed_variation);
      passes.push_back({p.x, p.y, q.x, q.y, way / taken,
                        wand.height * lognormal(rise.here(), wand.height_variation), flow});
      slowness.advance(way);
      rise.advance(way);
    }
  }
  return passes;
}

std::vector<Pass> boom_passes(const Boom& boom, double length, double width, double flow,
                              std::uint64_t seed) {
  check(boom);
  require_bench(length, width);
  const double from = -boom.overrun, run = length + 2.0 * boom.overrun;
  if (!(run > 0.0)) throw InputError("boom.overrun leaves nothing to spray: it is -length / 2 or less");
  const int nozzles =
      boom.nozzles > 0 ? boom.nozzles : static_cast<int>(std::ceil(width / boom.spacing * (1.0 - 1e-12)));
  require_pieces(std::ceil(run / boom.step) * nozzles * boom.runs);

  std::vector<Pass> passes;
  Course slowness(seed, speed_stream, boom.correlation_length);
  Course rise(seed, height_stream, boom.correlation_length);
  const int count = pieces(run, boom.step);
  const double piece = run / count;
  for (int i = 0; i < boom.runs; ++i) {
    for (int k = 0; k < count; ++k) {
      const double s0 = static_cast<double>(k) / count * run, s1 = static_cast<double>(k + 1) / count * run;
      const double x0 = i % 2 == 0 ? from + s0 : from + run - s0,
                   x1 = i % 2 == 0 ? from + s1 : from + run - s1;
      const double speed = boom.speed / lognormal(slowness.here(), boom.speed_variation);
      const double height = boom.height * lognormal(rise.here(), boom.height_variation);
      for (int j = 0; j < nozzles; ++j) {
        const double aim =
            boom.spacing_variation * noise(seed, spacing_stream, static_cast<std::uint64_t>(j));
        const double y = 0.5 * width + boom.spacing * (j - 0.5 * (nozzles - 1) + aim);
        passes.push_back({x0, y, x1, y, speed, height, flow});
      }
      slowness.advance(piece);
      rise.advance(piece);
    }
  }
  return passes;
}

std::vector<Pass> with_even_speed(std::vector<Pass> passes) {
  double length = 0.0, time = 0.0;
  for (const Pass& pass : passes) {
    if (pass.flow <= 0.0) continue;
    length += length_of(pass);
    time += length_of(pass) / pass.speed;
  }
  for (Pass& pass : passes)
    if (pass.flow > 0.0) pass.speed = length / time;
  return passes;
}

std::vector<Pass> with_even_height(std::vector<Pass> passes) {
  double length = 0.0, sum = 0.0;
  for (const Pass& pass : passes) {
    if (pass.flow <= 0.0) continue;
    length += length_of(pass);
    sum += length_of(pass) * pass.height;
  }
  for (Pass& pass : passes)
    if (pass.flow > 0.0) pass.height = sum / length;
  return passes;
}

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
  x = std::clamp(x, -1.0, 1.0);
  y = std::clamp(y, -1.0, 1.0);
  const auto beyond = [](double t) { return std::acos(t) - t * std::sqrt((1.0 - t) * (1.0 + t)); };
  if (x * x + y * y >= 1.0) {  // the corner lies outside: whole circle less segments, or one, or nothing
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
    // the cells it touches; the outermost ones may share nothing with it
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
    means.push_back(sum / pi);
  }
  return means;
}

double row_spacing(const Layout& layout) {
  return layout.arrangement == Arrangement::staggered ? 0.5 * std::numbers::sqrt3 * layout.spacing
                                                      : layout.spacing;
}

double plant_density(const Layout& layout) { return 1.0 / (layout.spacing * row_spacing(layout)); }

double bench_length(const Layout& layout) {
  const bool shifted = layout.arrangement == Arrangement::staggered && layout.rows > 1;
  return layout.spacing * (layout.columns + (shifted ? 0.5 : 0.0));
}

double bench_width(const Layout& layout) { return row_spacing(layout) * layout.rows; }

std::vector<Place> places(const Layout& layout) {
  check(layout);
  std::vector<Place> result;
  for (int row = 0; row < layout.rows; ++row) {
    const double shift = layout.arrangement == Arrangement::staggered && row % 2 == 1 ? 0.5 : 0.0;
    for (int column = 0; column < layout.columns; ++column)
      result.push_back(
          {layout.spacing * (column + 0.5 + shift), row_spacing(layout) * (row + 0.5), row, column});
  }
  return result;
}

std::vector<double> sizes(const Layout& layout, std::uint64_t seed) {
  check(layout);
  std::vector<double> result;
  for (std::uint64_t i = 0;
       i < static_cast<std::uint64_t>(layout.rows) * static_cast<std::uint64_t>(layout.columns); ++i)
    result.push_back(lognormal(noise(seed, size_stream, i), layout.size_variation));
  return result;
}

double crown_diameter(const Canopy& canopy) {
  return std::sqrt(4.0 / pi * canopy.crown_cover / canopy.plant_density);
}

Scenario plant_on_bench(const Scenario& mean, double deposit, double size, double pot_diameter,
                        double density) {
  require("a plant's size", size, 0.05, 20.0, "times the mean");
  Scenario plant = mean;
  const double larger = size * size, pot = pot_diameter / mean.canopy.pot_diameter;
  plant.application.volume_rate = deposit;
  plant.canopy.plant_density = density;
  plant.canopy.leaf_area *= larger;
  plant.canopy.stem_area *= larger;
  plant.canopy.crown_cover =
      std::min(1.0, mean.canopy.crown_cover * larger * (density / mean.canopy.plant_density));
  plant.canopy.pot_diameter = pot_diameter;
  plant.substrate.volume *= pot * pot * pot;
  plant.uptake.water_use *= larger;
  plant.crop.half_dose *= larger;
  check(plant);
  pot_cover(plant.canopy);  // refuses pots that do not fit
  return plant;
}

double noise(std::uint64_t seed, std::uint64_t stream, std::uint64_t index) {
  const std::uint64_t place = mixed(mixed(seed + golden) + golden * (stream + 1)) + golden * (2 * index + 1);
  const double radius = std::sqrt(-2.0 * std::log(uniform(mixed(place))));
  return radius * std::cos(2.0 * pi * uniform(mixed(place + golden)));
}

double lognormal(double z, double variation) {
  const double variance = std::log1p(variation * variation);
  return std::exp(std::sqrt(variance) * z - 0.5 * variance);
}

}  // namespace wetspan
