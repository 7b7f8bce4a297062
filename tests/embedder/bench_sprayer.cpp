// A shared library with wetspan inside.
#include <wetspan/wetspan.hpp>

double wet_time(double air_temperature) {
  wetspan::Scenario scenario;
  scenario.air.temperature = air_temperature;
  return wetspan::simulate(scenario).wet.wet_time;
}

void break_off() { throw wetspan::IntegrationError("broken off"); }
