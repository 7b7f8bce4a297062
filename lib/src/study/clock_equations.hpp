// The rates of change of drying crops on their clocks, in vector lanes.
//
// The equations are those of plant/leaf_equations.hpp, plant/uptake_equations.hpp and house_equations.hpp,
// over FittedAir. Here stands what is particular to the clocks. All droplets of a side evaporate behind one
// boundary layer of conductance g; with D shell the conductance of their diffusion shells,
//
//   E = D shell (rho_sat - rho_s) = g (rho_s - rho_a),   so   rho_sat - rho_s = deficit g / (g + D shell)
//
//   d clock/dt = D (rho_sat - rho_s) / (density x clock unit)
//
// where rho_s is the vapour density just outside the shells. Films on stems and bench are followed by the
// cube root of the water that is left, which falls evenly to the end. Derivation: docs/science/clocks.md.
// Symbols as in plant/leaf_equations.hpp; the state's entries are in clock_kernel.hpp.
#pragma once

#include "clock_droplets.hpp"

namespace wetspan::clocks {
inline namespace WETSPAN_LANES_NAMESPACE {
namespace {  // in the kernel alone

template <class L>
using State = std::array<typename L::R, most_entries>;

/// The crops in the lanes: what stands still between events, and where each is in its record of the air.
template <class L>
struct Crops {
  using R = typename L::R;
  std::size_t layers = 1;
  Terms<R> terms{};
  std::array<LayerTerms<R>, most_layers> layer{};
  LeafSide<L> sides[most_layers][2] = {};
  R wet_part[most_layers] = {};             // liquid of the layer's wet classes, over all of it
  RecordedAir<R> air_value{}, air_slope{};  // where the present segment of the record begins; by time [1/s]
  R segment_start{};
};

/// What an evaluation of the rates tells besides.
template <class L>
struct Evaluated {
  typename L::R settling[most_layers] = {};  // of each leaf's temperature [1/s]
  typename L::R unfit{};                     // below 0 where the clocks or the polynomials do not hold
};

/// The air's record at a time since the spray.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline RecordedAir<R> recorded_air(const Crops<L>& crops, const R& time) {
  const R since = time - crops.segment_start;
  const auto at = [&](R RecordedAir<R>::* member) {
    return L::fma(crops.air_slope.*member, since, crops.air_value.*member);
  };
  using Air = RecordedAir<R>;
  return {at(&Air::temperature), at(&Air::vapour_pressure),     at(&Air::pressure),   at(&Air::speed),
          at(&Air::shortwave),   at(&Air::radiant_temperature), at(&Air::air_changes)};
}

/// How far temperatures are within the polynomials [K]: below 0 outside.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R within_fits(const R& temperature) {
  return L::min(temperature - AirFits::coldest, AirFits::hottest - temperature);
}

/// The surface of a leaf whose air is saturated, or with `saturated` false as moist as the free air.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline LeafSurface<R> surface_of(const FittedAir<L>& of, const LayerTerms<R>& layer,
                                                        const R& temperature, bool saturated,
                                                        const FreeAir<R>& air) {
  const R pressure = of.saturation_pressure(of.place(temperature));
  return leaf_surface<L>(of, layer.leaf, temperature, pressure, saturated ? pressure : air.vapour_pressure,
                         air);
}

/// Evaporation per area of bench [kg/m2/s] of the films on stems and on the bench.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline std::array<R, 2> films_evaporate(const FittedAir<L>& of, const Terms<R>& terms,
                                                               const SprayedAir<R>& air, const R& stem_wet,
                                                               const R& bench_wet, R& unfit) {
  if (!L::any(stem_wet + bench_wet > L::all(0.0))) return {};
  const AirDeficit<R> deficit = air_deficit<L>(of, air.free, air.by_temperature, air.latent);
  const CylinderLayer<R> stem = cylinder_layer_of<L>(of, terms.stem, air.free);
  unfit = L::min(unfit, L::select(stem_wet > L::all(0.0), 1.0 - stem.root_turbulence, L::all(1.0)));
  return {terms.stems * stem_wet * evaporation_of_film<L>(deficit, stem.heat, stem.vapour),
          terms.bench * bench_wet *
              evaporation_of_film<L>(deficit, terms.bench_conductance * air.volumetric_heat,
                                     terms.bench_conductance)};
}

