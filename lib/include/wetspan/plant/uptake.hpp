// Uptake of the active ingredient by leaf, stem and root.
//
// On leaf and stem, per area of contact, L lies in the liquid, B is mobile (in the wax, amorphous, in
// formulants) and R is locked up in crystals, each in kg/m2; h is the depth of the liquid:
//
//   wet        dL/dt = -P(T) c        c = min(L / h, sigma S(T))
//   it dries   B += dB,  R += L - dB,  L = 0        dB = Z / (1 + Z / D_c),  Z = x_m L
//   always     dB/dt = -k_B(T) B
//   dry        dR/dt = -k_loss R, lost
//   wet again  L += phi R,  R -= phi R        phi = min(1, S(T) w / R),  w the depth of the water
//   uptake     P c + k_B B
//
// A liquid that dries may hold more than the solubility; water that meets crystals takes up no more than it.
// Uptake goes with mass at low deposits and falls behind at high ones, falls when the liquid has dried, and
// resumes when it is wetted again. Of a large deposit water takes a smaller share back into solution, so
// re-wetting pays at low rates and hardly at high ones. The law's form is an assumption (grade D) held
// against what is published in docs/science/uptake.md; its constants stand with their evidence in
// parameters.hpp.
#pragma once

#include "wetspan/parameters.hpp"

namespace wetspan {

/// Permeance [m/s] of the reference leaf cuticle for a non-electrolyte (Kerler and Schonherr 1988, from
/// memory): log K_cw = 0.057 + 0.970 log K_ow; log P = 238 log K_cw / V_x - 12.48, V_x in cm3/mol; Citrus, 25
/// degC.
double cuticle_permeance(double log_kow, double molar_volume);

/// Permeance P [m/s] of the crop's leaf at `temperature` [K]: Arrhenius about 25 degC, times the accelerator.
double permeance(const Active& active, const Uptake& uptake, double temperature);

/// Solubility S [kg/m3] at `temperature` [K]: van 't Hoff about 20 degC.
double solubility(const Active& active, double temperature);

/// Most that a drying liquid holds in solution [kg/m3] at `temperature` [K]: sigma S.
double most_dissolved(const Active& active, const Uptake& uptake, double temperature);

/// Dissolved concentration [kg/m3] of `mass` in `water` [kg and m3, or both per the same area]: all of it, up
/// to `most`; what is above stays solid.
double dissolved(double mass, double water, double most);

/// Rate constant [1/s] at which the mobile deposit enters at `temperature` [K]: Arrhenius about 20 degC,
/// times the accelerator. The same for leaves and stems (assumption, grade D).
double mobile_rate(const Uptake& uptake, double temperature);

/// Mobile part dB [kg/m2] of a liquid deposit of `mass` [kg per m2 of contact] that dries.
double turns_mobile(const Uptake& uptake, double mass);

/// Share phi [1] of a locked deposit of `mass` [kg/m2] that `water` [m] takes up again at a `solubility`
/// [kg/m3]; 1 of nothing.
double redissolved(double mass, double water, double solubility);

/// What is left [kg/m2] in a liquid of `mass` [kg/m2] in solution, `elapsed` [s] after it stood `water` [m]
/// deep, if it dries at a steady rate within `wet_time` [s] at a steady `temperature` [K]. Closed form of
///
///   dL/dt = -P min(L / h, sigma S),   h = w (1 - t / t_wet)
///
/// A liquid that dries at a steady rate is an assumption (grade D): droplets slow down as they shrink.
double left_in_liquid(const Active& active, const Uptake& uptake, double mass, double water,
                      double temperature, double wet_time, double elapsed);

/// What a surface carries that is not in liquid; kg per m2 of contact, or of anything.
struct Deposit {
  double mobile = 0, locked = 0;
};

/// What a dry deposit came to over a time.
struct Weathered {
  Deposit left;
  double taken_up = 0;  ///< of the mobile part
  double lost = 0;      ///< of the locked part
};

/// A dry deposit after `duration` [s] at a steady `temperature` [K], in closed form; day by day it is a
/// course.
Weathered weathered(const Uptake& uptake, const Deposit& deposit, double temperature, double duration);

/// Transpiration stream concentration factor [1]: xylem over solution concentration.
/// Briggs et al. 1982: 0.784 exp(-(log K_ow - 1.78)^2 / 2.44); Burken and Schnoor 1998:
/// 0.756 exp(-(log K_ow - 2.50)^2 / 2.58); both from memory. At log K_ow 3.2 they differ by a factor of 1.8.
double transpiration_factor(double log_kow, Transpiration correlation);

/// Rate constants [1/s] at which the active ingredient in a pot's substrate goes into roots and is lost.
///
///   up = water_use TSCF / pot_capacity
///
/// The solution is what sorption leaves, and the plant drinks it with the exclusion TSCF; where it lies it
/// finds more or fewer roots than on average (Placement::availability in plant/substrate.hpp).
struct RootRates {
  double up = 0, loss = 0;
};
/// The rates [1/s] at which roots take the pot's active ingredient up, and at which it is lost there.
RootRates root_rates(const Active& active, const Uptake& uptake, const Substrate& substrate);

}  // namespace wetspan
