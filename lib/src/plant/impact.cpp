#include "wetspan/plant/impact.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <optional>
#include <tuple>
#include <utility>

#include "../require.hpp"
#include "impact_equations.hpp"
#include "impact_kernel.hpp"

namespace wetspan {
namespace {

using impacts::flattest, impacts::Meeting;
using Lane = Lanes<1>;

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

Wetting wetting(double contact_angle) {
  const double repellence = 1 - std::cos(require_contact_angle(contact_angle));
  return {.repellence = repellence, .retraction = 0.12 * std::pow(repellence, 0.63)};
}

/// A parcel that falls through layers. Its size and path do not change until it hits something. Its impacts
/// are therefore the same in all layers with equal properties, and the droplets that leave the leaves of
/// these layers are also the same and continue as one parcel.
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

/// Computes the meetings of the parcels that have none yet.
class MeetLayers {
 public:
  MeetLayers(const ImpactSurface& surface, Instructions instructions)
      : surface_(surface), kernel_(impacts::kernel(instructions)) {}

  void operator()(std::vector<Falling>& falling, const CanopyLayer& layer) {
    which_.clear(), droplets_.clear(), hits_.clear();
    for (std::size_t i = 0; i < falling.size(); ++i) {
      if (falling[i].meeting || falling[i].parcel.volume <= 0) continue;
      which_.push_back(i), droplets_.push_back(falling[i].parcel);
    }
    if (which_.empty()) return;
    if (layer.stems.area > 0 && layer.stems.collection != Collection::langmuir_blodgett) {
      for (const Parcel& each : droplets_) {
        hits_.push_back(stem_hits(layer.stems, each.diameter, each.speed, std::min(each.angle, flattest)));
      }
    }
    meetings_.resize(which_.size());
    kernel_.meet({.interception = layer.interception,
                  .leaf_hits = -std::log1p(-layer.interception),
                  .leaf_sine = std::sin(layer.leaf_angle),
                  .leaf_cosine = std::cos(layer.leaf_angle),
                  .leaf = wetting(layer.contact_angle),
                  .surface = surface_,
                  .stems = layer.stems},
                 droplets_, hits_, meetings_);
    for (std::size_t i = 0; i < which_.size(); ++i) falling[which_[i]].meeting = meetings_[i];
  }

 private:
  const ImpactSurface& surface_;
  const impacts::Kernel& kernel_;
  std::vector<std::size_t> which_;  // of the falling parcels
  std::vector<Parcel> droplets_;
  std::vector<double> hits_;
  std::vector<Meeting> meetings_;
};

/// Passes a parcel, that at `i`, through a layer.
void pass(std::vector<Falling>& falling, std::size_t i, LayerDeposit& deposit, double& adrift) {
  Falling& each = falling[i];
  Parcel& parcel = each.parcel;
  if (parcel.volume <= 0) return;
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

void check(const std::vector<Parcel>& droplets, bool stems) {
  const double largest = stems ? 6e-3 : 1e-2;
  for (const Parcel& each : droplets) {
    require("volume", each.volume, 0, 1e300, "");
    require("angle", each.angle, 0, right_angle, "rad");
    if (each.volume <= 0) continue;
    require("diameter", each.diameter, 1e-6, largest, "m");
    require("speed", each.speed, 0, 100, "m/s");
  }
}

void check(const CanopyLayer& layer) {
  require("interception", layer.interception, 0, 1, "");
  require("leaf_angle", layer.leaf_angle, 0, right_angle, "rad");
  require_contact_angle(layer.contact_angle);
  if (layer.stems.area != 0) stem_hits(layer.stems, 1e-4, 1, 0);  // refuses an impossible stand
}

}  // namespace

namespace impacts {

extern const Kernel baseline_impacts;
#ifdef WETSPAN_X86_KERNELS
extern const Kernel avx2_impacts, avx512_impacts;
#endif

const Kernel& kernel(Instructions instructions) {
#ifdef WETSPAN_X86_KERNELS
  if (instructions == Instructions::avx2) return avx2_impacts;
  if (instructions == Instructions::avx512) return avx512_impacts;
#endif
  (void)instructions;
  return baseline_impacts;
}

}  // namespace impacts

Impact impact(double diameter, double speed, double incidence, double contact_angle,
              const ImpactSurface& surface) {
  check(surface);
  require("incidence", incidence, 0, right_angle, "rad");
  require("diameter", diameter, 1e-6, 1e-2, "m");
  require("speed", speed, 0, 100, "m/s");
  const ImpactOf<Lane> hit =
      impact_of<Lane>(diameter, speed, std::cos(incidence), wetting(contact_angle), surface);
  return {.outcome = hit.shatters   ? ImpactOutcome::shatter
                     : hit.rebounds ? ImpactOutcome::rebound
                                    : ImpactOutcome::stick,
          .weber = hit.weber,
          .reynolds = hit.reynolds,
          .splash_parameter = hit.splash_parameter,
          .maximum_spread = hit.maximum_spread,
          .excess_energy = hit.excess_energy,
          .retained_share = hit.retained_share,
          .leaving_diameter = hit.leaving_diameter,
          .leaving_number = hit.leaving_number,
          .leaving_speed = hit.leaving_speed,
          .energy_in = hit.energy_in,
          .energy_out = hit.energy_out};
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
  return incidence_cosine<Lane>({std::sin(leaf_angle), std::cos(leaf_angle)}, sine_cosine<Lane>(path_angle));
}

Cascade cascade(const std::vector<Parcel>& droplets, const std::vector<CanopyLayer>& layers,
                const ImpactSurface& surface, std::optional<Instructions> instructions) {
  require("number of layers", static_cast<double>(layers.size()), 0, 16, "");
  for (const CanopyLayer& layer : layers) check(layer);
  check(droplets, std::any_of(layers.begin(), layers.end(),
                              [](const CanopyLayer& layer) { return layer.stems.area > 0; }));
  check(surface);
  if (instructions) require_instructions(*instructions);
  MeetLayers meet(surface, instructions.value_or(instructions_here().back()));
  Cascade result;
  std::vector<Falling> falling;
  falling.reserve(2 * droplets.size());
  for (const Parcel& each : droplets) falling.push_back({.parcel = each});
  for (std::size_t i = 0; i < layers.size(); ++i) {
    if (i > 0 && !alike(layers[i], layers[i - 1])) {
      for (Falling& each : falling) each.meeting.reset(), each.leaving = Falling::none;
    }
    meet(falling, layers[i]);
    LayerDeposit& deposit = result.layers.emplace_back();
    deposit.droplets.reserve(falling.size());
    for (std::size_t j = 0, count = falling.size(); j < count; ++j) {
      pass(falling, j, deposit, result.adrift);
    }
    for (Falling& each : falling) each.parcel.volume += std::exchange(each.coming, 0);
  }
  result.through.reserve(falling.size());
  for (const Falling& each : falling) {
    if (each.parcel.volume <= 0) continue;
    result.through.push_back(each.parcel);
    result.ground += each.parcel.volume;
    if (!each.parcel.touched) result.untouched += each.parcel.volume;
  }
  return result;
}

}  // namespace wetspan
