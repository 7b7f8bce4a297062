// The rates of change of drying crops on their clocks, in vector lanes.
//
// The equations are those of plant/leaf_equations.hpp, plant/uptake_equations.hpp and house_equations.hpp,
// over FittedAir. This file adds what is particular to the clocks. All droplets of a side evaporate behind
// one boundary layer of conductance g; with D shell the conductance of their diffusion shells,
//
//   E = D shell (rho_sat - rho_s) = g (rho_s - rho_a),   so   rho_sat - rho_s = deficit g / (g + D shell)
//
//   d clock/dt = D (rho_sat - rho_s) / (density x clock unit)
//
// where rho_s is the vapour density just outside the shells. The variable of a film on stems or bench is the
// cube root of the water that is left, which decreases at a constant rate. Derivation:
// docs/science/clocks.md. Symbols as in plant/leaf_equations.hpp; the state's entries are in
// clock_kernel.hpp.
#pragma once

#include "clock_droplets.hpp"

namespace wetspan::clocks {
inline namespace WETSPAN_LANES_NAMESPACE {
namespace {  // in the kernel alone

template <class L>
using State = std::array<typename L::R, most_entries>;

/// The crops in the lanes: their constants, and the current segment of the record of their air.
template <class L>
struct Crops {
  using R = typename L::R;
  std::size_t layers = 1;
  Terms<R> terms{};
  std::array<LayerTerms<R>, most_layers> layer{};
  LeafSide<L> sides[most_layers][2] = {};
  RecordedAir<R> air_value{},
      air_slope{};  // values at the start of the current segment of the record; rates of change [1/s]
  R segment_start{};
};

/// Further results of an evaluation of the rates.
template <class L>
struct Evaluated {
  typename L::R settling[most_layers] = {};  // rate at which each leaf's temperature settles [1/s]
  typename L::R unfit{};                     // below 0 if the clocks or the polynomials are not valid
};

/// The air of the record at a time since the spray.
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

/// Distance of temperatures from the limits of the polynomials [K]; below 0 outside.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R within_fits(const R& temperature) {
  return L::min(temperature - AirFits::coldest, AirFits::hottest - temperature);
}

/// The surface of a leaf. The air at it is saturated, or as moist as the free air if `saturated` is false.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline LeafSurface<R> surface_of(const FittedAir<L>& of, const LayerTerms<R>& layer,
                                                        const R& temperature, bool saturated,
                                                        const FreeAir<R>& air) {
  const R pressure = of.saturation_pressure(of.place(temperature));
  return leaf_surface<L>(of, layer.leaf, temperature, pressure, saturated ? pressure : air.vapour_pressure,
                         air);
}

/// Terms for the evaporation of films.
template <class L>
struct FilmAir {
  using R = typename L::R;
  AirDeficit<R> deficit;
  CylinderAir<R> cylinder;
  R permeance, most_dissolved;  // of stems, which have the temperature of the air
};

/// Wet share of a film: a film covers (left)^(2/3) of its surface, the square of the cube root.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R wet_share_of_film(const R& root) {
  return L::min(squared(root), 1.0);
}
/// Rate of the cube root of a film whose whole surface would evaporate at `rate` [kg/m2/s]. It does not
/// depend on what is left, because the wet share is the square of the root. A film that has taken up vapour
/// (root above 1) covers no more than its surface.
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R root_rate(const R& root, const R& rate, const R& by_mass) {
  const R one = L::all(1.0);
  const R thin = L::select(root > L::all(0.0), (-1.0 / 3.0) * rate * by_mass, L::all(0.0));
  const auto thick = root > one;
  if (!L::any(thick)) return thin;
  return thin * L::select(thick, L::inverse(squared(root)), one);
}

