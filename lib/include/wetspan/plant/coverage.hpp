// Share of a surface that droplets wet, and the reading of a water-sensitive card in the crop.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "wetspan/spray/droplets.hpp"

namespace wetspan {

/// Base radius [m] of the spherical cap that a droplet of `diameter` [m] forms at `contact_angle` [rad, 0.02
/// .. 3.1]: pi d^3 / 6 = pi R^3 (3 t + t^3) / 6 with t = tan(contact_angle / 2), so R = d / (3 t +
/// t^3)^(1/3).
double cap_base_radius(double diameter, double contact_angle);

/// Number of droplets per area in each bin [1/m2] for a `deposit` [m3 of liquid per m2 = m]:
/// share x deposit / (pi d^3 / 6).
std::vector<double> droplet_density(const Spectrum& spectrum, double deposit);

/// Share of a surface covered by discs at random positions, with overlaps counted once [-]:
/// 1 - exp(-sum n pi R^2) (Boolean model; Stoyan, Kendall & Mecke 1987, from memory). Coalescence of
/// neighbouring droplets, which changes their contact lines, is neglected.
/// @param number per area [1/m2] @param radius [m], one for each number
double boolean_coverage(std::span<const double> number, std::span<const double> radius);

/// Share of a leaf wetted by `deposit` [m3 of liquid per m2 of leaf = m] in spherical caps at `contact_angle`
/// [rad].
double leaf_coverage(const Spectrum& spectrum, double deposit, double contact_angle);

// clang-format off
/// A horizontal water-sensitive card.
struct Card {
  double width = 0.026;          ///< [m], 1e-3 .. 1; a usual card
  double height = 0.076;         ///< [m], 1e-3 .. 1; a usual card
  double spread_factor = 2.0;    ///< stain over droplet diameter [-], 1 .. 5; D, 1.5 .. 2.2, more for large droplets
  double smallest_stain = 50e-6; ///< diameter below which a stain is not seen [m], 0 .. 1e-3; D
};
// clang-format on

/// The reading of a card.
struct CardReading {
  double density = 0;   ///< stains per area [1/m2]; multiply by 1e-4 for stains per cm2
  double coverage = 0;  ///< stained share [-]
};

/// Expected reading of a card for a `deposit` [m3 of liquid per m2 of card = m].
CardReading read_card(const Spectrum& spectrum, double deposit, const Card& card = {});

/// A round stain; its centre may lie just outside the card.
struct Spot {
  double x, y;    ///< [m] from the card's lower left corner
  double radius;  ///< [m]
};

/// Stains of one card at random positions. Their number is Poisson distributed and their sizes follow the
/// spectrum. The same seed gives the same card on every machine.
/// @throws InputError for more than 5 million stains; raise `smallest_stain`
std::vector<Spot> card_spots(const Spectrum& spectrum, double deposit, std::uint64_t seed,
                             const Card& card = {});

}  // namespace wetspan
