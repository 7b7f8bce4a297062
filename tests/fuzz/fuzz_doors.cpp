// The cheap doors of the library, microseconds each: names and checks of inputs, spectra, nozzles, tanks,
// jugs, impacts, pots, and the properties of air that solve an equation. Each returns what its header says,
// or one of the library's errors with one line of text.
//
// Built with clang (preset "fuzz"), run by `nox -s fuzz`.
#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <numeric>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "bytes.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/plant/substrate.hpp"
#include "wetspan/properties/air.hpp"
#include "wetspan/spray/droplets.hpp"
#include "wetspan/spray/jug.hpp"
#include "wetspan/spray/nozzle.hpp"
#include "wetspan/spray/tank.hpp"
#include "wetspan/study/scenario.hpp"

namespace {

using namespace wetspan;

void require_shares(std::span<const double> shares, const char* what) {
  const double sum = std::accumulate(shares.begin(), shares.end(), 0.0);
  require(std::abs(sum - 1.0) < 1e-9, what);
  require(std::all_of(shares.begin(), shares.end(), [](double each) { return each >= 0.0; }), what);
}

/// The one door that costs milliseconds: an unknown name is compared with every known one.
void names(Bytes& bytes) {
  std::string name;
  for (auto length = bytes.take<std::uint8_t>() % 40; length > 0; --length) name += bytes.take<char>();
  try {
    require(key_of(parameters()[parameter_index(name)]) == name, "a name finds another input");
  } catch (const InputError&) {  // it may hold any bytes, and is told as given
  }
}

void inputs(Bytes& bytes) {
  Scenario scenario;
  while (!bytes.empty()) {
    const std::size_t index = bytes.take<std::uint8_t>() % parameters().size();
    const Parameter& row = parameters()[index];
    const double value = bytes.number(row.low, row.high);
    set(scenario, index, value);
    require(get(scenario, index) == value, "an input is not what it was set to");
  }
  check(scenario);
}

void spectra(Bytes& bytes) {
  const auto law = bytes.either() ? Distribution::lognormal : Distribution::rosin_rammler;
  const int bins = bytes.take<std::int8_t>();
  const double dv50 = bytes.number(1e-5, 1e-3), span = bytes.number(0.1, 4.0);
  const Spectrum made = spectrum(law, dv50, span, bins);
  require_shares(made.volume_share, "a spectrum does not add up");
  check(made);
  const double share = bytes.number(0.001, 0.999);
  const double below = share_below(law, dv50, span, volume_quantile(law, dv50, span, share));
  require(std::abs(below - share) < 1e-9, "a quantile is not where its share ends");
  require(sauter_mean_diameter(made) > 0.0, "a mean diameter is not above zero");
}

void measured(Bytes& bytes) {
  std::vector<double> diameter, share;
  for (auto length = bytes.take<std::uint8_t>() % 12; length > 0; --length) {
    diameter.push_back(bytes.number(1e-5, 1e-3));
    share.push_back(bytes.number(0.0, 1.0));
  }
  if (bytes.either()) {
    std::sort(diameter.begin(), diameter.end());
    std::sort(share.begin(), share.end());
    if (!share.empty()) share.back() = 1.0;
  }
  const int bins = bytes.take<std::int8_t>();
  require_shares(measured_spectrum(diameter, share, bins).volume_share, "a spectrum does not add up");
}

void quantiles(Bytes& bytes) {
  const std::array dv{bytes.number(1e-5, 1e-3), bytes.number(1e-5, 1e-3), bytes.number(1e-5, 1e-3)};
  const int bins = bytes.take<std::int8_t>();
  require_shares(three_quantile_spectrum(dv[0], dv[1], dv[2], bins).volume_share,
                 "a spectrum does not add up");
}

Concentrate product_of(Bytes& bytes) {
  switch (bytes.take<std::uint8_t>() % 4) {
    case 0:
      return liquid_by_volume(bytes.number(0.1, 500.0));
    case 1:
      return liquid_by_volume(bytes.number(0.1, 500.0), bytes.number(800.0, 1300.0));
    case 2:
      return liquid_by_mass(bytes.number(1e-3, 0.9), bytes.number(800.0, 1300.0));
    default:
      return powder(bytes.number(1e-3, 1.0));
  }
}

void tanks(Bytes& bytes) {
  const Concentrate product = product_of(bytes);
  const double concentration = bytes.number(1e-4, 1.0), volume = bytes.number(1e-4, 10.0);
  Destination on;
  if (bytes.either()) on.area = bytes.number(0.1, 1e4);
  if (bytes.either()) on.pots = bytes.take<std::int16_t>();
  std::optional<double> tank;
  if (bytes.either()) tank = bytes.number(1e-3, 1.0);
  const TankMix made = mix(product, concentration, volume, on, tank);
  require(made.product > 0.0 && made.fills >= 1, "a tank is mixed of nothing");
  const ProductAmount amount =
      product.is_powder() ? ProductAmount{.mass = made.product} : ProductAmount{.volume = made.product};
  const TankMix back = applied(product, amount, {.final_volume = volume}, std::nullopt, on);
  require(std::abs(back.concentration / concentration - 1.0) < 1e-9, "a tank read back is another");
}

void fill(double& member, Bytes& bytes, double low, double high) { member = bytes.number(low, high); }
void fill(int& member, Bytes& bytes, int, int) { member = bytes.take<std::int8_t>(); }

void jugs(Bytes& bytes) {
  Suspension suspension;
#define WETSPAN_FUZZED(type, name, standard, low, high, ...) fill(suspension.name, bytes, low, high);
  WETSPAN_SUSPENSION(WETSPAN_FUZZED)
#undef WETSPAN_FUZZED
  const auto classes = particle_classes(bytes.number(0.0, 1000.0), suspension);
  for (const ParticleClass& each : classes) require(each.concentration > 0.0, "a class is empty");
  std::vector<double> profile, shares;
  for (auto length = bytes.take<std::uint8_t>() % 12; length > 0; --length)
    profile.push_back(bytes.number(0.0, 500.0));
  for (auto length = bytes.take<std::uint8_t>() % 12; length > 0; --length)
    shares.push_back(bytes.number(0.0, 0.3));
  const auto from = bytes.either() ? Draw::top : Draw::bottom;
  for (const double pour : pours(profile, shares, from, bytes.number(0.0, 1.0)))
    require(std::isfinite(pour) && pour > -1e-9, "a pour is no amount");
}

void nozzles(Bytes& bytes) {
  const double flow = nozzle_flow(bytes.number(1e-6, 1e-3), bytes.number(1e4, 4e6));
  const double swath = fan_width(bytes.number(0.1, 2.0), bytes.number(0.01, 2.5));
  const double pace = bytes.number(0.05, 2.0);
  const double rate = volume_rate(flow, pace, swath);
  if (rate > 1e-300 && rate < 1e300)
    require(std::abs(pace_for(flow, rate, swath) / pace - 1.0) < 1e-9, "a pace read back is another");
}

void pots(Bytes& bytes) {
  Scenario scenario;
  for (std::size_t index = 0; index < parameters().size(); ++index) {
    const Parameter& row = parameters()[index];
    if (row.section == "substrate") set(scenario, index, bytes.number(row.low, row.high));
  }
  const auto method = static_cast<Method>(bytes.take<std::uint8_t>() % 4);
  place(scenario.substrate, method, bytes.number(0.0, 1.0));
}

void air_solved(Bytes& bytes) {
  const double temperature = bytes.number(233.15, 353.15);
  const double vapour = bytes.number(1.0, 2000.0), pressure = bytes.number(5e4, 1.1e5);
  require(std::isfinite(air::dew_point(vapour)), "a dew point is no number");
  const double wet_bulb = air::wet_bulb(temperature, vapour, pressure);
  require(std::isfinite(wet_bulb) && wet_bulb < temperature + 1e-6, "a wet bulb is warmer than the air");
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static constexpr std::array doors{inputs, spectra, measured, quantiles, tanks,
                                    jugs,   nozzles, pots,     air_solved};
  Bytes bytes(data, size);
  const std::size_t door = bytes.take<std::uint8_t>();
  try {
    door == 255 ? names(bytes) : doors[door % doors.size()](bytes);
  } catch (const InputError& error) {
    one_line(error.what());
  }
  return 0;
}
