#include "wetspan/spray/droplets.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>
#include <numbers>
#include <numeric>
#include <string>
#include <utility>

#include "../nearest.hpp"
#include "../require.hpp"
#include "../root.hpp"

namespace wetspan {
namespace {

constexpr double z90 = 1.2815515655446004;  // standard normal quantile of 0.9
// Exponents of Rosin-Rammler spectra: the range that is allowed, and the tolerance to which one is computed.
constexpr double least_exponent = 1.0, most_exponent = 200.0, exponent_found = 1e-13;
constexpr double share_rounding = 1e-12;  // rounding error of a sum of volume shares [1]

double normal_share(double z) { return 0.5 * std::erfc(-z / std::numbers::sqrt2); }

/// Standard normal quantile: a rational first guess (Abramowitz & Stegun 1964, 26.2.23), then Halley's method
/// with erfc. The guess is within 4.5e-4, so that two steps suffice and no bracket is needed.
double normal_quantile(double share) {
  const double tail = std::min(share, 1 - share);
  const double t = std::sqrt(-2 * std::log(tail));
  double z =
      (2.515517 + t * (0.802853 + t * 0.010328)) / (1 + t * (1.432788 + t * (0.189269 + t * 0.001308))) - t;
  for (int i = 0; i < 2; ++i) {
    const double u = (normal_share(z) - tail) * std::sqrt(2 * std::numbers::pi) * std::exp(0.5 * z * z);
    z -= u / (1 + 0.5 * z * u);
  }
  return share < 0.5 ? z : -z;
}

void require_spray(double dv50, double relative_span) {
  require("dv50", dv50, 1e-6, 5e-3, "m");
  require("relative_span", relative_span, 0.05, 3, "");
}

/// How bins divide any spectrum: the cumulative shares of volume u^2 (3 - 2 u) at the Gauss-Legendre nodes u,
/// their standard normal quantiles, and the volume of each bin. The nodes on 0..1 are found by Newton's
/// method on the three-term recurrence: it starts close to each node, and the weight needs the slope anyway.
struct Rule {
  std::vector<double> share, deviate, volume;
};
const Rule& rule_of(int n) {
  thread_local Rule rule;  // kept from the last call, since n rarely changes
  if (std::ssize(rule.share) == n) return rule;
  rule = {};
  for (int i = 0; i < n; ++i) {
    double x = std::cos(std::numbers::pi * (n - i - 0.25) / (n + 0.5));
    double slope = 1;
    for (int pass = 0; pass < 5; ++pass) {
      double p = 1, below = 0;
      for (int k = 1; k <= n; ++k) below = std::exchange(p, ((2 * k - 1) * x * p - (k - 1) * below) / k);
      slope = n * (x * p - below) / (x * x - 1);
      x -= p / slope;
    }
    const double u = 0.5 * (1 + x), weight = 1 / ((1 - x * x) * slope * slope);
    rule.share.push_back(u * u * (3 - 2 * u));
    rule.deviate.push_back(normal_quantile(rule.share.back()));
    rule.volume.push_back(6 * u * (1 - u) * weight);
  }
  const double sum = std::accumulate(rule.volume.begin(), rule.volume.end(), 0.0);
  for (double& volume : rule.volume) volume /= sum;
  return rule;
}

/// Bins of any spectrum from its volume quantile function, which is given a share of the volume and its
/// standard normal quantile.
template <class Quantile>
Spectrum bins_of(Quantile quantile, int bins) {
  require("bins", bins, 1, 256, "");
  const Rule& rule = rule_of(bins);
  Spectrum result{.diameter = {}, .volume_share = rule.volume};
  result.diameter.reserve(rule.share.size());
  for (std::size_t i = 0; i < rule.share.size(); ++i) {
    result.diameter.push_back(quantile(rule.share[i], rule.deviate[i]));
  }
  return result;
}

}  // namespace

double ln_geometric_deviation(double relative_span) {
  return std::asinh(0.5 * require("relative_span", relative_span, 0, 10, "")) / z90;
}

double rosin_rammler_relative_span(double q) {
  const double power = 1 / require("q", q, least_exponent, most_exponent, "");
  return (std::pow(std::numbers::ln10, power) - std::pow(-std::log(0.9), power)) /
         std::pow(std::numbers::ln2, power);
}

double rosin_rammler_exponent(double relative_span) {
  require("relative_span", relative_span, 0.05, 3, "");
  const auto wider = [&](double q) { return rosin_rammler_relative_span(q) - relative_span; };
  return narrowed({.from = least_exponent,
                   .to = most_exponent,
                   .at_from = wider(least_exponent),
                   .at_to = wider(most_exponent)},
                  exponent_found, wider)
      .to;
}

double volume_quantile(Distribution distribution, double dv50, double relative_span, double share) {
  require_spray(dv50, relative_span);
  require("share", share, std::numeric_limits<double>::min(), std::nextafter(1.0, 0.0), "");
  if (distribution == Distribution::lognormal)
    return dv50 * std::exp(ln_geometric_deviation(relative_span) * normal_quantile(share));
  return dv50 * std::pow(-std::log1p(-share) / std::numbers::ln2, 1 / rosin_rammler_exponent(relative_span));
}

double share_below(Distribution distribution, double dv50, double relative_span, double diameter) {
  require_spray(dv50, relative_span);
  require("diameter", diameter, 0, 1, "m");
  if (distribution == Distribution::lognormal)
    return normal_share(std::log(diameter / dv50) / ln_geometric_deviation(relative_span));
  return -std::expm1(-std::numbers::ln2 * std::pow(diameter / dv50, rosin_rammler_exponent(relative_span)));
}

double share_below(const Spectrum& spectrum, double diameter) {
  check(spectrum);
  require("diameter", diameter, 0, 1, "m");
  double below = 0, previous_diameter = 0, previous_share = 0;
  for (std::size_t i = 0; i < spectrum.diameter.size(); ++i) {
    const double centre = below + 0.5 * spectrum.volume_share[i];
    if (diameter < spectrum.diameter[i])
      return std::lerp(previous_share, centre,
                       (diameter - previous_diameter) / (spectrum.diameter[i] - previous_diameter));
    below += spectrum.volume_share[i];
    previous_diameter = spectrum.diameter[i];
    previous_share = centre;
  }
  return 1;
}

double sauter_mean_diameter(const Spectrum& spectrum) {
  check(spectrum);
  double surface = 0;
  for (std::size_t i = 0; i < spectrum.diameter.size(); ++i)
    surface += spectrum.volume_share[i] / spectrum.diameter[i];
  return 1 / surface;
}

double sauter_mean_diameter(Distribution distribution, double dv50, double relative_span) {
  require_spray(dv50, relative_span);
  if (distribution == Distribution::lognormal)
    return dv50 * std::exp(-0.5 * std::pow(ln_geometric_deviation(relative_span), 2));
  const double power = 1 / rosin_rammler_exponent(relative_span);
  return dv50 / (std::pow(std::numbers::ln2, power) * std::tgamma(1 - power));
}

Spectrum spectrum(Distribution distribution, double dv50, double relative_span, int bins) {
  require_spray(dv50, relative_span);
  if (distribution == Distribution::lognormal) {
    const double width = ln_geometric_deviation(relative_span);
    return bins_of([&](double, double z) { return dv50 * std::exp(width * z); }, bins);
  }
  const double power = 1 / rosin_rammler_exponent(relative_span);
  return bins_of(
      [&](double share, double) { return dv50 * std::pow(-std::log1p(-share) / std::numbers::ln2, power); },
      bins);
}

Spectrum three_quantile_spectrum(double dv10, double dv50, double dv90, int bins) {
  require("dv10", dv10, 1e-6, 5e-3, "m");
  require("dv90", dv90, 1e-6, 5e-3, "m");
  if (!(dv10 < dv50 && dv50 < dv90)) throw InputError("the three quantiles must rise: dv10 < dv50 < dv90");
  const double below = std::log(dv50 / dv10) / z90, above = std::log(dv90 / dv50) / z90;
  return bins_of([&](double, double z) { return dv50 * std::exp((z < 0 ? below : above) * z); }, bins);
}

Spectrum measured_spectrum(std::span<const double> diameter, std::span<const double> cumulative_share,
                           int bins) {
  const std::size_t rows = diameter.size();
  if (rows < 2 || rows != cumulative_share.size())
    throw InputError(
        "a measured spectrum needs two or more rows of diameter and share, as many of one as of the other");
  for (std::size_t i = 0; i < rows; ++i) {
    require("diameter", diameter[i], 1e-7, 1e-2, "m");
    if (i && !(diameter[i] > diameter[i - 1]))
      throw InputError("measured diameters must increase from row to row");
    if (i && !(cumulative_share[i] >= cumulative_share[i - 1]))
      throw InputError("the cumulative share must not fall from row to row");
  }
  if (cumulative_share.front() != 0 || cumulative_share.back() != 1)
    throw InputError(
        "the cumulative share must start at 0 (smallest diameter) and end at 1 (largest diameter)");
  return bins_of(
      [&](double share, double) {
        const auto above = std::upper_bound(cumulative_share.begin(), cumulative_share.end(), share);
        const auto i = static_cast<std::size_t>(above - cumulative_share.begin());
        const double part =
            (share - cumulative_share[i - 1]) / (cumulative_share[i] - cumulative_share[i - 1]);
        return std::lerp(diameter[i - 1], diameter[i], part);
      },
      bins);
}

Spectrum distinct(const Spectrum& spectrum) {
  if (spectrum.diameter.size() != spectrum.volume_share.size())
    throw InputError("a spectrum needs as many volume shares as diameters");
  std::map<double, double> share_of;
  for (std::size_t i = 0; i < spectrum.diameter.size(); ++i) {
    require("diameter", spectrum.diameter[i], std::numeric_limits<double>::min(), 1e-2, "m");
    const double share =
        require("volume_share", spectrum.volume_share[i], 0, std::numeric_limits<double>::max(), "");
    if (share > 0) share_of[spectrum.diameter[i]] += share;
  }
  Spectrum result;
  for (const auto& [diameter, share] : share_of) {
    result.diameter.push_back(diameter);
    result.volume_share.push_back(share);
  }
  return result;
}

void check(const Spectrum& spectrum) {
  if (spectrum.diameter.empty() || spectrum.diameter.size() != spectrum.volume_share.size())
    throw InputError("a spectrum needs as many volume shares as diameters, and at least one");
  for (std::size_t i = 0; i < spectrum.diameter.size(); ++i) {
    require("diameter", spectrum.diameter[i], std::numeric_limits<double>::min(), 1e-2, "m");
    require("volume_share", spectrum.volume_share[i], 0, 1 + share_rounding, "");
    if (i && !(spectrum.diameter[i] > spectrum.diameter[i - 1]))
      throw InputError("the diameters of a spectrum must increase");
  }
  const double sum = std::accumulate(spectrum.volume_share.begin(), spectrum.volume_share.end(), 0.0);
  if (std::abs(sum - 1) > share_rounding) throw InputError("the volume shares of a spectrum must sum to 1");
}

std::span<const SizeClass> size_classes() {
  static constexpr std::string_view dv50_middle =
      "geometric middle of the Dv0.5 boundaries commonly printed for ASABE S572, which itself sets no "
      "absolute sizes "
      "(from memory)";
  static constexpr std::string_view dv50_open =
      "assumption: beyond the last boundary commonly printed (from memory)";
  static constexpr std::array<SizeClass, 8> classes{{{"extremely fine", 45e-6, 1.4, dv50_open},
                                                     {"very fine", 80e-6, 1.4, dv50_middle},
                                                     {"fine", 160e-6, 1.4, dv50_middle},
                                                     {"medium", 280e-6, 1.4, dv50_middle},
                                                     {"coarse", 370e-6, 1.3, dv50_middle},
                                                     {"very coarse", 450e-6, 1.2, dv50_middle},
                                                     {"extremely coarse", 580e-6, 1.2, dv50_middle},
                                                     {"ultra coarse", 800e-6, 1.2, dv50_open}}};
  return classes;
}

const SizeClass& size_class(std::string_view name) {
  return row_named(name, size_classes(), "droplet size class");
}

}  // namespace wetspan
