#include "wetspan/plant/coverage.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <random>

#include "approx.hpp"
#include "reference.hpp"
#include "wetspan/errors.hpp"

using namespace wetspan;
using std::numbers::pi;

namespace {

constexpr double degree = pi / 180;

/// Share of random points on the card that lie under a stain; stains sorted into a grid of cells.
double covered_share(const std::vector<Spot>& spots, const Card& card, int points) {
  constexpr int columns = 200, rows = 200;
  std::vector<std::vector<const Spot*>> cells(columns * rows);
  const auto column = [&](double x) {
    return std::clamp(static_cast<int>(x / card.width * columns), 0, columns - 1);
  };
  const auto row = [&](double y) {
    return std::clamp(static_cast<int>(y / card.height * rows), 0, rows - 1);
  };
  for (const Spot& spot : spots)
    for (int i = column(spot.x - spot.radius); i <= column(spot.x + spot.radius); ++i)
      for (int j = row(spot.y - spot.radius); j <= row(spot.y + spot.radius); ++j)
        cells[static_cast<std::size_t>(i * rows + j)].push_back(&spot);
  std::mt19937_64 generator(5);
  std::uniform_real_distribution<double> any(0, 1);
  int covered = 0;
  for (int k = 0; k < points; ++k) {
    const double x = card.width * any(generator), y = card.height * any(generator);
    for (const Spot* spot : cells[static_cast<std::size_t>(column(x) * rows + row(y))])
      if (std::hypot(x - spot->x, y - spot->y) < spot->radius) {
        ++covered;
        break;
      }
  }
  return static_cast<double>(covered) / points;
}

}  // namespace

TEST_CASE("a cap holds its droplet") {
  for (const auto& row : reference::rows("coverage", "base radius over diameter of a hemisphere"))
    CHECK(reference::holds(row, cap_base_radius(1e-4, row["angle_deg"] * degree) / 1e-4));
  for (const auto& row : reference::rows("coverage", "base radius over diameter of a thin cap"))
    CHECK(reference::holds(row, cap_base_radius(1e-4, row["angle_deg"] * degree) / 1e-4));
  for (double degrees : {2.0, 20.0, 60.0, 90.0, 120.0, 160.0, 175.0}) {
    const double angle = degrees * degree, d = 3e-4, volume = pi * d * d * d / 6;
    const double radius = cap_base_radius(d, angle), height = radius * std::tan(angle / 2);
    CHECK(pi * height * (3 * radius * radius + height * height) / 6 == Approx(volume).epsilon(1e-12));
  }
}

TEST_CASE("droplets per area hold the deposit") {
  const Spectrum s = spectrum(Distribution::lognormal, 2e-4, 1.4, 24);
  const auto number = droplet_density(s, 5e-5);
  double liquid = 0;
  for (std::size_t i = 0; i < number.size(); ++i) liquid += number[i] * pi / 6 * std::pow(s.diameter[i], 3);
  CHECK(liquid == Approx(5e-5).epsilon(1e-13));
}

TEST_CASE("coverage: the Boolean model and its limits") {
  for (const auto& row : reference::rows("coverage", "coverage where discs add up to once the surface")) {
    const double radius[] = {1e-4}, number[] = {row["discs"] / (pi * 1e-8)};
    CHECK(reference::holds(row, boolean_coverage(number, radius)));
  }
  const Spectrum s = spectrum(Distribution::lognormal, 2e-4, 1.2, 16);
  CHECK(leaf_coverage(s, 0, 1) == 0);
  // Few droplets: their discs just add up.
  const Spectrum one{{2e-4}, {1}};
  const double radius = cap_base_radius(2e-4, 1.2);
  CHECK(leaf_coverage(one, 1e-8, 1.2) ==
        Approx(1e-8 * pi * radius * radius / (pi / 6 * 8e-12)).epsilon(1e-3));
  // More liquid, a finer spray, a lower contact angle: more coverage.
  CHECK(leaf_coverage(s, 5e-5, 1.2) > leaf_coverage(s, 2e-5, 1.2));
  CHECK(leaf_coverage(s, 5e-5, 0.6) > leaf_coverage(s, 5e-5, 1.2));
  CHECK(leaf_coverage(spectrum(Distribution::lognormal, 1e-4, 1.2, 16), 5e-5, 1.2) >
        leaf_coverage(s, 5e-5, 1.2));
  CHECK(leaf_coverage(s, 1e-2, 1.2) < 1 + 1e-15);
}

