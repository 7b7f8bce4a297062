#include "wetspan/study/scenario.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <string>

#include "wetspan/errors.hpp"

using namespace wetspan;
using doctest::Contains;

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr double not_a_number = std::numeric_limits<double>::quiet_NaN();

void set(Scenario& scenario, std::string_view key, double value) {
  set(scenario, parameter_index(key), value);
}

}  // namespace

TEST_CASE("a scenario starts from the defaults of the table, which do not contradict each other") {
  const Scenario scenario;
  for (std::size_t i = 0; i < parameters().size(); ++i) {
    CAPTURE(key_of(parameters()[i]));
    CHECK(get(scenario, i) == parameters()[i].standard);
  }
  CHECK_NOTHROW(check(scenario));
}

TEST_CASE("every input can be set and read back, and touches no other") {
  for (std::size_t i = 0; i < parameters().size(); ++i) {
    const Parameter& row = parameters()[i];
    CAPTURE(key_of(row));
    CHECK(parameter_index(key_of(row)) == i);
    const double middle = row.kind == Kind::number ? 0.5 * (row.low + row.high) : row.high;
    for (const double value : {row.low, row.high, middle}) {
      Scenario scenario;
      set(scenario, i, value);
      CHECK(get(scenario, i) == value);
      for (std::size_t j = 0; j < parameters().size(); ++j) {
        if (j != i) CHECK(get(scenario, j) == parameters()[j].standard);
      }
    }
  }
}

TEST_CASE("values that are not allowed are refused and change nothing") {
  for (std::size_t i = 0; i < parameters().size(); ++i) {
    const Parameter& row = parameters()[i];
    CAPTURE(key_of(row));
    Scenario scenario;
    const double width = row.high - row.low;
    for (const double value : {not_a_number, infinity, -infinity, row.low - 1e-6 * width - 1.0 * (width == 0),
                               row.high + 1e-6 * width + 1.0 * (row.kind != Kind::number)}) {
      CAPTURE(value);
      CHECK_THROWS_WITH_AS(set(scenario, i, value), Contains(key_of(row).c_str()), InputError);
    }
    if (row.kind != Kind::number) {
      CHECK_THROWS_WITH_AS(set(scenario, i, row.low + 0.5), Contains("whole"), InputError);
    }
    CHECK(scenario == Scenario{});
  }
}

TEST_CASE("a scenario filled in from C++ is checked all the same") {
  Scenario scenario;
  scenario.air.speed = not_a_number;
  CHECK_THROWS_WITH_AS(check(scenario), Contains("air.speed"), InputError);
  scenario = {};
  scenario.house.height = infinity;
  CHECK_THROWS_WITH_AS(check(scenario), Contains("house.height"), InputError);
}

TEST_CASE("an unknown key is answered with the nearest there is") {
  CHECK_THROWS_WITH_AS(parameter_index("air.temperatur"), Contains("'air.temperature'"), InputError);
  CHECK_THROWS_WITH_AS(parameter_index("leaf.widht"), Contains("'leaf.width'"), InputError);
  CHECK_THROWS_WITH_AS(parameter_index("application.volume"), Contains("'application.volume_rate'"),
                       InputError);
  CHECK_THROWS_AS(parameter_index(""), InputError);
}

TEST_CASE("likely slips of the unit are named") {
  Scenario scenario;
  CHECK_THROWS_WITH_AS(set(scenario, "air.temperature", 24.0), Contains("did you mean 24 degC?"), InputError);
  CHECK_THROWS_WITH_AS(set(scenario, "air.relative_humidity", 60.0), Contains("did you mean 0.6?"),
                       InputError);
}

TEST_CASE("inputs that contradict each other are refused") {
  const auto refused = [](const char* named, auto change) {
    Scenario scenario;
    change(scenario);
    CHECK_THROWS_WITH_AS(check(scenario), Contains(named), InputError);
  };
  refused("leaf.receding_angle", [](Scenario& s) { s.leaf.receding_angle = s.leaf.contact_angle + 0.01; });
  refused("house.heating_temperature",
          [](Scenario& s) { s.house.heating_temperature = s.house.vent_temperature; });
  refused("crop.initial_height", [](Scenario& s) { s.crop.initial_height = s.crop.final_height; });
  refused("liquid.efflorescence", [](Scenario& s) { s.liquid.efflorescence = 0.5; });
  refused("canopy.pot_diameter", [](Scenario& s) { s.canopy.pot_diameter = 0.2; });
  refused("canopy.stem_area", [](Scenario& s) {
    s.canopy.stem_area = 0.2, s.canopy.plant_density = 200.0, s.canopy.pot_diameter = 0.02,
    s.canopy.crown_cover = 0.5;
  });
  refused("active.log_kow", [](Scenario& s) { s.active.log_kow = 7.0, s.active.molar_volume = 5e-5; });
  // of 1.6e-314 kg/m3, found by fuzzing, the shares added up to 0.99994 of what was applied
  refused("application.concentration", [](Scenario& s) { s.application.concentration = 1.6e-314; });
  refused("droplets.dv50", [](Scenario& s) { s.droplets.dv50 = 2e-3, s.droplets.relative_span = 3.0; });
  refused("rewetting.dv50", [](Scenario& s) { s.rewetting.volume_rate = 1e-4, s.rewetting.dv50 = 2e-3; });

  Scenario water;
  water.application.concentration = 0.0;
  CHECK_NOTHROW(check(water));
  Scenario open;  // without a house its set points do not matter
  open.house.enclosed = false;
  open.house.heating_temperature = open.house.vent_temperature;
  CHECK_NOTHROW(check(open));
}
