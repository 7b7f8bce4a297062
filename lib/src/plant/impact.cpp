#include "wetspan/plant/impact.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <optional>
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

double weber_number(double density, double speed, double diameter, double surface_tension) {
  return density * speed * speed * diameter / surface_tension;
}

double splash(double We, double Re) { return std::sqrt(We) * std::sqrt(std::sqrt(Re)); }

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
  const double loss = We > 0 ? 0.2 * std::exp(0.83 * std::log(We) - 0.33 * std::log(Re)) : 0;
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
  result.weber = weber_number(surface.density, normal, diameter, surface.surface_tension);
  result.reynolds = surface.density * normal * diameter / surface.viscosity;
  result.splash_parameter = splash(result.weber, result.reynolds);
  result.maximum_spread = surface.spread_law == SpreadLaw::mao
                              ? spread_mao(result.weber, result.reynolds, leaf.repellence)
                              : spread_pasandideh_fard(result.weber, result.reynolds, leaf.repellence);
  const double loss = retraction_loss(result.maximum_spread, leaf);
  result.excess_energy =
      std::min(rebound_energy(result.maximum_spread, loss, leaf.repellence), result.weber / 12 - loss);
  const double total_weber = weber_number(surface.density, speed, diameter, surface.surface_tension);
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
  const double leaving_along = surface.tangential_kept * along;
  result.leaving_speed = std::sqrt(leaving_normal * leaving_normal + leaving_along * leaving_along);
  result.energy_out +=
      leaving_share * weber_number(surface.density, result.leaving_speed, diameter, surface.surface_tension) /
      12;
  return result;
}

/// The fate of droplets of one size and path in a layer; shares of their volume.
struct Meeting {
  double on_leaf, on_stem;                 // hit a leaf, hit a stem
  double retained;                         // of what hits a leaf
  double retained_diameter;                // [m]
  bool rebounds;                           // rather than shatters, where not all is retained
  double leaving_diameter, leaving_speed;  // [m], [m/s]
};

/// A parcel that falls through layers. Its size and path do not change while it hits nothing, so that the
/// meeting is the same in all layers with equal properties. What leaves the leaves of such layers is then
/// alike too, and falls on as one parcel.
struct Falling {
  static constexpr std::size_t none = std::numeric_limits<std::size_t>::max();

  Parcel parcel;
  double coming = 0;  // volume that reaches the next layer from the leaves of this one
  std::optional<Meeting> meeting = std::nullopt;
  std::size_t leaving = none;  // position of the parcel that leaves leaves where this one hits them
};

bool alike(const CanopyLayer& a, const CanopyLayer& b) {
  const auto leaf_and_stems = [](const CanopyLayer& layer) {
    const StemStand& stems = layer.stems;
    return std::tie(layer.interception, layer.leaf_angle, layer.contact_angle, stems.area, stems.diameter,
                    stems.lean, stems.collection, stems.liquid_density, stems.air_density,
                    stems.air_viscosity);
  };
  return leaf_and_stems(a) == leaf_and_stems(b);
}

/// What a layer does with the droplets that fall through it.
class MeetLayer {
 public:
  MeetLayer(const CanopyLayer& layer, const ImpactSurface& surface)
      : layer_(layer),
        surface_(surface),
        wetting_(layer.contact_angle),
        leaf_hits_(-std::log1p(-require("interception", layer.interception, 0, 1, ""))) {}

