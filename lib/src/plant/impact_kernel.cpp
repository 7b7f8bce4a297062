// The kernel that computes what several droplets meet in a layer of a canopy. Like clock_kernel.cpp it is
// compiled once for each instruction set: WETSPAN_WIDTH is the number of lanes; WETSPAN_LANES_NAMESPACE and
// WETSPAN_IMPACT_KERNEL distinguish the copies.
//
// This file must not emit a function that the rest of the library shares (DEVELOPERS.md).

#ifndef WETSPAN_WIDTH
#define WETSPAN_WIDTH 2
#define WETSPAN_LANES_NAMESPACE baseline_lanes
#define WETSPAN_IMPACT_KERNEL baseline_impacts
#endif

#include "impact_kernel.hpp"

namespace wetspan::impacts {
inline namespace WETSPAN_LANES_NAMESPACE {
namespace {

/// (1 - e^-x) / x for x >= 0. The rounding of e^-x cancels, since x is taken from it again.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R mean_decay(const R& x) {
  const R left = L::exp(-x), one = L::all(1.0);
  return L::select(left < one, (1.0 - left) * L::inverse(-L::log(left)), one);
}

template <class L>
class MeetLayer {
  using R = typename L::R;

 public:
  explicit MeetLayer(const Layer& layer) : layer_(layer) {}

  /// Writes the meetings of the droplets from `first` on, one in each lane.
  template <int Width>
  [[gnu::always_inline]] void operator()(std::size_t first, std::span<const Parcel> droplets,
                                         std::span<const double> stem_hits,
                                         std::span<Meeting> meetings) const {
    const std::size_t count = droplets.size() - first;
    R diameter{}, speed{}, angle{}, hits{};
    for (int lane = 0; lane < Width; ++lane) {  // idle lanes repeat a droplet
      const auto own = static_cast<std::size_t>(lane);
      const std::size_t i = first + (own < count ? own : 0);
      L::set(diameter, lane, droplets[i].diameter);
      L::set(speed, lane, droplets[i].speed);
      L::set(angle, lane, droplets[i].angle);
      if (!stem_hits.empty()) L::set(hits, lane, stem_hits[i]);
    }
    const SineCosine<R> path = sine_cosine<L>(angle);
    const R cosine = L::min(incidence_cosine<L>({layer_.leaf_sine, layer_.leaf_cosine}, path), L::all(1.0));
    const ImpactOf<L> hit = impact_of<L>(diameter, speed, cosine, layer_.leaf, layer_.surface);
    if (stem_hits.empty()) hits = on_stems(diameter, speed, path);
    const R stays = L::select(hit.retained_share < L::all(1.0), L::cbrt(hit.retained_share), L::all(1.0));
    const R both = mean_decay<L>(layer_.leaf_hits + hits);
    for (int lane = 0; lane < Width && static_cast<std::size_t>(lane) < count; ++lane) {
      const double struck = L::get(hits, lane), shares = L::get(both, lane);
      const bool stems_too = struck > 0.0 && layer_.interception < 1.0;
      meetings[first + static_cast<std::size_t>(lane)] = {
          .on_leaf = stems_too ? shares * layer_.leaf_hits : layer_.interception,
          .on_stem = stems_too ? shares * struck : 0.0,
          .retained = L::get(hit.retained_share, lane),
          .retained_diameter = L::get(diameter * stays, lane),
          .leaving_diameter = L::get(hit.leaving_diameter, lane),
          .leaving_speed = L::get(hit.leaving_speed, lane),
          .rebounds = L::holds(hit.rebounds, lane)};
    }
  }

 private:
  [[gnu::always_inline]] R on_stems(const R& diameter, const R& speed, const SineCosine<R>& path) const {
    if (layer_.stems.area == 0.0) return L::all(0.0);
    return hits_of_stems<L>(layer_.stems, speed, no_flatter(path), [&](const R& across) {
      return stem_efficiency<L>(layer_.stems, diameter, across);
    });
  }
  /// The formula for stems holds up to 1.5 rad from straight down.
  [[gnu::always_inline]] static SineCosine<R> no_flatter(const SineCosine<R>& path) {
    return {L::min(path.sine, L::all(__builtin_sin(flattest))),
            L::max(path.cosine, L::all(__builtin_cos(flattest)))};
  }

  const Layer& layer_;
};

void meet(const Layer& layer, std::span<const Parcel> droplets, std::span<const double> stem_hits,
          std::span<Meeting> meetings) {
  constexpr int width = WETSPAN_WIDTH;
  const MeetLayer<Lanes<width>> meet_layer(layer);
  for (std::size_t first = 0; first < droplets.size(); first += width) {
    meet_layer.template operator()<width>(first, droplets, stem_hits, meetings);
  }
}

}  // namespace
}  // namespace WETSPAN_LANES_NAMESPACE

extern const Kernel WETSPAN_IMPACT_KERNEL;
const Kernel WETSPAN_IMPACT_KERNEL{meet};

}  // namespace wetspan::impacts
