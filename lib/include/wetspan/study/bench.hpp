// One bench of a crop, plant by plant: positions of plants, deposit on each plant, and its effect on height.
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
    "6 in by 6 in: a trade magazine's spacing table", "Distance from a plant to the next in its row") \
  P(Arrangement, arrangement, Arrangement::square, 0, 1, 1.0, "1", "1", D, "the user's bench", \
    "Square, or staggered: every second row shifted by half a spacing, rows sqrt(3)/2 spacings apart") \
  P(double, size_variation, 0.10, 0.0, 1.0, 1.6, "1", "percent", D, \
    "assumption; heights within a dose vary by 3.6-12.5 % (Welham et al. 2015, data set)", \
    "Coefficient of variation of the plants' linear size when they are sprayed")

/// Volumes that are derived from the scenario unless they are given; they are not members of a struct.
#define WETSPAN_BENCH_VOLUME(P) \
  P(double, volume, 1e-3, 1e-9, 100.0, 1.0, "m^3", "L", D, \
    "by default the volume that gives the bench application.volume_rate on average", \
    "Volume emitted, including what falls beside the bench")
#define WETSPAN_POT_VOLUME(P) \
  P(double, volume_per_pot, 1.18e-4, 1e-9, 0.1, 1.0, "m^3", "mL", D, \
    "by default application.volume_rate over the plants per area for a drench, and the usual volume for such pots beside a spray", \
    "Volume of a drench poured into each pot")

/// How a bench is computed and judged; the columns are those of parameters.hpp.
#define WETSPAN_BENCH(P) \
  P(double, cell, 0.02, 0.001, 0.5, 1.0, "m", "cm", B, "convergence shown in docs/science/bench.md", \
    "Size of the map's cells, made to fit the bench") \
  P(double, band, 0.05, 0.0, 1.0, 1.0, "1", "percent", D, "convention", \
    "Largest deviation of height from the mean height, as a share of the mean, within the band")

/// How a drench is poured.
#define WETSPAN_DRENCH(P) \
  P(double, pouring_variation, 0.10, 0.0, 1.0, 2.0, "1", "percent", D, \
    "assumption: a marked cup filled by hand; a dosing pump is more even", \
    "Coefficient of variation of the volume poured into each pot")

// clang-format on

#define WETSPAN_MEMBER(type, name, standard, low, high, spread, unit, shown, grade, source, meaning) \
  type name = standard;
/// Arrangement of plants on a bench; `bench_parameters` lists the unit, bounds and source of each number.
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

/// Every row of the tables, with its grade and source. The sections are "pattern", "wand", "boom", "layout",
/// "bench" and "drench".
std::span<const Parameter> bench_parameters();

// The plants -----------------------------------------------------------------------------------------------

/// Position of a plant [m]; row and column count from 0.
struct Place {
  double x = 0, y = 0;
  int row = 0, column = 0;
};

/// Distance between rows [m].
double row_spacing(const Layout& layout);
/// Plants per area [1/m2].
double plant_density(const Layout& layout);
/// Length of the bench [m]. The bench extends half a spacing beyond the outermost plants.
double bench_length(const Layout& layout);
double bench_width(const Layout& layout);  ///< width of the bench [m], see bench_length

/// Positions of all plants, row by row. @throws InputError for a value outside the bounds of the table
std::vector<Place> places(const Layout& layout);

/// Linear size of each plant relative to the mean [1]. Sizes follow a lognormal distribution with mean 1 and
/// coefficient of variation layout.size_variation; a size depends only on the seed and on the plant's index
/// in `places`.
std::vector<double> sizes(const Layout& layout, std::uint64_t seed);

/// Diameter [m] of the crown of a plant of mean size: that of a disc of area crown_cover / plant_density.
/// @throws InputError for a canopy that is not allowed
double crown_diameter(const Canopy& canopy);

/// The scenario of one plant that receives `deposit` [m], has linear size `size` relative to the mean [1],
/// and stands in a pot of `pot_diameter` [m] at a plant density of `density` [1/m2].
///
/// Leaf area, stem area, crown area and water use are proportional to size^2. So is half_amount, since a
/// given amount is more dilute in a larger plant (assumption, grade D). Where crowns would overlap the canopy
/// is closed: crown cover is 1 and the leaf area index inside crowns rises. The volume of substrate is
/// proportional to the cube of the pot's diameter.
/// @throws InputError for values that give no valid scenario
Scenario plant_on_bench(const Scenario& mean, double deposit, double size, double pot_diameter,
                        double density);

// The bench ------------------------------------------------------------------------------------------------

/// A bench and the application to it.
struct BenchInput {
  Scenario scenario;                  ///< of the plant of mean size that receives the mean deposit
  Layout layout;                      ///< where plants stand
  double plant_density = 0;           ///< [1/m2]; as a rule plant_density(layout)
  std::vector<double> pot_diameters;  ///< [m], used by the rows in turn; empty: canopy.pot_diameter
  Pattern pattern;                    ///< footprint of the nozzles
  std::vector<Pass> passes;           ///< path of the nozzles; only the ratios of the flows matter
  std::optional<double> volume =
      std::nullopt;  ///< emitted [m3]; absent: the bench receives application.volume_rate
  std::optional<double> volume_per_pot = std::nullopt;  ///< of a drench [m3]; absent: application.volume_rate
  Pouring pouring;                                      ///< errors of a drench's volumes
  BenchSettings settings;
  std::vector<double> weeks = {};  ///< daily mean temperatures [K]; empty: crop.mean_temperature
  std::uint64_t seed = 1;          ///< for plant sizes and pouring errors; the path has its own seed
};

