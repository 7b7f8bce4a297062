#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numeric>
#include <string>

#include "approx.hpp"
#include "reference.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/spray/droplets.hpp"

using namespace wetspan;

namespace {

constexpr std::array both{Distribution::lognormal, Distribution::rosin_rammler};

double total(const Spectrum& s) { return std::accumulate(s.volume_share.begin(), s.volume_share.end(), 0.0); }

/// Time at which 1 % of the liquid is left when every droplet follows the d2 law, in units of dv50^2.
double time_to_last_percent(const Spectrum& s, double dv50) {
  double low = 0, high = std::pow(s.diameter.back() / dv50, 2);
  for (int i = 0; i < 200; ++i) {
    const double t = 0.5 * (low + high);
    double left = 0;
    for (std::size_t k = 0; k < s.diameter.size(); ++k)
      left += s.volume_share[k] * std::pow(std::max(0.0, 1 - t / std::pow(s.diameter[k] / dv50, 2)), 1.5);
    (left > 0.01 ? low : high) = t;
  }
  return low;
}

/// Relative span of the lognormal spectrum whose deviation is `ln_sigma_g`, sought between the bounds.
double lognormal_span(double ln_sigma_g) {
  double low = 0.0, high = 10.0;
  for (int i = 0; i < 60; ++i) {
    const double middle = 0.5 * (low + high);
    (ln_geometric_deviation(middle) < ln_sigma_g ? low : high) = middle;
  }
  return low;
}

}  // namespace

TEST_CASE("relative span and width agree with their definitions") {
  for (const auto& row : reference::rows("droplets", "relative span of Rosin-Rammler")) {
    CHECK(reference::holds(row, rosin_rammler_relative_span(row["q"])));
    CHECK(rosin_rammler_exponent(rosin_rammler_relative_span(row["q"])) == Approx(row["q"]).epsilon(1e-12));
  }
  for (const auto& row : reference::rows("droplets", "relative span of lognormal"))
    CHECK(reference::holds(row, lognormal_span(std::log(row["sigma_g"]))));
  for (const auto& row : reference::rows("droplets", "Dv0.5 over D32 of lognormal")) {
    const double span = lognormal_span(std::log(row["sigma_g"]));
    CHECK(reference::holds(row, 1e-4 / sauter_mean_diameter(Distribution::lognormal, 1e-4, span)));
  }
  CHECK(ln_geometric_deviation(2.0 * std::sinh(1.2815515655446004 * 0.5)) == Approx(0.5).epsilon(1e-14));
}

TEST_CASE("quantiles and shares are each other's inverse, and give the relative span back") {
  for (Distribution distribution : both)
    for (double span : {0.3, 1.0, 1.4, 2.5}) {
      for (double share : {1e-6, 0.02, 0.1, 0.5, 0.77, 0.9, 0.9999}) {
        const double d = volume_quantile(distribution, 2e-4, span, share);
        CHECK(share_below(distribution, 2e-4, span, d) == Approx(share).epsilon(1e-12));
      }
      const double d10 = volume_quantile(distribution, 2e-4, span, 0.1);
      const double d90 = volume_quantile(distribution, 2e-4, span, 0.9);
      CHECK((d90 - d10) / 2e-4 == Approx(span).epsilon(1e-12));
      CHECK(volume_quantile(distribution, 2e-4, span, 0.5) == Approx(2e-4).epsilon(1e-14));
    }
}

TEST_CASE("bins hold all the volume, in rising diameters") {
  for (Distribution distribution : both)
    for (int bins : {1, 2, 3, 8, 16, 61, 256}) {
      const Spectrum s = spectrum(distribution, 2.5e-4, 1.4, bins);
      REQUIRE(s.diameter.size() == static_cast<std::size_t>(bins));
      CHECK(std::abs(total(s) - 1) < 1e-13);
      CHECK(std::is_sorted(s.diameter.begin(), s.diameter.end()));
      CHECK_NOTHROW(check(s));
    }
  CHECK(spectrum(Distribution::lognormal, 2.5e-4, 1.4, 1).diameter[0] == Approx(2.5e-4).epsilon(1e-14));
}

TEST_CASE("sixteen bins carry the surface and the last drops of the spray") {
  for (Distribution distribution : both) {
    const Spectrum fine = spectrum(distribution, 2e-4, 1.4, 256), few = spectrum(distribution, 2e-4, 1.4, 16);
    CHECK(sauter_mean_diameter(few) == Approx(sauter_mean_diameter(distribution, 2e-4, 1.4)).epsilon(2e-4));
    CHECK(time_to_last_percent(few, 2e-4) == Approx(time_to_last_percent(fine, 2e-4)).epsilon(0.008));
    // Equal-volume bins, for comparison: the reason they are not used.
    Spectrum equal;
    for (int i = 0; i < 16; ++i) {
      equal.diameter.push_back(volume_quantile(distribution, 2e-4, 1.4, (i + 0.5) / 16));
      equal.volume_share.push_back(1.0 / 16);
    }
    CHECK(time_to_last_percent(equal, 2e-4) < 0.95 * time_to_last_percent(fine, 2e-4));
  }
}

TEST_CASE("means over the bins come closer to their closed forms with each doubling of the bins") {
  for (Distribution distribution : both) {
    for (const double span : {0.6, 1.4, 2.0}) {
      // the surface of the finest of a wide Rosin-Rammler spray rises steeply towards diameter 0
      const bool singular = distribution == Distribution::rosin_rammler && span > 1.5;
      const double exact = sauter_mean_diameter(distribution, 2e-4, span);
      double last = 1.0;
      for (const int bins : {4, 8, 16, 32, 64}) {
        const Spectrum few = spectrum(distribution, 2e-4, span, bins);
        const double error = std::abs(sauter_mean_diameter(few) / exact - 1.0);
        CAPTURE(span);
        CAPTURE(bins);
        CHECK(error < std::max(last / (singular ? 2.0 : 3.0), 1e-12));
        last = error;
      }
      CHECK(last < (singular ? 3e-3 : 1e-5));
    }
  }
}

