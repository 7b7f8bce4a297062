// An event of the benchmark as the library takes it.
#pragma once

#include <iterator>
#include <wetspan/wetspan.hpp>

#include "event.hpp"

namespace benchmark {

struct Job {
  wetspan::Scenario scenario;
  wetspan::Load load;
  wetspan::CropAir air;
  double start;
};

inline Job job_of(const Event& event, double tolerance) {
  const Spray& spray = event.spray;
  Job job{.scenario = {}, .load = {}, .air = {}, .start = event.start};
  job.scenario.numerics.tolerance = tolerance;
  job.scenario.application.volume_rate = spray.volume_rate;
  job.scenario.droplets.dv50 = spray.dv50;
  job.scenario.droplets.relative_span = spray.relative_span;
  job.scenario.leaf.width = spray.leaf_width;
  job.scenario.air.speed = spray.air_speed;
  for (std::size_t k = 0; k < layers; ++k) {
    wetspan::Load::Layer& layer = job.load.layers.emplace_back();
    layer.liquid = spray.liquid[k], layer.stem_liquid = spray.stem_liquid[k];
    layer.upper.liquid = spray.active[k][0], layer.lower.liquid = spray.active[k][1];
    layer.stem.liquid = spray.active[k][2];
    layer.droplets.diameter.assign(std::begin(spray.diameter[k]), std::end(spray.diameter[k]));
    layer.droplets.volume_share.assign(std::begin(spray.volume_share[k]), std::end(spray.volume_share[k]));
  }
  job.load.bench_liquid = spray.bench_liquid, job.load.air_vapour = spray.air_vapour;
  for (std::size_t row = 0; row < rows; ++row) {
    const AirRow& air = event.air[row];
    job.air.time.push_back(static_cast<double>(row) * row_spacing);
    job.air.state.push_back({.temperature = air.temperature,
                             .vapour_pressure = air.vapour_pressure,
                             .pressure = air.pressure,
                             .speed = spray.air_speed,
                             .shortwave = air.shortwave,
                             .radiant_temperature = air.radiant_temperature,
                             .air_changes = air.air_changes});
  }
  return job;
}

}  // namespace benchmark
