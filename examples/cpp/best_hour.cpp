// At which hour of a clear spring day does a spray shorten the crop most? That depends on the dried residue:
// how much of it stays mobile was not measured, so the day is computed at both ends of what is plausible. The
// weather is made up.

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <numbers>
#include <vector>
#include <wetspan/wetspan.hpp>

namespace {

constexpr double hour = 3600.0, zero_celsius = 273.15;

/// Two clear days, hour by hour: the coolest at 5, the warmest at 15.
wetspan::Outdoor clear_days() {
  wetspan::Outdoor weather;
  for (int i = 0; i <= 48; ++i) {
    const double day = 2.0 * std::numbers::pi * (i % 24) / 24.0;
    wetspan::OutdoorState state;
    state.temperature = zero_celsius + 16.0 - 7.0 * std::cos(day - 2.0 * std::numbers::pi * 3.0 / 24.0);
    state.vapour_pressure = 1050.0;
    state.pressure = 1.0e5;
    state.wind_speed = 2.0;
    state.shortwave = std::max(0.0, -850.0 * std::cos(day));
    weather.time.push_back(i * hour);
    weather.state.push_back(state);
  }
  return weather;
}

}  // namespace

int main() try {
  wetspan::Scenario scenario;
  scenario.house.enclosed = true;
  scenario.nozzle.flow = wetspan::nozzle_size("02").flow;
  const wetspan::SizeClass& medium = wetspan::size_class("medium");
  scenario.droplets.dv50 = medium.dv50;
  scenario.droplets.relative_span = medium.relative_span;

  std::vector<double> starts;  // on the second day, when the house has forgotten where it started
  for (int i = 6; i <= 18; i += 2) starts.push_back((24 + i) * hour);
  const wetspan::Outdoor weather = clear_days();
  const wetspan::Day day = wetspan::compare_times(scenario, weather, starts);
  const wetspan::ResidueEnds ends = wetspan::residue_ends(scenario);

  const auto wet = day.outcomes.column("wet_time");
  std::puts("                                       growth control over that of the best hour,");
  std::printf("hour   air      droplets   leaves wet   if %.0f %% of the residue stays mobile   if %.0f %%\n",
              100.0 * ends.locked.uptake.mobile_share, 100.0 * ends.mobile.uptake.mobile_share);
  for (std::size_t i = 0; i < starts.size(); ++i) {
    const wetspan::MoistAir air{.temperature = day.air[i].temperature,
                                .vapour_pressure = day.air[i].vapour_pressure,
                                .pressure = day.air[i].pressure};
    std::printf("%4.0f   %4.1f C   %6.1f C   %6.0f min   %34.2f   %7.2f\n", starts[i] / hour - 24.0,
                air.temperature - zero_celsius, wetspan::droplet_temperature(air) - zero_celsius,
                wet[i] / 60.0, day.locked.control_over_best[i], day.mobile.control_over_best[i]);
  }
  std::puts(
      "\nThis is an estimate, not a prescription. The product label and local regulations rule; wear the\n"
      "protective equipment and keep the re-entry interval they ask for; test on a few plants first;\n"
      "licensed practice decides.");
  return 0;
} catch (const wetspan::InputError& error) {
  std::fprintf(stderr, "best_hour: %s\n", error.what());
  return 2;
}