/// Sets the rates of a layer's stems; returns their evaporation per area of bench [kg/m2/s].
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R stem_rates(const FittedAir<L>& of, const LayerTerms<R>& layer, std::size_t k,
                                           const SprayedAir<R>& air, const FilmAir<L>& film,
                                           const State<L>& y, State<L>& dy, R& unfit) {
  const R& root = y[entry_of(k, stem_water)];
  const R wet = wet_share_of_film<L>(root);
  const CylinderLayer<R> around = cylinder_layer_of<L>(of, layer.stem, film.cylinder);
  unfit = L::min(unfit, L::select(wet > L::all(0.0), 1.0 - around.root_turbulence, L::all(1.0)));
  const R rate = layer.stems * evaporation_of_film<L>(film.deficit, around.heat, around.vapour,
                                                      layer.stem_light * air.shortwave);
  dy[entry_of(k, stem_water)] = root_rate<L>(root, rate, layer.by_on_stem);
  const R& left = y[entry_of(k, stem_active)];
  const R depth = layer.stem_depth * squared(root) * L::max(root, 0.0);
  dy[entry_of(k, stem_active)] =
      -left * uptake_rate<L>(film.permeance, film.most_dissolved, layer.stem_fresh, left, wet, depth);
  return wet * rate;
}

/// Sets the rates of the films on bench and stems; returns their evaporation per area of bench [kg/m2/s].
template <class L, class R = typename L::R>
[[gnu::always_inline]] inline R films_rates(const FittedAir<L>& of, const Crops<L>& crops,
                                            const SprayedAir<R>& air, const State<L>& y, State<L>& dy,
                                            R& unfit) {
  const Terms<R>& terms = crops.terms;
  const R permeance = arrhenius<L>(of, terms.uptake.permeance, air.by_temperature);
  dy[stem_exposure] = permeance * terms.uptake.mobile_over_permeance;
  R left = squared(y[bench_left]);
  for (std::size_t k = 0; k < crops.layers; ++k) left += squared(y[entry_of(k, stem_water)]);
  if (!L::any(left > L::all(0.0))) {
    dy[bench_left] = R{};
    for (std::size_t k = 0; k < crops.layers; ++k) {
      dy[entry_of(k, stem_water)] = dy[entry_of(k, stem_active)] = R{};
    }
    return R{};
  }
  const FilmAir<L> film{.deficit = air_deficit<L>(of, air.free, air.by_temperature, air.latent),
                        .cylinder = cylinder_air<L>(of, air.free),
                        .permeance = permeance * terms.stem_cuticle,
                        .most_dissolved = arrhenius<L>(of, terms.uptake.most_dissolved, air.by_temperature)};
  R rate = terms.bench * evaporation_of_film<L>(film.deficit, terms.bench_conductance * air.volumetric_heat,
                                                terms.bench_conductance, R{});
  dy[bench_left] = root_rate<L>(y[bench_left], rate, terms.by_on_bench);
  rate *= wet_share_of_film<L>(y[bench_left]);
  for (std::size_t k = 0; k < crops.layers; ++k) {
    rate += stem_rates(of, crops.layer[k], k, air, film, y, dy, unfit);
  }
  return rate;
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
  const R sun = air.shortwave * layer.leaf.sun;
  const Quotient<R> stomata = stomata_quotient<L>(terms.stomata, its.through[1], sun, bare[1]);
  const R depths[2] = {layer.landed[0] * y[water_of(k, 0)], layer.landed[1] * y[water_of(k, 1)]};
  const R capacity = L::fma(terms.water_capacity, depths[0] + depths[1], terms.leaf_capacity);
  constexpr double no_layer = 1e-50;  // [m/s]: lower bound; see Quotient
  const R upper_sum = L::max(shells[0] + its.through[0], no_layer);
  const R lower_sum = L::max(shells[1] + its.through[1], no_layer);
  // one division for all quotients
  const R sums = upper_sum * lower_sum, others = capacity * stomata.divisor;
  const R by_all = L::inverse(sums * others), by_sums = by_all * others, by_others = by_all * sums;
  const R by_capacity = by_others * stomata.divisor, open = stomata.dividend * (by_others * capacity);
  // of the vapour density, between droplet and the air outside its shell, over the deficit
  const R fall[2] = {its.through[0] * by_sums * lower_sum, its.through[1] * by_sums * upper_sum};
  const R gives[2] = {shells[0] * fall[0], shells[1] * fall[1]};  // conductances of all droplets [m/s]
  const R conductance = gives[0] + gives[1], evaporation = conductance * its.deficit;
  const R by_density = its.diffusivity * terms.by_density * its.deficit;
  dy[entry_of(k, upper_clock)] = by_density * fall[0] * layer.by_clock_unit[0];
  dy[entry_of(k, lower_clock)] = by_density * fall[1] * layer.by_clock_unit[1];

  const R vapour_flux = L::fma(open, L::max(its.deficit, 0.0), evaporation);
  dy[entry_of(k, warmth)] =
      heat_gain<L>(layer.leaf, its, air.free, sun, vapour_flux) * by_capacity * (1.0 / warmth_unit);
  // rate at which the leaf's temperature settles: the decrease of its gain with temperature
  const R slope = its.saturated * its.by_temperature *
                  L::fma(its.latent * its.by_temperature, L::all(1.0 / constants::gas_constant_water), -1.0);
  const R cube = squared(its.temperature) * its.temperature;
  const R stiffness = its.heat + 4.0 * (layer.leaf.above + layer.leaf.below) * cube +
                      its.latent * slope * (conductance + open);
  settling = L::max(stiffness * by_capacity, 1.0 / longest_step);

  const R permeance = arrhenius<L>(of, layer.permeance, its.by_temperature);
  const R most = arrhenius<L>(of, terms.uptake.most_dissolved, its.by_temperature);
  dy[entry_of(k, exposure)] = permeance * terms.uptake.mobile_over_permeance;
  const auto uptake = [&](std::size_t below) {
    return uptake_quotient<L>(permeance, most, layer.fresh[below], y[active_of(k, below)], 1.0 - bare[below],
                              depths[below]);
  };
  const Quotient<R> from_side[2] = {uptake(0), uptake(1)};
  const R by_both = L::inverse(from_side[0].divisor * from_side[1].divisor);
  for (std::size_t below = 0; below < 2; ++below) {
    dy[water_of(k, below)] = -gives[below] * its.deficit * layer.by_landed[below];
    dy[active_of(k, below)] =
        -y[active_of(k, below)] * (from_side[below].dividend * (by_both * from_side[1 - below].divisor));
  }
  return layer.area * evaporation;
}

