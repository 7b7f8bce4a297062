#include "wetspan/study/landing.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

#include "reference.hpp"
#include "wetspan/plant/canopy.hpp"
#include "wetspan/plant/coverage.hpp"

using namespace wetspan;
using doctest::Approx;

namespace {

constexpr double degree = std::numbers::pi / 180.0;
constexpr double quart_per_100_square_feet = 0.946352946e-3 / 9.290304;  // US qt / (100 ft2) [m]; exact

AirState air_of(const Scenario& scenario) {
  return steady_air(scenario.air, scenario.house, 3600.0).state.front();
}

Landing landed(const Scenario& scenario) { return land(scenario, air_of(scenario)); }

/// Wet share of the top layer's upper side, had all of its liquid come to rest there.
double top_coverage(const Scenario& scenario, const Landing& landing) {
  const LeafLayer& top = landing.layers.front();
  return leaf_coverage(top.droplets, top.liquid / top.area, scenario.leaf.contact_angle);
}

/// A spray that loses nothing on the way: heavy drops in damp, still air, straight down; leaves that hold all
/// that meets them; no stems. A narrow spectrum keeps every drop far from shattering.
Scenario without_losses() {
  Scenario scenario;
  scenario.application.angle = 0.0;
  scenario.air.relative_humidity = 1.0;
  scenario.air.speed = 0.0;
  scenario.nozzle.pressure = 2e4;
  scenario.nozzle.height = 0.05;
  scenario.droplets.dv50 = 400e-6;
  scenario.droplets.relative_span = 0.05;
  scenario.liquid.surface_tension = 0.0727;
  scenario.leaf.contact_angle = 20.0 * degree;
  scenario.leaf.receding_angle = 0.0;
  scenario.retention.shatter_threshold = 500.0;
  scenario.canopy.stem_area = 0.0;
  return scenario;
}

/// The size class of a name as the scenario's spectrum.
Scenario sprayed_as(const SizeClass& size, double humidity) {
  Scenario scenario;
  scenario.droplets.dv50 = size.dv50;
  scenario.droplets.relative_span = size.relative_span;
  scenario.air.relative_humidity = humidity;
  return scenario;
}

}  // namespace

TEST_CASE("without losses the split is that of geometry, in closed form") {
  // leaves take crown_cover (1 - exp(-k Omega L)); what passes falls on pots or bench by their areas
  for (const int layers : {1, 2, 3, 4}) {
    for (const double leaf_area : {0.004, 0.02, 0.05, 0.12}) {
      for (const double cover : {0.3, 0.8, 1.0}) {
        Scenario scenario = without_losses();
        scenario.canopy.layers = layers;
        scenario.canopy.leaf_area = leaf_area;
        scenario.canopy.crown_cover = cover;
        scenario.application.volume_rate = 1e-6;  // next to what leaves can hold, nothing
        scenario.retention.leaf_store = 5e-4;
        const Landing landing = landed(scenario);
        const double inside = scenario.canopy.plant_density * leaf_area / cover;
        const double met = cover * (1.0 - std::exp(-0.5 * 0.9 * inside));
        CAPTURE(layers);
        CAPTURE(leaf_area);
        CAPTURE(cover);
        const Split& split = landing.split;
        // less what the store lets run off, 1 - exp(-x) = x (1 - x / 2), x = depth / store
        const double depth = 1e-6 * met / (scenario.canopy.plant_density * leaf_area);
        CHECK(std::abs(split.leaf / met - 1.0) < 0.51 * std::max(1.0, 1.0 * layers) * depth / 5e-4 + 1e-4);
        CHECK(split.airborne + split.evaporated == Approx(0.0).epsilon(1e-3));
        const double pots = scenario.canopy.plant_density * std::numbers::pi / 4.0 * 0.14 * 0.14;
        const double under = std::min(1.0, pots / cover), beside = std::max(0.0, pots - cover);
        CHECK(split.substrate == Approx((cover - met) * under + beside).epsilon(2e-3));
        CHECK(split.stem == 0.0);
        CHECK(landing.shattered + landing.rebounded == 0.0);
      }
    }
  }
}

