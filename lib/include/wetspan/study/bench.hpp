// One bench of a crop, plant by plant: where plants stand, what falls on each, and what becomes of it.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "wetspan/parameters.hpp"
#include "wetspan/spray/deposit_map.hpp"
#include "wetspan/study/batch.hpp"
#include "wetspan/study/scenario.hpp"

namespace wetspan {

enum class Arrangement { square, staggered };  ///< of plants on a bench
template <>
inline constexpr std::array<std::string_view, 2> choice_names<Arrangement>{"square", "staggered"};

// clang-format off

/// Inputs of `Layout`.
#define WETSPAN_LAYOUT(P) \
  P(int, rows, 10, 1, 1000, 1.0, "1", "1", D, "the user's bench; a made-up one by default", \
    "Rows of plants across the bench") \
  P(int, columns, 20, 1, 1000, 1.0, "1", "1", D, "the user's bench; a made-up one by default", \
    "Plants in a row, along the bench") \
  P(double, spacing, 0.1524, 0.01, 2.0, 1.0, "m", "cm", A, \
    "6 in by 6 in: a trade magazine's spacing table", "Distance of a plant to the next in its row") \
  P(Arrangement, arrangement, Arrangement::square, 0, 1, 1.0, "1", "1", D, "the user's bench", \
    "Square, or staggered: every second row shifted by half a spacing, rows sqrt(3)/2 spacings apart") \
  P(double, size_variation, 0.10, 0.0, 1.0, 1.6, "1", "percent", D, \
    "assumption; heights within a dose vary by 3.6-12.5 % (Welham et al. 2015, data set)", \
    "Coefficient of variation of the plants' linear size when they are sprayed")

/// Volumes that follow from the scenario unless they are given; not members of a struct.
#define WETSPAN_BENCH_VOLUME(P) \
  P(double, volume, 1e-3, 1e-9, 100.0, 1.0, "m^3", "L", D, \
    "left out: as much as gives the bench application.volume_rate on average", \
    "Volume emitted, what falls beside the bench included")
#define WETSPAN_POT_VOLUME(P) \
  P(double, volume_per_pot, 1.18e-4, 1e-9, 0.1, 1.0, "m^3", "mL", D, \
    "left out: of a drench, application.volume_rate over the plants per area; beside a spray, the usual for the pots", \
    "Drench poured into each pot")

/// How a bench is computed and judged, columns as in parameters.hpp.
#define WETSPAN_BENCH(P) \
  P(double, cell, 0.02, 0.001, 0.5, 1.0, "m", "cm", B, "convergence shown in docs/science/bench.md", \
    "Size of the map's cells, made to fit the bench") \
  P(double, band, 0.05, 0.0, 1.0, 1.0, "1", "percent", D, "convention", \
    "Plants whose height is further than this from the mean height, over it, are outside the band")

/// How a drench is poured.
#define WETSPAN_DRENCH(P) \
  P(double, pouring_variation, 0.10, 0.0, 1.0, 2.0, "1", "percent", D, \
    "assumption: a marked cup filled by hand; a dosing pump pours more alike", \
    "Coefficient of variation of the volume poured into each pot")

// clang-format on

#define WETSPAN_MEMBER(type, name, standard, low, high, spread, unit, shown, grade, source, meaning) \
  type name = standard;
/// Where plants stand on a bench; `bench_parameters` tells unit, bounds and source of each number.
struct Layout {
  WETSPAN_LAYOUT(WETSPAN_MEMBER)
};
/// Errors of a drench's volumes.
struct Pouring {
  WETSPAN_DRENCH(WETSPAN_MEMBER)
};
/// How a bench is computed and judged.
struct BenchSettings {
  WETSPAN_BENCH(WETSPAN_MEMBER)
};
#undef WETSPAN_MEMBER

/// Every row of the tables, with its grade and source; sections "pattern", "wand", "boom", "layout", "bench",
/// "drench".
std::span<const Parameter> bench_parameters();

// The plants -----------------------------------------------------------------------------------------------

/// Where a plant stands [m]; row and column from 0.
struct Place {
  double x = 0, y = 0;
  int row = 0, column = 0;
};

/// Distance between rows [m].
double row_spacing(const Layout& layout);
/// Plants per area [1/m2].
double plant_density(const Layout& layout);
/// Length of the bench [m], as its width: half a spacing beyond the outermost plants.
double bench_length(const Layout& layout);
double bench_width(const Layout& layout);  ///< see bench_length

/// Every place, row by row. @throws InputError for a value outside its row in the table
std::vector<Place> places(const Layout& layout);

/// Linear size of each plant over the mean [1]: lognormal of mean 1 and the layout's variation; the plant's
/// position in `places` and the seed make it.
std::vector<double> sizes(const Layout& layout, std::uint64_t seed);

/// Diameter of the crown of a plant of mean size [m]: crown_cover / plant_density as a disc.
double crown_diameter(const Canopy& canopy);

/// A plant as a scenario: sprayed with `deposit` [m], of linear size `size` over the mean [1], in a pot of
/// `pot_diameter` [m] among `density` [1/m2] plants.
///
/// Leaf and stem area, crown area and water use go with size^2; so does half_amount, since the same amount is
/// thinner in a larger plant (assumption, grade D). A crown that outgrows its ground closes with its
/// neighbours: cover is 1 and the leaves stand denser. Substrate goes with the cube of the pot's diameter.
/// @throws InputError for what makes no scenario
Scenario plant_on_bench(const Scenario& mean, double deposit, double size, double pot_diameter,
                        double density);

// The bench ------------------------------------------------------------------------------------------------

/// A bench, and what is put on it.
struct BenchInput {
  Scenario scenario;                  ///< of the plant of mean size that gets the mean deposit
  Layout layout;                      ///< where plants stand
  double plant_density = 0;           ///< [1/m2]; as a rule plant_density(layout)
  std::vector<double> pot_diameters;  ///< [m]; rows take them in turn; none: canopy.pot_diameter
  Pattern pattern;                    ///< the nozzles' footprint
  std::vector<Pass> passes;           ///< their path; flows count relative to each other
  std::optional<double> volume =
      std::nullopt;  ///< emitted [m3]; none: the bench gets application.volume_rate
  std::optional<double> volume_per_pot = std::nullopt;  ///< of a drench [m3]; none: application.volume_rate
  Pouring pouring;                                      ///< of a drench
  BenchSettings settings;
  std::vector<double> weeks = {};  ///< as for simulate(): daily temperatures; none: crop.mean_temperature
  std::uint64_t seed = 1;          ///< of plant sizes and pouring errors; that of the path is the path's own
};

/// The bench that a scenario describes: spacing from its density of plants, the footprint of its nozzle, and
/// a wand at its nozzle's height swept over a bench of the layout's size.
BenchInput bench_of(const Scenario& scenario, Layout layout = {}, std::uint64_t seed = 1);

/// The spacing of plants [m] at which a layout has a density [1/m2].
double spacing_for(double plant_density, Arrangement arrangement);

/// How even a bench is; standard deviations are those of all plants on it.
struct Evenness {
  double deposit = 0;      ///< coefficient of variation of what plants get, from plant to plant [1]
  double dose = 0;         ///< of the active ingredient at the growing tips [1]
  double height = 0;       ///< of the height relative to the untreated check [1]
  double outside = 0;      ///< share of the plants whose height lies outside the band around the mean [1]
  double mean_height = 0;  ///< mean height relative to the untreated check [1]
};

/// One cause of unevenness, and the bench computed anew without it.
struct BenchLever {
  std::string_view cause;  ///< "speed", "height", "overlap", "volume", "drench", "size", "pouring"
  Evenness evenness;
};

/// The drench that gives the same mean height as a spray.
struct DrenchInstead {
  double volume_per_pot = 0;  ///< [m3]
  double concentration = 0;   ///< [kg/m3]
};

/// What became of the plants of a bench. Columns have one entry a plant, in the order of `places`.
struct Bench {
  double length = 0, width = 0;         ///< [m]
  DepositMap map;                       ///< of a spray; of a drench it has no cells
  std::vector<Pass> passes;             ///< the path with the flows that this volume takes
  std::vector<Place> places;            ///< where they stand
  std::vector<double> sizes;            ///< linear size over the mean [1]
  std::vector<double> pot_diameters;    ///< [m]
  std::vector<double> crown_diameters;  ///< [m]
  std::vector<double> deposits;      ///< volume per area on the crown, of a drench on the plant's ground [m]
  std::vector<std::uint8_t> missed;  ///< 1 for a plant that gets less than the least application.volume_rate
  RowTable outcomes;                 ///< 0 throughout, and Status::nothing_wet, for the missed
  Evenness evenness;
  std::vector<BenchLever> levers;       ///< the most even first; none unless asked for
  std::optional<DrenchInstead> drench;  ///< of the lever "drench"

