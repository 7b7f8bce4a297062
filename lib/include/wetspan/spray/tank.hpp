// The spray tank: how much product in how much water, for what area or how many pots, and what it delivers.
//
// Exact arithmetic on the strength that a label states; nothing here is a model. Volumes of product and water
// are taken to add up. The *final volume* is product and water together, what the tank holds when filled up
// to the mark; *water* is what the product is added to. They differ by the product's own volume:
//
//     final volume V, target c, strength S:    product = V c / S,    water = V - product
#pragma once

#include <optional>

namespace wetspan {

/// Share by which a spray volume may differ from the one a rate is meant for before it is worth a remark [1].
/// Assumption (grade D).
inline constexpr double volume_tolerance = 0.05;
/// Largest reading error of a measured amount that passes without a remark [1]. Assumption (grade D).
inline constexpr double reading_tolerance = 0.05;

/// A product as its label states its strength.
struct Concentrate {
  /// Active ingredient per volume of product [kg/m3]; none for a powder, which is weighed.
  std::optional<double> concentration = std::nullopt;
  /// Active ingredient per mass of product [1]; none where the density is not known.
  std::optional<double> mass_share = std::nullopt;

  bool is_powder() const { return !concentration; }
};

/// A liquid whose label states the active ingredient per volume [kg/m3]; its density [kg/m3] may be unknown.
/// @throws InputError unless both are above zero and finite, or for more active ingredient than product
Concentrate liquid_by_volume(double strength, std::optional<double> density = std::nullopt);
/// A liquid whose label states the active ingredient per mass [1]; density [kg/m3]. @throws InputError as
/// above
Concentrate liquid_by_mass(double strength, double density);
/// A powder; active ingredient per mass [1]. @throws InputError as above
Concentrate powder(double strength);

/// What a liquid is put on; both may be given, to share what an area gets among its pots.
struct Destination {
  std::optional<double> area = std::nullopt;  ///< [m2]
  std::optional<int> pots = std::nullopt;     ///< 1 or more
};

/// What to measure, and what reaches the crop.
struct TankMix {
  double concentration = 0;                    ///< active ingredient in the spray liquid [kg/m3]
  double product = 0;                          ///< to measure [m3]; of a powder, to weigh [kg]
  std::optional<double> water = std::nullopt;  ///< [m3]; none with a powder, whose own volume is not known
  double final_volume = 0;                     ///< [m3]
  double used_volume = 0;                      ///< of it put out [m3]
  double active_ingredient = 0;                ///< put out [kg]

  std::optional<double> area = std::nullopt;             ///< [m2]
  std::optional<double> volume_rate = std::nullopt;      ///< used_volume / area [m]
  std::optional<double> active_per_area = std::nullopt;  ///< [kg/m2]
  std::optional<int> pots = std::nullopt;
  std::optional<double> volume_per_pot = std::nullopt;  ///< used_volume / pots [m3]
  std::optional<double> active_per_pot = std::nullopt;  ///< [kg]

  int fills = 1;                    ///< of the tank; the last one may be smaller
  double fill_volume = 0;           ///< of a full one [m3]
  double product_per_fill = 0;      ///< [m3 or kg]
  double last_fill_volume = 0;      ///< [m3]
  double product_in_last_fill = 0;  ///< [m3 or kg]
};

/// Volume [m3] that covers `area` [m2] at `volume_rate` [m]. @throws InputError unless both are above zero
double volume_over_area(double volume_rate, double area);
/// Volume [m3] of so many drenches of `volume_per_pot` [m3]. @throws InputError as above
double volume_for_pots(double volume_per_pot, int pots);
/// Volume [m3] that a pot of `diameter` [m, above 0] is usually drenched with: 59, 89, 118 and 444 mL in pots
/// of 10, 12.5, 15 and 25 cm (2, 3, 4 and 15 US fl oz), linear in between; beyond them with the square of the
/// diameter (assumption, grade D). Runkle, PGR drench guidelines, trade magazine article; grade A.
double usual_drench_volume(double diameter);
/// Concentration [kg/m3] that gives each pot `dose` [kg] in `volume_per_pot` [m3]. @throws InputError as
/// above
double concentration_for_dose(double dose, double volume_per_pot);

/// What to mix so that `final_volume` [m3] holds `concentration` [kg/m3], all of it being put out.
/// @param tank what the tank holds when full [m3]; none: it holds all
/// @throws InputError for a value that is not above zero and finite, for fewer than one pot, or a
///         concentration that is not below the product's own
TankMix mix(const Concentrate& product, double concentration, double final_volume, const Destination& on = {},
            std::optional<double> tank = std::nullopt);

/// An amount of product, by volume or by mass: one of the two.
struct ProductAmount {
  std::optional<double> volume = std::nullopt;  ///< [m3]; not of a powder
  std::optional<double> mass = std::nullopt;    ///< [kg]; of a liquid its density must be known
};
/// What the product was made into: one of the two.
struct MadeUp {
  std::optional<double> water = std::nullopt;         ///< that it was added to [m3]
  std::optional<double> final_volume = std::nullopt;  ///< that it was made up to [m3]
};

/// What `amount` of product in water delivered: the inverse of `mix`.
/// @param used how much of it was put out [m3]; none: all
/// @throws InputError as `mix`; also unless one of two is given where two are offered, for a final volume
/// that
///         is not above the product's own, and for more put out than was mixed
TankMix applied(const Concentrate& product, const ProductAmount& amount, const MadeUp& made,
                std::optional<double> used = std::nullopt, const Destination& on = {});

/// Active ingredient that stays undissolved [kg/m3]: what is above the solubility [kg/m3].
double undissolved(double concentration, double solubility);

/// Half a division of the measuring device over the measured amount [1]; both in one unit.
double reading_error(double amount, double division);

}  // namespace wetspan
