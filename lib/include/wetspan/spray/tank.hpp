// The spray tank: volumes of product and water for an area or a number of pots, and the amount delivered.
//
// This is exact arithmetic on the strength that a label states, not a model. Volumes of product and water are
// assumed to be additive. *Water* is the volume to which the product is added. The *final volume* is that of
// product and water together, to which the tank is filled. They differ by the volume of the product:
//
//     final volume V, target c, strength S:    product = V c / S,    water = V - product
#pragma once

#include <optional>

namespace wetspan {

/// Relative difference [1] between a spray volume and the intended volume of a rate above which a warning is
/// given. Assumption (grade D).
inline constexpr double volume_tolerance = 0.05;
/// Reading error [1] of a measured amount above which a warning is given. Assumption (grade D).
inline constexpr double reading_tolerance = 0.05;

/// The strength of a product according to its label.
struct Concentrate {
  /// Active ingredient per volume of product [kg/m3]; absent for a powder, which is weighed.
  std::optional<double> concentration = std::nullopt;
  /// Active ingredient per mass of product [1]; absent if the density is not known.
  std::optional<double> mass_share = std::nullopt;

  bool is_powder() const { return !concentration; }
};

/// A liquid whose label states the active ingredient per volume [kg/m3]; its density [kg/m3] may be unknown.
/// @throws InputError unless both are above zero, within 1e-12 to 1e12, or for more active ingredient than
///         product
Concentrate liquid_by_volume(double strength, std::optional<double> density = std::nullopt);
/// A liquid whose label states the active ingredient per mass [1]; density [kg/m3]. @throws InputError as
/// above
Concentrate liquid_by_mass(double strength, double density);
/// A powder; active ingredient per mass [1]. @throws InputError as above
Concentrate powder(double strength);

/// The target of an application. If both are given, the volume for the area is divided among its pots.
struct Destination {
  std::optional<double> area = std::nullopt;  ///< [m2]
  std::optional<int> pots = std::nullopt;     ///< 1 or more
};

/// Amounts to measure, and amounts that are applied to the crop.
struct TankMix {
  double concentration = 0;                    ///< active ingredient in the spray liquid [kg/m3]
  double product = 0;                          ///< amount to measure [m3]; for a powder, to weigh [kg]
  std::optional<double> water = std::nullopt;  ///< [m3]; absent for a powder, whose volume is not known
  double final_volume = 0;                     ///< [m3]
  double used_volume = 0;                      ///< volume that is applied [m3]
  double active_ingredient = 0;                ///< amount that is applied [kg]

  std::optional<double> area = std::nullopt;             ///< [m2]
  std::optional<double> volume_rate = std::nullopt;      ///< used_volume / area [m]
  std::optional<double> active_per_area = std::nullopt;  ///< [kg/m2]
  std::optional<int> pots = std::nullopt;
  std::optional<double> volume_per_pot = std::nullopt;  ///< used_volume / pots [m3]
  std::optional<double> active_per_pot = std::nullopt;  ///< [kg]

  int fills = 1;                    ///< number of tank fills; the last one may be smaller
  double fill_volume = 0;           ///< volume of a full tank [m3]
  double product_per_fill = 0;      ///< [m3 or kg]
  double last_fill_volume = 0;      ///< [m3]
  double product_in_last_fill = 0;  ///< [m3 or kg]
};

/// Volume [m3] that covers `area` [m2] at `volume_rate` [m]. @throws InputError unless both are above zero
double volume_over_area(double volume_rate, double area);
/// Volume [m3] of drenches of `volume_per_pot` [m3] for `pots` pots. @throws InputError as above
double volume_for_pots(double volume_per_pot, int pots);
/// Usual volume of a drench [m3] for a pot of `diameter` [m, above 0]: 59, 89, 118 and 444 mL in pots of 10,
/// 12.5, 15 and 25 cm (2, 3, 4 and 15 US fl oz), interpolated linearly; outside this range proportional to
/// the square of the diameter (assumption, grade D). Runkle, PGR drench guidelines, trade magazine article;
/// grade A.
double usual_drench_volume(double diameter);
/// Concentration [kg/m3] that gives each pot `dose` [kg] in `volume_per_pot` [m3]. @throws InputError as
/// above
double concentration_for_dose(double dose, double volume_per_pot);

/// Computes the mix for `final_volume` [m3] at `concentration` [kg/m3], all of which is applied.
/// @param tank volume of a full tank [m3]; if absent, one tank holds the whole volume
/// @throws InputError for a value that is not above zero, within 1e-12 to 1e12, for fewer than one pot, or a
///         concentration that is not below the product's own
TankMix mix(const Concentrate& product, double concentration, double final_volume, const Destination& on = {},
            std::optional<double> tank = std::nullopt);

/// An amount of product, given either by volume or by mass.
struct ProductAmount {
  std::optional<double> volume = std::nullopt;  ///< [m3]; not for a powder
  std::optional<double> mass = std::nullopt;    ///< [kg]; for a liquid, only if its density is known
};
/// The dilution of a product, given either by water or by final volume.
struct MadeUp {
  std::optional<double> water = std::nullopt;         ///< water to which the product was added [m3]
  std::optional<double> final_volume = std::nullopt;  ///< final volume of the mix [m3]
};

/// Computes what `amount` of product in water delivered: the inverse of `mix`.
/// @param used volume that was applied [m3]; if absent, all of it
/// @throws InputError as `mix`; also unless exactly one of two alternatives is given, for a final volume that
///         is not above that of the product, and if more was applied than was mixed
TankMix applied(const Concentrate& product, const ProductAmount& amount, const MadeUp& made,
                std::optional<double> used = std::nullopt, const Destination& on = {});

/// Undissolved active ingredient [kg/m3]: the excess of `concentration` over `solubility` [kg/m3], at least
/// 0. @throws InputError unless both are finite and at least 0
double undissolved(double concentration, double solubility);

/// Relative reading error [1]: half a division of the measuring device over the measured amount, both in the
/// same unit. @throws InputError unless both are above zero
double reading_error(double amount, double division);

}  // namespace wetspan