TEST_CASE("stains placed at random cover what the formula says" * doctest::test_suite("long")) {
  for (double dv50 : {1.5e-4, 3e-4, 5e-4})
    for (double deposit : {5e-6, 4e-5}) {
      const Spectrum s = spectrum(Distribution::lognormal, dv50, 1.2, 16);
      const Card card{.width = 0.1, .height = 0.1};
      const CardReading expected = read_card(s, deposit, card);
      double covered = 0, count = 0;
      constexpr int cards = 4;
      for (int seed = 1; seed <= cards; ++seed) {
        const auto spots = card_spots(s, deposit, static_cast<std::uint64_t>(seed), card);
        covered += covered_share(spots, card, 100000) / cards;
        for (const Spot& spot : spots)
          if (spot.x >= 0 && spot.x < card.width && spot.y >= 0 && spot.y < card.height) ++count;
      }
      CHECK(std::abs(covered - expected.coverage) < 0.01);
      CHECK(count / cards / (card.width * card.height) == Approx(expected.density).epsilon(0.02));
    }
}

TEST_CASE("the number of stains on a card is Poisson distributed, and they lie all over it") {
  const Spectrum one{{3e-4}, {1.0}};
  const Card card{.width = 0.01, .height = 0.02};
  const double stain = 0.5 * card.spread_factor * 3e-4;  // radius; stains reach beyond the edge by as much
  const double area = (card.width + 2.0 * stain) * (card.height + 2.0 * stain), expected = 1.5;
  const double deposit = expected / area * pi / 6.0 * 2.7e-11;
  double sum = 0.0, squares = 0.0, left = card.width, right = 0.0, x = 0.0, y = 0.0;
  constexpr int cards = 4000;
  for (int seed = 0; seed < cards; ++seed) {
    const auto spots = card_spots(one, deposit, static_cast<std::uint64_t>(seed), card);
    const auto count = static_cast<double>(spots.size());
    sum += count, squares += count * count;
    for (const Spot& spot : spots) {
      CHECK(spot.radius == Approx(stain).epsilon(1e-13));
      left = std::min(left, spot.x), right = std::max(right, spot.x);
      x += spot.x, y += spot.y;
    }
  }
  const double mean = sum / cards, variance = squares / cards - mean * mean;
  CHECK(mean == Approx(expected).epsilon(0.05));  // 2.5 standard errors
  CHECK(variance == Approx(mean).epsilon(0.1));
  CHECK(x / sum == Approx(0.5 * card.width).epsilon(0.03));
  CHECK(y / sum == Approx(0.5 * card.height).epsilon(0.03));
  CHECK(left == Approx(-stain).epsilon(0.1));
  CHECK(right == Approx(card.width + stain).epsilon(0.01));
}

TEST_CASE("a card is its seed's, and shows no stain too small to see") {
  const Spectrum s = spectrum(Distribution::rosin_rammler, 2e-4, 1.4, 16);
  const auto one = card_spots(s, 2e-5, 7), again = card_spots(s, 2e-5, 7), other = card_spots(s, 2e-5, 8);
  REQUIRE(one.size() == again.size());
  for (std::size_t i = 0; i < one.size(); ++i)
    CHECK((one[i].x == again[i].x && one[i].radius == again[i].radius));
  CHECK(one[0].x != other[0].x);
  Card sharp;
  sharp.smallest_stain = 2e-4;
  for (const Spot& spot : card_spots(s, 2e-5, 7, sharp)) CHECK(spot.radius >= 1e-4);
  CHECK(read_card(s, 2e-5, sharp).density < read_card(s, 2e-5).density);
  sharp.spread_factor = 1;
  sharp.smallest_stain = 1e-3;
  CHECK(read_card(spectrum(Distribution::lognormal, 5e-5, 0.8, 8), 2e-5, sharp).coverage == 0);
  CHECK(card_spots(spectrum(Distribution::lognormal, 5e-5, 0.8, 8), 2e-5, 1, sharp).empty());
}

TEST_CASE("impossible deposits are refused") {
  const Spectrum s = spectrum(Distribution::lognormal, 2e-4, 1.4, 8);
  CHECK_THROWS_AS(leaf_coverage(s, -1, 1), InputError);
  CHECK_THROWS_AS(leaf_coverage(s, 1e-5, 90), InputError);
  CHECK_THROWS_AS(leaf_coverage(s, std::numeric_limits<double>::quiet_NaN(), 1), InputError);
  const double number[] = {1.0}, radius[] = {1e-4, 2e-4};
  CHECK_THROWS_AS(boolean_coverage(number, radius), InputError);
  Card card;
  card.width = card.height = 1;
  CHECK_THROWS_WITH_AS(card_spots(spectrum(Distribution::lognormal, 4e-5, 1, 8), 1e-3, 1, card),
                       doctest::Contains("a larger smallest_stain"), InputError);
}
