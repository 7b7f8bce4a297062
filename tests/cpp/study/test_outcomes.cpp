#include "wetspan/study/outcomes.hpp"

#include <doctest/doctest.h>

#include <set>
#include <string>

#include "approx.hpp"
#include "wetspan/errors.hpp"

using namespace wetspan;

TEST_CASE("an outcome is found by its name, and an unknown name is refused with the nearest") {
  const auto rows = outcome_variables();
  std::set<std::string_view> names;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    CHECK(outcome_index(rows[i].name) == i);
    names.insert(rows[i].name);
  }
  CHECK(names.size() == rows.size());
  CHECK_THROWS_WITH_AS(outcome_index("uptake.rot"), doctest::Contains("the nearest is 'uptake.root'"),
                       InputError);
}

TEST_CASE("tables of courses hold every column") {
  HeightCourse heights;
  const Outcome outcome = simulate(Scenario{}, true, &heights);
  const History& history = outcome.wet.history;
  REQUIRE(history.time.size() > 2);
  for (const auto& column : history_variables()) {
    CAPTURE(column.name);
    CHECK((history.*column.values).size() == history.time.size());
    CHECK_FALSE(column.unit.empty());
    CHECK_FALSE(column.meaning.empty());
  }
  // a column of the struct without a row in its table would be lost where two histories are joined
  CHECK(sizeof(History) == (history_variables().size() + 1) * sizeof(std::vector<double>));
  CHECK(sizeof(HeightCourse) == (height_variables().size() + 1) * sizeof(std::vector<double>));
  for (const auto& column : height_variables()) CHECK((heights.*column.values).size() == heights.time.size());
}

TEST_CASE("tables of places hold every place") {
  const Outcome outcome = simulate(Scenario{});
  double account = 0.0, plant = 0.0;
  for (const auto& part : account_parts()) account += outcome.account.*part.value;
  for (const auto& part : plant_parts()) plant += outcome.growth.plant.*part.value;
  CHECK(account == Approx(1.0).epsilon(1e-12));
  CHECK(account == Approx(outcome.account.sum()).epsilon(1e-15));
  CHECK(plant == Approx(outcome.growth.plant.sum()).epsilon(1e-12));
  CHECK(sizeof(Account) == account_parts().size() * sizeof(double));
  CHECK(sizeof(InPlant) == plant_parts().size() * sizeof(double));
}
