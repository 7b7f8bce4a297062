#include "wetspan/plant/impact.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

#include "../spray/require.hpp"

namespace wetspan {
namespace {

constexpr double right_angle = std::numbers::pi / 2;

double require_contact_angle(double contact_angle) {
  return require("contact_angle", contact_angle, 0.02, std::numbers::pi, "rad");
}

void check(const ImpactSurface& surface) {
  require("density", surface.density, 500, 2000, "kg/m3");
  require("viscosity", surface.viscosity, 1e-4, 0.1, "Pa s");
  require("surface_tension", surface.surface_tension, 0.015, 0.08, "N/m");
  require("splash_threshold", surface.splash_threshold, 5, 500, "");
  require("splashed_share", surface.splashed_share, 0, 1, "");
  require("tangential_kept", surface.tangential_kept, 0, 1, "");
}

/// Speed [m/s] at which a droplet of `diameter` carries the kinetic energy `energy`, in units of pi d^2
/// sigma.
double speed_of(double energy, double diameter, const ImpactSurface& surface) {
  return std::sqrt(12 * std::max(0.0, energy) * surface.surface_tension / (surface.density * diameter));
}

/// Lost by a droplet that draws back from its maximum spread, in units of pi d^2 sigma: Mao, Kuhn & Tran
/// 1997.
double retraction_loss(double spread, double repellence) {
  return 0.12 * std::pow(spread, 2.3) * std::pow(repellence, 0.63);
}

/// Shares of a parcel that meet leaves and stems of a layer.
struct MeetingShares {
  double leaf, stem;
};

MeetingShares meeting_shares(double interception, const StemStand& stems, const Parcel& parcel) {
  constexpr double flattest = 1.5;  // rad
  if (stems.area == 0) return {interception, 0};
  const double hits = stem_hits(stems, parcel.diameter, parcel.speed, std::min(parcel.angle, flattest));
  if (hits == 0 || interception == 1) return {interception, 0};
  const double leaves = -std::log1p(-interception), both = -std::expm1(-(leaves + hits));
  return {both * leaves / (leaves + hits), both * hits / (leaves + hits)};
}

}  // namespace

double weber(double density, double speed, double diameter, double surface_tension) {
  require("surface_tension", surface_tension, 1e-9, 1e9, "N/m");
  return density * speed * speed * diameter / surface_tension;
}

double reynolds(double density, double speed, double diameter, double viscosity) {
  require("viscosity", viscosity, 1e-12, 1e9, "Pa s");
  return density * speed * diameter / viscosity;
}

double splash_parameter(double We, double Re) {
  require("We", We, 0, 1e300, "");
  require("Re", Re, 0, 1e300, "");
  return std::sqrt(We) * std::sqrt(std::sqrt(Re));
}

double maximum_spread_mao(double We, double Re, double contact_angle) {
  require("We", We, 0, 1e300, "");
  require("Re", Re, 0, 1e300, "");
  const double repellence = 1 - std::cos(require_contact_angle(contact_angle));
  const double loss = We > 0 ? 0.2 * std::pow(We, 0.83) / std::pow(Re, 0.33) : 0;
  // b^3 - 3 p b + 2 q = 0 by trigonometry; the larger of its positive roots, if it has any.
  const double a = 0.25 * repellence + loss, p = (We / 12 + 1) / (3 * a), q = 1 / (3 * a);
  if (q * q > p * p * p) return 1;
  return std::max(1.0, 2 * std::sqrt(p) * std::cos(std::acos(-q / (p * std::sqrt(p))) / 3));
}

double maximum_spread_pasandideh_fard(double We, double Re, double contact_angle) {
  require("We", We, 0, 1e300, "");
  require("Re", Re, 0, 1e300, "");
  const double repellence = 1 - std::cos(require_contact_angle(contact_angle));
  return std::max(1.0, std::sqrt((We + 12) / (3 * repellence + (We > 0 ? 4 * We / std::sqrt(Re) : 0))));
}

double excess_rebound_energy(double spread, double contact_angle) {
  require("spread", spread, 1e-6, 1e6, "");
  const double repellence = 1 - std::cos(require_contact_angle(contact_angle));
  return 0.25 * spread * spread * repellence - retraction_loss(spread, repellence) + 2 / (3 * spread) - 1;
}

Impact impact(double diameter, double speed, double incidence, double contact_angle,
              const ImpactSurface& surface) {
  check(surface);
  require("diameter", diameter, 1e-6, 1e-2, "m");
  require("speed", speed, 0, 100, "m/s");
  require("incidence", incidence, 0, right_angle, "rad");
  require_contact_angle(contact_angle);
  const double normal = speed * std::cos(incidence), along = speed * std::sin(incidence);

  Impact result;
  result.weber = weber(surface.density, normal, diameter, surface.surface_tension);
  result.reynolds = reynolds(surface.density, normal, diameter, surface.viscosity);
  result.splash_parameter = splash_parameter(result.weber, result.reynolds);
  result.maximum_spread = surface.spread_law == SpreadLaw::mao
                              ? maximum_spread_mao(result.weber, result.reynolds, contact_angle)
                              : maximum_spread_pasandideh_fard(result.weber, result.reynolds, contact_angle);
  const double kept = result.weber / 12 - retraction_loss(result.maximum_spread, 1 - std::cos(contact_angle));
  result.excess_energy = std::min(excess_rebound_energy(result.maximum_spread, contact_angle), kept);
  const double total_weber = weber(surface.density, speed, diameter, surface.surface_tension);
  result.energy_in = total_weber / 12 + 1;

  double leaving_normal = 0, leaving_share = 0;
  if (result.splash_parameter > surface.splash_threshold) {
    result.outcome = ImpactOutcome::shatter;
    leaving_share = surface.splashed_share;
    if (leaving_share == 0) return result;
    // K goes with the speed to the power 5/4, so We at the threshold is We (K_c / K)^(8/5).
    const double critical = result.weber * std::pow(surface.splash_threshold / result.splash_parameter, 1.6);
    const double to_spend = (result.weber - critical) / 12 * leaving_share;
    const double one_surface = std::cbrt(leaving_share * leaving_share);  // of a single fragment
    const double fineness =
        std::min(std::cbrt(1 + 5 * (result.weber / critical - 1)), 1 + to_spend / one_surface);
    result.leaving_number = fineness * fineness * fineness;
    result.leaving_diameter = diameter * std::cbrt(leaving_share) / fineness;
    leaving_normal = speed_of((to_spend - (fineness - 1) * one_surface) / leaving_share, diameter, surface);
    result.energy_out = fineness * one_surface;
  } else if (result.excess_energy > 0) {
    result.outcome = ImpactOutcome::rebound;
    leaving_share = 1;
    result.leaving_number = 1;
    leaving_normal = speed_of(result.excess_energy, diameter, surface);
    result.leaving_diameter = diameter;
    result.energy_out = 1;
  } else {
    return result;
  }
  result.retained_share = 1 - leaving_share;
  result.leaving_speed = std::hypot(leaving_normal, surface.tangential_kept * along);
  result.energy_out +=
      leaving_share * weber(surface.density, result.leaving_speed, diameter, surface.surface_tension) / 12;
  return result;
}

std::string_view wettability_class(double contact_angle) {
  const double degrees =
      require("contact_angle", contact_angle, 0, std::numbers::pi, "rad") * 180 / std::numbers::pi;
  if (degrees < 40) return "super-hydrophilic";
  if (degrees < 90) return "highly wettable";
  if (degrees < 110) return "wettable";
  if (degrees <= 130) return "non-wettable";
  if (degrees <= 150) return "highly non-wettable";
  return "super-hydrophobic";
}

double mean_incidence_cosine(double leaf_angle, double path_angle) {
  require("leaf_angle", leaf_angle, 0, right_angle, "rad");
  require("path_angle", path_angle, 0, right_angle, "rad");
  const double level = std::cos(leaf_angle) * std::cos(path_angle),
               steep = std::sin(leaf_angle) * std::sin(path_angle);
  if (level >= steep) return level;
  // cot a cot b = level / steep; cos a cos b tan p = sqrt(steep^2 - level^2).
  return level +
         2 / std::numbers::pi * (std::sqrt(steep * steep - level * level) - level * std::acos(level / steep));
}

Cascade cascade(const std::vector<Parcel>& droplets, const std::vector<CanopyLayer>& layers,
                const ImpactSurface& surface) {
  require("number of layers", static_cast<double>(layers.size()), 0, 16, "");
  for (const Parcel& each : droplets) {
    require("volume", each.volume, 0, 1e300, "");
    require("angle", each.angle, 0, right_angle, "rad");
  }
  Cascade result;
  result.through = droplets;
  for (const CanopyLayer& layer : layers) {
    const double interception = require("interception", layer.interception, 0, 1, "");
    LayerDeposit deposit;
    std::vector<Parcel> below;
    for (Parcel parcel : std::exchange(result.through, {})) {
      const auto [on_leaf, on_stem] = meeting_shares(interception, layer.stems, parcel);
      const double met = on_leaf * parcel.volume, caught = on_stem * parcel.volume;
      const double incidence =
          std::acos(std::min(1.0, mean_incidence_cosine(layer.leaf_angle, parcel.angle)));
      const Impact hit = impact(parcel.diameter, parcel.speed, incidence, layer.contact_angle, surface);
      const double stays = hit.retained_share * met, leaves = met - stays;
      deposit.met += met;
      deposit.retained += stays;
      (hit.outcome == ImpactOutcome::rebound ? deposit.rebounded : deposit.shattered) += leaves;
      if (stays > 0)
        deposit.droplets.push_back({parcel.diameter * std::cbrt(hit.retained_share), 0, 0, stays});
      if (leaves > 0 && hit.leaving_diameter < finest_settling) {
        result.adrift += leaves;
      } else if (leaves > 0) {
        below.push_back({hit.leaving_diameter, hit.leaving_speed, 0, leaves, true});
      }
      deposit.on_stems += caught;
      parcel.volume -= met + caught;
      if (parcel.volume > 0) below.push_back(parcel);
    }
    result.through = std::move(below);
    result.layers.push_back(std::move(deposit));
  }
  for (const Parcel& each : result.through) {
    result.ground += each.volume;
    if (!each.touched) result.untouched += each.volume;
  }
  return result;
}

}  // namespace wetspan
