// The wet span: drying of leaves, stems and bench, uptake, and the house's air, from spraying to dry.
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

/// The numerical method that computed a wet span.
enum class Path {
  reference,  ///< integration of the full system by wet_span()
  clock,      ///< the method of the droplets' clocks (study/clock.hpp), used where it is exact
};
std::string_view name_of(Path path);  ///< as text

/// Time series of a wet span; times count from the spray. Leaf columns refer to the whole canopy unless
/// stated otherwise.
struct History {
  std::vector<double> time;               ///< [s]
  std::vector<double> leaf_temperature;   ///< of the top layer [K]
  std::vector<double> air_temperature;    ///< of the house, including the effect of the spray [K]
  std::vector<double> relative_humidity;  ///< of the house, including the effect of the spray [1]
  std::vector<double> leaf_water;         ///< water on leaves, sprayed and dew, over the landed water [1]
  std::vector<double> stem_water;         ///< water on stems over the landed water [1]
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

/// Liquid and active ingredient on the crop, at the start or at the end of a wet span.
struct Load {
  /// Liquid and active ingredient on one layer of leaves and on its stems.
  struct Layer {
    double liquid = 0;    ///< sprayed liquid per area of bench, including its non-volatile part [m]
    double strength = 1;  ///< non-volatile share of the liquid over liquid.humectant [1]
    OnSurface upper = {}, lower = {};  ///< active ingredient on the leaves' two sides
    double dew = 0;                    ///< water condensed on leaves per area of bench [m]
    double temperature = 0;            ///< of the leaves [K]; 0: in balance with the air
    Spectrum droplets = {};            ///< sizes of the retained droplets
    double stem_liquid = 0;            ///< water on the layer's stems and petioles per area of bench [m]
    OnSurface stem = {};               ///< active ingredient on stems and petioles
  };
  std::vector<Layer> layers;
  double bench_liquid = 0;  ///< water on the bench, per area of bench [m]
  double air_vapour = 0;    ///< vapour added to the house's air, per area sprayed [m of water]
  double air_heat = 0;      ///< temperature added to the house's air [K]
};

/// Result of a wet span.
struct WetSpan {
  Status status = Status::nothing_wet;
  Path path = Path::reference;
  double wet_time = 0;  ///< until dry_share of the landed water is left [s]; infinite if not in the record
  double last_drop_time = 0;           ///< until the last droplet on a leaf is dry [s]; infinite likewise
  double stem_wet_time = 0;            ///< until the stems of all layers are dry [s]; infinite likewise
  double wet_duration = 0;             ///< time during which leaves were wet, dew included [s]
  double degree_seconds = 0;           ///< integral of leaf temperature above 0 degC while wet [K s]
  double end = 0;                      ///< duration of the simulated span [s]
  double leaf_uptake = 0;              ///< share of the active ingredient on leaves taken up [1]
  double stem_uptake = 0;              ///< share of the active ingredient on stems taken up [1]
  double lost_from_leaves = 0;         ///< active ingredient lost from their locked deposit [kg/m2 of bench]
  double lost_from_stems = 0;          ///< likewise from stems
  std::vector<double> layer_wet_time;  ///< as wet_time, of each leaf layer [s]
  std::vector<double> layer_leaf_uptake;  ///< by the leaves of each layer [kg/m2 of bench]
  double mean_leaf_temperature = std::numeric_limits<double>::quiet_NaN();  ///< from start to end [K]
  double wet_share = 0;  ///< of the upper side of the top layer, for the fresh deposit [1]
  double cover = 0;      ///< wet area of the fresh deposit per leaf area, both sides, mean of the layers [1]
  double end_temperature =
      std::numeric_limits<double>::quiet_NaN();  ///< of the top layer's leaves at the end [K]
  double water_balance = 0;  ///< (input - remaining - lost) / input: relative error of the water balance [1]
  int steps = 0;             ///< accepted integration steps
  Load left;                 ///< load of the crop at the end
  History history;           ///< empty unless asked for
};

/// A function that the computing thread calls every few milliseconds or more often. It may throw to end the
/// computation.
using Watch = std::function<void()>;

/// Limits on the simulated duration of a span, from its start [s].
struct Following {
  double at_least = 0.0;  ///< continue at least this long after all is dry, since dew may wet leaves again
  double at_most = std::numeric_limits<double>::infinity();
  Watch watch = nullptr;
};

/// Integrates the wet span of a crop with the initial `load`, from `start` [s, in the record's time] until
/// leaves and stems are dry, within the limits of `following`, numerics.longest and the record.
///
/// The state consists of, for each leaf layer, temperature, water in every droplet class on both sides, dew,
/// and active ingredient taken up; of the water on stems and bench; and of the vapour that evaporation added
/// to the house's air and the heat that it removed.
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
/// Here u and l denote the upper and lower side, h and g_b the conductances of a boundary layer for heat and
/// vapour, and n_i, R_i and theta_i the number per leaf area, base radius and contact angle of the droplets
/// of class i. rho_s is the vapour density just outside the diffusion shells of the droplets, a_i = 1 / (1 +
/// kappa V_solute / V_water) is the water activity of a class (Petters and Kreidenweis 2007), and E_house is
/// the evaporation from all sprayed surfaces per floor area: a closed house fills with vapour and cools. A
/// class of an inert liquid dries out. A class with a hygroscopic solute approaches a_i = relative humidity.
/// A class with a salt is dry once a_i falls below the efflorescence humidity, and becomes wet again above
/// the deliquescence humidity. Where the vapour density of the air exceeds that at the leaf, dew condenses on
/// the leaf area between droplets. Dew, and the liquid on stems and bench, evaporates as a film with wet
/// share (water / full)^(2/3) (Deardorff 1978). Stomata under liquid are closed. Uptake: see
/// plant/uptake.hpp.
///
/// The integrator is a Dormand-Prince pair of order 5(4) with dense output, and for a hygroscopic liquid,
/// which makes the equations stiff, the linearly implicit method Rodas5P of order 5(4) (Steinebach 2023). A
/// step ends exactly where a class dries out, because the right-hand side is discontinuous there.
///
/// Air speeds below 2 mm/s are raised to 2 mm/s, where convection equals conduction into still air (Nusselt
/// number of a thin disc; grade D). Below 2 cm/s the energy balance of a wet leaf can have several solutions
/// if the moist air at the leaf has the density of the house's air; the tolerance decides which one is found.
///
/// Throws InputError for a scenario or record that is not allowed, if `start` is not within the record, if
/// the load is impossible or lacks the canopy's layers or the sizes of its liquid, or if the energy balance
/// of a dry leaf has no solution; IntegrationError when the step bounds do not suffice.
WetSpan wet_span(const Scenario& scenario, const Load& load, const CropAir& air, double start,
                 const Following& following = {}, bool keep_history = false);

}  // namespace wetspan
