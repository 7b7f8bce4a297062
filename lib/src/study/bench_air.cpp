#include "bench_air.hpp"

#include <algorithm>
#include <vector>

#include "wetspan/properties/air.hpp"

namespace wetspan {
namespace {

/// The effect of a spray on the air: differences at times after the spray, 0 at the first and the last.
struct Trace {
  std::vector<double> after, temperature, vapour_pressure;

  static double at(double t, const std::vector<double>& moments, const std::vector<double>& values) {
    if (t <= moments.front() || t >= moments.back()) return 0.0;
    const auto next =
        static_cast<std::size_t>(std::upper_bound(moments.begin(), moments.end(), t) - moments.begin());
    const double slope = (values[next] - values[next - 1]) / (moments[next] - moments[next - 1]);
    return values[next - 1] + slope * (t - moments[next - 1]);
  }
};

/// The droplets fly through the unchanged air. Once the mean plant is dry, the differences decay to 0 over
/// the same length of time again.
Trace trace_of(const History& course, const CropAir& air, double start) {
  constexpr double flight = 0.1;  // share of the first step after which the spray affects the air
  Trace trace{{0.0}, {0.0}, {0.0}};
  double last = -1.0;
  for (std::size_t i = 0; i < course.time.size(); ++i) {
    const double time = course.time[i];
    if (time <= last) continue;
    last = time;
    const AirState before = air.at(std::min(start + time, air.time.back()));
    trace.after.push_back(time);
    trace.temperature.push_back(course.air_temperature[i] - before.temperature);
    trace.vapour_pressure.push_back(
        air::vapour_pressure(course.relative_humidity[i], course.air_temperature[i]) -
        before.vapour_pressure);
  }
  if (trace.after.size() > 2) trace.after[1] = flight * trace.after[2];
  trace.after.push_back(2.0 * last);
  trace.temperature.push_back(0.0);
  trace.vapour_pressure.push_back(0.0);
  return trace;
}

}  // namespace

CropAir with_course(const CropAir& air, const History& course, double start) {
  const Trace trace = trace_of(course, air, start);
  std::vector<double> moments;
  for (const double after : trace.after) moments.push_back(start + after);
  moments.insert(moments.end(), air.time.begin(), air.time.end());
  std::sort(moments.begin(), moments.end());
  moments.erase(std::unique(moments.begin(), moments.end()), moments.end());
  CropAir result;
  for (const double moment : moments) {
    if (moment < start || moment > air.time.back()) continue;
    AirState state = air.at(moment);
    state.temperature += Trace::at(moment - start, trace.after, trace.temperature);
    state.vapour_pressure += Trace::at(moment - start, trace.after, trace.vapour_pressure);
    result.time.push_back(moment);
    result.state.push_back(state);
  }
  return result;
}

}  // namespace wetspan
