// The wet span: what happens on leaf, stem and bench, and in the house's air, from spray to dry.
#pragma once

#include <limits>
#include <string_view>
#include <vector>

#include "wetspan/plant/crop_air.hpp"
#include "wetspan/plant/retention.hpp"
#include "wetspan/spray/droplets.hpp"
#include "wetspan/study/scenario.hpp"

namespace wetspan {

enum class Status {
  dry,          ///< leaves and stems dried within the record
  wet_at_end,   ///< liquid was left when the record (or numerics.longest) ended
  nothing_wet,  ///< no liquid landed on leaves
  failed,       ///< could not be computed (only in a batch, which keeps the reason)
};
std::string_view name_of(Status status);

/// The course of a wet span: one entry per moment, times from the spray.
struct History {
  std::vector<double> time;               ///< [s]
  std::vector<double> leaf_temperature;   ///< [K]
  std::vector<double> air_temperature;    ///< of the house, as the spray left it [K]
  std::vector<double> relative_humidity;  ///< of the house, as the spray left it [1]
  std::vector<double> leaf_water;         ///< share of the landed liquid left on leaves [1]
  std::vector<double> stem_water;         ///< share of the landed liquid left on stems [1]
  std::vector<double> wet_share;          ///< of the upper leaf side [1]
  std::vector<double> leaf_uptake;        ///< share of the leaf's active ingredient taken up [1]
  std::vector<double> stem_uptake;        ///< share of the stem's active ingredient taken up [1]
};

/// Result of a wet span.
struct WetSpan {
  Status status = Status::nothing_wet;
  double wet_time = 0;  ///< spray to dry_share of the landed liquid [s]; infinite if never within the record
  double last_drop_time = 0;  ///< spray to the last droplet on a leaf [s]; infinite likewise
  double stem_wet_time = 0;   ///< spray to dry stems [s]; infinite likewise
  double end = 0;             ///< how long was followed [s]
  double leaf_uptake = 0;     ///< share of the active ingredient on leaves taken up while wet [1]
  double stem_uptake = 0;     ///< share of the active ingredient on stems taken up while wet [1]
  double mean_leaf_temperature = std::numeric_limits<double>::quiet_NaN();  ///< from spray to end [K]
  double wet_share = 0;                                               ///< of the upper leaf side, fresh [1]
  double end_temperature = std::numeric_limits<double>::quiet_NaN();  ///< of the leaf when it ended [K]
  double water_balance = 0;  ///< landed - evaporated - left, over landed [1]: closes to rounding
  int steps = 0;             ///< accepted integration steps
  History history;           ///< empty unless asked for
};

/// Follows one spray, split as `split`, from `start` [s, in the record's time] until leaves and stems are dry
/// or the record ends.
///
/// State: leaf temperature, the liquid of every droplet class on both leaf sides, of stems and of the bench;
/// the vapour and heat that evaporation added to and took from the house's air; active ingredient taken up.
///
///   C dT/dt     = absorbed shortwave + longwave - (h_u + h_l)(T - T_a) - lambda (E_u + E_l +
///   E_transpiration) E_i         = n_i pi R_i D f(theta_i) F (rho_sat(T) - rho_a),  F = g_b / (g_b + sum n
///   pi R D f) d rho_x/dt  = (E_house - condensation) / height - air_changes rho_x,   rho_a = rho_record +
///   rho_x
///
/// with E_house the evaporation per floor area of all that was sprayed: a closed house fills with vapour and
/// cools. Stems and bench dry as films whose wet share is (water / landed)^(2/3) (Deardorff 1978). Stomata
/// under a film are closed. Integrated by a Dormand-Prince pair of order 5(4) with dense output; the
/// drying-out of each class is located and landed on, since the equations jump there.
///
/// Throws InputError when `start` is not within the record, IntegrationError when the step bounds do not
/// suffice.
WetSpan wet_span(const Scenario& scenario, const Spectrum& landed, const Split& split, const CropAir& air,
                 double start, bool keep_history = false);

}  // namespace wetspan