/// Rates of change of the state [1/s].
template <class L, class R = typename L::R>
void rates(const AirFits& fits, const Crops<L>& crops, const State<L>& y, State<L>& dy, Evaluated<L>& told) {
  const Terms<R>& terms = crops.terms;
  const HouseTerms<R>& house = terms.house;
  const FittedAir<L> of{fits, terms.diffusion};
  // films still hold a part of the vapour that the state counts for the house
  const R& bench_root = y[bench_left];
  R films = terms.bench_share * squared(bench_root) * bench_root;
  for (std::size_t k = 0; k < crops.layers; ++k) {
    const R& root = y[entry_of(k, stem_water)];
    films = L::fma(crops.layer[k].stem_share * squared(root), root, films);
  }
  const SprayedAir<R> air = sprayed_air<L>(of, house, recorded_air(crops, y[elapsed]),
                                           y[house_vapour] - house.answers * films, y[house_heat]);
  told.unfit = L::min(told.unfit, L::min(within_fits<L>(air.free.temperature), 1.0 - air.free.moisture));

  // Films come before leaves, and leaves in two passes: a processor overlaps one's chain of operations with
  // the next one's.
  const R from_films = films_rates(of, crops, air, y, dy, told.unfit);
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

  const HouseRates<R> changes = house_rates<L>(of, house, air, y[house_heat], from_leaves + from_films);
  const R came = from_leaves * house.by_came;
  dy[carried_off] = changes.leaving + (1.0 - house.answers) * came;
  dy[house_vapour] = house.answers * came - changes.leaving;
  dy[house_heat] = changes.heat;
}

}  // namespace
}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan::clocks
