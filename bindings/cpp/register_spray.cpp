// The spray rooms on their own: nozzles, spectra, flight, impact, where a spray lands, cards; and the table
// of inputs that only these calculators ask for.

#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <array>
#include <cmath>
#include <cstdint>
#include <limits>
#include <map>
#include <numbers>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "arrays.hpp"
#include "wetspan/errors.hpp"
#include "wetspan/plant/coverage.hpp"
#include "wetspan/spray/droplets.hpp"
#include "wetspan/spray/nozzle.hpp"
#include "wetspan/study/landing.hpp"

namespace py = pybind11;
using namespace wetspan;

namespace {

/// What the calculators ask for beyond the scenario's table.
std::span<const Parameter> spray_parameters() {
  using enum Kind;
  using enum Grade;
  constexpr double most_angle = std::numbers::pi / 2;
  // clang-format off
  static constexpr std::array<Parameter, 15> rows{{
      {"nozzle", "measured_flow", number, 1.333e-5, 1e-7, 1e-3, 1, "m^3/s", "L/min", D, "the user's measurement",
       "Flow caught from one nozzle at its pressure", {}},
      {"nozzle", "pace", number, 0.5, 1e-3, 20, 1, "m/s", "m/s", D, "the user's pace",
       "Pace of the walk along the bench, or of the boom", {}},
      {"nozzle", "swath", number, 1.0, 0.01, 100, 1, "m", "m", D, "the user's bench",
       "Width that one walk along the bench covers", {}},
      {"nozzle", "spacing", number, 0.5, 0.01, 10, 1, "m", "cm", D, "the user's boom or line",
       "Distance between neighbouring nozzles", {}},
      {"nozzle", "line_spacing", number, 1.0, 0.01, 100, 1, "m", "m", D, "the user's lines",
       "Distance between neighbouring lines of fixed nozzles", {}},
      {"nozzle", "time", number, 10, 0.01, 86400, 1, "s", "s", D, "the user's timer",
       "How long fixed nozzles are on", {}},
      {"droplet", "diameter", number, 300e-6, 1e-6, 6e-3, 1, "m", "um", D, "the user's choice",
       "Diameter of a droplet", {}},
      {"droplet", "share", number, 0.5, 0, 1, 1, "1", "percent", D, "the user's measurement",
       "Share of the volume in smaller droplets", {}},
      {"droplet", "speed", number, 2.0, 0, 100, 1, "m/s", "m/s", D, "the user's choice",
       "Speed of a droplet as it meets the leaf", {}},
      {"droplet", "incidence", number, 0, 0, most_angle, 1, "rad", "deg", D, "the user's choice",
       "Angle between a droplet's path and the leaf's normal", {}},
      {"card", "width", number, Card{}.width, 1e-3, 1, 1, "m", "mm", D, "a usual card", "Width of the card", {}},
      {"card", "height", number, Card{}.height, 1e-3, 1, 1, "m", "mm", D, "a usual card", "Height of the card", {}},
      {"card", "spread_factor", number, Card{}.spread_factor, 1, 5, 1.25, "1", "1", D,
       "assumption: 1.5 to 2.2, more for large droplets", "Diameter of a stain over that of its droplet", {}},
      {"card", "smallest_stain", number, Card{}.smallest_stain, 0, 1e-3, 1.5, "m", "um", D, "assumption",
       "Diameter below which a stain is not seen", {}},
      {"card", "pixel", number, 20e-6, 5e-6, 1e-3, 1, "m", "um", D, "convention: a scan of 1270 dots per inch",
       "Width of the image's pixels", {}}}};
  // clang-format on
  return rows;
}

/// The same liquid with every diameter once, increasing.
Spectrum distinct(const Spectrum& spectrum) {
  std::map<double, double> share_of;
  for (std::size_t i = 0; i < spectrum.diameter.size(); ++i)
    if (spectrum.volume_share[i] > 0.0) share_of[spectrum.diameter[i]] += spectrum.volume_share[i];
  Spectrum result;
  for (const auto& [diameter, share] : share_of) {
    result.diameter.push_back(diameter);
    result.volume_share.push_back(share);
  }
  return result;
}

// Rooms ---------------------------------------------------------------------------------------------------

void register_nozzle(py::module_& m) {
  py::class_<NozzleSize>(m, "NozzleSize", "A nozzle size of ISO 10625.")
      .def_readonly("name", &NozzleSize::name)
      .def_readonly("colour", &NozzleSize::colour, "of the body or cap")
      .def_readonly("flow", &NozzleSize::flow, "of water at 3 bar [m3/s]");
  m.def(
      "nozzle_sizes", [] { return std::vector<NozzleSize>(nozzle_sizes().begin(), nozzle_sizes().end()); },
      "The nozzle sizes of ISO 10625, smallest first.");
  m.def("nozzle_flow", py::vectorize(nozzle_flow), py::arg("rated_flow"), py::arg("pressure"),
        py::arg("rated_pressure") = nozzle_rating_pressure,
        "Flow [m3/s] at a pressure [Pa] of a nozzle that gives `rated_flow` at `rated_pressure`: Q0 sqrt(p / "
        "p0).");
  m.def("exit_speed", py::vectorize(exit_speed), py::arg("pressure"), py::arg("liquid_density"),
        py::arg("velocity_coefficient"), "Speed of the liquid at the orifice [m/s]: C_v sqrt(2 p / rho).");
  m.def("fan_width", &fan_width, py::arg("height"), py::arg("fan_angle"),
        "Width [m] a fan [rad] covers from a height [m]: 2 h tan(angle / 2).");
  m.def("volume_rate", &volume_rate, py::arg("flow"), py::arg("pace"), py::arg("swath"),
        "Volume per area [m] from flow [m3/s], pace [m/s] and swath [m]: Q / (v w).");
  m.def("pace_for", &pace_for, py::arg("flow"), py::arg("rate"), py::arg("swath"),
        "Pace [m/s] that gives a volume per area [m]: Q / (q w).");
}

void register_spectrum(py::module_& m) {
  py::enum_<Distribution>(m, "Distribution", "Laws of the volume distribution.")
      .value("lognormal", Distribution::lognormal)
      .value("rosin_rammler", Distribution::rosin_rammler);
  py::class_<Spectrum>(m, "Spectrum", "Volume shares at representative diameters.")
      .def(py::pickle([](const Spectrum& self) { return py::make_tuple(self.diameter, self.volume_share); },
                      [](const py::tuple& state) {
                        Spectrum spectrum;
                        spectrum.diameter = py::cast<std::vector<double>>(state[0]);
                        spectrum.volume_share = py::cast<std::vector<double>>(state[1]);
                        return spectrum;
                      }))
      .def_property_readonly(
          "diameter", [](const Spectrum& self) { return array(self.diameter); }, "[m], increasing")
      .def_property_readonly(
          "volume_share", [](const Spectrum& self) { return array(self.volume_share); },
          "[1], sums to 1; nothing landed if empty");
  m.def("spectrum", &spectrum, py::arg("distribution"), py::arg("dv50"), py::arg("relative_span"),
        py::arg("bins"), "Bins of a two-parameter spectrum of volume median diameter dv50 [m].");
  m.def("three_quantile_spectrum", &three_quantile_spectrum, py::arg("dv10"), py::arg("dv50"),
        py::arg("dv90"), py::arg("bins"), "Bins of the spectrum through three quantiles [m].");
  m.def(
      "measured_spectrum",
      [](const Column& diameter, const Column& share, int bins) {
        return measured_spectrum(view(diameter), view(share), bins);
      },
      py::arg("diameter"), py::arg("cumulative_share"), py::arg("bins"),
      "Bins of a table of the volume share below each diameter [m], from 0 to 1.");
  m.def("volume_quantile", &volume_quantile, py::arg("distribution"), py::arg("dv50"),
        py::arg("relative_span"), py::arg("share"), "Diameter [m] below which `share` of the volume lies.");
  m.def("share_below", py::overload_cast<Distribution, double, double, double>(&share_below),
        py::arg("distribution"), py::arg("dv50"), py::arg("relative_span"), py::arg("diameter"),
        "Share of the volume in droplets smaller than `diameter` [m].");
  m.def("share_below", py::overload_cast<const Spectrum&, double>(&share_below), py::arg("spectrum"),
        py::arg("diameter"), "The same from bins.");
  m.def("sauter_mean_diameter", py::overload_cast<Distribution, double, double>(&sauter_mean_diameter),
        py::arg("distribution"), py::arg("dv50"), py::arg("relative_span"), "Sauter mean diameter [m].");
  m.def("sauter_mean_diameter", py::overload_cast<const Spectrum&>(&sauter_mean_diameter),
        py::arg("spectrum"), "The same from bins.");
  py::class_<SizeClass>(m, "SizeClass", "The representative of a droplet size class.")
      .def_readonly("name", &SizeClass::name)
      .def_readonly("dv50", &SizeClass::dv50, "[m]")
      .def_readonly("relative_span", &SizeClass::relative_span, "[1]")
      .def_readonly("source", &SizeClass::source, "of dv50");
  m.def(
      "size_classes", [] { return std::vector<SizeClass>(size_classes().begin(), size_classes().end()); },
      "The representative of each droplet size class, finest first.");
}

/// What a droplet would do in still air.
struct StillAir {
  double terminal_speed, stop_distance, lifetime;
};

StillAir in_still_air(double diameter, const FlightInput& input) {
  constexpr double nan = std::numeric_limits<double>::quiet_NaN();
  try {
    return {.terminal_speed = terminal_speed(diameter, input.air, input.drag),
            .stop_distance = stop_distance(diameter, input.exit_speed, input.air, input.drag),
            .lifetime = still_air_lifetime(diameter, input.air, input.core_share)};
  } catch (const InputError&) {  // outside the sizes that these formulas hold for, which flights may have
    return {nan, nan, nan};
  }
}

void register_flight(py::module_& m) {
  py::class_<FlightInput>(m, "FlightInput", "Where and how a spray is released.")
      .def_readonly("exit_speed", &FlightInput::exit_speed, "of the liquid [m/s]")
      .def_readonly("jet_length", &FlightInput::jet_length, "of the air jet [m]");
  m.def(
      "flight_input",
      [](const Scenario& scenario, const CropAir& air, double start) {
        return flight_input(scenario, air.at(start));
      },
      py::arg("scenario"), py::arg("air"), py::arg("start"), "Where and how a scenario's spray is released.");
  py::class_<DropletFlight>(m, "DropletFlight", "The flight of one droplet; shares of its volume.")
      .def_readonly("evaporated", &DropletFlight::evaporated, "[1]")
      .def_readonly("airborne", &DropletFlight::airborne, "past the edge of the bench, or still aloft [1]")
      .def_readonly("delivered", &DropletFlight::delivered, "[1]")
      .def_property_readonly(
          "end",
          [](const DropletFlight& self) {
            static constexpr std::array<const char*, 4> ends{"reached crop", "left target", "evaporated",
                                                             "still aloft"};
            return ends[static_cast<std::size_t>(self.end)];
          },
          "how it ended: reached crop, left target, evaporated or still aloft")
      .def_readonly("time", &DropletFlight::time, "[s]")
      .def_readonly("diameter", &DropletFlight::diameter, "at the end [m]")
      .def_readonly("temperature", &DropletFlight::temperature, "at the end [K]")
      .def_readonly("speed", &DropletFlight::speed, "at the end [m/s]")
      .def_readonly("angle", &DropletFlight::angle, "of the path at the end from straight down [rad]")
      .def_readonly("offset", &DropletFlight::offset, "at the end, downwind of the axis of the spray [m]");
  m.def(
      "fly",
      [](const Column& diameters, const FlightInput& input) {
        const auto sizes = view(diameters);
        const py::gil_scoped_release release;
        std::vector<DropletFlight> flights;
        for (const double diameter : sizes) flights.push_back(fly(diameter, input));
        return flights;
      },
      py::arg("diameters"), py::arg("input"), "Flights of droplets of these diameters [m].");
  py::class_<StillAir>(m, "StillAir", "What a droplet would do in still air.")
      .def_readonly("terminal_speed", &StillAir::terminal_speed, "of its fall [m/s]")
      .def_readonly("stop_distance", &StillAir::stop_distance,
                    "in which drag alone stops it from the exit speed [m]")
      .def_readonly("lifetime", &StillAir::lifetime, "until it has shrunk to its core, motionless [s]");
  m.def("in_still_air", &in_still_air, py::arg("diameter"), py::arg("input"),
        "What a droplet of a diameter [m] would do in still air; NaN outside 1e-6 .. 6e-3 m.");
}

/// Impacts over [speed, diameter].
struct ImpactMap {
  explicit ImpactMap(const std::vector<py::ssize_t>& shape)
      : outcome(shape),
        retained_share(shape),
        splash_parameter(shape),
        excess_energy(shape),
        maximum_spread(shape),
        leaving_speed(shape) {}