TEST_CASE("cover grows with leaf area as measured in the field") {
  // two measured covers, 0.41 at LAI 0.7 and 0.94 at LAI 3.8, ask for one k Omega of 0.75
  for (const auto& row : reference::rows("retention", "canopy cover")) {
    Scenario scenario = without_losses();
    scenario.canopy.crown_cover = 1.0;
    scenario.canopy.extinction = row["extinction"];
    scenario.canopy.clumping = 1.0;
    scenario.canopy.leaf_area = row["leaf_area_index"] / scenario.canopy.plant_density;
    scenario.application.volume_rate = 1e-6;
    scenario.retention.leaf_store = 5e-4;
    CAPTURE(row.inputs.at("leaf_area_index"));
    CHECK(std::abs(landed(scenario).split.leaf - row.value) < row.tolerance);
  }
}

TEST_CASE("leaves fill as their store allows") {
  // dW/dV = 1 - W / W_max: Merriam 1960, Aston 1979
  for (const auto& row : reference::rows("retention", "retained over store")) {
    CHECK(std::abs(retained(row["landed_over_store"], 1.0) - row.value) < row.tolerance);
    // a store that is part full takes the same share of its room
    CHECK(retained(row["landed_over_store"], 1.0, 0.4) == Approx(0.6 * row.value).epsilon(1e-4));
  }
  CHECK(retained(1.0, 1.0, 1.5) == 0.0);  // over-full: nothing stays, nothing leaves
  Scenario scenario = without_losses();
  scenario.canopy.layers = 1;
  scenario.application.volume_rate = 2e-3;
  const Landing landing = landed(scenario);
  const LeafLayer& layer = landing.layers.front();
  const double store = scenario.retention.leaf_store * layer.area;
  CHECK(layer.liquid < store);
  CHECK(layer.liquid + layer.run_off ==
        Approx(leaf_interception(scenario.canopy) * 2e-3).epsilon(2e-3));  // all that met a leaf
  CHECK(layer.liquid ==
        Approx(store * (1.0 - std::exp(-(layer.liquid + layer.run_off) / store))).epsilon(1e-9));
}

TEST_CASE("stems get the given share of what runs off") {
  Scenario scenario = without_losses();
  scenario.canopy.stem_area = 0.0025;
  scenario.application.volume_rate = 1e-3;
  const Landing landing = landed(scenario);
  double run_off = 0.0;
  for (const LeafLayer& layer : landing.layers) run_off += layer.run_off / 1e-3;
  CHECK(run_off > 0.1);
  // falling straight down, drops meet no stem
  const double to_stems = scenario.retention.stemflow * run_off;
  CHECK(landing.split.stem + landing.stem_run_off == Approx(to_stems).epsilon(1e-3));
  const double store = scenario.retention.stem_store * stem_area_index(scenario.canopy) / 1e-3;
  CHECK(landing.split.stem == Approx(store * (1.0 - std::exp(-to_stems / store))).epsilon(1e-3));
}

TEST_CASE("the split sums to 1, whatever is sprayed on whatever crop") {
  std::mt19937_64 bits(7);
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  const auto between = [&](double low, double high) { return low * std::pow(high / low, uniform(bits)); };
  for (int i = 0; i < 2000; ++i) {
    Scenario s;
    s.application.volume_rate = between(1e-5, 5e-3);
    s.application.angle = 1.2 * uniform(bits);
    s.droplets = {.dv50 = between(60e-6, 700e-6), .relative_span = 0.4 + uniform(bits), .bins = 6};
    s.nozzle.pressure = between(5e4, 1e6);
    s.liquid.surface_tension = between(0.02, 0.075);
    s.leaf.contact_angle = 2.7 * uniform(bits) + 0.06;
    s.canopy.layers = 1 + i % 4;
    s.canopy.crown_cover = i % 3 == 0 ? 1.0 : 0.2 + 0.8 * uniform(bits);
    s.canopy.leaf_area = between(1e-3, 0.3);
    s.canopy.stem_area = i % 5 == 0 ? 0.0 : between(1e-5, 0.02);
    s.retention.leaf_store = between(5e-6, 5e-4);
    s.retention.shatter_threshold = between(20.0, 300.0);
    s.air.relative_humidity = 0.05 + 0.95 * uniform(bits);
    s.air.speed = 4.0 * uniform(bits);
    std::vector<double> held;  // what is there already, up to over-full
    for (int k = 0; k < i % 4; ++k)
      held.push_back(1.2 * uniform(bits) * s.retention.leaf_store * leaf_area_index(s.canopy));
    const Landing landing =
        land(s, air_of(s), s.application.volume_rate,
             spectrum(s.droplets.distribution, s.droplets.dv50, s.droplets.relative_span, 6), held,
             uniform(bits) * 1e-4);
    CAPTURE(i);
    const Split& split = landing.split;
    REQUIRE(std::abs(split.sum() - 1.0) < 1e-12);
    for (const double share : {split.leaf, split.stem, split.substrate, split.bench, split.airborne,
                               split.evaporated, landing.stem_run_off}) {
      REQUIRE(share > -1e-12);
    }
    double on_leaves = 0.0;
    for (const LeafLayer& layer : landing.layers) {
      on_leaves += layer.liquid;
      REQUIRE(layer.liquid <= s.retention.leaf_store * layer.area * (1.0 + 1e-12));
      if (layer.liquid > 0.0) check(layer.droplets);
    }
    REQUIRE(on_leaves == Approx(split.leaf * s.application.volume_rate).epsilon(1e-12));
  }
}