/// Sets the rates of a leaf layer; returns its evaporation per area of bench [kg/m2/s].
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R leaf_rates(const FittedAir<L>& of, const Crops<L>& crops, std::size_t k,
                                           const LeafSurface<R>& its, const SprayedAir<R>& air,
                                           const State<L>& y, State<L>& dy, R& settling) {
  const Terms<R>& terms = crops.terms;
  const LayerTerms<R>& layer = crops.layer[k];
  R shells[2], bare[2];
  for (std::size_t below = 0; below < 2; ++below) {
    const SideCubics<L>& cubics = crops.sides[k][below].now;
    const R x = cubics.place(y[clock_of(k, below)]);
    shells[below] = SideCubics<L>::at(cubics.shell, x) * its.diffusivity;
    bare[below] = of.exponential(-SideCubics<L>::at(cubics.disc, x));
  }
  constexpr double no_layer = 1e-150;  // its square is no zero either
  const R upper_sum = L::max(shells[0] + its.through[0], no_layer);
  const R lower_sum = L::max(shells[1] + its.through[1], no_layer);
  const R by_sums = L::inverse(upper_sum * lower_sum);
  // of the vapour density, between droplet and the air outside its shell, over the deficit
  const R fall[2] = {its.through[0] * by_sums * lower_sum, its.through[1] * by_sums * upper_sum};
  const R conductance = L::fma(shells[0], fall[0], shells[1] * fall[1]);  // of all droplets [m/s]
  const R evaporation = conductance * its.deficit;
  const R by_density = its.diffusivity * terms.by_density * its.deficit;
  dy[entry_of(k, upper_clock)] = by_density * fall[0] * layer.by_clock_unit[0];
  dy[entry_of(k, lower_clock)] = by_density * fall[1] * layer.by_clock_unit[1];
  dy[entry_of(k, water)] = -evaporation * layer.by_landed;

  const R sun = air.shortwave * layer.leaf.sun;
  const R open = stomata_in_series<L>(terms.stomata, its.through[1], sun, bare[1]);
  const R depth = layer.landed * y[entry_of(k, water)];
  const R by_capacity = L::inverse(L::fma(terms.water_capacity, depth, terms.leaf_capacity));
  const R vapour_flux = L::fma(open, L::max(its.deficit, 0.0), evaporation);
  dy[entry_of(k, warmth)] =
      heat_gain<L>(layer.leaf, its, air.free, sun, vapour_flux) * by_capacity * (1.0 / warmth_unit);
  // how fast the leaf's temperature settles: the fall of its gain with temperature
  const R slope = its.saturated * its.by_temperature *
                  L::fma(its.latent * its.by_temperature, L::all(1.0 / constants::gas_constant_water), -1.0);
  const R cube = squared(its.temperature) * its.temperature;
  const R stiffness = its.heat + 4.0 * (layer.leaf.above + layer.leaf.below) * cube +
                      its.latent * slope * (conductance + open);
  settling = L::max(stiffness * by_capacity, 1.0 / longest_step);

  const R left = y[entry_of(k, remains)];
  dy[entry_of(k, remains)] =
      -layer.deposit.takes_up * left *
      uptake_rate<L>(layer.deposit, arrhenius<L>(of, terms.uptake.permeance, its.by_temperature),
                     arrhenius<L>(of, terms.uptake.solubility, its.by_temperature), left, crops.wet_part[k],
                     2.0 - bare[0] - bare[1], depth);
  return layer.area * evaporation;
}

/// Rates by time [1/s].
template <class L, class R = typename L::R>
void rates(const AirFits& fits, const Crops<L>& crops, const State<L>& y, State<L>& dy, Evaluated<L>& told) {
  const Terms<R>& terms = crops.terms;
  const HouseTerms<R>& house = terms.house;
  const FittedAir<L> of{fits, terms.diffusion};
  // of the vapour that the state counts for the house, films still hold a part
  const R stem_square = squared(y[stem_left]), bench_square = squared(y[bench_left]);
  const R films =
      L::fma(terms.stem_share * stem_square, y[stem_left], terms.bench_share * bench_square * y[bench_left]);
  const SprayedAir<R> air = sprayed_air<L>(of, house, recorded_air(crops, y[elapsed]),
                                           y[house_vapour] - house.answers * films, y[house_heat]);
  told.unfit = L::min(told.unfit, L::min(within_fits<L>(air.free.temperature), 1.0 - air.free.moisture));

  const R stem_wet = L::min(stem_square, 1.0), bench_wet = L::min(bench_square, 1.0);
  const auto [from_stems, from_bench] = films_evaporate(of, terms, air, stem_wet, bench_wet, told.unfit);

  // leaf by leaf in two passes, so that the leaves' chains of operations run beside each other
  LeafSurface<R> leaf[most_layers];
  for (std::size_t k = 0; k < crops.layers; ++k) {
    leaf[k] = surface_of(of, crops.layer[k], L::fma(y[entry_of(k, warmth)], L::all(warmth_unit), terms.base),
                         true, air.free);
    told.unfit = L::min(told.unfit, L::min(L::min(leaf[k].deficit, 1.0 - leaf[k].moisture),
                                           within_fits<L>(leaf[k].temperature)));
  }
  R from_leaves{};  // evaporation per area of bench [kg/m2/s]
  for (std::size_t k = 0; k < crops.layers; ++k) {
    from_leaves += leaf_rates(of, crops, k, leaf[k], air, y, dy, told.settling[k]);
  }
  dy[elapsed] = L::all(1.0);
  dy[warmth_sum] = y[entry_of(0, warmth)];

  // cube roots fall evenly, whatever is left
  constexpr double no_film = 1e-100;  // its square is no zero either
  const R of_stem = L::max(stem_square, no_film), of_bench = L::max(bench_square, no_film);
  const R by_squares = (1.0 / 3.0) * L::inverse(of_stem * of_bench);
  dy[stem_left] = -from_stems * terms.by_on_stem * by_squares * of_bench;
  dy[bench_left] = -from_bench * terms.by_on_bench * by_squares * of_stem;
  dy[stem_remains] =
      -terms.stem_deposit.takes_up * y[stem_remains] *
      uptake_rate<L>(terms.stem_deposit,
                     arrhenius<L>(of, terms.uptake.permeance, air.by_temperature) * terms.stem_cuticle,
                     arrhenius<L>(of, terms.uptake.solubility, air.by_temperature), y[stem_remains], stem_wet,
                     stem_wet, terms.stem_depth * stem_square * L::max(y[stem_left], 0.0));

  const HouseRates<R> changes =
      house_rates<L>(of, house, air, y[house_heat], from_leaves + from_stems + from_bench);
  const R came = from_leaves * house.by_came;
  dy[carried_off] = changes.leaving + (1.0 - house.answers) * came;
  dy[house_vapour] = house.answers * came - changes.leaving;
  dy[house_heat] = changes.heat;
}

}  // namespace
}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan::clocks
