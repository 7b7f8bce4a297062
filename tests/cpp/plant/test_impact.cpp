#include "wetspan/plant/impact.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <random>
#include <vector>

#include "approx.hpp"
#include "reference.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/spray/flight.hpp"
#include "wetspan/spray/nozzle.hpp"

using namespace wetspan;

namespace {
constexpr double degree = std::numbers::pi / 180;

/// A droplet that meets a leaf at these dimensionless numbers and does not shatter.
Impact met(double We, double Re, double contact_angle, SpreadLaw law) {
  constexpr double diameter = 2e-3;
  ImpactSurface surface{.density = 1000, .surface_tension = 0.05, .splash_threshold = 500, .spread_law = law};
  const double speed = std::sqrt(We * surface.surface_tension / (surface.density * diameter));
  surface.viscosity = surface.density * speed * diameter / Re;
  return impact(diameter, speed, 0, contact_angle, surface);
}

}  // namespace

TEST_CASE("spread and rebound follow their published formulas") {
  for (const auto& row : reference::rows("impact", "maximum spread, Mao")) {
    const double spread = met(row["We"], row["Re"], row["angle_deg"] * degree, SpreadLaw::mao).maximum_spread;
    CHECK(reference::holds(row, spread));
    // It is a root of the cubic.
    const double repellence = 1 - std::cos(row["angle_deg"] * degree);
    CHECK((0.25 * repellence + 0.2 * std::pow(row["We"], 0.83) / std::pow(row["Re"], 0.33)) *
                  std::pow(spread, 3) -
              (row["We"] / 12 + 1) * spread + 2.0 / 3 ==
          Approx(0).scale(1).epsilon(1e-12));
  }
  for (const auto& row : reference::rows("impact", "excess rebound energy, Mao")) {
    const Impact hit = met(row["We"], row["Re"], row["angle_deg"] * degree, SpreadLaw::mao);
    CHECK(reference::holds(row, hit.excess_energy));
  }
  for (const auto& row : reference::rows("impact", "maximum spread, Pasandideh-Fard")) {
    const double angle = row["angle_deg"] * degree;
    const double spread = met(row["We"], row["Re"], angle, SpreadLaw::pasandideh_fard).maximum_spread;
    CHECK(reference::holds(row, spread));
    CHECK(spread == Approx(met(row["We"], row["Re"], angle, SpreadLaw::mao).maximum_spread).epsilon(0.08));
  }
}

TEST_CASE("the splash threshold") {
  for (const auto& row : reference::rows("impact", "splash threshold"))
    CHECK(reference::within(row, mundo_threshold, 0));
  ImpactSurface water;
  for (const auto& row : reference::rows("impact", "speed at the splash threshold")) {
    water.density = row["density"];
    water.viscosity = row["viscosity"];
    water.surface_tension = row["surface_tension"];
    double slow = 0.5 * row.value, fast = 2 * row.value;
    while (fast - slow > 1e-9) {
      const double middle = 0.5 * (slow + fast);
      (impact(row["d"], middle, 0, 1, water).outcome == ImpactOutcome::shatter ? fast : slow) = middle;
    }
    CHECK(reference::holds(row, fast));
    // Only the speed along the normal counts.
    CHECK(impact(row["d"], (row.value + row.tolerance) / 0.5, 60 * degree, 1, water).outcome ==
          ImpactOutcome::shatter);
    CHECK(impact(row["d"], (row.value - row.tolerance) / 0.5, 60 * degree, 1, water).outcome !=
          ImpactOutcome::shatter);
  }
}

TEST_CASE("water of 200 um at 3 m/s sticks to wettable leaves and bounces off repellent ones") {
  CHECK(impact(2e-4, 3, 0, 60 * degree).outcome == ImpactOutcome::stick);
  CHECK(impact(2e-4, 3, 0, 90 * degree).outcome == ImpactOutcome::stick);
  CHECK(impact(2e-4, 3, 0, 120 * degree).outcome == ImpactOutcome::rebound);
  CHECK(impact(2e-4, 3, 0, 150 * degree).outcome == ImpactOutcome::rebound);
}

