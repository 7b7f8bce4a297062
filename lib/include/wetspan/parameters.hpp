// The table of all inputs of the model; each input is declared once, here.
//
// A row gives the name, the default, the allowed bounds, the plausible deviation from the true value, the
// unit, the evidence and the meaning. The following are generated from it: the C++ member, the check, the
// Python keyword and docstring, the scenario-file key, unit conversion, the axes of sweeps and uncertainty
// studies, the xarray attributes and the documentation table. To add an input, add a row here and use it in
// the model.
//
// Columns of a row:
//   type      double | int | bool | an enum whose names are listed in `choice_names` below
//   name      the member; the key is section.name
//   default, low, high   in `unit`; the bounds are inclusive
//   spread    factor s >= 1: the true value lies within [value / s, value * s] with 90 % plausibility; 1 for
//             values that the user states. Uncertainty studies draw log-uniformly from this range, within
//             the bounds.
//   unit      SI unit of C++ values and of Python floats
//   shown     unit for display
//   grade     A: measured by others, with a citation, on the same object; A_other: measured on another
//             substance, crop or surface; B: a published formula or standard; C: calibrated here to a
//             stated fact of the trade; D: an assumption with a wide range
//   source, meaning
#pragma once

#include <array>
#include <span>
#include <string>
#include <string_view>

#include "wetspan/properties/air.hpp"
#include "wetspan/spray/droplets.hpp"

