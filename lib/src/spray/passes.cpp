#include "wetspan/spray/passes.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <sstream>

#include "../parameter_rows.hpp"
#include "passes.hpp"

namespace wetspan {
namespace {

using std::numbers::pi;

constexpr double most_pieces = 1e6;  // largest number of straight pieces of a path
constexpr double rounding = 1e-12;   // [1], of a quotient, lest it make one stroke or nozzle more

void require_pass_flow(double flow) { require("a pass's flow", flow, 0.0, 10.0, "m3/s"); }

void check(const Wand& value) { WETSPAN_CHECK_ROWS("wand", WETSPAN_WAND) }
void check(const Boom& value){WETSPAN_CHECK_ROWS("boom", WETSPAN_BOOM)}

// Noise ----------------------------------------------------------------------------------------------------

/// SplitMix64's output function.
std::uint64_t mixed(std::uint64_t x) {
  x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9u;
  x = (x ^ (x >> 27)) * 0x94d049bb133111ebu;
  return x ^ (x >> 31);
}
constexpr std::uint64_t golden = 0x9e3779b97f4a7c15u;

/// Uniform in (0, 1), without the end points.
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

struct Place {
  double x = 0, y = 0;
};

/// Top speed of a stroke over its mean speed.
double fastest(double turning) { return 1.0 / (1.0 - 0.5 * turning); }

/// Share of a stroke's length covered at time `t` over its whole time: constant acceleration in the first and
/// last turning / 2 of it, constant speed in between.
double way_of_stroke(double t, double turning) {
  if (t > 0.5) return 1.0 - way_of_stroke(1.0 - t, turning);
  if (t < 0.5 * turning) return fastest(turning) * t * t / turning;
  return fastest(turning) * (t - 0.25 * turning);
}

/// Number of segments into which a length of path is divided.
int pieces(double length, double step) { return std::max(1, static_cast<int>(std::ceil(length / step))); }

void require_pieces(double count) {
  if (count <= most_pieces) return;
  std::ostringstream message;
  message << "a path of " << count << " pieces is more than " << most_pieces
          << ": lengthen the step, or the advance per stroke";
  throw InputError(message.str());
}

void check_all(std::span<const Pass> passes) {
  for (const Pass& pass : passes) check(pass);
}

}  // namespace

void check(const Pass& pass) {
  for (const double coordinate : {pass.x0, pass.y0, pass.x1, pass.y1})
    require("a pass's coordinate", coordinate, -1e4, 1e4, "m");
  require("a pass's speed", pass.speed, 1e-6, 100.0, "m/s");
  require("a pass's height", pass.height, 1e-3, 10.0, "m");
  require_pass_flow(pass.flow);
}

double emitted(std::span<const Pass> passes) {
  check_all(passes);
  double volume = 0.0;
  for (const Pass& pass : passes) volume += pass.flow * length_of(pass) / pass.speed;
  return volume;
}

double duration(std::span<const Pass> passes) {
  check_all(passes);
  double time = 0.0;
  for (const Pass& pass : passes) time += length_of(pass) / pass.speed;
  return time;
}

std::vector<Pass> wand_passes(const Wand& wand, double length, double width, double flow,
                              std::uint64_t seed) {
  check(wand);
  require_bench(length, width);
  require_pass_flow(flow);
  const double time = 0.5 * wand.period, advance = wand.pace * time;
  const double low = -wand.reach, high = width + wand.reach;
  if (!(high > low)) throw InputError("wand.reach leaves nothing to sweep: it is -width / 2 or less");
  const double along = length + 2.0 * wand.overrun;
  if (!(along > 0.0)) throw InputError("wand.overrun leaves nothing to spray: it is -length / 2 or less");
  const double strokes = std::max(1.0, std::ceil(along / advance * (1.0 - rounding)));
  require_pieces(strokes * std::ceil(std::hypot(advance, high - low) * fastest(wand.turning) / wand.step));

  std::vector<Pass> passes;
  Course slowness(seed, speed_stream, wand.correlation_length);
  Course rise(seed, height_stream, wand.correlation_length);
  const auto turn = [&](int i) {
    const double shift = wand.spacing_variation * noise(seed, spacing_stream, static_cast<std::uint64_t>(i));
    return Place{-wand.overrun + advance * (i + shift), i % 2 == 0 ? low : high};
  };
  for (int i = 0; i < static_cast<int>(strokes); ++i) {
    const Place from = turn(i), to = turn(i + 1);
    const double stroke = std::hypot(to.x - from.x, to.y - from.y);
    const int count = pieces(stroke * fastest(wand.turning), wand.step);  // segments of equal duration
    const auto point = [&](int k) {
      const double s = way_of_stroke(static_cast<double>(k) / count, wand.turning);
      return Place{from.x + s * (to.x - from.x), from.y + s * (to.y - from.y)};
    };
    for (int k = 0; k < count; ++k) {
      const Place p = point(k), q = point(k + 1);
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
  require_pass_flow(flow);
  const double from = -boom.overrun, run = length + 2.0 * boom.overrun;
  if (!(run > 0.0)) throw InputError("boom.overrun leaves nothing to spray: it is -length / 2 or less");
  const int nozzles =
      boom.nozzles > 0 ? boom.nozzles : static_cast<int>(std::ceil(width / boom.spacing * (1.0 - rounding)));
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
  check_all(passes);
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
  check_all(passes);
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

double noise(std::uint64_t seed, std::uint64_t stream, std::uint64_t index) {
  const std::uint64_t place = mixed(mixed(seed + golden) + golden * (stream + 1)) + golden * (2 * index + 1);
  const double radius = std::sqrt(-2.0 * std::log(uniform(mixed(place))));
  return radius * std::cos(2.0 * pi * uniform(mixed(place + golden)));
}

double lognormal(double z, double variation) {
  require_finite("a standard normal number", z);
  require("a coefficient of variation", variation, 0.0, 100.0, "");
  const double variance = std::log1p(variation * variation);
  return std::exp(std::sqrt(variance) * z - 0.5 * variance);
}

}  // namespace wetspan
