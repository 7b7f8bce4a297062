#include "wetspan/plant/impact.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <tuple>
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

/// Functions of a leaf's contact angle that an impact depends on.
struct Wetting {
  double repellence;  // 1 - cos(contact angle)
  double retraction;  // coefficient of the dissipation during recoil: Mao, Kuhn & Tran 1997

  explicit Wetting(double contact_angle)
      : repellence(1 - std::cos(require_contact_angle(contact_angle))),
        retraction(0.12 * std::pow(repellence, 0.63)) {}
};

/// Energy dissipated during recoil from the maximum spread, in units of pi d^2 sigma.
double retraction_loss(double spread, const Wetting& leaf) { return std::pow(spread, 2.3) * leaf.retraction; }

double spread_mao(double We, double Re, double repellence) {
  const double loss = We > 0 ? 0.2 * std::pow(We, 0.83) / std::pow(Re, 0.33) : 0;
  // b^3 - 3 p b + 2 q = 0, solved by trigonometry: the larger of its positive roots, if there are any.
  const double a = 0.25 * repellence + loss, p = (We / 12 + 1) / (3 * a), q = 1 / (3 * a);
  if (q * q > p * p * p) return 1;
  return std::max(1.0, 2 * std::sqrt(p) * std::cos(std::acos(-q / (p * std::sqrt(p))) / 3));
}

double spread_pasandideh_fard(double We, double Re, double repellence) {
  return std::max(1.0, std::sqrt((We + 12) / (3 * repellence + (We > 0 ? 4 * We / std::sqrt(Re) : 0))));
}

/// Surface energy of a droplet at its maximum spread, less the dissipation during recoil and the surface
/// energy of the sphere.
double rebound_energy(double spread, double loss, double repellence) {
  return 0.25 * spread * spread * repellence - loss + 2 / (3 * spread) - 1;
}