TEST_CASE("small slow drops stick, whatever the leaf") {
  for (SpreadLaw law : {SpreadLaw::mao, SpreadLaw::pasandideh_fard}) {
    ImpactSurface surface;
    surface.spread_law = law;
    for (double angle : {40.0, 90.0, 130.0, 150.0}) {
      CHECK(impact(3e-5, 0.5, 0, angle * degree, surface).outcome == ImpactOutcome::stick);
      CHECK(impact(1e-4, 0, 0, angle * degree, surface).outcome == ImpactOutcome::stick);
    }
  }
  // Once a drop bounces at some speed it does not stick again when faster, up to shattering.
  bool bounced = false;
  for (double speed = 0.1; speed < 6; speed += 0.05) {
    const ImpactOutcome outcome = impact(2e-4, speed, 0, 140 * degree).outcome;
    if (bounced) CHECK(outcome != ImpactOutcome::stick);
    bounced = bounced || outcome == ImpactOutcome::rebound;
  }
  CHECK(bounced);
}

TEST_CASE("what was seen of real drops") {
  for (const auto& row : reference::rows("impact", "drops stick to a hydrophobic polymer"))
    CHECK(impact(row["d"], row.value, 0, row["angle_deg"] * degree).outcome == ImpactOutcome::stick);
  for (const auto& row : reference::rows("impact", "smallest drop seen to rebound from leaves")) {
    // Below the speed of delivery a 63 um drop can bounce from the most repellent leaves, not from wettable
    // ones.
    CHECK(impact(row.value, row["speed"], 0, 150 * degree).outcome == ImpactOutcome::rebound);
    CHECK(impact(row.value, row["speed"], 0, 90 * degree).outcome == ImpactOutcome::stick);
  }
  // Nozzle, flight and impact together: the diameter from which drops shatter on a slanting cabbage leaf.
  for (const auto& row : reference::rows("impact", "drops shatter above"))
    for (double surface_tension : {0.0727, 0.050}) {
      FlightInput input;
      input.height = row["distance"];
      input.exit_speed = exit_speed(row["pressure"], 998);
      input.cross_draught = 0;
      ImpactSurface liquid;
      liquid.surface_tension = surface_tension;
      double whole = 5e-5, broken = 1e-3;
      while (broken - whole > 1e-7) {
        const double d = 0.5 * (whole + broken);
        const DropletFlight drop = fly(d, input);
        const bool breaks =
            impact(drop.diameter, drop.speed, row["incidence_deg"] * degree, 2.3, liquid).outcome ==
            ImpactOutcome::shatter;
        (breaks ? broken : whole) = d;
      }
      CHECK(reference::holds(row, broken, surface_tension > 0.06 ? "water" : "with a surfactant"));
    }
}

TEST_CASE("neither liquid nor energy is created on a leaf") {
  for (SpreadLaw law : {SpreadLaw::mao, SpreadLaw::pasandideh_fard})
    for (double threshold : {5.0, 20.0, 57.7, 200.0})
      for (double share : {0.0, 0.2, 0.8, 1.0})
        for (double viscosity : {1e-3, 2e-2})
          for (double d : {2e-5, 1e-4, 4e-4, 2e-3})
            for (double speed : {0.0, 0.3, 2.0, 9.0, 40.0})
              for (double incidence : {0.0, 0.8, 1.5})
                for (double angle : {0.3, 1.5, 2.3, 3.1}) {
                  ImpactSurface surface;
                  surface.spread_law = law;
                  surface.splash_threshold = threshold;
                  surface.splashed_share = share;
                  surface.viscosity = viscosity;
                  const Impact hit = impact(d, speed, incidence, angle, surface);
                  const double leaving = hit.leaving_number * std::pow(hit.leaving_diameter / d, 3);
                  CHECK(hit.retained_share + leaving == Approx(1).epsilon(1e-12));
                  CHECK(hit.energy_out <= hit.energy_in * (1 + 1e-12));
                  CHECK(hit.leaving_speed <= speed * (1 + 1e-12));
                  CHECK(hit.maximum_spread >= 1);
                  if (hit.outcome == ImpactOutcome::stick) CHECK(hit.energy_out == 0);
                }
}