namespace wetspan {

enum class Method { spray, drench, continuous, sub_irrigation };  ///< how a product is applied
enum class Transpiration { briggs, burken_schnoor };  ///< law of the concentration factor (plant/uptake.hpp)
enum class Flights { each, table };  ///< compute each flight, or interpolate in a table of flights
enum class CrownHabit { funnel, rounded, pendulous };  ///< direction of the leaves, which guides run-off

/// The names of the values of an enumerated input, in the order of the enumerators.
template <class Enum>
inline constexpr std::array<std::string_view, 0> choice_names{};
template <>
inline constexpr std::array<std::string_view, 4> choice_names<Method>{"spray", "drench", "continuous",
                                                                      "sub_irrigation"};
template <>
inline constexpr std::array<std::string_view, 2> choice_names<Transpiration>{"briggs", "burken_schnoor"};
template <>
inline constexpr std::array<std::string_view, 3> choice_names<CrownHabit>{"funnel", "rounded", "pendulous"};
template <>
inline constexpr std::array<std::string_view, 2> choice_names<Flights>{"each", "table"};
template <>
inline constexpr std::array<std::string_view, 2> choice_names<Distribution>{"lognormal", "rosin_rammler"};
template <>
inline constexpr std::array<std::string_view, 2> choice_names<air::VapourDiffusivity>{"massman",
                                                                                      "marrero_mason"};

// clang-format off

#define WETSPAN_APPLICATION(P) \
  P(Method, method, Method::spray, 0, 3, 1.0, "1", "1", D, "the user's choice", \
    "A spray falls on the crop; a drench fills the substrate from above; sub_irrigation, one flood or dip, fills it from below, as far as its pores have room; continuous feeding puts the volume there evenly over uptake.horizon") \
  P(double, volume_rate, 2.0373e-4, 1e-6, 5e-2, 1.0, "m", "L/m^2", D, \
    "2 US qt per 100 ft2: common practice, no source", \
    "Volume applied per area of bench") \
  P(double, angle, 0.5236, 0.0, 1.4, 1.3, "rad", "deg", D, \
    "assumption: a hand-held wand held obliquely", \
    "Mean inclination of the falling spray from the vertical; what vertical stems catch grows with it") \
  P(double, concentration, 0.030, 0.0, 50.0, 1.0, "kg/m^3", "mg/L", D, "the user's choice", \
    "Active ingredient in the spray liquid, dissolved and suspended together")

#define WETSPAN_NOZZLE(P) \
  P(double, flow, 1.317e-5, 1e-7, 1e-3, 1.1, "m^3/s", "L/min", B, \
    "ISO 10625 size 02: 0.2 US gal/min at 40 psi, so 0.79 L/min at 3 bar; nominally 0.8", "Flow of one nozzle at 3 bar") \
  P(double, pressure, 3e5, 2e4, 4e6, 1.2, "Pa", "bar", D, "the user's sprayer", "Pressure at the nozzle") \
  P(double, height, 0.45, 0.05, 3.0, 1.3, "m", "cm", D, "the user's habit", \
    "Height of the nozzle above the top of the crop") \
  P(double, fan_angle, 1.396, 0.05, 2.6, 1.1, "rad", "deg", D, "the user's nozzle: 80 degrees", \
    "Opening of the spray along the fan; of a cone, its opening") \
  P(double, fan_thickness, 0.3, 0.05, 2.6, 1.5, "rad", "deg", D, "assumption: a flat fan", \
    "Opening of the spray across the fan") \
  P(double, velocity_coefficient, 0.9, 0.3, 1.0, 1.1, "1", "1", D, "assumption: a sharp orifice", \
    "Speed of the liquid at the exit over that of a flow without loss")

#define WETSPAN_LIQUID(P) \
  P(double, surface_tension, 0.050, 0.015, 0.08, 1.25, "N/m", "mN/m", D, \
    "assumption: a formulated product; 72 mN/m is water, 30 a strong wetting agent", \
    "Surface tension of the spray liquid in flight and on impact") \
  P(double, humectant, 0.0, 0.0, 0.3, 1.0, "1", "percent", D, "none", \
    "Volume share of the spray liquid that does not evaporate") \
  P(double, kappa, 0.0, 0.0, 8.0, 1.0, "1", "1", D, "none; glycerol and salts: docs/science/wet_leaf.md", \
    "Hygroscopicity of what does not evaporate (Petters and Kreidenweis 2007)") \
  P(double, efflorescence, 0.0, 0.0, 0.95, 1.0, "1", "percent", D, "none: stays a solution", \
    "Relative humidity at which a salt's solution crystallises; 0 never") \
  P(double, deliquescence, 0.0, 0.0, 0.99, 1.0, "1", "percent", D, "none", \
    "Relative humidity above which a crystallised salt takes up water; 0 never")

#define WETSPAN_REWETTING(P) \
  P(double, volume_rate, 0.0, 0.0, 5e-3, 1.0, "m", "L/m^2", D, "none", \
    "Plain water applied again over the crop, per area of bench; 0 for none") \
  P(double, delay, 6.48e4, 0.0, 1.7e5, 1.0, "s", "hour", D, "assumption: the next morning", \
    "Time from the spray to the re-wetting") \
  P(double, dv50, 300e-6, 20e-6, 2e-3, 1.0, "m", "um", D, "assumption: a light overhead pass", \
    "Volume median diameter of the re-wetting")

#define WETSPAN_DROPLETS(P) \
  P(Distribution, distribution, Distribution::lognormal, 0, 1, 1.0, "1", "1", B, \
    "lognormal and Rosin-Rammler are the field's two usual laws", "Law of the volume distribution") \
  P(double, dv50, 300e-6, 10e-6, 2e-3, 1.25, "m", "um", D, \
    "assumption: between the medium and coarse size classes, which have no absolute limits", \
    "Volume median diameter: half of the volume is in smaller droplets") \
  P(double, relative_span, 1.2, 0.05, 3.0, 1.25, "1", "1", D, "assumption: a usual hydraulic nozzle", \
    "(Dv0.9 - Dv0.1) / Dv0.5") \
  P(int, bins, 16, 2, 200, 1.0, "1", "1", B, "convergence shown in docs/science/drying.md", \
    "Number of droplet size classes")

#define WETSPAN_AIR(P) \
  P(double, temperature, 297.15, 263.15, 323.15, 1.0, "K", "degC", D, "the user's reading", \
    "Air temperature at crop height, when no weather record is given") \
  P(double, relative_humidity, 0.60, 0.01, 1.0, 1.0, "1", "percent", D, "the user's reading", \
    "Relative humidity at crop height, when no weather record is given") \
  P(double, pressure, 101325.0, 60e3, 110e3, 1.0, "Pa", "kPa", B, "the standard atmosphere at sea level", \
    "Air pressure, when no weather record is given") \
  P(double, speed, 0.3, 0.0, 15.0, 1.5, "m/s", "m/s", A, \
    "horizontal air-flow fans give 0.25-0.51 m/s: Bartok, University of Connecticut extension", \
    "Air speed at the top of the crop, when no weather record is given; inside an enclosed house always") \
  P(double, shortwave, 150.0, 0.0, 1400.0, 1.0, "W/m^2", "W/m^2", D, "the user's reading", \
    "Shortwave radiation reaching the top of the crop, when no weather record is given") \
  P(double, surroundings_offset, 0.0, -40.0, 40.0, 1.0, "delta_degC", "delta_degC", D, \
    "assumption: cover as warm as the air", \
    "Radiant temperature of cover and sky minus air temperature, when no weather record is given") \
  P(air::VapourDiffusivity, diffusivity, air::VapourDiffusivity::massman, 0, 1, 1.0, "1", "1", B, \
    "Massman 1998; Marrero and Mason 1972; the two differ by 2 % at 25 degC", \
    "Correlation for the diffusivity of water vapour in air")

#define WETSPAN_HOUSE(P) \
  P(bool, enclosed, true, 0, 1, 1.0, "1", "1", D, "the user's choice", \
    "Whether the crop stands in a house whose air answers to the spray and to the weather outside") \
  P(double, height, 4.0, 1.5, 15.0, 1.1, "m", "m", D, "the user's house", \
    "Mean height of the house: the air above each m2 of floor") \
  P(double, sprayed_share, 0.6, 0.0, 1.0, 1.0, "1", "percent", D, "the user's house", \
    "Share of the floor that is sprayed at one time; one bench hardly changes the air, a full house does") \
  P(double, crop_share, 0.7, 0.0, 1.0, 1.2, "1", "percent", D, "the user's house", \
    "Share of the floor that carries crop") \
  P(double, air_changes, 2.778e-4, 0.0, 0.1, 2.0, "1/s", "1/hour", D, \
    "assumption: 1 per hour in a closed house; 0.5 to 4 with tight to leaky covers", \
    "Air changes with the vents closed") \
  P(double, vent_air_changes, 8.333e-3, 0.0, 0.1, 1.5, "1/s", "1/hour", D, \
    "assumption: 30 per hour", "Further air changes with the vents fully open (weather from outdoors)") \
  P(double, vent_temperature, 297.15, 273.15, 323.15, 1.0, "K", "degC", D, "the user's set point", \
    "House temperature at which the vents begin to open (weather from outdoors)") \
  P(double, vent_band, 4.0, 0.1, 20.0, 1.2, "delta_degC", "delta_degC", D, "assumption", \
    "Rise above vent_temperature at which the vents are fully open") \
  P(double, heating_temperature, 291.15, 263.15, 313.15, 1.0, "K", "degC", D, "the user's set point", \
    "House temperature below which the house is heated (weather from outdoors)") \
  P(double, heating_power, 200.0, 0.0, 1000.0, 1.3, "W/m^2", "W/m^2", D, "assumption", \
    "Heating capacity per floor area, fully on 2 K below heating_temperature") \
  P(double, heat_loss, 7.0, 0.1, 30.0, 1.5, "W/m^2/K", "W/m^2/K", D, \
    "assumption: single cover 6 W/m2/K times a cover-to-floor ratio of 1.2", \
    "Heat loss through the cover per floor area and kelvin of difference to the outside") \
  P(double, heat_capacity, 6e4, 5e3, 5e5, 2.0, "J/m^2/K", "kJ/m^2/K", D, \
    "assumption: air, structure, plants and the top few centimetres of substrate", \
    "Heat capacity of the house per floor area, in so far as it follows the air") \
  P(double, transmittance, 0.60, 0.01, 1.0, 1.2, "1", "percent", D, \
    "assumption: a single-glazed or film house with its structure, some dirt, no screen", \
    "Shortwave transmittance of the cover with its structure") \
  P(double, solar_to_air, 0.6, 0.0, 1.0, 1.3, "1", "percent", D, \
    "assumption: the rest is reflected or stored in the floor", \
    "Share of the shortwave not absorbed by the crop that warms the house") \
  P(double, cover_coupling, 0.6, 0.0, 1.0, 1.3, "1", "percent", D, \
    "assumption: a single cover with more heat transfer outside than inside", \
    "(inside - cover) / (inside - outside) temperature") \
  P(double, cover_conductance, 3e-3, 0.0, 0.05, 1.7, "m/s", "mm/s", D, \
    "assumption: free convection, about 3.5 W/m2/K by Lewis", \
    "Vapour conductance from house air to a cover on which it condenses, per floor area") \
  P(double, bench_conductance, 3e-3, 0.0, 0.05, 1.7, "m/s", "mm/s", D, "assumption, as for the cover", \
    "Vapour conductance from the liquid that lies on benches and floor, per their area")

#define WETSPAN_CANOPY(P) \
  P(double, plant_density, 43.06, 0.5, 3000.0, 1.0, "1/m^2", "1/m^2", A, \
    "pots at 6 in by 6 in: 400 per 100 ft2, a trade magazine's spacing table", "Plants (pots) per area of bench") \
  P(double, leaf_area, 0.050, 1e-4, 2.0, 1.6, "m^2", "cm^2", D, "assumption: a young potted crop", \
    "One-sided leaf area per plant") \
  P(double, crown_cover, 0.80, 0.01, 1.0, 1.2, "1", "percent", D, "the user's crop", \
    "Share of the bench covered by crowns seen from above") \
  P(double, extinction, 0.5, 0.1, 1.0, 1.3, "1", "1", B, \
    "spherical leaf angles under vertical fall: Campbell and Norman 1998", \
    "Projected over one-sided leaf area along the fall of the droplets") \
  P(int, layers, 2, 1, 4, 1.0, "1", "1", D, "convention", "Number of leaf layers of equal area, from the top down") \
  P(double, growing_share, 0.20, 0.0, 1.0, 2.0, "1", "percent", D, \
    "assumption: a young chrysanthemum unfolds 0.4 leaves a day (Karlsson et al., seen as abstract), which grow for about 12 days and are half-sized on average: 2.5 of some 12 leaf areas", \
    "Share of the leaf area that is still growing, from the top of the crop down") \
  P(double, leaf_angle, 0.7, 0.0, 1.5, 1.3, "rad", "deg", D, "assumption: 40 degrees", \
    "Mean inclination of the leaves from level") \
  P(double, wind_attenuation, 0.5, 0.0, 4.0, 1.5, "1", "1", D, "assumption", \
    "Air speed falls as exp(-wind_attenuation depth / height of the crop)") \
  P(double, bench_width, 2.0, 0.1, 200.0, 1.0, "m", "m", D, "the user's bench", \
    "Width of the bench or block; droplets carried past its edge are lost") \
  P(double, clumping, 0.9, 0.2, 1.0, 1.2, "1", "1", D, "assumption: leaves of one plant overlap", \
    "Clumping of leaves within a crown; 1 is random") \
  P(double, stem_area, 0.0025, 0.0, 0.2, 2.0, "m^2", "cm^2", D, \
    "assumption: 15-25 cm tall, stems of 3-6 mm: 10-40 cm2", "Lateral area of stems and petioles per plant") \
  P(CrownHabit, habit, CrownHabit::rounded, 0, 2, 1.0, "1", "1", D, "the user's crop", \
    "Habit of the crown: rising leaves make a funnel that leads run-off to the stem (60 % of it), those of a rounded crown do so in part (15 %), pendulous or trailing ones shed it outwards (5 %)") \
  P(double, pot_diameter, 0.14, 0.01, 0.6, 1.0, "m", "cm", D, "the user's pots", \
    "Diameter of the open substrate surface of a pot or cell") \
  P(bool, pots_covered, false, 0, 1, 1.0, "1", "1", D, "the user's choice", \
    "Whether the substrate is covered while the crop is sprayed, as in trials that tell leaves from roots; what falls on the covers counts with the bench")

#define WETSPAN_RETENTION(P) \
  P(double, leaf_store, 1e-4, 5e-6, 5e-4, 1.6, "m", "mL/m^2", D, \
    "assumption: 50-150 mL of untreated liquid per m2 of leaf at run-off", \
    "Most liquid a leaf holds, per one-sided leaf area") \
  P(double, stem_store, 8e-5, 0.0, 5e-4, 1.6, "m", "mL/m^2", D, "assumption, as for leaves", \
    "Most liquid a stem holds, per lateral area") \
  P(double, shatter_threshold, 80.0, 10.0, 500.0, 1.6, "1", "1", D, \
    "derived: drops above 250 um shatter on cabbage 40 cm from a 40 psi nozzle; 57.7 on smooth walls (Mundo 1995)", \
    "Splash parameter We^(1/2) Re^(1/4) above which a droplet shatters on a leaf") \
  P(double, splashed_share, 0.5, 0.0, 1.0, 1.6, "1", "percent", D, \
    "0.2-0.8 on dry walls: Bai and Gosman 1995 (from memory)", \
    "Share of a shattering droplet's volume that leaves the leaf") \
  P(double, stemflow_odds, 1.0, 0.0, 100.0, 2.5, "1", "1", D, \
    "assumption: published stemflow of crops differs tenfold (docs/science/landing.md)", \
    "Odds that what runs off leaves follows petioles and stems instead of dripping, over those of canopy.habit") \
  P(double, underleaf, 0.10, 0.0, 0.5, 2.0, "1", "percent", D, \
    "assumption; nozzles and angles change it three- to fivefold (Foque and Nuyttens 2011)", \
    "Share of the leaf deposit that sits on the lower side")

#define WETSPAN_LEAF(P) \
  P(double, width, 0.05, 0.002, 0.5, 1.3, "m", "cm", D, "the user's crop", \
    "Mean width of a leaf along the air flow") \
  P(double, absorptance, 0.50, 0.05, 1.0, 1.2, "1", "percent", B, \
    "green leaves, whole solar spectrum: Campbell and Norman 1998 (from memory)", "Shortwave absorptance") \
  P(double, emissivity, 0.96, 0.0, 1.0, 1.0, "1", "1", B, \
    "0.94-0.99 for leaves: Campbell and Norman 1998 (from memory)", "Longwave emissivity") \
  P(double, heat_capacity, 1000.0, 100.0, 1e4, 1.5, "J/m^2/K", "J/m^2/K", D, \
    "assumption: about 0.25 mm of water", "Heat capacity per one-sided leaf area, without the deposit") \
  P(double, turbulence, 1.4, 1.0, 3.0, 1.2, "1", "1", B, \
    "Campbell and Norman 1998: 1.4 in moving outdoor air; 1 is a laminar plate", \
    "Forced-convection transfer over that of a laminar flat plate") \
  P(double, stomatal_conductance, 5e-3, 0.0, 0.05, 2.0, "m/s", "mm/s", D, "assumption: about 0.2 mol/m2/s", \
    "Stomatal conductance for vapour of the lower side in full light") \
  P(double, stomatal_half_light, 60.0, 1.0, 500.0, 2.0, "W/m^2", "W/m^2", D, "assumption", \
    "Shortwave absorbed by the leaf at which the stomata are half open") \
  P(double, dew_film, 5e-5, 1e-6, 5e-4, 2.0, "m", "mL/m^2", D, "assumption: half of what leaves hold", \
    "Dew per leaf area, both sides together, that covers the leaf") \
  P(double, contact_angle, 1.396, 0.05, 2.8, 1.25, "rad", "deg", D, \
    "assumption: 80 degrees, a wettable leaf with a formulated product", \
    "Contact angle of a fresh deposit (advancing)") \
  P(double, receding_angle, 0.349, 0.0, 2.8, 1.8, "rad", "deg", D, "assumption: 20 degrees", \
    "Contact angle at which the edge of a drying deposit lets go; 0 keeps it pinned to the end")

#define WETSPAN_STEM(P) \
  P(double, diameter, 0.004, 5e-4, 0.05, 1.4, "m", "mm", D, "the user's crop", \
    "Diameter of stems and petioles")

#define WETSPAN_ACTIVE(P) \
  P(double, solubility, 0.026, 1e-6, 2000.0, 1.15, "kg/m^3", "mg/L", A, \
    "paclobutrazol 26 mg/L at 20 degC: pesticide monograph entry; another compilation has 22.9", \
    "Solubility in water at 20 degC") \
  P(double, solubility_enthalpy, 2.5e4, 0.0, 8e4, 1.6, "J/mol", "kJ/mol", D, "assumption: a small organic solid", \
    "Enthalpy of solution: the rise of solubility with temperature") \
  P(double, log_kow, 3.2, -5.0, 7.0, 1.03, "1", "1", A, "paclobutrazol: pesticide monograph entry", \
    "log10 of the octanol-water partition coefficient") \
  P(double, molar_volume, 2.27e-4, 5e-5, 8e-4, 1.02, "m^3/mol", "cm^3/mol", A, \
    "paclobutrazol: McGowan atom increments", "McGowan characteristic molar volume") \
  P(double, loss_rate, 1.019e-7, 0.0, 1e-4, 2.0, "1/s", "1/day", A_other, \
    "0.0088 per day: 67 % decline in 126 days in pots (oleander residue study, SE Spain)", \
    "First-order loss from the substrate, other than into the plant") \
  P(double, sorption, 0.398, 0.0, 50.0, 2.0, "m^3/kg", "L/kg", A, \
    "K_F 398.4 L/kg on peat, 24 h batch (Wilson et al., authors from memory), taken as linear", \
    "Sorbed per dry mass of peat over dissolved concentration; other substrates by substrate.sorption_factor")

#define WETSPAN_UPTAKE(P) \
  P(double, cuticle, 1.0, 0.01, 100.0, 3.0, "1", "1", D, \
    "1 is the Citrus leaf cuticle of Kerler and Schonherr 1988 (correlation from memory)", \
    "Permeance of the crop's cuticle over that of the reference cuticle") \
  P(double, growing_cuticle, 2.0, 0.1, 100.0, 2.0, "1", "1", D, \
    "assumption; published is the sign: more fenarimol and flusilazol entered partially unfolded apple leaves (O'Leary and Jones 1987, Phytopathology 77:1564), more triclopyr immature tanoak leaves, whose cuticle is thinner and more permeable (King and Radosevich 1985, Weed Sci. 33:599, authors from memory); bentazon both ways (Levene and Owen 1994, 1995; all seen as abstract)", \
    "Permeance of leaf blades that are still growing over that of mature ones; the mobile rate likewise") \
  P(double, stem_cuticle, 1.0, 0.01, 100.0, 3.0, "1", "1", D, "assumption: as permeable as a leaf", \
    "Permeance of the stem's surface over that of the crop's leaf") \
  P(double, activation_energy, 6.0e4, 0.0, 2e5, 1.25, "J/mol", "kJ/mol", A_other, \
    "flusilazol into apple leaf discs at 10-30 degC: O'Leary and Jones 1987, Phytopathology 77:1564 (seen as abstract; derived: 56 kJ/mol if all is mobile, 65 if 70 % is)", \
    "Activation energy of the permeance and of the mobile rate") \
  P(double, supersaturation, 3.0, 1.0, 100.0, 3.0, "1", "1", D, "assumption; 1 is a liquid that never exceeds its solubility", \
    "Concentration over the solubility at which a drying liquid begins to precipitate") \
  P(double, accelerator, 1.0, 1.0, 125.0, 1.0, "1", "1", A_other, \
    "1 is none; at most 40 seen with diesters (Shi et al. 2005, J. Agric. Food Chem. 53:2207), 125 with alcohol ethoxylates (Burghardt, Schreiber and Riederer 1998, J. Agric. Food Chem. 46:1593; both seen as abstract)", \
    "Factor by which an adjuvant speeds up the way through the cuticle, wet and dry") \
  P(double, mobile_share, 0.12, 0.0, 1.0, 6.0, "1", "percent", D, \
    "assumption between 2 % (abscisic acid through tomato cuticle: Middelberg, Knoche and Petracek 2014, Acta Hortic. 1042:143) and 68 % (pyraoxystrobin on cucumber: RSC Adv. 2018, doi 10.1039/c8ra05140b; both seen as abstract), set with the re-wetting of common practice", \
    "Share of what dries that stays mobile, in wax, amorphous or in formulants; the rest locks up in crystals until it is wetted again") \
  P(double, mobile_rate, 6.944e-6, 0.0, 1e-3, 2.0, "1/s", "1/day", A_other, \
    "0.6 per day at 20 degC, derived: flusilazol into apple leaf discs if 70 % is mobile (O'Leary and Jones 1987); pyraoxystrobin's largest uptake after 5 days (RSC Adv. 2018, doi 10.1039/c8ra05140b; both seen as abstract)", \
    "Rate at which the mobile deposit enters, at 20 degC") \
  P(double, wax_capacity, 8e-5, 1e-9, 1e-1, 3.0, "kg/m^2", "mg/m^2", B, \
    "cuticle-water partition (Kerler and Schonherr 1988, from memory) x solubility x 2 um of cuticle (assumption)", \
    "Most mobile deposit per area of contact; half of the mobile share finds room when that share is as large") \
  P(double, residue_loss, 1.157e-6, 0.0, 1e-3, 2.5, "1/s", "1/day", A_other, \
    "0.10 per day, derived: a half-life of 6 days of prochloraz on wheat in a glasshouse, uptake included (an abstract of 1989)", \
    "Rate at which the locked deposit is lost from the surface") \
  P(double, water_use, 1.157e-9, 1e-12, 1e-7, 1.6, "m^3/s", "mL/day", D, "assumption: 100 mL a day", \
    "Water a plant transpires, mean over the weeks of response") \
  P(Transpiration, transpiration, Transpiration::briggs, 0, 1, 1.0, "1", "1", B, \
    "Briggs et al. 1982; Burken and Schnoor 1998 (both from memory)", \
    "Correlation for the transpiration stream concentration factor") \
  P(double, horizon, 5.184e6, 8.64e4, 1.6e7, 1.0, "s", "day", D, "assumption: 60 days to the finished height", \
    "Time from the start of growth until height is judged")

#define WETSPAN_SUBSTRATE(P) \
  P(double, volume, 1.5e-3, 1e-6, 0.1, 1.1, "m^3", "L", A, \
    "1.5 L in a 15 cm pot: Gilbertz 1992", "Substrate per plant") \
  P(double, water_content, 0.50, 0.05, 0.95, 1.3, "1", "percent", D, "assumption: three quarters of container capacity", \
    "Volume of water per volume of substrate, mean over the weeks of response") \
  P(double, container_capacity, 0.68, 0.05, 0.98, 1.15, "1", "percent", A, \
    "seven parts of peat (79 %) and three of perlite (44 %), derived from a table of growing media, Front. Plant Sci. 5:625 (2014), doi 10.3389/fpls.2014.00625, after Ter Berg 2000", \
    "Volume of water per volume of substrate when drained after watering") \
  P(double, moisture, 0.80, 0.0, 1.0, 1.2, "1", "percent", D, "assumption: moist, as drenches are advised", \
    "Share of container_capacity that the substrate holds when it is treated; a drier one takes up more of a flood or dip, and loses less of a drench") \
  P(double, upper_root_share, 0.45, 0.25, 0.75, 1.2, "1", "percent", D, \
    "assumption: the top dries and roots gather below; sub-irrigation acts more strongly than a drench (Niu, Heins and Carlson 2002, HortTechnology 12:232, seen as abstract)", \
    "Share of the plant's water that roots draw from the upper half of the substrate") \
  P(double, sorption_factor, 1.0, 0.0, 100.0, 1.2, "1", "1", D, "1 is peat, on which active.sorption was measured", \
    "Sorption per dry mass of this substrate over that of peat") \
  P(double, dry_density, 100.0, 20.0, 2000.0, 1.3, "kg/m^3", "kg/m^3", D, "assumption: a peat substrate", \
    "Dry mass of sorbing material per volume of substrate")

#define WETSPAN_CROP(P) \
  P(double, tip_share, 0.23, 0.001, 1.0, 1.5, "1", "percent", A_other, \
    "23 % of a stem-injected dose stood in the apical shoots after 27 days, apple: Sterrett 1985, J. Amer. Soc. Hort. Sci. 110(1):4-8 (seen as abstract, author from memory)", \
    "Share of what leaves stems and roots upwards that reaches the growing tips") \
  P(double, leaf_tip_share, 0.02, 0.0, 1.0, 6.0, "1", "percent", C, \
    "calibrated to a spray of 30-50 mg/L that controls chrysanthemum: Menhenett 1984, Sci. Hortic. 24:349 (seen as abstract); mature blades export nothing (14C, apple: Richardson and Quinlan 1986)", \
    "Share of what enters blades that are still growing that acts at the growing tips; mature blades export nothing") \
  P(double, depot_rate, 1.157e-6, 1e-9, 1e-4, 3.0, "1/s", "1/day", D, \
    "assumption: 0.10 per day; peach slowed 2 to 5 days after its roots were fed (Early and Martin, seen as abstract)", \
    "Rate at which what entered stems and roots moves on") \
  P(double, metabolism, 2.894e-7, 0.0, 1e-4, 4.0, "1/s", "1/day", A_other, \
    "0.025 per day at 20 degC, between two papers that disagree: at most 0.006 (apple: Sterrett 1985), at least 0.043 (peach: Early and Martin; both derived, seen as abstract)", \
    "Rate at which the plant breaks the substance down, at 20 degC") \
  P(double, metabolism_q10, 2.5, 1.0, 6.0, 1.4, "1", "1", D, "assumption: a usual enzyme", \
    "Factor on metabolism for 10 K more") \
  P(double, dilution, 9.838e-7, 0.0, 1e-4, 1.6, "1/s", "1/day", A_other, \
    "0.085 per day at 20 degC, derived: a daminozide spray fades over 34 days on chrysanthemum (Larsen and Lieth 1993, seen as abstract); daminozide is not broken down", \
    "Rate at which growth dilutes the substance at the tips, at 20 degC; proportional to thermal time") \
  P(double, largest_inhibition, 0.90, 0.05, 1.0, 1.08, "1", "percent", A_other, \
    "up to 90 % on cork oak (HortScience 2005); drenches reach 65 % of height in firespike (Rezazadeh, Harkess and Bi 2016, HortTechnology 26(6); both seen as abstract)", \
    "Share of the rate of elongation held back by a very large amount at the tips") \
  P(double, half_amount, 1.3e-10, 1e-14, 1e-3, 2.5, "kg", "ug", C, \
    "calibrated to chrysanthemum: a 1 mg/L drench of 118 mL shortens by 20-25 % (a trade magazine article)", \
    "Amount at the growing tips, per plant, that holds back half of largest_inhibition") \
  P(double, base_temperature, 273.15, 258.15, 290.15, 1.01465, "K", "degC", A_other, \
    "petunia 0.2 to 7.1 degC by cultivar (seen as abstract); chrysanthemum -3.3 (Karlsson et al., derived), salvia 1.7 (Moccaldi and Runkle 2007, J. Amer. Soc. Hort. Sci. 132:283, derived)", \
    "Temperature below which nothing elongates") \
  P(double, optimum_temperature, 299.15, 288.15, 313.15, 1.01003, "K", "degC", D, "assumption", \
    "Temperature above which more warmth elongates no faster") \
  P(double, growth_middle, 3.905e7, 0.0, 3e8, 1.3, "K*s", "K*day", A_other, \
    "452 K d, derived: shoots of a chrysanthemum 2 and 4 weeks after pinching and when finished (Gilbertz 1990, HortScience 25(9):1088b; 1992; seen as abstract)", \
    "Thermal time from the start of growth at which elongation is fastest") \
  P(double, growth_steepness, 7.639e-8, 1e-9, 1e-6, 1.4, "1/K/s", "1/K/day", A_other, \
    "0.0066 per K d, derived from the same", \
    "Steepness of the logistic course of height over thermal time") \
  P(double, mean_temperature, 293.15, 268.15, 313.15, 1.0, "K", "degC", D, "the user's house", \
    "Mean temperature of the weeks until height is judged, for the days that no weather record covers") \
  P(double, initial_height, 0.06, 0.005, 3.0, 1.0, "m", "cm", D, "the user's crop", \
    "Height of the plants at the start of growth: when sprayed, unless applications say later") \
  P(double, final_height, 0.30, 0.01, 5.0, 1.0, "m", "cm", D, "the user's crop", \
    "Height of the untreated check when height is judged")

#define WETSPAN_NUMERICS(P) \
  P(double, tolerance, 1e-6, 1e-12, 1e-2, 1.0, "1", "1", B, "convergence shown in docs/science/drying.md", \
    "Relative tolerance of the integration; implicit steps have at least 4e-13 times the square of the number of droplet classes") \
  P(Flights, flights, Flights::each, 0, 1, 1.0, "1", "1", B, "error shown in docs/how_to/many_sprays.md", \
    "Compute the flight and landing of each spray, or read them from a table over air temperature, humidity, pressure and speed that fills as it is used: for many sprays of one kind") \
  P(double, dry_share, 0.01, 1e-6, 0.5, 1.0, "1", "percent", D, "convention", \
    "A leaf counts as dry when this share of its landed liquid is left") \
  P(double, follow, 0.0, 0.0, 2.6e6, 1.0, "s", "hour", D, "convention", \
    "Follow the crop at least this long after the spray: dew may wet dry leaves again") \
  P(double, longest, 172800.0, 60.0, 2.6e6, 1.0, "s", "hour", D, "convention", \
    "When to stop looking for the end of wetness; a weather record may end sooner")

// clang-format on

/// Every section: the member of a scenario, its type, its table, and its subject.
#define WETSPAN_SECTIONS(S)                                                             \
  S(application, Application, WETSPAN_APPLICATION, "What is applied, how and how much") \
  S(nozzle, Nozzle, WETSPAN_NOZZLE, "The nozzle and where it is held")                  \
  S(liquid, Liquid, WETSPAN_LIQUID, "The spray liquid")                                 \
  S(rewetting, Rewetting, WETSPAN_REWETTING, "A light pass of water later")             \
  S(droplets, Droplets, WETSPAN_DROPLETS, "The droplet spectrum")                       \
  S(air, CropClimate, WETSPAN_AIR, "The air around the crop")                           \
  S(house, House, WETSPAN_HOUSE, "The enclosed house")                                  \
  S(canopy, Canopy, WETSPAN_CANOPY, "The crop on the bench")                            \
  S(retention, Retention, WETSPAN_RETENTION, "What leaves and stems can hold")          \
  S(leaf, Leaf, WETSPAN_LEAF, "The leaf")                                               \
  S(stem, Stem, WETSPAN_STEM, "Stems and petioles")                                     \
  S(active, Active, WETSPAN_ACTIVE, "The active ingredient")                            \
  S(uptake, Uptake, WETSPAN_UPTAKE, "Uptake by leaf, stem and root")                    \
  S(substrate, Substrate, WETSPAN_SUBSTRATE, "The substrate in the pot")                \
  S(crop, Crop, WETSPAN_CROP, "How the crop responds")                                  \
  S(numerics, Numerics, WETSPAN_NUMERICS, "How finely it is computed")

#define WETSPAN_MEMBER(type, name, standard, low, high, spread, unit, shown, grade, source, meaning) \
  type name = standard;
#define WETSPAN_STRUCT(member, Type, table, about)                      \
  struct Type {                                                         \
    table(WETSPAN_MEMBER) bool operator==(const Type&) const = default; \
  };
WETSPAN_SECTIONS(WETSPAN_STRUCT)
#undef WETSPAN_STRUCT
#undef WETSPAN_MEMBER

enum class Kind { number, count, toggle, choice };  ///< what values an input takes
enum class Grade { A, A_other, B, C, D };  ///< evidence; A_other: measured on another substance or crop
/// The letter of a grade: A, B, C or D; `measured_on` tells the two kinds of A apart.
constexpr char letter_of(Grade grade) { return "AABCD"[static_cast<int>(grade)]; }
/// The object on which a value was measured: "this", "another" (substance, crop or surface), or empty if the
/// value was not measured.
constexpr std::string_view measured_on(Grade grade) {
  return grade == Grade::A ? "this" : grade == Grade::A_other ? "another" : "";
}

/// One row of the table, as data.
struct Parameter {
  std::string_view section;  ///< the scenario's member
  std::string_view name;     ///< the section's member; the key is section.name
  Kind kind;                 ///< number, count (whole), toggle (true or false) or choice (one of `choices`)
  double standard;           ///< default, in `unit`; for a choice, its index
  double low, high;          ///< allowed, inclusive, in `unit`
  double spread;             ///< 90 % factor of plausible deviation; 1 for values that the user states
  std::string_view unit;     ///< SI
  std::string_view shown;    ///< unit for display
  Grade grade;               ///< evidence
  std::string_view source;   ///< source of the default
  std::string_view meaning;  ///< description
  std::span<const std::string_view> choices;  ///< names, for a choice
};

/// A section of the table.
struct Section {
  std::string_view name, about;
};

/// Every row, in the order of the table; `Scenario` reads and writes them by index (study/scenario.hpp).
std::span<const Parameter> parameters();
/// Every section, in the order of the table.
std::span<const Section> sections();

/// The key of a row: section.name.
std::string key_of(const Parameter& row);

/// Throws InputError if `value` is not allowed for the row: not finite, out of bounds, or not whole.
void check(const Parameter& row, double value);

}  // namespace wetspan