/// The impact of a droplet whose path has the given cosine to the leaf's normal. The caller has checked the
/// surface.
Impact impact_at(double diameter, double speed, double cosine, const Wetting& leaf,
                 const ImpactSurface& surface) {
  require("diameter", diameter, 1e-6, 1e-2, "m");
  require("speed", speed, 0, 100, "m/s");
  const double normal = speed * cosine, along = speed * std::sqrt(std::max(0.0, 1 - cosine * cosine));

  Impact result;
  result.weber = weber(surface.density, normal, diameter, surface.surface_tension);
  result.reynolds = reynolds(surface.density, normal, diameter, surface.viscosity);
  result.splash_parameter = splash_parameter(result.weber, result.reynolds);
  result.maximum_spread = surface.spread_law == SpreadLaw::mao
                              ? spread_mao(result.weber, result.reynolds, leaf.repellence)
                              : spread_pasandideh_fard(result.weber, result.reynolds, leaf.repellence);
  const double loss = retraction_loss(result.maximum_spread, leaf);
  result.excess_energy =
      std::min(rebound_energy(result.maximum_spread, loss, leaf.repellence), result.weber / 12 - loss);
  const double total_weber = weber(surface.density, speed, diameter, surface.surface_tension);
  result.energy_in = total_weber / 12 + 1;

  double leaving_normal = 0, leaving_share = 0;
  if (result.splash_parameter > surface.splash_threshold) {
    result.outcome = ImpactOutcome::shatter;
    leaving_share = surface.splashed_share;
    if (leaving_share == 0) return result;
    // K is proportional to the speed to the power 5/4, so that We at the threshold is We (K_c / K)^(8/5).
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

/// A parcel that falls through layers. Size and path do not change while it hits nothing, so that its impact
/// on a leaf and its number of stem hits are the same for all layers with equal properties.
struct Falling {
  Parcel parcel;
  bool known = false;  // whether the other members are valid for the next layer
  Impact at_leaf{};
  double stem_hits = 0;
};

bool alike(const CanopyLayer& a, const CanopyLayer& b) {
  const auto leaf_and_stems = [](const CanopyLayer& layer) {
    const StemStand& stems = layer.stems;
    return std::tie(layer.leaf_angle, layer.contact_angle, stems.area, stems.diameter, stems.lean,
                    stems.collection, stems.liquid_density, stems.air_density, stems.air_viscosity);
  };
  return leaf_and_stems(a) == leaf_and_stems(b);
}

void meet(Falling& droplets, const CanopyLayer& layer, const Wetting& wetting, const ImpactSurface& surface) {
  constexpr double flattest =
      1.5;  // steepest lean of a path in the formula for stems, from straight down [rad]
  if (droplets.known) return;
  const Parcel& parcel = droplets.parcel;
  const double cosine = std::min(1.0, mean_incidence_cosine(layer.leaf_angle, parcel.angle));
  droplets.at_leaf = impact_at(parcel.diameter, parcel.speed, cosine, wetting, surface);
  droplets.stem_hits = layer.stems.area == 0 ? 0
                                             : stem_hits(layer.stems, parcel.diameter, parcel.speed,
                                                         std::min(parcel.angle, flattest));
  droplets.known = true;
}

/// Shares of a parcel that hit leaves and stems of a layer.
struct MeetingShares {
  double leaf, stem;
};

MeetingShares meeting_shares(double interception, double stem_hits) {
  if (stem_hits == 0 || interception == 1) return {interception, 0};
  const double leaves = -std::log1p(-interception), both = -std::expm1(-(leaves + stem_hits));
  return {both * leaves / (leaves + stem_hits), both * stem_hits / (leaves + stem_hits)};
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
  return spread_mao(We, Re, 1 - std::cos(require_contact_angle(contact_angle)));
}

double maximum_spread_pasandideh_fard(double We, double Re, double contact_angle) {
  require("We", We, 0, 1e300, "");
  require("Re", Re, 0, 1e300, "");
  return spread_pasandideh_fard(We, Re, 1 - std::cos(require_contact_angle(contact_angle)));
}

double excess_rebound_energy(double spread, double contact_angle) {
  require("spread", spread, 1e-6, 1e6, "");
  const Wetting leaf(contact_angle);
  return rebound_energy(spread, retraction_loss(spread, leaf), leaf.repellence);
}

Impact impact(double diameter, double speed, double incidence, double contact_angle,
              const ImpactSurface& surface) {
  check(surface);
  require("incidence", incidence, 0, right_angle, "rad");
  return impact_at(diameter, speed, std::cos(incidence), Wetting(contact_angle), surface);
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
  check(surface);
  Cascade result;
  std::vector<Falling> falling, below;
  for (const Parcel& each : droplets) falling.push_back({.parcel = each});
  for (std::size_t i = 0; i < layers.size(); ++i) {
    const CanopyLayer& layer = layers[i];
    const double interception = require("interception", layer.interception, 0, 1, "");
    const Wetting wetting(layer.contact_angle);
    const bool as_above = i > 0 && alike(layer, layers[i - 1]);
    LayerDeposit deposit;
    below.clear();
    for (Falling& each : falling) {
      each.known = each.known && as_above;
      meet(each, layer, wetting, surface);
      Parcel& parcel = each.parcel;
      const Impact& hit = each.at_leaf;
      const auto [on_leaf, on_stem] = meeting_shares(interception, each.stem_hits);
      const double met = on_leaf * parcel.volume, caught = on_stem * parcel.volume;
      const double stays = hit.retained_share * met, leaves = met - stays;
      deposit.met += met;
      deposit.retained += stays;
      (hit.outcome == ImpactOutcome::rebound ? deposit.rebounded : deposit.shattered) += leaves;
      if (stays > 0)
        deposit.droplets.push_back({parcel.diameter * std::cbrt(hit.retained_share), 0, 0, stays});
      if (leaves > 0 && hit.leaving_diameter < finest_settling) {
        result.adrift += leaves;
      } else if (leaves > 0) {
        below.push_back({.parcel = {hit.leaving_diameter, hit.leaving_speed, 0, leaves, true}});
      }
      deposit.on_stems += caught;
      parcel.volume -= met + caught;
      if (parcel.volume > 0) below.push_back(each);
    }
    std::swap(falling, below);
    result.layers.push_back(std::move(deposit));
  }
  for (const Falling& each : falling) {
    result.through.push_back(each.parcel);
    result.ground += each.parcel.volume;
    if (!each.parcel.touched) result.untouched += each.parcel.volume;
  }
  return result;
}

}  // namespace wetspan
