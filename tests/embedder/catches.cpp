// Its user catches wetspan's errors by their own types, across the library's border.
#include <cstdio>
#include <string>
#include <wetspan/wetspan.hpp>

double wet_time(double air_temperature);
void break_off();

int main() {
  int caught = 0;
  try {
    wet_time(24.0);  // degC, where kelvin are asked for
  } catch (const wetspan::InputError& error) {
    caught += std::string(error.what()).find("24 degC") != std::string::npos;
  }
  try {
    break_off();
  } catch (const wetspan::IntegrationError&) {
    ++caught;
  }
  try {
    wetspan::wet_span({}, {}, {}, 0.0);  // of the copy in this program
  } catch (const wetspan::InputError&) {
    ++caught;
  }
  const bool works = wet_time(297.15) > 0.0;
  std::printf("%d of 3 errors caught, and a spray %s\n", caught, works ? "dries" : "does not dry");
  return caught == 3 && works ? 0 : 1;
}
