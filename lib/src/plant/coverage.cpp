#include "wetspan/plant/coverage.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>
#include <sstream>

#include "../require.hpp"
#include "wetspan/plant/drying.hpp"

namespace wetspan {
namespace {

using std::numbers::pi;

double half_tangent(double contact_angle) {
  return std::tan(0.5 * require("contact_angle", contact_angle, 0.02, 3.1, "rad"));
}

/// Number per area and radius of the stains that can be seen on a card, by bin.
struct Stains {
  std::vector<double> number, radius;

  Stains(const Spectrum& spectrum, double deposit, const Card& card) {
    require("width", card.width, 1e-3, 1, "m");
    require("height", card.height, 1e-3, 1, "m");
    require("spread_factor", card.spread_factor, 1, 5, "");
    require("smallest_stain", card.smallest_stain, 0, 1e-3, "m");
    const std::vector<double> density = droplet_density(spectrum, deposit);
    for (std::size_t i = 0; i < density.size(); ++i) {
      const double stain = card.spread_factor * spectrum.diameter[i];
      if (stain < card.smallest_stain) continue;
      number.push_back(density[i]);
      radius.push_back(0.5 * stain);
    }
  }
};

/// A number in (0, 1) from 53 random bits. It is the same on every machine; the result of
/// std::uniform_real_distribution is not.
double uniform(std::mt19937_64& generator) {
  return (static_cast<double>(generator() >> 11) + 0.5) * 0x1p-53;
}

}  // namespace

double cap_base_radius(double diameter, double contact_angle) {
  require("diameter", diameter, 0, 1e-2, "m");
  return diameter * std::cbrt(pi / 6 / cap_volume(half_tangent(contact_angle)));
}

std::vector<double> droplet_density(const Spectrum& spectrum, double deposit) {
  check(spectrum);
  require("deposit", deposit, 0, 0.01, "m");
  std::vector<double> number;
  for (std::size_t i = 0; i < spectrum.diameter.size(); ++i)
    number.push_back(spectrum.volume_share[i] * deposit / (pi / 6 * std::pow(spectrum.diameter[i], 3)));
  return number;
}

double boolean_coverage(std::span<const double> number, std::span<const double> radius) {
  if (number.size() != radius.size()) throw InputError("coverage needs as many radii as numbers of droplets");
  double discs = 0;
  for (std::size_t i = 0; i < number.size(); ++i)
    discs += require("number", number[i], 0, 1e300, "1/m2") * pi *
             std::pow(require("radius", radius[i], 0, 1, "m"), 2);
  return wet_share(discs);
}

double leaf_coverage(const Spectrum& spectrum, double deposit, double contact_angle) {
  const std::vector<double> number = droplet_density(spectrum, deposit);
  std::vector<double> radius;
  for (double diameter : spectrum.diameter) radius.push_back(cap_base_radius(diameter, contact_angle));
  return boolean_coverage(number, radius);
}

CardReading read_card(const Spectrum& spectrum, double deposit, const Card& card) {
  const Stains stains(spectrum, deposit, card);
  CardReading reading;
  for (double each : stains.number) reading.density += each;
  reading.coverage = boolean_coverage(stains.number, stains.radius);
  return reading;
}

std::vector<Spot> card_spots(const Spectrum& spectrum, double deposit, std::uint64_t seed, const Card& card) {
  const Stains stains(spectrum, deposit, card);
  std::vector<Spot> spots;
  if (stains.number.empty()) return spots;
  // Centres lie on the card and on a margin around it as wide as the radius of the largest stain, so that the
  // coverage at the edge is that in the middle.
  const double margin = stains.radius.back();
  const double width = card.width + 2 * margin, height = card.height + 2 * margin;
  std::vector<double> up_to;
  double mean = 0;
  for (double each : stains.number) up_to.push_back(mean += each * width * height);
  if (constexpr double most = 5e6; !(mean <= most)) {
    std::ostringstream message;
    message << "a card of " << 1e3 * card.width << " mm by " << 1e3 * card.height << " mm would get " << mean
            << " stains, and at most " << most << " are drawn; give a smaller width and height, or a larger "
            << "smallest_stain than " << 1e6 * card.smallest_stain << " um";
    throw InputError(message.str());
  }

  std::mt19937_64 generator(seed);
  // The number of arrivals of a Poisson process with unit rate up to `mean` is Poisson distributed.
  for (double arrival = -std::log(uniform(generator)); arrival < mean;
       arrival -= std::log(uniform(generator))) {
    const auto bin = std::upper_bound(up_to.begin(), up_to.end(), mean * uniform(generator)) - up_to.begin();
    const double x = width * uniform(generator) - margin, y = height * uniform(generator) - margin;
    spots.push_back({x, y, stains.radius[std::min(static_cast<std::size_t>(bin), up_to.size() - 1)]});
  }
  return spots;
}

}  // namespace wetspan
