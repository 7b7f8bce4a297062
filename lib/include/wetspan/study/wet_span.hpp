// The wet span: what happens on leaves, stems and bench, and in the house's air, from spray to dry.
#pragma once

#include <functional>
#include <limits>
#include <string_view>
#include <vector>

#include "wetspan/plant/crop_air.hpp"
#include "wetspan/study/landing.hpp"
#include "wetspan/study/scenario.hpp"

namespace wetspan {
/// How a wet span ended.
enum class Status {
  dry,          ///< leaves and stems dried within the record
  wet_at_end,   ///< liquid was left when the record (or numerics.longest) ended
  nothing_wet,  ///< no liquid landed on leaves
  failed,       ///< could not be computed (only in a batch, which keeps the reason)
};
std::string_view name_of(Status status);  ///< as text: "dry", "wet at end", ...

/// How a wet span was followed.
enum class Path {
  reference,  ///< the full system, by wet_span()
  clock,      ///< on the droplets' clocks (study/clock.hpp), where that is exact
};
std::string_view name_of(Path path);  ///< as text

/// The course of a wet span: one entry per moment, times from the spray. Leaf columns are over the whole
/// canopy but for those that say otherwise.
struct History {
  std::vector<double> time;               ///< [s]
  std::vector<double> leaf_temperature;   ///< of the top layer [K]
  std::vector<double> air_temperature;    ///< of the house, as the spray left it [K]
  std::vector<double> relative_humidity;  ///< of the house, as the spray left it [1]
  std::vector<double> leaf_water;         ///< water on leaves, sprayed and dew, over the landed water [1]
  std::vector<double> stem_water;         ///< over the landed water [1]
  std::vector<double> wet_share;          ///< of the upper side of the top layer [1]
  std::vector<double> leaf_uptake;        ///< share of the leaf's active ingredient taken up [1]
  std::vector<double> stem_uptake;        ///< share of the stem's active ingredient taken up [1]
};

/// Active ingredient on a surface, per area of bench [kg/m2]: see plant/uptake.hpp.
struct OnSurface {
  double liquid = 0;  ///< in liquid, dissolved and suspended
  double mobile = 0;  ///< dried, in the wax or amorphous
  double locked = 0;  ///< dried, in crystals

