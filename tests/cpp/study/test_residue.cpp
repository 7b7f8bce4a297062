#include "wetspan/study/residue.hpp"

#include <doctest/doctest.h>

#include "approx.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/study/simulate.hpp"

using namespace wetspan;

TEST_CASE("the ends of the residue keep the product of what stays mobile and what reaches the tips") {
  const Scenario scenario;
  const auto product = [](const Scenario& each) {
    return each.uptake.mobile_share * each.crop.leaf_tip_share;
  };
  const ResidueEnds ends = residue_ends(scenario);
  const double spread = parameters()[parameter_index("uptake.mobile_share")].spread;
  CHECK(ends.locked.uptake.mobile_share == Approx(scenario.uptake.mobile_share / spread));
  CHECK(ends.mobile.uptake.mobile_share == Approx(scenario.uptake.mobile_share * spread));
  CHECK(product(ends.locked) == Approx(product(scenario)).epsilon(1e-14));
  CHECK(product(ends.mobile) == Approx(product(scenario)).epsilon(1e-14));
  Scenario same = ends.locked;
  same.uptake.mobile_share = scenario.uptake.mobile_share;
  same.crop.leaf_tip_share = scenario.crop.leaf_tip_share;
  CHECK(same == scenario);  // nothing else moves
}

TEST_CASE("the ends of the residue stay within the bounds of the table") {
  Scenario scenario;
  scenario.uptake.mobile_share = 0.9;
  CHECK(residue_ends(scenario).mobile.uptake.mobile_share == 1.0);
  scenario.uptake.mobile_share = 0.0;  // as stated
  CHECK(residue_ends(scenario).locked == scenario);
  CHECK(residue_ends(scenario).mobile == scenario);
  scenario.uptake.mobile_share = 1.5;
  CHECK_THROWS_AS(residue_ends(scenario), InputError);
}

TEST_CASE("what is owed to the wet time is what is missing if the deposit dries at once") {
  const Scenario scenario;
  const CropAir air = steady_air(scenario);
  const OwedToWetTime owed = owed_to_wet_time(scenario, air, 0.0);
  const auto missing = [&](Scenario each) {
    const double control = simulate(each, air, 0.0).growth.control;
    each.uptake.cuticle = parameters()[parameter_index("uptake.cuticle")].low;
    return 1.0 - simulate(each, air, 0.0).growth.control / control;
  };
  CHECK(owed.locked == missing(residue_ends(scenario).locked));
  CHECK(owed.mobile == missing(residue_ends(scenario).mobile));
  CHECK(owed.locked > owed.mobile);  // where the residue stays mobile it enters later
  CHECK_THROWS_AS(owed_to_wet_time(scenario, air, -1.0), InputError);
}