TEST_CASE("a drench is all on the substrate") {
  Scenario scenario;
  scenario.application.method = Method::drench;
  const Landing landing = landed(scenario);
  CHECK(landing.split == Split{.substrate = 1.0});
  for (const LeafLayer& layer : landing.layers) CHECK(layer.liquid == 0.0);
}

TEST_CASE(
    "finer sprays evaporate and drift more and cover more; over all size classes, in dry and damp air") {
  for (const double humidity : {0.3, 0.6, 0.85}) {
    double evaporated = 1.0, lost = 1.0, cover = 1.0, shattered = -1.0;
    for (const SizeClass& size : size_classes()) {
      const Scenario scenario = sprayed_as(size, humidity);
      const Landing landing = landed(scenario);
      CAPTURE(humidity);
      CAPTURE(size.name);
      CHECK(landing.split.evaporated < evaporated);
      CHECK(landing.split.evaporated + landing.split.airborne < lost);
      // per litre: the volume is the same for all
      CHECK(top_coverage(scenario, landing) < cover);
      CHECK(landing.shattered >= shattered);
      evaporated = landing.split.evaporated, lost = evaporated + landing.split.airborne;
      cover = top_coverage(scenario, landing), shattered = landing.shattered;
    }
    CHECK(evaporated < 0.003);  // the coarsest class hardly evaporates
  }
  // damp air spares the finest half of its losses and more
  const SizeClass& finest = size_classes().front();
  CHECK(landed(sprayed_as(finest, 0.85)).split.evaporated <
        0.5 * landed(sprayed_as(finest, 0.3)).split.evaporated);
}

TEST_CASE("waxy leaves hold less and bounce more; a wetting agent sticks and spreads") {
  Scenario wettable;
  wettable.liquid.surface_tension = 0.0727;
  wettable.leaf.contact_angle = 60.0 * degree;
  Scenario waxy = wettable;
  waxy.leaf.contact_angle = 130.0 * degree;
  Scenario wetted = waxy;  // the waxy leaf under a strong wetting agent
  wetted.liquid.surface_tension = 0.030;
  wetted.leaf.contact_angle = 40.0 * degree;
  const Landing on_wettable = landed(wettable), on_waxy = landed(waxy), with_agent = landed(wetted);

  CHECK(on_wettable.rebounded == 0.0);
  CHECK(on_waxy.rebounded > 0.1);
  CHECK(with_agent.rebounded == 0.0);
  CHECK(on_waxy.split.leaf < 0.7 * on_wettable.split.leaf);
  CHECK(with_agent.split.leaf > 1.4 * on_waxy.split.leaf);
  // what bounces is not lost: it goes on to the ground
  CHECK(on_waxy.split.substrate + on_waxy.split.bench >
        on_wettable.split.substrate + on_wettable.split.bench + 0.1);
  // cover: the waxy leaf least, the wetting agent most, though it shatters more drops
  CHECK(top_coverage(waxy, on_waxy) < 0.5 * top_coverage(wettable, on_wettable));
  CHECK(top_coverage(wetted, with_agent) > 1.15 * top_coverage(wettable, on_wettable));
  CHECK(with_agent.shattered > on_waxy.shattered);
}