TEST_CASE("share below a diameter from the bins follows the distribution") {
  for (Distribution distribution : both) {
    const Spectrum s = spectrum(distribution, 2e-4, 1.4, 32);
    for (double d : {8e-5, 1.5e-4, 2e-4, 3e-4, 5e-4})
      CHECK(std::abs(share_below(s, d) - share_below(distribution, 2e-4, 1.4, d)) < 0.01);
    CHECK(share_below(s, 9e-3) == 1);
    CHECK(share_below(s, 0) == 0);
  }
}

TEST_CASE("a spectrum through three quantiles meets them") {
  const Spectrum s = three_quantile_spectrum(9e-5, 2e-4, 3.5e-4, 128);
  CHECK(share_below(s, 9e-5) == Approx(0.1).epsilon(0.01));
  CHECK(share_below(s, 2e-4) == Approx(0.5).epsilon(0.005));
  CHECK(share_below(s, 3.5e-4) == Approx(0.9).epsilon(0.005));
  // A symmetric one is the lognormal itself.
  const double up = std::exp(1.2815515655446004 * 0.5);
  const Spectrum symmetric = three_quantile_spectrum(2e-4 / up, 2e-4, 2e-4 * up, 16);
  const Spectrum lognormal = spectrum(Distribution::lognormal, 2e-4, lognormal_span(0.5), 16);
  for (std::size_t i = 0; i < 16; ++i)
    CHECK(symmetric.diameter[i] == Approx(lognormal.diameter[i]).epsilon(1e-12));
}

TEST_CASE("bins are read as volumes centred on their diameters, and one diameter is one bin") {
  const Spectrum two{.diameter = {1e-4, 2e-4}, .volume_share = {0.4, 0.6}};
  CHECK(share_below(two, 1e-4) == Approx(0.2).epsilon(1e-14));
  CHECK(share_below(two, 1.5e-4) == Approx(0.45).epsilon(1e-14));
  const Spectrum once =
      distinct({.diameter = {2e-4, 1e-4, 2e-4, 3e-4}, .volume_share = {0.25, 0.4, 0.35, 0.0}});
  CHECK(once.diameter == two.diameter);
  CHECK(once.volume_share[1] == Approx(0.6).epsilon(1e-14));
}

TEST_CASE("a measured table is followed") {
  // Half the volume between 100 and 200 um, nothing between 200 and 300 um, half between 300 and 400 um.
  const std::array<double, 4> diameter{1e-4, 2e-4, 3e-4, 4e-4}, share{0, 0.5, 0.5, 1};
  const Spectrum s = measured_spectrum(diameter, share, 64);
  for (double d : s.diameter) CHECK((d < 2e-4 || d > 3e-4));
  double mean = 0;
  for (std::size_t i = 0; i < 64; ++i) mean += s.diameter[i] * s.volume_share[i];
  CHECK(mean == Approx(2.5e-4).epsilon(1e-4));
  CHECK(share_below(s, 1.5e-4) == Approx(0.25).epsilon(0.02));
  const std::array<double, 4> open{0.1, 0.5, 0.6, 1}, falling{0, 0.5, 0.4, 1};
  CHECK_THROWS_AS(measured_spectrum(diameter, open, 8), InputError);
  CHECK_THROWS_AS(measured_spectrum(diameter, falling, 8), InputError);
}

TEST_CASE("size classes rise, and keep below the published fine shares") {
  for (std::size_t i = 1; i < size_classes().size(); ++i)
    CHECK(size_classes()[i].dv50 > size_classes()[i - 1].dv50);
  for (const std::string name : {"medium", "coarse", "very coarse"})
    for (const auto& row : reference::rows("droplets", "share below 150 um of " + name))
      for (Distribution distribution : both) {
        const SizeClass& each = size_class(name);
        const double below = share_below(distribution, each.dv50, each.relative_span, row["diameter"]);
        const bool lognormal = distribution == Distribution::lognormal;
        CHECK(reference::holds(row, below, 0.0, row.value, lognormal ? "lognormal" : "Rosin-Rammler"));
      }
}

TEST_CASE("what cannot be a spray is refused, with a reason") {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  CHECK_THROWS_AS(spectrum(Distribution::lognormal, nan, 1.4, 8), InputError);
  CHECK_THROWS_AS(spectrum(Distribution::lognormal, 2e-4, -1, 8), InputError);
  CHECK_THROWS_AS(spectrum(Distribution::lognormal, 2e-4, 1.4, 0), InputError);
  CHECK_THROWS_AS(volume_quantile(Distribution::lognormal, 2e-4, 1.4, 1), InputError);
  CHECK_THROWS_AS(three_quantile_spectrum(2e-4, 1e-4, 3e-4, 8), InputError);
  CHECK_THROWS_AS(check({{1e-4, 2e-4}, {0.5, 0.6}}), InputError);
  CHECK_THROWS_WITH_AS(spectrum(Distribution::lognormal, 200, 1.4, 8),
                       "dv50 = 200 m is outside 1e-06 .. 0.005 m", InputError);
  CHECK_THROWS_WITH_AS(size_class("middling"), doctest::Contains("'very fine'"), InputError);
}
