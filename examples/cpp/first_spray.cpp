// How long leaves stay wet after one spray, in slow, middling and fast air. Greenhouse and crop are made up.

#include <cstdio>
#include <wetspan/wetspan.hpp>

int main() try {
  wetspan::Scenario scenario;                    // every input has a default; all are SI
  scenario.application.volume_rate = 2.0373e-4;  // 0.204 L/m2, 2 US qt per 100 ft2
  scenario.application.concentration = 0.030;    // 30 mg/L
  scenario.air.temperature = 297.15;
  scenario.air.relative_humidity = 0.60;
  scenario.house.sprayed_share = 0.25;

  std::puts("air speed   leaves wet   of the spray on leaves   shorter than untreated");
  for (const double speed : {0.1, 0.3, 1.0}) {
    scenario.air.speed = speed;
    const wetspan::Outcome outcome = wetspan::simulate(scenario);
    std::printf("%5.1f m/s   %6.0f min   %20.0f %%   %20.1f %%\n", speed, outcome.wet.wet_time / 60,
                100 * outcome.landing.split.leaf, 100 * outcome.growth.control);
  }
  std::puts(
      "\nThis is an estimate, not a prescription. The product label and local regulations rule; wear the\n"
      "protective equipment and keep the re-entry interval they ask for; test on a few plants first;\n"
      "licensed practice decides.");
  return 0;
} catch (const wetspan::InputError& error) {
  std::fprintf(stderr, "first_spray: %s\n", error.what());
  return 2;
}