TEST_CASE("three quarts instead of two: a larger share on stems and substrate") {
  // both are common practice, no source: 2 US qt / (100 ft2) a spray, 3 a high-volume spray like a small
  // drench
  Scenario scenario;
  double share = 0.0, leaf = 1.0;
  for (const double quarts : {1.0, 2.0, 3.0, 6.0, 8.0}) {
    scenario.application.volume_rate = quarts * quart_per_100_square_feet;
    const Split split = landed(scenario).split;
    CAPTURE(quarts);
    CHECK(split.stem + split.substrate > share);
    CHECK(split.leaf < leaf);
    share = split.stem + split.substrate, leaf = split.leaf;
  }
  scenario.application.volume_rate = 2.0 * quart_per_100_square_feet;
  const Split two = landed(scenario).split;
  scenario.application.volume_rate = 3.0 * quart_per_100_square_feet;
  const Split three = landed(scenario).split;
  CHECK(three.stem + three.substrate > 1.05 * (two.stem + two.substrate));
}

TEST_CASE("young crops let more through") {
  double substrate = 1.0, leaf = 0.0;
  for (const double leaf_area : {0.004, 0.01, 0.025, 0.05, 0.1}) {  // crowns close as leaves grow
    Scenario scenario;
    scenario.canopy.leaf_area = leaf_area;
    scenario.canopy.crown_cover = std::min(1.0, 0.8 * std::sqrt(leaf_area / 0.05));
    const Split split = landed(scenario).split;
    CHECK(split.substrate < substrate);
    CHECK(split.leaf > leaf);
    substrate = split.substrate, leaf = split.leaf;
  }
}

TEST_CASE("slanting sprays meet more stem") {
  double stem = 0.0;
  for (const double angle : {0.0, 20.0, 40.0, 60.0}) {
    Scenario scenario;
    scenario.application.angle = angle * degree;
    scenario.retention.stemflow = 0.0;
    scenario.retention.stem_store = 5e-4;
    const double caught = landed(scenario).split.stem;
    CHECK(caught > stem);
    stem = caught;
  }
}

TEST_CASE("layers: light and droplets are those of the whole canopy, more layers catch more of the splash") {
  Scenario scenario;
  for (const int layers : {1, 2, 3, 4}) {
    scenario.canopy.layers = layers;
    double light = 0.0, area = 0.0, air_speed = 1.0;
    for (const LeafLayer& layer : leaf_layers(scenario.canopy)) {
      light += layer.light, area += layer.area;
      CHECK(layer.air_speed < air_speed);
      air_speed = layer.air_speed;
    }
    CHECK(light == Approx(leaf_interception(scenario.canopy)).epsilon(1e-12));
    CHECK(area == Approx(leaf_area_index(scenario.canopy)).epsilon(1e-12));
  }
  double leaf = 0.0;
  for (const int layers : {1, 2, 3, 4}) {
    scenario.canopy.layers = layers;
    const double on_leaves = landed(scenario).split.leaf;
    CHECK(on_leaves > leaf);
    leaf = on_leaves;
  }
  scenario.canopy.layers = 1;
  CHECK(landed(scenario).split.leaf == Approx(leaf).epsilon(0.17));  // docs/science/landing.md
}

TEST_CASE("merging bins keeps volume and surface") {
  const Spectrum fine = spectrum(Distribution::lognormal, 250e-6, 1.4, 120);
  for (const int bins : {1, 2, 5, 16, 200}) {
    const Spectrum few = merged(fine, bins);
    check(few);
    CHECK(few.diameter.size() <= static_cast<std::size_t>(bins));
    CHECK(std::is_sorted(few.diameter.begin(), few.diameter.end()));
    CHECK(sauter_mean_diameter(few) == Approx(sauter_mean_diameter(fine)).epsilon(1e-12));
  }
  Spectrum mixed = fine;  // in any order
  std::reverse(mixed.diameter.begin(), mixed.diameter.end());
  std::reverse(mixed.volume_share.begin(), mixed.volume_share.end());
  CHECK(merged(mixed, 7).diameter == merged(fine, 7).diameter);
}

TEST_CASE("the split at the default number of bins is that of many") {
  for (const double contact : {60.0, 80.0, 130.0}) {
    for (const std::string_view name : {"fine", "medium", "very coarse"}) {
      Scenario scenario = sprayed_as(size_class(name), 0.6);
      scenario.leaf.contact_angle = contact * degree;
      const Split few = landed(scenario).split;
      scenario.droplets.bins = 200;
      const Split many = landed(scenario).split;
      CAPTURE(contact);
      CAPTURE(name);
      for (const auto share : {&Split::leaf, &Split::stem, &Split::substrate, &Split::bench}) {
        CHECK(few.*share == Approx(many.*share).epsilon(0.01));
      }
      CHECK(std::abs(few.evaporated - many.evaporated) + std::abs(few.airborne - many.airborne) < 0.002);
    }
  }
}