TEST_CASE("wettability classes") {
  constexpr const char* names[] = {"super-hydrophilic", "highly wettable",     "wettable",
                                   "non-wettable",      "highly non-wettable", "super-hydrophobic"};
  int i = 0;
  for (const auto& row : reference::rows("impact", "wettability class boundary")) {
    CHECK(wettability_class((row.value - 0.01) * degree) == names[i++]);
    CHECK(wettability_class((row.value + 0.01) * degree) == names[i]);
  }
}

TEST_CASE("mean incidence on a leaf that faces any way") {
  CHECK(mean_incidence_cosine(0, 0) == 1);
  CHECK(mean_incidence_cosine(0.6, 0) == Approx(std::cos(0.6)).epsilon(1e-14));
  for (double leaf : {0.2, 0.9, 1.4, 1.55})
    for (double path : {0.0, 0.3, 0.8, 1.3}) {
      double sum = 0;
      constexpr int steps = 20000;
      for (int i = 0; i < steps; ++i)
        sum += std::abs(std::cos(leaf) * std::cos(path) +
                        std::sin(leaf) * std::sin(path) * std::cos(2 * std::numbers::pi * (i + 0.5) / steps));
      CHECK(mean_incidence_cosine(leaf, path) == Approx(sum / steps).epsilon(1e-6));
    }
}

TEST_CASE("the cascade loses nothing") {
  const Spectrum spray = spectrum(Distribution::lognormal, 3e-4, 1.4, 16);
  for (double contact_angle : {60.0, 110.0, 150.0})
    for (double threshold : {15.0, 57.7})
      for (double interception : {0.0, 0.3, 0.8, 1.0}) {
        std::vector<Parcel> drops;
        for (std::size_t i = 0; i < 16; ++i)
          drops.push_back({spray.diameter[i], 1 + 3e4 * spray.diameter[i], 0.4, spray.volume_share[i]});
        ImpactSurface surface;
        surface.splash_threshold = threshold;
        const std::vector<CanopyLayer> layers(
            5, {interception, 0.6, contact_angle * degree, {.area = interception == 0 ? 0.0 : 0.5}});
        const Cascade result = cascade(drops, layers, surface);
        double retained = 0, by_droplets = 0, through = 0;
        for (const LayerDeposit& each : result.layers) {
          retained += each.retained + each.on_stems;
          by_droplets += each.on_stems;
          CHECK(each.met == Approx(each.retained + each.rebounded + each.shattered).epsilon(1e-12));
          for (const Parcel& parcel : each.droplets) by_droplets += parcel.volume;
        }
        for (const Parcel& parcel : result.through) through += parcel.volume;
        CHECK(std::abs(retained + result.ground + result.adrift - 1) < 1e-12);
        CHECK(std::abs(by_droplets - retained) < 1e-12);
        CHECK(std::abs(through - result.ground) < 1e-15);
        if (interception == 0) CHECK(result.ground == Approx(1).epsilon(1e-14));
      }
}

TEST_CASE("sticking drops follow the exponential law; repellent leaves keep less and pass more down") {
  const std::vector<Parcel> drops{{3e-4, 3, 0, 1}};
  const Cascade wettable = cascade(drops, std::vector<CanopyLayer>(3, {0.4, 0, 60 * degree}));
  CHECK(wettable.ground == Approx(std::pow(0.6, 3)).epsilon(1e-14));
  CHECK(wettable.layers[1].retained == Approx(0.4 * 0.6).epsilon(1e-14));
  const Cascade repellent = cascade(drops, std::vector<CanopyLayer>(3, {0.4, 0, 140 * degree}));
  CHECK(repellent.layers[0].retained == 0);
  CHECK(repellent.layers[0].rebounded == Approx(0.4));
  CHECK(repellent.layers[1].retained > 0);  // slowed by the first bounce
  CHECK(repellent.ground > wettable.ground);
  // what passes every leaf untouched does not depend on what leaves do with the rest
  CHECK(wettable.untouched == Approx(wettable.ground).epsilon(1e-14));
  CHECK(repellent.untouched == Approx(wettable.ground).epsilon(1e-14));
}

