#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <map>
#include <optional>
#include <random>
#include <string>

#include "approx.hpp"
#include "reference.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/spray/tank.hpp"

using namespace wetspan;

namespace {

constexpr double fluid_ounce = 29.5735295625e-6, gallon = 128 * fluid_ounce, square_foot = 0.09290304;
const Concentrate suspension = liquid_by_mass(0.004, 1000.0);

void hold(const reference::Row& row, double value) {
  CAPTURE(row.quantity);
  CHECK(reference::holds(row, value));
}

template <class Call>
std::string refusal(Call call) {
  try {
    call();
  } catch (const InputError& error) {
    return error.what();
  }
  return "nothing refused";
}

bool says(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace

TEST_CASE("the label's strength, and what an ounce in a gallon makes") {
  for (const auto& row : reference::rows("tank", "strength"))
    hold(row, *liquid_by_mass(row["mass_share"], row["density"]).concentration * 1000.0);
  for (const auto& row : reference::rows("tank", "fl oz per US gal")) {
    const TankMix made =
        applied(liquid_by_volume(row["strength"]), {.volume = fluid_ounce}, {.final_volume = gallon});
    hold(row, made.concentration * 1000.0);
  }
  // added to a gallon of water, the final volume is 129 fl oz
  const TankMix added = applied(suspension, {.volume = fluid_ounce}, {.water = gallon});
  CHECK(added.concentration == Approx(4.0 / 129.0).epsilon(1e-12));
  CHECK(added.final_volume == Approx(129.0 * fluid_ounce).epsilon(1e-12));
  // so it is when the ounce is weighed
  CHECK(applied(suspension, {.mass = 1000.0 * fluid_ounce}, {.water = gallon}).final_volume ==
        Approx(129.0 * fluid_ounce).epsilon(1e-12));
}

TEST_CASE("published dilutions") {
  const Concentrate uniconazole = liquid_by_mass(0.00055, 906.0), daminozide = powder(0.85);
  for (const auto& row : reference::rows("tank", "product per mg/L"))
    hold(row, mix(liquid_by_volume(row["strength"]), 1e-3, gallon).product * 1e6);
  for (const auto& row : reference::rows("tank", "uniconazole dilution"))
    hold(row, mix(uniconazole, row["concentration"], row["gallons"] * gallon).product * 1e6);
  for (const auto& row : reference::rows("tank", "daminozide dilution"))
    hold(row, mix(daminozide, row["concentration"], row["gallons"] * gallon).product * 1e3);
}

TEST_CASE("doses of pots and volumes over areas") {
  for (const auto& row : reference::rows("tank", "dose per pot")) {
    const TankMix made =
        mix(suspension, row["concentration"], volume_for_pots(row["volume"], 40), {.pots = 40});
    hold(row, *made.active_per_pot * 1e6);
    CHECK(concentration_for_dose(*made.active_per_pot, row["volume"]) ==
          Approx(row["concentration"]).epsilon(1e-12));
  }
  for (const auto& row : reference::rows("tank", "volume rate")) {
    const double rate = row["quarts"] * gallon / 4.0 / (100.0 * square_foot), area = 500.0 * square_foot;
    hold(row, *mix(suspension, 0.02, volume_over_area(rate, area), {.area = area}).volume_rate * 1000.0);
  }
  for (const auto& row : reference::rows("tank", "undissolved"))
    hold(row, undissolved(row["concentration"], 0.026) * 1000.0);
  // what goes on an area or into pots is what was in the used liquid
  const TankMix over = mix(suspension, 0.05, 3e-3, {.area = 12.0, .pots = 80});
  CHECK(*over.active_per_area * 12.0 == Approx(over.active_ingredient).epsilon(1e-13));
  CHECK(*over.active_per_pot * 80.0 == Approx(over.active_ingredient).epsilon(1e-13));
  CHECK(over.pots == 80);
  constexpr double infinite = std::numeric_limits<double>::infinity();
  CHECK_THROWS_AS(undissolved(infinite, 0.026), InputError);
  CHECK_THROWS_AS(undissolved(0.1, infinite), InputError);
}

TEST_CASE("usual volumes of drenches") {
  // the guide's pots of 4, 5 and 6 in and baskets of 10 in
  const std::map<double, double> diameters{{2, 0.10}, {3, 0.125}, {4, 0.15}, {15, 0.25}};
  int found = 0;
  for (const auto& row : reference::rows("tank", "drench volume")) {
    if (row.mark != "seen" || !diameters.contains(row["fluid_ounces"])) continue;
    hold(row, usual_drench_volume(diameters.at(row["fluid_ounces"])) * 1e6);
    ++found;
  }
  CHECK(found == 4);
  double last = 0.0;
  for (double diameter = 0.02; diameter < 0.6; diameter += 0.01) {
    CHECK(usual_drench_volume(diameter) > last);
    last = usual_drench_volume(diameter);
  }
  // beyond the guide's pots with the area of the pot
  CHECK(usual_drench_volume(0.05) == Approx(usual_drench_volume(0.10) / 4.0).epsilon(1e-12));
  CHECK(usual_drench_volume(0.50) == Approx(usual_drench_volume(0.25) * 4.0).epsilon(1e-12));
  CHECK(says(refusal([] { usual_drench_volume(0.0); }), "diameter"));
}

TEST_CASE("what was applied undoes what was mixed, and fills add up") {
  std::mt19937 random(1);
  std::uniform_real_distribution<double> exponent(-3.0, 3.0);
  const auto draw = [&] { return std::pow(10.0, exponent(random)); };
  for (int i = 0; i < 500; ++i) {
    const bool weighed = i % 3 == 0;
    const Concentrate product = weighed ? powder(0.85) : suspension;
    const double concentration = 1e-3 * draw(), volume = draw(), area = draw();
    const TankMix made =
        mix(product, concentration, volume, {.area = area, .pots = 7}, draw() * volume / 30.0);
    const ProductAmount amount =
        weighed ? ProductAmount{.mass = made.product} : ProductAmount{.volume = made.product};
    const TankMix back = applied(product, amount, {.final_volume = volume}, std::nullopt, {.area = area});
    CHECK(back.concentration == Approx(concentration).epsilon(1e-12));
    CHECK(*back.active_per_area == Approx(*made.active_per_area).epsilon(1e-12));
    CHECK(made.water.has_value() == !weighed);
    if (!weighed) {
      CHECK(*made.water + made.product == Approx(volume).epsilon(1e-12));
      CHECK(applied(product, amount, {.water = made.water}).concentration ==
            Approx(concentration).epsilon(1e-12));
    }
    const double full = made.fills - 1;
    CHECK(made.last_fill_volume > 0.0);
    CHECK(made.last_fill_volume <= made.fill_volume * (1.0 + 1e-9));
    CHECK(full * made.fill_volume + made.last_fill_volume == Approx(volume).epsilon(1e-12));
    CHECK(full * made.product_per_fill + made.product_in_last_fill == Approx(made.product).epsilon(1e-12));
    CHECK(*made.active_per_pot * 7.0 == Approx(made.active_ingredient).epsilon(1e-12));
  }
  // five tanks of 4 gallons are 20 gallons, rounding or not
  CHECK(mix(suspension, 0.03, 0.1 * 3.0, {}, 0.1).fills == 3);
}

TEST_CASE("half a division of the measure over what is measured") {
  CHECK(reading_error(20e-6, 1e-6) == Approx(0.025).epsilon(1e-15));
}

TEST_CASE("what cannot be mixed is refused with one line") {
  const double nan = std::numeric_limits<double>::quiet_NaN(),
               endless = std::numeric_limits<double>::infinity();
  for (const double value : {0.0, -1.0, nan, endless}) {
    CHECK(says(refusal([&] { mix(suspension, value, 1.0); }), "must be above zero and finite"));
    CHECK(says(refusal([&] { mix(suspension, 0.03, value); }), "must be above zero and finite"));
    CHECK(says(refusal([&] { mix(suspension, 0.03, 1.0, {.area = value}); }), "area = "));
    CHECK(says(refusal([&] { mix(suspension, 0.03, 1.0, {}, value); }), "tank = "));
    CHECK(says(refusal([&] { volume_over_area(value, 1.0); }), "volume_rate = "));
    CHECK(says(refusal([&] { concentration_for_dose(1e-6, value); }), "volume_per_pot = "));
  }
  // found by fuzzing: amounts so small or large that the product came to nothing
  for (const double value : {1e-300, 1e300}) {
    CHECK(says(refusal([&] { mix(suspension, 0.03, value); }), "must be within 1e-12 to 1e+12 m3"));
    CHECK(says(refusal([&] { liquid_by_volume(value); }), "must be within 1e-12 to 1e+12 kg/m3"));
  }
  CHECK(says(refusal([] { mix(suspension, 4.001, 1.0); }),
             "4001 mg/L is not below the product's own 4000 mg/L"));
  CHECK(says(refusal([] { mix(suspension, 0.03, 1.0, {.pots = 0}); }), "pots = 0"));
  CHECK(says(refusal([] { mix({}, 0.03, 1.0); }), "a product has a strength"));
  CHECK(says(refusal([] { liquid_by_volume(1200.0, 1000.0); }),
             "1.2 kg/kg is more active ingredient than product"));
  CHECK(says(refusal([] { powder(1.4); }), "more active ingredient than product"));
  const ProductAmount ounce{.volume = fluid_ounce};
  CHECK(says(refusal([&] { applied(suspension, ounce, {}); }), "either water"));
  CHECK(says(refusal([&] { applied(suspension, ounce, {.water = 1.0, .final_volume = 1.0}); }),
             "either water"));
  CHECK(says(refusal([&] { applied(suspension, {}, {.water = 1.0}); }), "either by volume or by mass"));
  CHECK(says(refusal([&] { applied(suspension, ounce, {.final_volume = 1e-6}); }),
             "less than the product alone"));
  CHECK(says(refusal([&] { applied(suspension, ounce, {.water = gallon}, 1.01 * gallon); }),
             "more than was mixed"));
  CHECK(says(refusal([&] { applied(powder(0.85), ounce, {.water = 1.0}); }), "a powder is weighed"));
  CHECK(says(refusal([&] { applied(liquid_by_volume(40.0), {.mass = 0.03}, {.water = 1.0}); }),
             "give a volume"));
}