/// The bench that a scenario describes. The spacing follows from its plant density, the footprint from its
/// nozzle; the path is that of a wand at the nozzle's height, swept over a bench of the layout's size.
BenchInput bench_of(const Scenario& scenario, Layout layout = {}, std::uint64_t seed = 1);

/// The spacing of plants [m] that gives `plant_density` [1/m2] in the given arrangement.
/// @throws InputError unless the density is 1e-3 .. 1e6 per m2
double spacing_for(double plant_density, Arrangement arrangement);

/// Evenness of a bench. Standard deviations are those of the whole population of plants (divisor n).
struct Evenness {
  double deposit = 0;      ///< coefficient of variation of the deposit among plants [1]
  double dose = 0;         ///< coefficient of variation of the active ingredient at the growing tips [1]
  double height = 0;       ///< coefficient of variation of height relative to the untreated check [1]
  double outside = 0;      ///< share of the plants whose height lies outside the band around the mean [1]
  double mean_height = 0;  ///< mean height relative to the untreated check [1]
};

/// One cause of unevenness, and the evenness of the bench when it is computed without that cause.
struct BenchLever {
  std::string_view cause;  ///< "speed", "height", "overlap", "volume", "drench", "size", "pouring"
  Evenness evenness;
};

/// The drench that gives the same mean height as a spray.
struct DrenchInstead {
  double volume_per_pot = 0;  ///< [m3]
  double concentration = 0;   ///< [kg/m3]
};

/// Results for the plants of a bench. Columns have one entry per plant, in the order of `places`.
struct Bench {
  double length = 0, width = 0;         ///< [m]
  DepositMap map;                       ///< of a spray; without cells for a drench
  std::vector<Pass> passes;             ///< the path, with flows scaled to the emitted volume
  std::vector<Place> places;            ///< positions of the plants
  std::vector<double> sizes;            ///< linear size relative to the mean [1]
  std::vector<double> pot_diameters;    ///< [m]
  std::vector<double> crown_diameters;  ///< [m]
  std::vector<double> deposits;      ///< volume per crown area; for a drench per ground area of the plant [m]
  std::vector<std::uint8_t> missed;  ///< 1 for a plant below the smallest allowed application.volume_rate
  RowTable outcomes;                 ///< missed plants have value 0 throughout and Status::nothing_wet
  Evenness evenness;
  std::vector<BenchLever> levers;       ///< the most even first; empty unless asked for
  std::optional<DrenchInstead> drench;  ///< of the lever "drench"

  /// Active ingredient at the growing tips of each plant [kg].
  std::vector<double> doses() const;
  /// Height of each plant relative to its untreated check [1].
  std::vector<double> heights() const;
  /// 1 for each plant whose height differs from the mean by at most `band`, as a fraction of the mean [1].
  std::vector<std::uint8_t> in_band(double band) const;
  /// Volume emitted [m3], including what falls beside the bench.
  double emitted() const { return map.on_bench + map.off_bench; }
  /// Mean flow per nozzle [m3/s] that is needed to emit the volume along the path; 0 for a drench. Compare it
  /// with nozzle_flow, since a path given by speed and height does not determine the flow of the nozzle.
  double flow() const;
  double nozzle_flow = 0;  ///< of the scenario's nozzle at its pressure [m3/s]
};

/// Sprays a bench at `start` [s, in the record's time], or drenches it if application.method is drench.
/// Every plant is computed with the deposit on its own crown, or with the volume poured into its pot.
///
/// The flows of the path are scaled to the emitted volume. All plants share the air of one house. That air is
/// computed for the mean plant at the mean deposit, and every plant is then computed in it. Once the mean
/// plant is dry, the change that the spray made to the air decays to zero over the same length of time again.
/// Plants whose deposit is below the smallest volume rate that a scenario allows count as missed.
///
/// With `levers` the bench is computed again, each time without one cause of unevenness:
/// - speed, height: the path has constant speed, or constant height.
/// - overlap: the map is divided by that of the same path at constant speed and height. This removes the
///   effect of spacing, turns and edges and keeps the random variation.
/// - volume: 1.5 times the liquid with the same active ingredient.
/// - drench: a drench of volume_per_pot, or of the usual volume for such pots, poured with `pouring`, at the
///   concentration that gives the same mean height.
/// - size: all plants have the mean size.
/// - pouring (for a drench): every pot receives the same volume.
/// Except for the lever "volume", the volume that lands on the bench is unchanged.
///
/// @throws InputError for a scenario, layout, path or record that is not allowed, and if nothing falls on the
///         bench; IntegrationError as `simulate`. options.progress is called with the rows of each
///         computation of all plants; an exception that it throws ends the computation.
Bench spray_bench(const BenchInput& input, const CropAir& air, double start, bool levers = true,
                  const BatchOptions& options = {});

}  // namespace wetspan
