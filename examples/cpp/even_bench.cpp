// How even is a bench that someone sprays by hand, and what makes it uneven? The crop and the walk are made
// up.

#include <cstdio>
#include <string>
#include <wetspan/wetspan.hpp>

int main() try {
  wetspan::Scenario scenario;
  scenario.application.concentration = 0.030;  // 30 mg/L
  const wetspan::BenchInput bench = wetspan::bench_of(scenario, {.rows = 4, .columns = 8});
  const wetspan::CropAir air = wetspan::steady_air(scenario);

  const wetspan::Bench sprayed = wetspan::spray_bench(bench, air, 0.0);
  std::printf("%zu plants, %.0f %% shorter on average; heights vary by %.1f %%, deposits by %.0f %%\n",
              sprayed.places.size(), 100.0 * (1.0 - sprayed.evenness.mean_height),
              100.0 * sprayed.evenness.height, 100.0 * sprayed.evenness.deposit);
  std::puts("heights would vary by");
  for (const wetspan::BenchLever& lever : sprayed.levers)
    std::printf("%6.1f %%  without the cause, or with the change, '%s'\n", 100.0 * lever.evenness.height,
                std::string(lever.cause).c_str());
  std::puts(
      "\nThis is an estimate, not a prescription. The product label and local regulations rule; wear the\n"
      "protective equipment and keep the re-entry interval they ask for; test on a few plants first;\n"
      "licensed practice decides.");
  return 0;
} catch (const wetspan::InputError& error) {
  std::fprintf(stderr, "even_bench: %s\n", error.what());
  return 2;
}
