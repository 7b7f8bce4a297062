// Every public function of plain numbers, given NaN, infinities, negative, zero and huge values one argument
// at a time: it throws an InputError or gives a number, and never a number for NaN.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <string>
#include <vector>

#include "wetspan/wetspan.hpp"

namespace {

using namespace wetspan;
using Numbers = std::vector<double>;
constexpr double nan = std::numeric_limits<double>::quiet_NaN();
constexpr double infinity = std::numeric_limits<double>::infinity();

struct Door {
  std::string name;
  Numbers good;  // arguments that are allowed
  std::function<Numbers(const Numbers&)> call;
};

bool any_nan(const Numbers& values) {
  return std::ranges::any_of(values, [](double value) { return std::isnan(value); });
}

/// What is wrong with the answer to these arguments; empty if nothing is.
std::string wrong(const Door& door, const Numbers& given) {
  try {
    const bool answers_nan = any_nan(door.call(given));
    if (any_nan(given)) return answers_nan ? "NaN in silence" : "a number for NaN";
    return answers_nan ? "NaN" : "";
  } catch (const InputError& error) {
    return std::string(error.what()).empty() ? "a refusal without words" : "";
  }
}

void walk(const std::vector<Door>& doors) {
  for (const Door& door : doors) {
    CAPTURE(door.name);
    CHECK(wrong(door, door.good) == "");
    CHECK_NOTHROW(door.call(door.good));
    for (std::size_t i = 0; i < door.good.size(); ++i) {
      for (const double value : {nan, infinity, -infinity, -1.0, 0.0, 1e300}) {
        CAPTURE(i);
        CAPTURE(value);
        Numbers given = door.good;
        given[i] = value;
        CHECK(wrong(door, given) == "");
      }
    }
  }
}

/// A door of one function of numbers.
template <class... Argument>
Door door(std::string name, double (*function)(Argument...), Numbers good) {
  return {std::move(name), std::move(good), [function](const Numbers& x) {
            return [&]<std::size_t... I>(std::index_sequence<I...>) {
              return Numbers{function(x[I]...)};
            }(std::index_sequence_for<Argument...>{});
          }};
}

Numbers all_of(const Spectrum& spectrum) {
  Numbers all = spectrum.diameter;
  all.insert(all.end(), spectrum.volume_share.begin(), spectrum.volume_share.end());
  return all;
}
Numbers all_of(const std::vector<Pass>& passes) {
  return {emitted(passes), duration(passes), static_cast<double>(passes.size())};
}
Numbers all_of(const Pattern& pattern) {
  Numbers all;
  for (const Bar& bar : pattern) all.push_back(share(bar));
  return all;
}

TEST_CASE("doors of numbers: solving properties of air") {
  walk({door("dew_point", air::dew_point, {1400.0}),
        door("wet_bulb", air::wet_bulb, {298.15, 1400.0, 101325.0})});
}

TEST_CASE("doors of numbers: explicit formulas give NaN for NaN") {
  const Active active;
  const Uptake uptake;
  const DropletClass droplets = deposit({{1e-4}, {1.0}}, 1e-4, 1.2, 0.5).front();
  for (const auto& each : std::vector<std::pair<std::string, double>>{
           {"saturation_pressure", air::saturation_pressure(nan)},
           {"saturation_pressure_slope", air::saturation_pressure_slope(nan)},
           {"vapour_density", air::vapour_density(nan, 298.0)},
           {"saturation_vapour_density", air::saturation_vapour_density(nan)},
           {"vapour_pressure_from_density", air::vapour_pressure_from_density(0.01, nan)},
           {"vapour_pressure", air::vapour_pressure(nan, 298.0)},
           {"relative_humidity", air::relative_humidity(1400.0, nan)},
           {"humidity_ratio", air::humidity_ratio(nan, 1e5)},
           {"saturation_humidity_ratio", air::saturation_humidity_ratio(nan, 1e5)},
           {"vapour_pressure_from_humidity_ratio", air::vapour_pressure_from_humidity_ratio(nan, 1e5)},
           {"humidity_ratio_from_wet_bulb", air::humidity_ratio_from_wet_bulb(298.0, nan, 1e5)},
           {"wet_bulb_stull", air::wet_bulb_stull(nan, 0.5)},
           {"enthalpy", air::enthalpy(298.0, nan)},
           {"specific_heat", air::specific_heat(nan)},
           {"density", air::density(298.0, nan, 1e5)},
           {"specific_volume", air::specific_volume(298.0, nan, 1e5)},
           {"virtual_temperature", air::virtual_temperature(298.0, nan, 1e5)},
           {"psychrometric_constant", air::psychrometric_constant(nan, 2.4e6)},
           {"standard_atmosphere_pressure", air::standard_atmosphere_pressure(nan)},
           {"dynamic_viscosity", air::dynamic_viscosity(nan)},
           {"thermal_conductivity", air::thermal_conductivity(nan)},
           {"kinematic_viscosity", air::kinematic_viscosity(nan, 0.0, 1e5)},
           {"thermal_diffusivity", air::thermal_diffusivity(nan, 0.0, 1e5)},
           {"vapour_diffusivity", air::vapour_diffusivity(nan, 1e5)},
           {"prandtl", air::prandtl(nan)},
           {"schmidt", air::schmidt(nan, 0.0, 1e5)},
           {"evaporation_factor", evaporation_factor(nan)},
           {"cap_volume", cap_volume(nan)},
           {"wet_share", wet_share(nan)},
           {"cap", cap(droplets, nan).half_tangent},
           {"permeance", permeance(active, uptake, nan)},
           {"solubility", solubility(active, nan)},
           {"most_dissolved", most_dissolved(active, uptake, nan)},
           {"mobile_rate", mobile_rate(uptake, nan)},
           {"leaf_cuticle", leaf_cuticle(uptake, nan)},
           {"enters_growing", enters_growing(uptake, nan)},
           {"turns_mobile", turns_mobile(uptake, nan)},
           {"water::density", water::density(nan)},
           {"water::dynamic_viscosity", water::dynamic_viscosity(nan)},
           {"water::specific_heat", water::specific_heat(nan)},
           {"water::thermal_conductivity", water::thermal_conductivity(nan)},
           {"water::surface_tension", water::surface_tension(nan)},
           {"water::saturation_pressure", water::saturation_pressure(nan)},
           {"water::saturation_pressure_slope", water::saturation_pressure_slope(nan)},
           {"water::saturated_liquid_density", water::saturated_liquid_density(nan)},
           {"water::saturated_vapour_density", water::saturated_vapour_density(nan)},
           {"water::latent_heat", water::latent_heat(nan)}}) {
    CAPTURE(each.first);
    CHECK(std::isnan(each.second));
  }
}

TEST_CASE("doors of numbers: droplets and nozzles") {
  walk({door("ln_geometric_deviation", ln_geometric_deviation, {1.2}),
        door("rosin_rammler_exponent", rosin_rammler_exponent, {1.2}),
        door("rosin_rammler_relative_span", rosin_rammler_relative_span, {3.0}),
        door("nozzle_flow", nozzle_flow, {1.3e-5, 3e5, 3e5}),
        door("exit_speed", exit_speed, {3e5, 998.0, 0.9}), door("fan_width", fan_width, {0.5, 1.4}),
        door("volume_rate", volume_rate, {1.3e-5, 1.0, 1.0}), door("pace_for", pace_for, {1.3e-5, 2e-4, 1.0}),
        door("jet_length", jet_length, {1.3e-5, 20.0, 1.4, 0.3, 998.0, 1.2})});
  for (const Distribution law : {Distribution::lognormal, Distribution::rosin_rammler}) {
    walk({{"volume_quantile",
           {3e-4, 1.2, 0.3},
           [=](const Numbers& x) { return Numbers{volume_quantile(law, x[0], x[1], x[2])}; }},
          {"share_below",
           {3e-4, 1.2, 2e-4},
           [=](const Numbers& x) { return Numbers{share_below(law, x[0], x[1], x[2])}; }},
          {"sauter_mean_diameter",
           {3e-4, 1.2},
           [=](const Numbers& x) { return Numbers{sauter_mean_diameter(law, x[0], x[1])}; }},
          {"spectrum", {3e-4, 1.2}, [=](const Numbers& x) { return all_of(spectrum(law, x[0], x[1], 8)); }}});
  }
  walk({{"three_quantile_spectrum",
         {1e-4, 2e-4, 4e-4},
         [](const Numbers& x) { return all_of(three_quantile_spectrum(x[0], x[1], x[2], 8)); }},
        {"measured_spectrum",
         {1e-4, 2e-4, 4e-4, 0.0, 0.5, 1.0},
         [](const Numbers& x) { return all_of(measured_spectrum({x.data(), 3}, {x.data() + 3, 3}, 8)); }},
        {"distinct",
         {1e-4, 2e-4, 0.5, 0.5},
         [](const Numbers& x) { return all_of(distinct({{x[0], x[1]}, {x[2], x[3]}})); }},
        {"sauter_mean_diameter of bins",
         {1e-4, 2e-4, 0.5, 0.5},
         [](const Numbers& x) { return Numbers{sauter_mean_diameter({{x[0], x[1]}, {x[2], x[3]}})}; }},
        {"share_below of bins", {1e-4, 2e-4, 0.5, 0.5, 1.5e-4}, [](const Numbers& x) {
           return Numbers{share_below({{x[0], x[1]}, {x[2], x[3]}}, x[4])};
         }}});
}

TEST_CASE("doors of numbers: flight") {
  const auto moist = [](const Numbers& x) {
    return MoistAir{.temperature = x[0], .vapour_pressure = x[1], .pressure = x[2]};
  };
  const Numbers good{298.15, 1400.0, 101325.0};
  const auto with = [&](std::initializer_list<double> more) {
    Numbers all = good;
    all.insert(all.end(), more);
    return all;
  };
  for (const Drag drag :
       {Drag::turton_levenspiel, Drag::schiller_naumann, Drag::clift_gauvin, Drag::langmuir_blodgett}) {
    walk({{"drag_factor", {10.0}, [=](const Numbers& x) { return Numbers{drag_factor(x[0], drag)}; }},
          {"terminal_speed", with({1e-4}),
           [=](const Numbers& x) { return Numbers{terminal_speed(x[3], moist(x), drag)}; }},
          {"stop_distance", with({1e-4, 20.0}),
           [=](const Numbers& x) { return Numbers{stop_distance(x[3], x[4], moist(x), drag)}; }}});
  }
  walk({{"droplet_temperature", good,
         [=](const Numbers& x) { return Numbers{droplet_temperature(moist(x))}; }},
        {"evaporation_constant", good,
         [=](const Numbers& x) { return Numbers{evaporation_constant(moist(x))}; }},
        {"still_air_lifetime", with({1e-4, 0.1}),
         [=](const Numbers& x) { return Numbers{still_air_lifetime(x[3], moist(x), x[4])}; }}});
  const auto input = [&](const Numbers& x) {
    return FlightInput{.air = moist(x),
                       .cross_draught = x[3],
                       .height = x[4],
                       .exit_speed = x[5],
                       .angle = x[6],
                       .jet_length = x[7],
                       .jet_spread = x[8],
                       .target_half_width = x[9],
                       .core_share = x[10],
                       .liquid_excess = x[11],
                       .longest = x[12],
                       .tolerance = x[13]};
  };
  const Numbers flies = with({0.2, 0.5, 20.0, 0.1, 0.03, 0.2, 1.0, 0.01, 0.0, 60.0, 1e-5});
  const auto told = [](const DropletFlight& flight) {
    return Numbers{flight.evaporated, flight.airborne, flight.delivered, flight.time, flight.speed};
  };
  walk({{"fly", flies, [=](const Numbers& x) { return told(fly(2e-4, input(x))); }},
        {"fly a spray", flies,
         [=](const Numbers& x) {
           const Flight flight = fly({{1e-4, 2e-4}, {0.5, 0.5}}, input(x));
           return Numbers{flight.evaporated, flight.airborne, flight.delivered, flight.heat};
         }},
        {"fly a diameter", {2e-4}, [=](const Numbers& x) { return told(fly(x[0], FlightInput{})); }},
        {"flight_path", {2e-4, 0.1}, [](const Numbers& x) {
           return Numbers{flight_path(x[0], FlightInput{}, x[1]).back().time};
         }}});
}

TEST_CASE("doors of numbers: footprints, paths and maps") {
  walk({{"pattern",
         {1.396, 0.3, 0.5, 0.6},
         [](const Numbers& x) {
           return all_of(pattern({.angle = x[0], .thickness_angle = x[1], .top = x[2], .hollow = x[3]}));
         }},
        {"measured_pattern",
         {-0.2, 0.0, 0.2, 1.0, 2.0, 1.0, 0.5, 0.3},
         [](const Numbers& x) {
           return all_of(measured_pattern({x.data(), 3}, {x.data() + 3, 3}, x[6], x[7]));
         }},
        {"wand_passes",
         {2.0, 1.0, 1e-5},
         [](const Numbers& x) { return all_of(wand_passes({}, x[0], x[1], x[2], 1)); }},
        {"boom_passes",
         {2.0, 1.0, 1e-5},
         [](const Numbers& x) { return all_of(boom_passes({}, x[0], x[1], x[2], 1)); }},
        {"passes as given",
         {0.0, 0.5, 1.0, 0.5, 1.0, 0.4, 1e-5},
         [](const Numbers& x) {
           const std::vector<Pass> passes{{x[0], x[1], x[2], x[3], x[4], x[5], x[6]}};
           return Numbers{emitted(passes), duration(passes), emitted(with_even_speed(passes)),
                          emitted(with_even_height(passes))};
         }},
        {"deposit_passes",
         {0.0, 0.5, 1.0, 0.5, 1.0, 0.4, 1e-5},
         [](const Numbers& x) {
           const Pass pass{x[0], x[1], x[2], x[3], x[4], x[5], x[6]};
           const DepositMap map = deposit_passes(grid_over(1.0, 1.0, 0.1, 0.1), pattern({}), {&pass, 1});
           return Numbers{map.on_bench, map.off_bench};
         }},
        {"share of a bar",
         {-0.5, 0.5, 1.0, 1.0, -0.1, 0.1},
         [](const Numbers& x) {
           const Pass pass{0.0, 0.5, 1.0, 0.5, 1.0, 0.4, 1e-5};
           const DepositMap map = deposit_passes(grid_over(1.0, 1.0, 0.1, 0.1),
                                                 {{x[0], x[1], x[2], x[3], x[4], x[5]}}, {&pass, 1});
           return Numbers{map.on_bench, map.off_bench};
         }},
        {"grid_over",
         {1.0, 1.0, 0.1, 0.1},
         [](const Numbers& x) {
           const Grid grid = grid_over(x[0], x[1], x[2], x[3]);
           return Numbers{grid.dx(), grid.dy(), static_cast<double>(grid.all_columns())};
         }},
        {"mean_over",
         {0.5, 0.5, 0.2},
         [](const Numbers& x) {
           const Grid grid = grid_over(1.0, 1.0, 0.1, 0.1);
           const Numbers depth(grid.all_columns() * grid.all_rows(), 1e-4);
           const Disc disc{x[0], x[1], x[2]};
           return mean_over(grid, depth, {&disc, 1});
         }},
        door("circle_in_quadrant", circle_in_quadrant, {0.2, 0.3}),
        door("lognormal", lognormal, {0.5, 0.1})});
}

TEST_CASE("doors of numbers: jug") {
  walk({door("stokes_speed", stokes_speed, {2e-6, 220.0, 0.1}),
        door("gel_release", gel_release, {0.01, 2e-6, 220.0}),
        door("richardson_zaki", richardson_zaki, {0.1, 4.65}),
        {"suspensibility", {1.0, 2.0, 3.0}, [](const Numbers& x) { return Numbers{suspensibility(x)}; }},
        {"spread", {1.0, 1.1, 0.9}, [](const Numbers& x) { return Numbers{spread(x)}; }},
        {"pours",
         {1.0, 2.0, 3.0, 0.2, 0.3, 0.5},
         [](const Numbers& x) { return pours({x.data(), 3}, {x.data() + 3, 2}, Draw::top, x[5]); }},
        {"particle_classes",
         {100.0},
         [](const Numbers& x) {
           Numbers all;
           for (const ParticleClass& each : particle_classes(x[0])) all.push_back(each.concentration);
           return all;
         }},
        {"sinking_speed",
         {2e-6, 1250.0, 100.0},
         [](const Numbers& x) {
           return Numbers{sinking_speed(
               {.name = "a", .diameter = x[0], .density = x[1], .concentration = x[2]}, JugInput{})};
         }},
        {"settle", {2e-6, 1250.0, 100.0, 3600.0}, [](const Numbers& x) {
           JugInput jug;
           jug.classes = {{.name = "a", .diameter = x[0], .density = x[1], .concentration = x[2]}};
           return settle(jug, {x.data() + 3, 1}).concentration;
         }}});
}

TEST_CASE("doors of numbers: tank") {
  const Concentrate product = liquid_by_volume(4.0);
  walk({door("volume_over_area", volume_over_area, {2e-4, 10.0}),
        door("usual_drench_volume", usual_drench_volume, {0.15}),
        door("concentration_for_dose", concentration_for_dose, {1e-6, 1e-4}),
        door("undissolved", undissolved, {0.03, 0.026}),
        door("reading_error", reading_error, {10.0, 0.5}),
        {"volume_for_pots", {1e-4}, [](const Numbers& x) { return Numbers{volume_for_pots(x[0], 10)}; }},
        {"liquid_by_volume",
         {4.0, 1000.0},
         [](const Numbers& x) { return Numbers{*liquid_by_volume(x[0], x[1]).mass_share}; }},
        {"liquid_by_mass",
         {0.004, 1000.0},
         [](const Numbers& x) { return Numbers{*liquid_by_mass(x[0], x[1]).concentration}; }},
        {"powder", {0.5}, [](const Numbers& x) { return Numbers{*powder(x[0]).mass_share}; }},
        {"mix",
         {0.03, 0.01, 10.0, 0.005},
         [=](const Numbers& x) {
           const TankMix told = mix(product, x[0], x[1], {.area = x[2]}, x[3]);
           return Numbers{told.product, *told.water, told.product_in_last_fill, *told.active_per_area};
         }},
        {"applied", {1e-4, 0.01, 0.009, 10.0}, [=](const Numbers& x) {
           const TankMix told = applied(product, {.volume = x[0]}, {.water = x[1]}, x[2], {.area = x[3]});
           return Numbers{told.concentration, told.active_ingredient, *told.active_per_area};
         }}});
}

TEST_CASE("doors of numbers: canopy, collection, coverage and retention") {
  const auto canopy = [](const Numbers& x) {
    Canopy of;
    of.plant_density = x[0], of.leaf_area = x[1], of.stem_area = x[2], of.growing_share = x[3];
    of.pot_diameter = x[4], of.crown_cover = x[5], of.extinction = x[6], of.clumping = x[7];
    return of;
  };
  const Canopy usual;
  const Numbers crop{usual.plant_density, usual.leaf_area,   usual.stem_area,  usual.growing_share,
                     usual.pot_diameter,  usual.crown_cover, usual.extinction, usual.clumping};
  walk({{"leaf_area_index", crop, [=](const Numbers& x) {
           return Numbers{leaf_area_index(canopy(x)),   stem_area_index(canopy(x)),
                          growing_share(canopy(x), 0),  pot_cover(canopy(x)),
                          leaf_interception(canopy(x)), ground_of(canopy(x)).pot_below_crowns};
         }}});
  for (const auto& [name, of] :
       std::vector<std::pair<std::string, double (*)(const Canopy&)>>{{"leaf_area_index", leaf_area_index},
                                                                      {"stem_area_index", stem_area_index},
                                                                      {"pot_cover", pot_cover}}) {
    walk({{name, {43.0, 0.05}, [of = of](const Numbers& x) {
             Canopy one;
             one.plant_density = x[0], one.leaf_area = one.stem_area = one.pot_diameter = x[1];
             return Numbers{of(one)};
           }}});
  }
  walk({door("stokes_number", stokes_number, {1e-4, 1.0, 4e-3, 998.0, 1.8e-5}),
        door("collection_langmuir_blodgett", collection_langmuir_blodgett, {2.0, 100.0}),
        door("collection_landahl_herrmann", collection_landahl_herrmann, {1.0}),
        door("collection_aylor", collection_aylor, {1.0}),
        {"collection_trajectory",
         {2.0, 100.0},
         [](const Numbers& x) { return Numbers{collection_trajectory(x[0], x[1])}; }},
        {"stem_hits",
         {0.1, 4e-3, 0.2, 998.0, 1.2, 1.8e-5, 2e-4, 1.0, 0.5},
         [](const Numbers& x) {
           const StemStand stand{.area = x[0],
                                 .diameter = x[1],
                                 .lean = x[2],
                                 .liquid_density = x[3],
                                 .air_density = x[4],
                                 .air_viscosity = x[5]};
           return Numbers{stem_hits(stand, x[6], x[7], x[8])};
         }},
        door("cap_base_radius", cap_base_radius, {2e-4, 1.2}),
        door("retained_share", retained_share, {1e-4, 1e-4, 0.0}),
        {"stemflow_share",
         {1.0},
         [](const Numbers& x) { return Numbers{stemflow_share(CrownHabit::funnel, x[0])}; }},
        {"boolean_coverage",
         {1e6, 1e6, 1e-4, 2e-4},
         [](const Numbers& x) { return Numbers{boolean_coverage({x.data(), 2}, {x.data() + 2, 2})}; }},
        {"droplet_density",
         {1e-4},
         [](const Numbers& x) { return droplet_density({{1e-4, 2e-4}, {0.5, 0.5}}, x[0]); }},
        {"leaf_coverage",
         {1e-4, 1.2},
         [](const Numbers& x) { return Numbers{leaf_coverage({{1e-4, 2e-4}, {0.5, 0.5}}, x[0], x[1])}; }},
        {"read_card",
         {1e-5, 0.026, 0.076, 2.0, 50e-6},
         [](const Numbers& x) {
           const CardReading told = read_card({{1e-4, 2e-4}, {0.5, 0.5}}, x[0], {x[1], x[2], x[3], x[4]});
           return Numbers{told.density, told.coverage};
         }},
        {"card_spots",
         {1e-5, 0.026, 0.076, 2.0, 50e-6},
         [](const Numbers& x) {
           return Numbers{static_cast<double>(
               card_spots({{1e-4, 2e-4}, {0.5, 0.5}}, x[0], 1, {x[1], x[2], x[3], x[4]}).size())};
         }},
        {"deposit", {1e-4, 1.2, 0.5}, [](const Numbers& x) {
           Numbers all;
           for (const DropletClass& each : deposit({{1e-4, 2e-4}, {0.5, 0.5}}, x[0], x[1], x[2])) {
             const Cap now = cap(each, 0.5);
             all.insert(all.end(), {each.number, each.radius, each.receding, now.radius, now.factor});
           }
           return all;
         }}});
}

TEST_CASE("doors of numbers: impact") {
  walk({{"impact",
         {2e-4, 2.0, 0.3, 1.5, 998.0, 1e-3, 0.05, 57.7, 0.5, 0.7},
         [](const Numbers& x) {
           const ImpactSurface surface{.density = x[4],
                                       .viscosity = x[5],
                                       .surface_tension = x[6],
                                       .splash_threshold = x[7],
                                       .splashed_share = x[8],
                                       .tangential_kept = x[9]};
           const Impact told = impact(x[0], x[1], x[2], x[3], surface);
           return Numbers{told.retained_share, told.maximum_spread, told.excess_energy, told.energy_out,
                          told.leaving_speed};
         }},
        door("mean_incidence_cosine", mean_incidence_cosine, {0.7, 0.3}),
        {"wettability_class",
         {1.5},
         [](const Numbers& x) { return Numbers{static_cast<double>(wettability_class(x[0]).size())}; }},
        {"cascade", {2e-4, 2.0, 0.3, 1.0, 0.5, 0.7, 1.5}, [](const Numbers& x) {
           const Cascade told = cascade({{x[0], x[1], x[2], x[3]}},
                                        {{.interception = x[4], .leaf_angle = x[5], .contact_angle = x[6]}});
           return Numbers{told.ground, told.adrift, told.layers.front().retained};
         }}});
}

TEST_CASE("doors of numbers: leaf, substrate and uptake") {
  const Active active;
  const Uptake uptake;
  walk({{"dry_leaf_temperature",
         {100.0, 0.8, 0.5, 298.15, 1400.0, 101325.0, 0.3, 298.15},
         [](const Numbers& x) {
           const AirState air{.temperature = x[3],
                              .vapour_pressure = x[4],
                              .pressure = x[5],
                              .speed = x[6],
                              .shortwave = 0.0,
                              .radiant_temperature = x[7],
                              .air_changes = 0.0};
           return Numbers{dry_leaf_temperature({}, x[0], {x[1], x[2]}, air, air::VapourDiffusivity::massman)};
         }},
        {"place",
         {1e-4},
         [](const Numbers& x) {
           const Placement told = place({}, Method::drench, x[0]);
           return Numbers{told.held, told.leached, told.depth, told.availability};
         }},
        door("cuticle_permeance", cuticle_permeance, {3.2, 240e-6}),
        door("dissolved", dissolved, {1e-6, 1e-4, 0.03}),
        door("redissolved", redissolved, {1e-6, 1e-4, 0.03}),
        {"left_in_liquid",
         {1e-6, 1e-4, 293.15, 3600.0, 600.0},
         [=](const Numbers& x) {
           return Numbers{left_in_liquid(active, uptake, x[0], x[1], x[2], x[3], x[4])};
         }},
        {"weathered",
         {1e-6, 1e-6, 293.15, 86400.0},
         [=](const Numbers& x) {
           const Weathered told = weathered(uptake, {.mobile = x[0], .locked = x[1]}, x[2], x[3]);
           return Numbers{told.left.mobile, told.left.locked, told.taken_up, told.lost};
         }},
        {"transpiration_factor", {3.2}, [](const Numbers& x) {
           return Numbers{transpiration_factor(x[0], Transpiration::briggs),
                          transpiration_factor(x[0], Transpiration::burken_schnoor)};
         }}});
}

TEST_CASE("doors of numbers: growth, measure, rates and the bench") {
  const Scenario scenario;
  Scenario drench = scenario;
  drench.application.method = Method::drench;
  walk({{"grow",
         {1e-9, 0.0, 1e-9, 0.0, 1e-7, 3600.0},
         [=](const Numbers& x) {
           const Growing growing{.crop = scenario.crop,
                                 .uptake = scenario.uptake,
                                 .roots = root_rates(scenario.active, scenario.uptake, scenario.substrate)};
           const Applied at_start;
           Arrival arrival;
           arrival.entered.leaf = x[0], arrival.entered.stem = x[1], arrival.leaf_mobile = x[2],
           arrival.stem_mobile = x[3];
           arrival.substrate = x[4], arrival.time = x[5];
           const Growth told = grow(growing, {&at_start, 1}, {&arrival, 1});
           return Numbers{told.control, told.treated, told.plant.sum()};
         }},
        {"grow in weeks",
         {293.15, 295.15},
         [=](const Numbers& x) {
           const Growing growing{.crop = scenario.crop,
                                 .uptake = scenario.uptake,
                                 .roots = root_rates(scenario.active, scenario.uptake, scenario.substrate),
                                 .daily_temperature = x};
           const Applied at_start;
           const Arrival drenched{.substrate = 1e-7};
           return Numbers{grow(growing, {&at_start, 1}, {&drenched, 1}).treated};
         }},
        {"half_amount_for",
         {118e-6, 0.002},
         [=](const Numbers& x) {
           return Numbers{x[0] > 0.0 && x[1] > 0.0 ? half_amount_for(drench, x[0], x[1], 0.3)
                                                   : (half_amount_for(drench, x[0], x[1], 0.3), 0.0)};
         }},
        {"as_drench",
         {118e-6},
         [=](const Numbers& x) { return Numbers{as_drench(scenario, x[0]).application.volume_rate}; }},
        {"wetted_leaves",
         {1e-4},
         [=](const Numbers& x) { return Numbers{wetted_leaves(scenario, x[0]).layers.front().liquid}; }},
        {"dry_deposit",
         {1e-6, 293.15, 86400.0},
         [=](const Numbers& x) {
           const DryDeposit told = dry_deposit(scenario, x[0], x[1], x[2]);
           return Numbers{told.taken_up, told.lost};
         }},
        {"deposit_left",
         {1e-6, 293.15, 3600.0, 1800.0, 1e-4, 600.0},
         [=](const Numbers& x) {
           return deposit_left(scenario, x[0], x[1], {x.data() + 2, 1},
                               SecondWetting{.at = x[3], .water = x[4], .wet_time = x[5]});
         }},
        {"plant_on_bench",
         {2e-4, 1.0, 0.13, 43.0},
         [=](const Numbers& x) {
           return Numbers{plant_on_bench(scenario, x[0], x[1], x[2], x[3]).canopy.leaf_area};
         }},
        {"spacing_for",
         {43.0},
         [](const Numbers& x) { return Numbers{spacing_for(x[0], Arrangement::staggered)}; }},
        {"layout",
         {0.15, 0.1},
         [](const Numbers& x) {
           const Layout layout{.rows = 2, .columns = 3, .spacing = x[0], .size_variation = x[1]};
           return Numbers{places(layout).back().x, sizes(layout, 1).back(), row_spacing(layout),
                          plant_density(layout),   bench_length(layout),    bench_width(layout)};
         }},
        {"crown_diameter", {0.8, 43.0}, [](const Numbers& x) {
           Canopy canopy;
           canopy.crown_cover = x[0], canopy.plant_density = x[1];
           return Numbers{crown_diameter(canopy)};
         }}});
}

TEST_CASE("doors of numbers: air at the crop") {
  walk({{"conditions",
         {298.15, 1400.0, 101325.0, 0.3, 100.0, 298.15, 1e-4},
         [](const Numbers& x) {
           const Conditions told = conditions(AirState{x[0], x[1], x[2], x[3], x[4], x[5], x[6]});
           return Numbers{told.temperature, told.relative_humidity, told.vapour_pressure_deficit,
                          told.shortwave, told.air_changes};
         }},
        {"steady_air",
         {3600.0},
         [](const Numbers& x) {
           return Numbers{steady_air(CropClimate{}, House{}, x[0]).at(0.0).temperature};
         }},
        {"at",
         {600.0},
         [](const Numbers& x) {
           return Numbers{steady_air(CropClimate{}, House{}, 3600.0).at(x[0]).temperature};
         }},
        {"daily_temperatures", {0.0, 1e5}, [](const Numbers& x) {
           const CropAir air = steady_air(CropClimate{}, House{}, 3.0 * 86400.0);
           return Numbers{static_cast<double>(daily_temperatures(air, x[0], x[1]).size())};
         }}});
}

}  // namespace