  /// Active ingredient at the growing tips of each plant [kg].
  std::vector<double> doses() const;
  /// Height of each plant over that of its untreated check [1].
  std::vector<double> heights() const;
  /// Whether each plant's height lies within `band` of the mean height, over it.
  std::vector<std::uint8_t> in_band(double band) const;
  /// Volume emitted [m3], what falls beside the bench included.
  double emitted() const { return map.on_bench + map.off_bench; }
  /// Mean flow of a nozzle along the path that this volume takes [m3/s]; 0 for a drench. Compare it with
  /// nozzle_flow(): a path told in pace and height says nothing of the nozzle's flow.
  double flow() const;
  double nozzle_flow = 0;  ///< of the scenario's nozzle at its pressure [m3/s]
};

/// Sprays a bench at `start` [s, in the record's time], or drenches it where application.method is drench,
/// and computes every plant with what falls on its own crown or is poured into its pot.
///
/// The flows of the path are scaled to what is emitted. All plants stand in one house: its air is followed
/// for the mean plant at the mean deposit, and every plant is computed in that air; once the mean plant is
/// dry, what its spray did to the air fades within as long again. Plants that get less than the least volume
/// rate that a scenario allows count as missed.
///
/// With `levers` the bench is computed anew with one cause of unevenness after the other taken away:
/// - speed, height: the path at one speed, at one height;
/// - overlap: the map over that of the same path at one speed and height, so that spacing, turns and edges
/// are
///   out of it and noise stays in;
/// - volume: half as much liquid again with the same active ingredient;
/// - drench: volume_per_pot, or the volume usual for such pots, as a drench of the strength that gives the
/// same mean height, poured with `pouring`;
/// - size: all plants of the mean size;
/// - pouring (of a drench): the same volume into every pot.
/// What lands on the bench stays the same but for volume.
///
/// @throws InputError for a scenario, layout, path or record that is not allowed, and where nothing falls on
/// the
///         bench; IntegrationError as `simulate`. What options.progress throws ends it; it is called with the
///         rows of each run of the plants.
Bench spray_bench(const BenchInput& input, const CropAir& air, double start, bool levers = true,
                  const BatchOptions& options = {});

}  // namespace wetspan