TEST_CASE("leaves and stems of a layer share by their chances what passes") {
  const std::vector<Parcel> drops{{3e-4, 3, 0.6, 1}};
  const CanopyLayer layer{0.4, 0, 60 * degree, {.area = 1.0}};
  const double hits = stem_hits(layer.stems, 3e-4, 3, 0.6);
  const Cascade result = cascade(drops, {layer});
  CHECK(result.ground == Approx(0.6 * std::exp(-hits)).epsilon(1e-14));
  CHECK(result.layers[0].on_stems / result.layers[0].met == Approx(hits / -std::log(0.6)).epsilon(1e-13));
  // split in halves, the layer meets the same and shares it in the same way
  const CanopyLayer half{1 - std::sqrt(0.6), 0, 60 * degree, {.area = 0.5}};
  const Cascade halves = cascade(drops, {half, half});
  CHECK(halves.ground == Approx(result.ground).epsilon(1e-14));
  CHECK(halves.layers[0].on_stems + halves.layers[1].on_stems ==
        Approx(result.layers[0].on_stems).epsilon(1e-13));
  // what falls straight down meets leaves alone, a path along the bench counts as 1.5 rad
  CHECK(cascade({{3e-4, 3, 0, 1}}, {layer}).layers[0].on_stems == 0);
  CHECK(cascade({{3e-4, 3, std::numbers::pi / 2, 1}}, {layer}).layers[0].on_stems ==
        Approx(cascade({{3e-4, 3, 1.5, 1}}, {layer}).layers[0].on_stems));
}

TEST_CASE("fragments too fine to settle drift off") {
  // fast small drops of a wetting agent, on leaves that shatter whatever comes
  const ImpactSurface surface{.surface_tension = 0.015, .splash_threshold = 5};
  const Impact hit = impact(3e-5, 88, 0, 1, surface);
  REQUIRE(hit.leaving_diameter < finest_settling);
  const Cascade result = cascade({{3e-5, 88, 0, 1}}, std::vector<CanopyLayer>(4, {0.5, 0, 1}), surface);
  CHECK(result.layers[0].shattered == Approx(0.25));
  CHECK(result.adrift == Approx(0.5 * (1 - 0.0625)));
  CHECK(result.ground == Approx(0.0625));
}

namespace {

std::vector<Parcel> drawn_droplets(int count) {
  std::mt19937_64 bits(20261130);
  std::uniform_real_distribution<double> share(0.0, 1.0);
  std::vector<Parcel> droplets;
  for (int i = 0; i < count; ++i) {
    const double diameter = 2e-5 * std::pow(100.0, share(bits)), speed = 0.1 * std::pow(200.0, share(bits));
    droplets.push_back({diameter, speed, i % 5 == 0 ? 0.0 : 1.57 * share(bits), share(bits)});
  }
  return droplets;
}

/// What one layer does with each droplet by the formulas for a single one: retained, on stems.
std::array<double, 2> one_by_one(const Parcel& droplet, const CanopyLayer& layer,
                                 const ImpactSurface& surface) {
  const double incidence = std::acos(mean_incidence_cosine(layer.leaf_angle, droplet.angle));
  const Impact hit = impact(droplet.diameter, droplet.speed, incidence, layer.contact_angle, surface);
  const double leaves = -std::log1p(-layer.interception);
  const double stems = stem_hits(layer.stems, droplet.diameter, droplet.speed, std::min(droplet.angle, 1.5));
  const double met = -std::expm1(-(leaves + stems)) / (leaves + stems) * droplet.volume;
  return {met * leaves * hit.retained_share, met * stems};
}

}  // namespace

