// Uptake of the active ingredient by leaf, stem and root.
#pragma once

#include "wetspan/parameters.hpp"

namespace wetspan {

/// Permeance [m/s] of the reference leaf cuticle for a non-electrolyte (Kerler and Schonherr 1988, from
/// memory): log K_cw = 0.057 + 0.970 log K_ow; log P = 238 log K_cw / V_x - 12.48, V_x in cm3/mol; Citrus, 25
/// degC.
double cuticle_permeance(double log_kow, double molar_volume);

/// Permeance [m/s] at `temperature` [K]: Arrhenius about 25 degC.
double permeance(const Active& active, const Uptake& uptake, double temperature);

/// Solubility [kg/m3] at `temperature` [K]: van 't Hoff about 20 degC.
double solubility(const Active& active, double temperature);

/// Dissolved concentration [kg/m3] of `mass` in `water` [kg and m3, or both per the same area]: all of it, up
/// to the solubility; what is above stays solid.
double dissolved(double mass, double water, double solubility);

/// Rate constant [1/s] of uptake from a dry residue of `mass` [kg per m2 that it covers]: that of its wet
/// deposit, permeance [m/s] times the concentration [kg/m3] it had in solution over the mass, over
/// wet_to_dry.
double residue_rate(double permeance, double concentration, double mass, double wet_to_dry);

/// Transpiration stream concentration factor [1]: xylem over solution concentration.
/// Briggs et al. 1982: 0.784 exp(-(log K_ow - 1.78)^2 / 2.44); Burken and Schnoor 1998:
/// 0.756 exp(-(log K_ow - 2.50)^2 / 2.58); both from memory. At log K_ow 3.2 they differ by a factor of 1.8.
double transpiration_factor(double log_kow, Transpiration correlation);

/// What becomes of the active ingredient in a pot's substrate [1, of what reached it].
struct RootUptake {
  double root = 0, lost = 0, left = 0;
  double rate = 0;  ///< at which it leaves the substrate, into roots and lost [1/s]
};

/// When the active ingredient reaches the substrate: all at the start, or evenly over the time.
enum class Supply { at_once, evenly };

/// Root uptake over `duration` [s]: dM/dt = supply - (k_up + k_loss) M, with
/// k_up = availability water_use TSCF / pot_capacity: the solution is what sorption leaves of M, and the
/// plant drinks it, where it lies, with the exclusion TSCF (plant/substrate.hpp).
RootUptake root_uptake(const Active& active, const Uptake& uptake, const Substrate& substrate,
                       double duration, Supply supply = Supply::at_once, double availability = 1.0);

}  // namespace wetspan