  py::array_t<int> outcome;
  py::array_t<double> retained_share, splash_parameter, excess_energy, maximum_spread, leaving_speed;
};

void register_impact(py::module_& m) {
  py::class_<ImpactMap>(m, "ImpactMap", "Impacts on a leaf: arrays over [speed, diameter].")
      .def_readonly("outcome", &ImpactMap::outcome, "0 sticks, 1 rebounds, 2 shatters")
      .def_readonly("retained_share", &ImpactMap::retained_share, "of the volume, that stays on the leaf [1]")
      .def_readonly("splash_parameter", &ImpactMap::splash_parameter, "We^1/2 Re^1/4 [1]")
      .def_readonly("excess_energy", &ImpactMap::excess_energy, "of the rebound, over the surface energy [1]")
      .def_readonly("maximum_spread", &ImpactMap::maximum_spread, "over the droplet's diameter [1]")
      .def_readonly("leaving_speed", &ImpactMap::leaving_speed, "of what leaves [m/s]");
  m.def("wettability_class", &wettability_class, py::arg("contact_angle"),
        "Wettability class of a leaf by the contact angle of water [rad].");
  m.def(
      "impact_map",
      [](const Scenario& scenario, const CropAir& air, double start, const Column& diameters,
         const Column& speeds, double incidence) {
        const ImpactSurface surface = impact_surface(scenario, air.at(start));
        const std::vector<py::ssize_t> shape{speeds.size(), diameters.size()};
        ImpactMap map(shape);
        for (py::ssize_t i = 0; i < shape[0]; ++i) {
          for (py::ssize_t j = 0; j < shape[1]; ++j) {
            const Impact told = impact(diameters.data()[j], speeds.data()[i], incidence,
                                       scenario.leaf.contact_angle, surface);
            map.outcome.mutable_at(i, j) = static_cast<int>(told.outcome);
            map.retained_share.mutable_at(i, j) = told.retained_share;
            map.splash_parameter.mutable_at(i, j) = told.splash_parameter;
            map.excess_energy.mutable_at(i, j) = told.excess_energy;
            map.maximum_spread.mutable_at(i, j) = told.maximum_spread;
            map.leaving_speed.mutable_at(i, j) = told.leaving_speed;
          }
        }
        return map;
      },
      py::arg("scenario"), py::arg("air"), py::arg("start"), py::arg("diameters"), py::arg("speeds"),
      py::arg("incidence"),
      "Impacts on the scenario's leaf of droplets of these diameters [m] and speeds [m/s], at an angle [rad] "
      "from the leaf's normal.");
}

void register_landing(py::module_& m) {
  py::class_<StemPart>(m, "StemPart", "Stems and petioles within a leaf layer; liquid per area of bench [m].")
      .def_readonly("area", &StemPart::area, "lateral area per area of bench [1]")
      .def_readonly("caught", &StemPart::caught, "from droplets that hit them [m]")
      .def_readonly("from_leaves", &StemPart::from_leaves,
                    "of the layer's run-off, what follows petioles [m]")
      .def_readonly("from_above", &StemPart::from_above, "that runs down from the stems above [m]")
      .def_readonly("liquid", &StemPart::liquid, "that came and stayed [m]")
      .def_readonly("run_off", &StemPart::run_off, "that came and ran off [m]");
  py::class_<LeafLayer>(m, "LeafLayer", "A layer of leaves and stems and what it holds.")
      .def_readonly("area", &LeafLayer::area, "one-sided leaf area per area of bench [1]")
      .def_readonly("interception", &LeafLayer::interception,
                    "share of what passes that meets its leaves [1]")
      .def_readonly("liquid", &LeafLayer::liquid, "that came and stayed, per area of bench [m]")
      .def_readonly("run_off", &LeafLayer::run_off, "that came and ran off, per area of bench [m]")
      .def_readonly("droplets", &LeafLayer::droplets, "as they came to rest; empty if none did")
      .def_readonly("stem", &LeafLayer::stem, "the stems and petioles between its leaves");
  py::class_<Landing>(m, "Landing", "Where a spray came to rest.")
      .def_property_readonly(
          "split",
          [](const Landing& self) {
            const Split& split = self.split;
            return std::vector<std::pair<std::string, double>>{
                {"leaf", split.leaf},   {"stem", split.stem},         {"substrate", split.substrate},
                {"bench", split.bench}, {"airborne", split.airborne}, {"evaporated", split.evaporated}};
          },
          "shares of the sprayed volume [1]")
      .def_readonly("layers", &Landing::layers, "from the top down")
      .def_readonly("shattered", &Landing::shattered, "share of the volume that shattered at least once [1]")
      .def_readonly("straight", &Landing::straight,
                    "share that fell onto the substrate past every leaf and stem [1]")
      .def_readonly("rebounded", &Landing::rebounded, "share that bounced off at least once [1]");
  m.def(
      "land",
      [](const Scenario& scenario, const CropAir& air, double start, const Spectrum& spectrum) {
        Landing landing = land(scenario, air.at(start), scenario.application.volume_rate, spectrum);
        for (LeafLayer& layer : landing.layers) layer.droplets = distinct(layer.droplets);
        return landing;
      },
      py::arg("scenario"), py::arg("air"), py::arg("start"), py::arg("spectrum"),
      py::call_guard<py::gil_scoped_release>(),
      "Follows the scenario's application in droplets of `spectrum` from the nozzle to rest.");
}

/// What passes leaf layers.
struct Falling {
  double share;       // of the sprayed volume: per area of crown, over per area of bench [1]
  Spectrum droplets;  // empty if nothing passes
};

void register_falling(py::module_& m) {
  py::class_<Falling>(m, "Falling", "What still falls inside crowns below some leaf layers.")
      .def_readonly("share", &Falling::share,
                    "of the sprayed volume: per area of crown, over per area of bench [1]")
      .def_readonly("droplets", &Falling::droplets, "empty if nothing passes");
  m.def(
      "falling",
      [](const Scenario& scenario, const CropAir& air, double start, const Spectrum& spectrum, int below) {
        if (below < 0 || below > scenario.canopy.layers)
          throw InputError("below = " + std::to_string(below) + " is not a number of leaf layers from 0 to " +
                           std::to_string(scenario.canopy.layers));
        const AirState now = air.at(start);
        const FlightInput input = flight_input(scenario, now);
        std::vector<Parcel> parcels;
        for (std::size_t i = 0; i < spectrum.diameter.size(); ++i) {
          const DropletFlight flight = fly(spectrum.diameter[i], input);
          if (flight.delivered > 0.0 && flight.diameter >= 1e-6)
            parcels.push_back({flight.diameter, flight.speed, std::abs(flight.angle),
                               spectrum.volume_share[i] * flight.delivered});
        }
        std::vector<CanopyLayer> above = canopy_layers(scenario, now);
        above.resize(static_cast<std::size_t>(below));
        const Cascade fall = cascade(parcels, above, impact_surface(scenario, now));
        Spectrum passing;
        for (const Parcel& parcel : fall.through) {
          passing.diameter.push_back(parcel.diameter);
          passing.volume_share.push_back(parcel.volume / fall.ground);
        }
        return Falling{fall.ground, distinct(passing)};
      },
      py::arg("scenario"), py::arg("air"), py::arg("start"), py::arg("spectrum"), py::arg("below"),
      py::call_guard<py::gil_scoped_release>(),
      "What still falls inside crowns below so many leaf layers; drip from leaves is left out.");
}

void register_coverage(py::module_& m) {
  m.def(
      "droplet_density",
      [](const Spectrum& spectrum, double deposit) { return array(droplet_density(spectrum, deposit)); },
      py::arg("spectrum"), py::arg("deposit"), "Droplets per area [1/m2] in each bin of a deposit [m].");
  m.def("leaf_coverage", &leaf_coverage, py::arg("spectrum"), py::arg("deposit"), py::arg("contact_angle"),
        "Share of a leaf wetted by a deposit [m], caps at a contact angle [rad].");
  py::class_<Card>(m, "Card", "A water-sensitive card, lying level.")
      .def(py::init([](double width, double height, double spread_factor, double smallest_stain) {
             return Card{width, height, spread_factor, smallest_stain};
           }),
           py::arg("width"), py::arg("height"), py::arg("spread_factor"), py::arg("smallest_stain"),
           "Width, height [m], stain over droplet diameter [1], least diameter of a stain that is seen [m].");
  py::class_<CardReading>(m, "CardReading", "What a card shows.")
      .def_readonly("density", &CardReading::density, "stains per area [1/m2]")
      .def_readonly("coverage", &CardReading::coverage, "stained share [1]");
  m.def(
      "read_card",
      [](const Spectrum& spectrum, double deposit, const Card& card) {
        return read_card(spectrum, deposit, card);
      },
      py::arg("spectrum"), py::arg("deposit"), py::arg("card"),
      "What is expected of a card under a deposit [m of liquid].");
  m.def(
      "card_spots",
      [](const Spectrum& spectrum, double deposit, std::uint64_t seed, const Card& card) {
        std::vector<Spot> spots;
        {
          py::gil_scoped_release release;
          spots = card_spots(spectrum, deposit, seed, card);
        }
        py::array_t<double> told({spots.size(), std::size_t{3}});
        double* cell = told.mutable_data();
        for (const Spot& spot : spots)
          for (const double value : {spot.x, spot.y, spot.radius}) *cell++ = value;
        return told;
      },
      py::arg("spectrum"), py::arg("deposit"), py::arg("seed"), py::arg("card"),
      "Stains of one card: rows of x, y from the lower left corner and radius [m]; middles may lie just off "
      "the card.");
}

}  // namespace

void register_spray(py::module_& m) {
  m.def(
      "spray_parameters",
      [] { return std::vector<Parameter>(spray_parameters().begin(), spray_parameters().end()); },
      "Every input that the spray calculators ask for beyond a scenario's.");
  register_nozzle(m);
  register_spectrum(m);
  register_flight(m);
  register_impact(m);
  register_landing(m);
  register_falling(m);
  register_coverage(m);
}