  double sum() const { return liquid + mobile + locked; }
};

/// What lies on the crop: at the start of a span, and what is left at its end.
struct Load {
  /// What lies on one layer of leaves, and on the stems in it.
  struct Layer {
    double liquid = 0;    ///< sprayed liquid per area of bench, what does not evaporate included [m]
    double strength = 1;  ///< share of it that does not evaporate, over liquid.humectant [1]
    OnSurface upper = {}, lower = {};  ///< active ingredient on the leaves' two sides
    double dew = 0;                    ///< water condensed on leaves per area of bench [m]
    double temperature = 0;            ///< of the leaves [K]; 0 for in balance with the air
    Spectrum droplets = {};            ///< the liquid's sizes as they came to rest
    double stem_liquid = 0;            ///< water on the layer's stems and petioles per area of bench [m]
    OnSurface stem = {};               ///< active ingredient on them
  };
  std::vector<Layer> layers;
  double bench_liquid = 0;  ///< water on the bench, likewise [m]
  double air_vapour = 0;    ///< vapour added to the house's air, per area sprayed [m of water]
  double air_heat = 0;      ///< temperature added to the house's air [K]
};

/// Result of a wet span.
struct WetSpan {
  Status status = Status::nothing_wet;
  Path path = Path::reference;
  double wet_time = 0;  ///< start to dry_share of the landed water [s]; infinite if never within the record
  double last_drop_time = 0;           ///< start to the last droplet on a leaf [s]; infinite likewise
  double stem_wet_time = 0;            ///< start to dry stems in the last layer [s]; infinite likewise
  double wet_duration = 0;             ///< time during which leaves were wet, dew included [s]
  double degree_seconds = 0;           ///< integral of leaf temperature above 0 degC while wet [K s]
  double end = 0;                      ///< how long was followed [s]
  double leaf_uptake = 0;              ///< share of the active ingredient on leaves taken up [1]
  double stem_uptake = 0;              ///< share of the active ingredient on stems taken up [1]
  double lost_from_leaves = 0;         ///< active ingredient lost from their locked deposit [kg/m2 of bench]
  double lost_from_stems = 0;          ///< likewise from stems
  std::vector<double> layer_wet_time;  ///< as wet_time, of each leaf layer [s]
  double mean_leaf_temperature = std::numeric_limits<double>::quiet_NaN();  ///< from start to end [K]
  double wet_share = 0;  ///< of the upper side of the top layer, fresh [1]
  double cover = 0;      ///< wet area of the fresh deposit per leaf area, both sides, mean of the layers [1]
  double end_temperature =
      std::numeric_limits<double>::quiet_NaN();  ///< of the top layer's leaves at the end [K]
  double water_balance = 0;  ///< what came less what is left and what went, over what came [1]
  int steps = 0;             ///< accepted integration steps
  Load left;                 ///< what is on the crop at the end
  History history;           ///< empty unless asked for
};

/// Called by the thread that computes every few milliseconds or more often; may throw to end the computation.
using Watch = std::function<void()>;

/// How long to follow a span, both times from its start [s].
struct Following {
  double at_least = 0.0;  ///< even if all is dry: dew may fall, and a leaf grow wet again
  double at_most = std::numeric_limits<double>::infinity();
  Watch watch = nullptr;
};

/// Follows a crop that carries `load` from `start` [s, in the record's time] until leaves and stems are dry;
/// within `following`, numerics.longest and the record.
///
/// State: for each leaf layer its temperature, the water of every droplet class on both sides, dew, and the
/// active ingredient taken up; the water of stems and bench; the vapour and heat that evaporation added to
/// and took from the house's air.
///
///   C dT/dt = absorbed shortwave + longwave - (h_u + h_l)(T - T_a) - lambda E
///
///   E = E_u + E_l + E_dew + E_transpiration
///
///   E_i = n_i pi R_i D f(theta_i) (a_i rho_sat(T) - rho_s)
///
///   sum E_i = g_b (rho_s - rho_a), on each side
///
///   d rho_x/dt = (E_house - condensation) / height - air_changes rho_x
///
///   rho_a = rho_record + rho_x
///
/// with rho_s the vapour density just outside the droplets' diffusion shells, a_i = 1 / (1 + kappa V_solute /
/// V_water) the water activity of a class (Petters and Kreidenweis 2007), and E_house the evaporation per
/// floor area of all that was sprayed: a closed house fills with vapour and cools. A class of an inert liquid
/// dries out; one with a hygroscopic solute settles at a_i = humidity, or, for a salt, is dry once a_i falls
/// below its efflorescence and wets again above its deliquescence. Where the air is moister than the leaf,
/// dew condenses on what droplets leave bare; it evaporates as a film whose wet share is (water / full)^(2/3)
/// (Deardorff 1978), as stems and bench do. Stomata under liquid are closed. Uptake: plant/uptake.hpp.
///
/// Integrated by a Dormand-Prince pair of order 5(4) with dense output; the drying-out of each class is
/// located and landed on, since the equations jump there.
///
/// Air over the crop that is slower than 2 mm/s counts as that, since it takes from a leaf what still air
/// conducts (a thin disc's Nusselt number; grade D). Below 2 cm/s the energy balance of a wet leaf can have
/// several solutions, where its moist air is as heavy as the house's; the tolerance decides which one is
/// found.
///
/// Throws InputError for a scenario or record that is not allowed, when `start` is not within the record, the
/// load is not possible or has not the canopy's layers or sizes for its liquid, or no temperature of a dry
/// leaf balances; IntegrationError when the step bounds do not suffice.
WetSpan wet_span(const Scenario& scenario, const Load& load, const CropAir& air, double start,
                 const Following& following = {}, bool keep_history = false);

}  // namespace wetspan
