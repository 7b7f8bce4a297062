// Uptake of the active ingredient by leaf, stem and root.
//
// On leaf and stem, the active ingredient per area of contact [kg/m2] consists of three parts: L is in the
// liquid, B is mobile (in the wax, amorphous, or in formulants), and R is locked up in crystals. h is the
// depth of the liquid.
//
//   wet        dL/dt = -P(T) c        c = min(L / h, sigma S(T))
//   drying     B += dB,  R += L - dB,  L = 0        dB = Z / (1 + Z / D_c),  Z = x_m L
//   always     dB/dt = -k_B(T) B
//   dry        dR/dt = -k_loss R, lost
//   wet again  L += phi R,  R -= phi R        phi = min(1, S(T) w / R),  w the depth of the water
//   uptake     P c + k_B B
//
// P is the permeance, S the solubility, k_B the mobile rate, sigma uptake.supersaturation, x_m
// uptake.mobile_share, D_c uptake.wax_capacity and k_loss uptake.residue_loss.
//
// A drying liquid may be supersaturated (sigma > 1); water dissolves crystals up to the solubility. Uptake is
// proportional to mass for small deposits and less than proportional for large ones. It falls when the liquid
// has dried and resumes when the deposit is wetted again. Water redissolves a smaller share of a large
// deposit, so re-wetting is effective at low rates and has little effect at high rates. The form of the law
// is an assumption (grade D); docs/science/uptake.md compares it with publications. parameters.hpp gives the
// constants and their evidence.
//
// Explicit formulas of temperature, mass or share do not check their arguments, because integrations evaluate
// them often; a NaN gives a NaN. Functions that follow a deposit (left_in_liquid, weathered), divide one
// (dissolved, redissolved) or are evaluated once (cuticle_permeance, transpiration_factor) throw InputError
// for an argument that is not finite, and for negative masses, waters, solubilities and times.
#pragma once

#include "wetspan/parameters.hpp"

namespace wetspan {

/// Permeance [m/s] of the reference leaf cuticle for a non-electrolyte (Kerler and Schonherr 1988, from
/// memory): log K_cw = 0.057 + 0.970 log K_ow; log P = 238 log K_cw / V_x - 12.48, V_x in cm3/mol; Citrus, 25
/// degC.
double cuticle_permeance(double log_kow, double molar_volume);

/// Permeance P [m/s] of the crop's mature leaves at `temperature` [K]: an Arrhenius law about 25 degC times
/// the accelerator factor.
double permeance(const Active& active, const Uptake& uptake, double temperature);

/// Solubility S [kg/m3] at `temperature` [K]: a van 't Hoff law about 20 degC.
double solubility(const Active& active, double temperature);

/// Largest dissolved concentration [kg/m3] in a drying liquid at `temperature` [K]: sigma S.
double most_dissolved(const Active& active, const Uptake& uptake, double temperature);

/// Dissolved concentration [kg/m3] of `mass` in `water` [kg and m3, or both per the same area]: mass / water,
/// limited to `most`; the excess is solid.
double dissolved(double mass, double water, double most);

/// Rate constant k_B [1/s] of uptake of the mobile deposit at `temperature` [K]: an Arrhenius law about 20
/// degC times the accelerator factor. It is the same for mature leaves and stems (assumption, grade D).
double mobile_rate(const Uptake& uptake, double temperature);

/// Permeance and mobile rate of a leaf layer over those of mature leaves [1]: the mean over its area, of
/// which the share `growing` is still growing and has a cuticle that is `uptake.growing_cuticle` times as
/// permeable. The two kinds of blades of a layer share one deposit; this is exact as long as little of it has
/// entered.
double leaf_cuticle(const Uptake& uptake, double growing);

/// Share of a layer's uptake that enters the blades that are still growing [1].
double enters_growing(const Uptake& uptake, double growing);

/// Mobile part dB [kg/m2] that remains when a liquid deposit of `mass` [kg per m2 of contact] dries.
double turns_mobile(const Uptake& uptake, double mass);

/// Share phi [1] of a locked deposit of `mass` [kg/m2] that `water` [m] redissolves at a `solubility`
/// [kg/m3]; 1 if the mass is 0.
double redissolved(double mass, double water, double solubility);

/// Active ingredient left in a liquid [kg/m2] after the time `elapsed` [s]. Initially the liquid contains
/// `mass` [kg/m2] and has the depth `water` [m]; it dries at a constant rate within `wet_time` [s] at a
/// constant `temperature` [K]. This is the closed-form solution of
///
///   dL/dt = -P min(L / h, sigma S),   h = w (1 - t / t_wet)
///
/// The constant drying rate is an assumption (grade D): evaporation slows down as droplets shrink.
double left_in_liquid(const Active& active, const Uptake& uptake, double mass, double water,
                      double temperature, double wet_time, double elapsed);

/// Dry active ingredient on a surface, in kg per m2 of contact or per any other area.
struct Deposit {
  double mobile = 0, locked = 0;
};

/// Change of a dry deposit over a period of time.
struct Weathered {
  Deposit left;
  double taken_up = 0;  ///< from the mobile part
  double lost = 0;      ///< from the locked part
};

/// The change of a dry deposit over `duration` [s] at a constant `temperature` [K], in closed form. Repeated
/// calls, one for each day, follow a changing temperature.
Weathered weathered(const Uptake& uptake, const Deposit& deposit, double temperature, double duration);

/// Transpiration stream concentration factor [1]: concentration in the xylem over that in the soil solution.
/// Briggs et al. 1982: 0.784 exp(-(log K_ow - 1.78)^2 / 2.44); Burken and Schnoor 1998:
/// 0.756 exp(-(log K_ow - 2.50)^2 / 2.58); both from memory. At log K_ow 3.2 they differ by a factor of 1.8.
double transpiration_factor(double log_kow, Transpiration correlation);

/// Rate constants [1/s] of root uptake and of loss of the active ingredient in a pot's substrate.
///
///   up = water_use TSCF / pot_capacity
///
/// The plant takes up the pore water, in which sorption determines the concentration; TSCF is the share of
/// that concentration that enters the xylem. The amount also depends on the density of roots where the
/// substance lies (Placement::availability in plant/substrate.hpp).
struct RootRates {
  double up = 0, loss = 0;
};
/// Computes the rate constants [1/s] of uptake by roots and of loss in the substrate.
RootRates root_rates(const Active& active, const Uptake& uptake, const Substrate& substrate);

}  // namespace wetspan
