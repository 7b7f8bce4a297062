// The distribution of the sprayed volume over droplet diameter.
#pragma once

#include <span>
#include <string_view>
#include <vector>

namespace wetspan {

enum class Distribution { lognormal, rosin_rammler };  ///< law of the volume's distribution over diameter

/// Volume shares at representative diameters: bin i represents the share `volume_share[i]` of the liquid by
/// droplets of `diameter[i]`.
struct Spectrum {
  std::vector<double> diameter;      ///< [m], increasing
  std::vector<double> volume_share;  ///< [-], sums to 1
};

/// Logarithm [-] of the geometric standard deviation of the lognormal spectrum with a given relative span:
/// RS = (Dv0.9 - Dv0.1) / Dv0.5 = 2 sinh(1.28155 ln sigma_g). Definition; grade B.
double ln_geometric_deviation(double relative_span);

/// Exponent q [-] of the Rosin-Rammler spectrum with a given relative span:
/// RS = ((ln 10)^(1/q) - (-ln 0.9)^(1/q)) / (ln 2)^(1/q). Definition (Rosin & Rammler 1933); grade B.
double rosin_rammler_exponent(double relative_span);
/// Relative span of a Rosin-Rammler spectrum of exponent q >= 1 [-].
double rosin_rammler_relative_span(double q);

/// Diameter [m] below which `share` (0 < share < 1) of the volume lies. Lognormal:
/// ln d = ln Dv0.5 + ln sigma_g z(share), with z the standard normal quantile. Rosin-Rammler:
/// d = Dv0.5 (-ln(1 - share) / ln 2)^(1/q).
/// @param dv50 volume median diameter, 1e-6 .. 5e-3 m
/// @param relative_span (Dv0.9 - Dv0.1) / Dv0.5, 0.05 .. 3
/// @throws InputError outside these ranges
double volume_quantile(Distribution distribution, double dv50, double relative_span, double share);

/// Share of the volume in droplets smaller than `diameter` [m]: the inverse function of `volume_quantile`.
double share_below(Distribution distribution, double dv50, double relative_span, double diameter);
/// The same share from the bins of a spectrum: the volume of each bin is centred on its diameter, and the
/// share is interpolated linearly.
double share_below(const Spectrum& spectrum, double diameter);

/// Sauter mean diameter D32 [m], 1 / sum(share / diameter): the diameter of the droplet with the same ratio
/// of volume to surface as the spray.
double sauter_mean_diameter(const Spectrum& spectrum);
/// The same in closed form: lognormal Dv0.5 exp(-(ln sigma_g)^2 / 2); Rosin-Rammler
/// Dv0.5 / (ln 2)^(1/q) / Gamma(1 - 1/q).
double sauter_mean_diameter(Distribution distribution, double dv50, double relative_span);

/// Bins of a two-parameter spectrum.
///
/// The nodes are those of Gauss-Legendre quadrature in u, with share = u^2 (3 - 2 u). They integrate smooth
/// functions accurately and are dense in both tails, because the smallest droplets evaporate and drift and
/// the few largest dry last. With 16 bins at relative span 1.4 the error of the Sauter diameter is below 0.01
/// %, and that of the d2-law time to the last 1 % of the liquid below 0.7 %; with bins of equal volume these
/// errors are 1.1 % and 12 % (docs/science/droplets.md).
/// @param bins 1 .. 256
Spectrum spectrum(Distribution distribution, double dv50, double relative_span, int bins);

/// Bins of the spectrum through three quantiles Dv0.1 < Dv0.5 < Dv0.9 [m]. It is lognormal on each side of
/// the median, with a different width on each side, so that it is monotone and has all three quantiles.
/// @throws InputError unless the quantiles increase within 1e-6 .. 5e-3 m and bins are 1 .. 256
Spectrum three_quantile_spectrum(double dv10, double dv50, double dv90, int bins);

/// Bins of a measured table of the share of the volume below each diameter [m], from 0 in the first row to 1
/// in the last. Between two rows the volume is distributed uniformly over diameter.
/// @throws InputError unless both columns increase, diameters within 1e-7 .. 1e-2 m, and bins are 1 .. 256
Spectrum measured_spectrum(std::span<const double> diameter, std::span<const double> cumulative_share,
                           int bins);

/// The same volume with every diameter once, in increasing order, and no bins without volume.
/// @throws InputError unless every bin has a diameter above 0 and a finite share of at least 0
Spectrum distinct(const Spectrum& spectrum);

/// Throws InputError unless diameters are positive, increase and are at most 1e-2 m, and shares are not
/// negative and sum to 1 within 1e-12.
void check(const Spectrum& spectrum);

/// A representative of a droplet size class. The classes of ISO 25358 and ASABE S572 are relative: a nozzle
/// is compared with reference nozzles measured on the same instrument, and the standards define no absolute
/// diameters. Published class boundaries differ by up to a half. Use these representatives only if no
/// measured Dv0.5 and relative span are known. Spans are chosen so that the volume share below 150 um is
/// below 20 % (medium), 10 % (coarse) and 5 % (very coarse), as published in the GRDC Spray application
/// manual, module 4.2, 2025.
struct SizeClass {
  std::string_view name;
  double dv50;           ///< [m]
  double relative_span;  ///< [-]
  std::string_view source;
};

/// All classes, finest first. Dv0.5 grade D; relative span grade C.
std::span<const SizeClass> size_classes();
/// The class called `name` ("very fine" .. "ultra coarse").
/// @throws InputError that lists the known classes
const SizeClass& size_class(std::string_view name);

}  // namespace wetspan