  Meeting operator()(const Parcel& parcel) const {
    constexpr double flattest =
        1.5;  // steepest lean of a path in the formula for stems, from straight down [rad]
    const double cosine = std::min(1.0, mean_incidence_cosine(layer_.leaf_angle, parcel.angle));
    const Impact hit = impact_at(parcel.diameter, parcel.speed, cosine, wetting_, surface_);
    const double hits = layer_.stems.area == 0 ? 0
                                               : stem_hits(layer_.stems, parcel.diameter, parcel.speed,
                                                           std::min(parcel.angle, flattest));
    Meeting meeting{.on_leaf = layer_.interception,
                    .on_stem = 0,
                    .retained = hit.retained_share,
                    .retained_diameter = parcel.diameter,
                    .rebounds = hit.outcome == ImpactOutcome::rebound,
                    .leaving_diameter = hit.leaving_diameter,
                    .leaving_speed = hit.leaving_speed};
    if (hit.retained_share < 1) meeting.retained_diameter *= std::cbrt(hit.retained_share);
    if (hits > 0 && layer_.interception < 1) {
      const double both = -std::expm1(-(leaf_hits_ + hits)) / (leaf_hits_ + hits);
      meeting.on_leaf = both * leaf_hits_, meeting.on_stem = both * hits;
    }
    return meeting;
  }

 private:
  const CanopyLayer& layer_;
  const ImpactSurface& surface_;
  const Wetting wetting_;
  double leaf_hits_;  // mean number of leaves that a droplet hits
};

/// Passes a parcel, that at `i`, through a layer.
void pass(std::vector<Falling>& falling, std::size_t i, const MeetLayer& meet, LayerDeposit& deposit,
          double& adrift) {
  Falling& each = falling[i];
  Parcel& parcel = each.parcel;
  if (parcel.volume <= 0) return;
  if (!each.meeting) each.meeting = meet(parcel);
  const Meeting hit = *each.meeting;
  const double met = hit.on_leaf * parcel.volume, caught = hit.on_stem * parcel.volume;
  const double stays = hit.retained * met, leaves = met - stays;
  deposit.met += met;
  deposit.retained += stays;
  (hit.rebounds ? deposit.rebounded : deposit.shattered) += leaves;
  if (stays > 0) deposit.droplets.push_back({hit.retained_diameter, 0, 0, stays});
  deposit.on_stems += caught;
  parcel.volume -= met + caught;
  if (leaves <= 0) return;
  if (hit.leaving_diameter < finest_settling) {
    adrift += leaves;
    return;
  }
  if (each.leaving == Falling::none) {
    each.leaving = falling.size();
    falling.push_back({.parcel = {hit.leaving_diameter, hit.leaving_speed, 0, 0, true}});  // ends `each`
  }
  falling[falling[i].leaving].coming += leaves;
}

}  // namespace

double weber(double density, double speed, double diameter, double surface_tension) {
  require("surface_tension", surface_tension, 1e-9, 1e9, "N/m");
  return weber_number(density, speed, diameter, surface_tension);
}

double reynolds(double density, double speed, double diameter, double viscosity) {
  require("viscosity", viscosity, 1e-12, 1e9, "Pa s");
  return density * speed * diameter / viscosity;
}

double splash_parameter(double We, double Re) {
  require("We", We, 0, 1e300, "");
  require("Re", Re, 0, 1e300, "");
  return splash(We, Re);
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
  std::vector<Falling> falling;
  falling.reserve(2 * droplets.size());
  for (const Parcel& each : droplets) falling.push_back({.parcel = each});
  for (std::size_t i = 0; i < layers.size(); ++i) {
    if (i > 0 && !alike(layers[i], layers[i - 1])) {
      for (Falling& each : falling) each.meeting.reset(), each.leaving = Falling::none;
    }
    const MeetLayer meet(layers[i], surface);
    LayerDeposit& deposit = result.layers.emplace_back();
    deposit.droplets.reserve(falling.size());
    for (std::size_t j = 0, count = falling.size(); j < count; ++j) {
      pass(falling, j, meet, deposit, result.adrift);
    }
    for (Falling& each : falling) each.parcel.volume += std::exchange(each.coming, 0);
  }
  for (const Falling& each : falling) {
    if (each.parcel.volume <= 0) continue;
    result.through.push_back(each.parcel);
    result.ground += each.parcel.volume;
    if (!each.parcel.touched) result.untouched += each.parcel.volume;
  }
  return result;
}

}  // namespace wetspan