TEST_CASE("droplets that meet a layer side by side fare as each alone, by all instructions and laws") {
  const std::vector<Parcel> droplets = drawn_droplets(301);
  for (const Instructions each : instructions_here()) {
    for (const SpreadLaw spread : {SpreadLaw::mao, SpreadLaw::pasandideh_fard}) {
      for (const Collection law :
           {Collection::langmuir_blodgett, Collection::landahl_herrmann, Collection::aylor}) {
        for (const double lean : {0.0, 0.4}) {
          const ImpactSurface surface{.splashed_share = 0.4, .spread_law = spread};
          const CanopyLayer layer{0.4, 0.9, 120 * degree, {.area = 0.5, .lean = lean, .collection = law}};
          const Cascade together = cascade(droplets, {layer}, surface, each);
          double retained = 0, on_stems = 0;
          for (const Parcel& droplet : droplets) {
            const auto [stays, caught] = one_by_one(droplet, layer, surface);
            retained += stays, on_stems += caught;
          }
          CHECK(together.layers[0].retained == Approx(retained).epsilon(1e-12));
          CHECK(together.layers[0].on_stems == Approx(on_stems).epsilon(1e-12));
        }
      }
    }
  }
}

TEST_CASE("what a droplet meets has the same bits beside any others, and at any width of fused lanes") {
  const std::vector<Parcel> droplets = drawn_droplets(61);
  const std::vector<CanopyLayer> layers(3, {0.4, 0.9, 120 * degree, {.area = 0.5}});
  constexpr double nothing = 1e-300;
  const auto seen = [](double volume) { return volume < 1e3 * nothing ? 0.0 : volume; };
  const auto same = [&](const Cascade& a, const Cascade& b) {
    for (std::size_t i = 0; i < 3; ++i) {
      CHECK(seen(a.layers[i].retained) == seen(b.layers[i].retained));
      CHECK(seen(a.layers[i].on_stems) == seen(b.layers[i].on_stems));
    }
    CHECK(seen(a.ground) == seen(b.ground));
  };
  const auto here = instructions_here();
  for (const Instructions each : here) {
    for (const Parcel& droplet : droplets) {
      std::vector<Parcel> weightless = droplets;  // beside it
      for (Parcel& other : weightless) other.volume = nothing;
      weightless.insert(weightless.begin() + 3, droplet);
      same(cascade({droplet}, layers, {}, each), cascade(weightless, layers, {}, each));
    }
  }
  if (std::find(here.begin(), here.end(), Instructions::avx512) != here.end()) {
    same(cascade(droplets, layers, {}, Instructions::avx2),
         cascade(droplets, layers, {}, Instructions::avx512));
  }
}

TEST_CASE("impossible impacts are refused") {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  CHECK_THROWS_AS(impact(nan, 1, 0, 1), InputError);
  CHECK_THROWS_AS(impact(1e-4, -1, 0, 1), InputError);
  CHECK_THROWS_AS(impact(1e-4, 1, 2, 1), InputError);
  CHECK_THROWS_WITH_AS(impact(1e-4, 1, 0, 80), doctest::Contains("contact_angle = 80 rad"), InputError);
  CHECK_THROWS_AS(cascade({{1e-4, 1, 0, -1}}, {}), InputError);
  CHECK_THROWS_AS(cascade({{1e-4, 1, 0, 1}}, {{1.5, 0.5, 1}}), InputError);
  CHECK_THROWS_AS(cascade({}, std::vector<CanopyLayer>(17, {0.1, 0.5, 1})), InputError);
  CHECK_THROWS_AS(cascade({{nan, 1, 0, 1}}, {{0.5, 0.5, 1}}), InputError);
  CHECK_THROWS_AS(cascade({{1e-4, 101, 0, 1}}, {{0.5, 0.5, 1}}), InputError);
  CHECK_THROWS_AS(cascade({{1e-4, 1, 0, 1}}, {{0.5, 2, 1}}), InputError);
  CHECK_THROWS_AS(cascade({{1e-4, 1, 0, 1}}, {{0.5, 0.5, 80}}), InputError);
  CHECK_THROWS_AS(cascade({{1e-4, 1, 0, 1}}, {{0.5, 0.5, 1, {.area = -1}}}), InputError);
  CHECK_THROWS_AS(cascade({{7e-3, 1, 0, 1}}, {{0.5, 0.5, 1, {.area = 1}}}), InputError);
}
