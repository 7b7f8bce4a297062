// The spray rooms on their own: nozzles, spectra, flight, impact, where a spray lands, cards; and the table
// of inputs that only these calculators ask for.

#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <array>
#include <cstdint>
#include <limits>
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
  static constexpr std::array<Parameter, 16> rows{{
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
      {"droplet", "interval", number, 0.01, 1e-3, 10, 1, "s", "ms", D, "the user's choice",
       "Time between the points of a droplet's path", {}},
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

// Rooms ---------------------------------------------------------------------------------------------------

void register_nozzle(py::module_& m) {
  py::class_<NozzleSize>(m, "NozzleSize", "A nozzle size of ISO 10625.")
      .def_readonly("name", &NozzleSize::name, "Name, such as '02'.")
      .def_readonly("colour", &NozzleSize::colour, "Colour of the body or cap.")
      .def_readonly("flow", &NozzleSize::flow, "Flow of water at 3 bar [m3/s].");
  m.def(
      "nozzle_sizes", [] { return std::vector<NozzleSize>(nozzle_sizes().begin(), nozzle_sizes().end()); },
      "Returns the nozzle sizes of ISO 10625, the smallest first.");
  m.def("nozzle_flow", py::vectorize(nozzle_flow), py::arg("rated_flow"), py::arg("pressure"),
        py::arg("rated_pressure") = nozzle_rating_pressure,
        "Returns the flow [m3/s] at `pressure` [Pa] of a nozzle that gives `rated_flow` at "
        "`rated_pressure`: Q0 sqrt(p / p0).");
  m.def("exit_speed", py::vectorize(exit_speed), py::arg("pressure"), py::arg("liquid_density"),
        py::arg("velocity_coefficient"),
        "Returns the speed of the liquid at the orifice [m/s]: C_v sqrt(2 p / rho).");
  m.def("fan_width", &fan_width, py::arg("height"), py::arg("fan_angle"),
        "Returns the width [m] that a fan of opening fan_angle [rad] covers from `height` [m]: 2 h "
        "tan(angle / 2).");
  m.def("volume_rate", &volume_rate, py::arg("flow"), py::arg("pace"), py::arg("swath"),
        "Returns the volume per area [m] from flow [m3/s], pace [m/s] and swath [m]: Q / (v w).");
  m.def("pace_for", &pace_for, py::arg("flow"), py::arg("rate"), py::arg("swath"),
        "Returns the pace [m/s] at which a flow [m3/s] gives the volume per area `rate` [m] over `swath` "
        "[m]: Q / (q w).");
}

void register_spectrum(py::module_& m) {
  py::enum_<Distribution>(m, "Distribution", "Law of the volume's distribution over diameter.")
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
          "diameter", [](const Spectrum& self) { return array(self.diameter); }, "Diameters [m], increasing.")
      .def_property_readonly(
          "volume_share", [](const Spectrum& self) { return array(self.volume_share); },
          "Shares of the volume [1], which sum to 1; empty if there is no liquid.");
  m.def("spectrum", &spectrum, py::arg("distribution"), py::arg("dv50"), py::arg("relative_span"),
        py::arg("bins"),
        "Returns the bins of a two-parameter spectrum with the volume median diameter dv50 [m].");
  m.def("three_quantile_spectrum", &three_quantile_spectrum, py::arg("dv10"), py::arg("dv50"),
        py::arg("dv90"), py::arg("bins"), "Returns the bins of the spectrum with three given quantiles [m].");
  m.def(
      "measured_spectrum",
      [](const Column& diameter, const Column& share, int bins) {
        return measured_spectrum(view(diameter), view(share), bins);
      },
      py::arg("diameter"), py::arg("cumulative_share"), py::arg("bins"),
      "Returns the bins of a measured spectrum: the share of the volume below each diameter [m], from 0 to "
      "1.");
  m.def("volume_quantile", &volume_quantile, py::arg("distribution"), py::arg("dv50"),
        py::arg("relative_span"), py::arg("share"),
        "Returns the diameter [m] below which `share` of the volume lies.");
  m.def("share_below", py::overload_cast<Distribution, double, double, double>(&share_below),
        py::arg("distribution"), py::arg("dv50"), py::arg("relative_span"), py::arg("diameter"),
        "Returns the share of the volume in droplets smaller than `diameter` [m].");
  m.def("share_below", py::overload_cast<const Spectrum&, double>(&share_below), py::arg("spectrum"),
        py::arg("diameter"), "Returns the same share of a spectrum in bins.");
  m.def("sauter_mean_diameter", py::overload_cast<Distribution, double, double>(&sauter_mean_diameter),
        py::arg("distribution"), py::arg("dv50"), py::arg("relative_span"),
        "Returns the Sauter mean diameter [m].");
  m.def("sauter_mean_diameter", py::overload_cast<const Spectrum&>(&sauter_mean_diameter),
        py::arg("spectrum"), "Returns the Sauter mean diameter [m] of a spectrum in bins.");
  py::class_<SizeClass>(m, "SizeClass", "The representative of a droplet size class.")
      .def_readonly("name", &SizeClass::name, "Name, such as 'medium'.")
      .def_readonly("dv50", &SizeClass::dv50, "Volume median diameter [m].")
      .def_readonly("relative_span", &SizeClass::relative_span, "Relative span [1].")
      .def_readonly("source", &SizeClass::source, "Source of the volume median diameter.");
  m.def(
      "size_classes", [] { return std::vector<SizeClass>(size_classes().begin(), size_classes().end()); },
      "Returns the representative of each droplet size class, the finest first.");
}

/// Fall, stopping distance and evaporation of a droplet in still air.
struct StillAir {
  double terminal_speed, stop_distance, lifetime;
};

/// The path of a droplet as rows of time, x, z, speed, diameter, temperature.
py::array_t<double> path_rows(double diameter, const FlightInput& input, double interval) {
  const std::vector<FlightPoint> path = flight_path(diameter, input, interval);
  py::array_t<double> rows({path.size(), std::size_t{6}});
  double* cell = rows.mutable_data();
  for (const FlightPoint& at : path)
    for (const double value : {at.time, at.x, at.z, at.speed, at.diameter, at.temperature}) *cell++ = value;
  return rows;
}

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

void register_still_air(py::module_& m) {
  py::class_<StillAir>(m, "StillAir", "Fall, stopping distance and evaporation of a droplet in still air.")
      .def_readonly("terminal_speed", &StillAir::terminal_speed, "Terminal speed of its fall [m/s].")
      .def_readonly("stop_distance", &StillAir::stop_distance,
                    "Distance in which drag alone stops it from the exit speed [m].")
      .def_readonly("lifetime", &StillAir::lifetime,
                    "Time in which it evaporates to its non-volatile core, motionless [s].");
  m.def("in_still_air", &in_still_air, py::arg("diameter"), py::arg("input"),
        "Computes fall, stopping distance and evaporation in still air of a droplet of a diameter [m]; NaN "
        "outside 1e-6 .. 6e-3 m.");
}

void register_flight(py::module_& m) {
  py::class_<FlightInput>(m, "FlightInput", "Release of a spray: nozzle, air and geometry.")
      .def_readonly("exit_speed", &FlightInput::exit_speed, "Speed of the liquid at the nozzle [m/s].")
      .def_readonly("jet_length", &FlightInput::jet_length, "Length scale of the air jet [m].")
      .def_property_readonly(
          "droplet_temperature", [](const FlightInput& self) { return droplet_temperature(self.air); },
          "Steady temperature of a small water droplet in the air [K].");
  m.def(
      "flight_input",
      [](const Scenario& scenario, const CropAir& air, double start) {
        return flight_input(scenario, air.at(start));
      },
      py::arg("scenario"), py::arg("air"), py::arg("start"),
      "Returns the release of a scenario's spray into the air of a record at `start` [s].");
  py::class_<DropletFlight>(
      m, "DropletFlight",
      "Result of the flight of one droplet. The three shares refer to its volume at the nozzle and sum to 1.")
      .def_readonly("evaporated", &DropletFlight::evaporated, "Share that evaporates [1].")
      .def_readonly("airborne", &DropletFlight::airborne,
                    "Share that passes the edge of the bench or is still in the air [1].")
      .def_readonly("delivered", &DropletFlight::delivered, "Share that reaches the crop [1].")
      .def_property_readonly(
          "end",
          [](const DropletFlight& self) {
            static constexpr std::array<const char*, 4> ends{"reached crop", "left target", "evaporated",
                                                             "still aloft"};
            return ends[static_cast<std::size_t>(self.end)];
          },
          "End of the flight: 'reached crop', 'left target', 'evaporated' or 'still aloft'.")
      .def_readonly("time", &DropletFlight::time, "Duration of the flight [s].")
      .def_readonly("diameter", &DropletFlight::diameter, "Diameter at the end [m].")
      .def_readonly("temperature", &DropletFlight::temperature, "Temperature at the end [K].")
      .def_readonly("speed", &DropletFlight::speed, "Speed at the end [m/s].")
      .def_readonly("angle", &DropletFlight::angle, "Angle of the path at the end from straight down [rad].")
      .def_readonly("offset", &DropletFlight::offset,
                    "Position at the end, downwind of the axis of the spray [m].")
      .def_readonly("heat", &DropletFlight::heat,
                    "Heat taken from the air, per volume of the droplet at the nozzle [J/m3].");
  m.def(
      "fly",
      [](const Column& diameters, const FlightInput& input) {
        const auto sizes = view(diameters);
        const py::gil_scoped_release release;
        std::vector<DropletFlight> flights;
        for (const double diameter : sizes) flights.push_back(fly(diameter, input));
        return flights;
      },
      py::arg("diameters"), py::arg("input"),
      "Computes the flights of droplets with these diameters [m] at the nozzle.");
  m.def("flight_path", &path_rows, py::arg("diameter"), py::arg("input"), py::arg("interval"),
        "Computes the path of a droplet with a diameter [m] at the nozzle, as rows of time [s], position "
        "downwind [m], height above the crop [m], speed [m/s], diameter [m] and temperature [K]. There is "
        "a row every `interval` [s], and one for the end of the flight.");
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
  py::class_<ImpactMap>(m, "ImpactMap", "Impacts of droplets on a leaf, as arrays over [speed, diameter].")
      .def_readonly("outcome", &ImpactMap::outcome,
                    "0 if the droplet adheres, 1 if it rebounds, 2 if it shatters.")
      .def_readonly("retained_share", &ImpactMap::retained_share,
                    "Share of the volume that stays on the leaf [1].")
      .def_readonly("splash_parameter", &ImpactMap::splash_parameter, "Splash parameter We^1/2 Re^1/4 [1].")
      .def_readonly("excess_energy", &ImpactMap::excess_energy,
                    "Excess rebound energy over the surface energy of the droplet [1].")
      .def_readonly("maximum_spread", &ImpactMap::maximum_spread,
                    "Maximum spread over the diameter of the droplet [1].")
      .def_readonly("leaving_speed", &ImpactMap::leaving_speed, "Speed of the volume that leaves [m/s].");
  py::enum_<SpreadLaw>(m, "SpreadLaw", "Law for the maximum spread of a droplet.")
      .value("mao", SpreadLaw::mao, "Mao, Kuhn & Tran 1997")
      .value("pasandideh_fard", SpreadLaw::pasandideh_fard, "Pasandideh-Fard et al. 1996");
  m.def("wettability_class", &wettability_class, py::arg("contact_angle"),
        "Returns the wettability class of a leaf by the contact angle of water [rad].");
  m.def(
      "impact_map",
      [](const Scenario& scenario, const CropAir& air, double start, const Column& diameters,
         const Column& speeds, double incidence, SpreadLaw spread_law) {
        ImpactSurface surface = impact_surface(scenario, air.at(start));
        surface.spread_law = spread_law;
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
      py::arg("incidence"), py::arg("spread_law"),
      "Computes the impacts on the scenario's leaf of droplets of these diameters [m] and speeds [m/s], "
      "whose path has the angle `incidence` [rad] to the leaf's normal.");
}

void register_landing(py::module_& m) {
  py::class_<StemPart>(
      m, "StemPart",
      "Stems and petioles within a leaf layer, and the balance of their liquid per area of bench [m].")
      .def_readonly("area", &StemPart::area, "Lateral area per area of bench [1].")
      .def_readonly("caught", &StemPart::caught, "Liquid of the droplets that hit them [m].")
      .def_readonly("from_leaves", &StemPart::from_leaves,
                    "Run-off of the layer's leaves that follows petioles [m].")
      .def_readonly("from_above", &StemPart::from_above, "Run-off of the stems above [m].")
      .def_readonly("liquid", &StemPart::liquid, "Retained liquid [m].")
      .def_readonly("run_off", &StemPart::run_off, "Run-off [m].");
  py::class_<LeafLayer>(m, "LeafLayer", "A layer of leaves and stems, and the liquid that it retains.")
      .def_readonly("area", &LeafLayer::area, "One-sided leaf area per area of bench [1].")
      .def_readonly("interception", &LeafLayer::interception,
                    "Share of the flux through crowns that its leaves intercept [1].")
      .def_readonly("liquid", &LeafLayer::liquid, "Liquid retained on its leaves, per area of bench [m].")
      .def_readonly("run_off", &LeafLayer::run_off, "Run-off from its leaves, per area of bench [m].")
      .def_readonly("droplets", &LeafLayer::droplets,
                    "Sizes of the retained droplets; empty if there are none.")
      .def_readonly("stem", &LeafLayer::stem, "The stems and petioles between its leaves.");
  py::class_<Landing>(m, "Landing", "Result of a landing: where the liquid came to rest.")
      .def_property_readonly(
          "split",
          [](const Landing& self) {
            const Split& split = self.split;
            return std::vector<std::pair<std::string, double>>{
                {"leaf", split.leaf},   {"stem", split.stem},         {"substrate", split.substrate},
                {"bench", split.bench}, {"airborne", split.airborne}, {"evaporated", split.evaporated}};
          },
          "Shares of the sprayed volume by place [1], which sum to 1.")
      .def_readonly("layers", &Landing::layers, "The leaf layers, from the top down.")
      .def_readonly("shattered", &Landing::shattered,
                    "Volume that shattered on leaves over the sprayed volume, summed over impacts [1].")
      .def_readonly("straight", &Landing::straight,
                    "Share that reached the substrate without touching a leaf or stem [1].")
      .def_readonly("rebounded", &Landing::rebounded,
                    "Volume that rebounded from leaves over the sprayed volume, summed over impacts [1].")
      .def_readonly("heat", &Landing::heat,
                    "Heat that the flight takes from the air, per sprayed volume [J/m3].");
  m.def(
      "land",
      [](const Scenario& scenario, const CropAir& air, double start, const Spectrum& spectrum) {
        Landing landing = land(scenario, air.at(start), scenario.application.volume_rate, spectrum);
        for (LeafLayer& layer : landing.layers) layer.droplets = distinct(layer.droplets);
        return landing;
      },
      py::arg("scenario"), py::arg("air"), py::arg("start"), py::arg("spectrum"),
      py::call_guard<py::gil_scoped_release>(),
      "Computes where the scenario's application comes to rest, if it is sprayed in droplets of `spectrum` "
      "at `start` [s] of an air record.");
}

void register_falling(py::module_& m) {
  py::class_<FallingLiquid>(m, "FallingLiquid", "Liquid that falls inside crowns.")
      .def_readonly("share", &FallingLiquid::share,
                    "Volume per area of crown over the sprayed volume per area of bench [1].")
      .def_readonly("droplets", &FallingLiquid::droplets, "Its droplets; empty if nothing falls there.");
  m.def(
      "falling_below",
      [](const Scenario& scenario, const CropAir& air, double start, const Spectrum& spectrum, int below) {
        return falling_below(scenario, air.at(start), spectrum, below);
      },
      py::arg("scenario"), py::arg("air"), py::arg("start"), py::arg("spectrum"), py::arg("below"),
      py::call_guard<py::gil_scoped_release>(),
      "Computes the liquid that falls inside crowns below `below` leaf layers, without drip from leaves.");
}

void register_coverage(py::module_& m) {
  m.def(
      "droplet_density",
      [](const Spectrum& spectrum, double deposit) { return array(droplet_density(spectrum, deposit)); },
      py::arg("spectrum"), py::arg("deposit"),
      "Returns the droplets per area [1/m2] in each bin of a deposit [m].");
  m.def("leaf_coverage", &leaf_coverage, py::arg("spectrum"), py::arg("deposit"), py::arg("contact_angle"),
        "Returns the share of a leaf that a deposit [m] wets, in droplets with the shape of caps at a "
        "contact angle [rad].");
  py::class_<Card>(m, "Card", "A water-sensitive card that lies level.")
      .def(py::init([](double width, double height, double spread_factor, double smallest_stain) {
             return Card{width, height, spread_factor, smallest_stain};
           }),
           py::arg("width"), py::arg("height"), py::arg("spread_factor"), py::arg("smallest_stain"),
           "Makes a card from its width and height [m], the diameter of a stain over that of its droplet "
           "[1], and the smallest diameter of a visible stain [m].");
  py::class_<CardReading>(m, "CardReading", "Reading of a card.")
      .def_readonly("density", &CardReading::density, "Visible stains per area [1/m2].")
      .def_readonly("coverage", &CardReading::coverage, "Share of the card that is stained [1].");
  m.def(
      "read_card",
      [](const Spectrum& spectrum, double deposit, const Card& card) {
        return read_card(spectrum, deposit, card);
      },
      py::arg("spectrum"), py::arg("deposit"), py::arg("card"),
      "Returns the expected reading of a card under a deposit [m of liquid].");
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
      "Draws the stains of one card, as rows of x, y from the lower left corner and radius [m]. The centre "
      "of a stain at the edge may lie beside the card.");
}

}  // namespace

void register_spray(py::module_& m) {
  m.def(
      "spray_parameters",
      [] { return std::vector<Parameter>(spray_parameters().begin(), spray_parameters().end()); },
      "Returns all inputs of the spray calculators that a scenario does not have.");
  register_nozzle(m);
  register_spectrum(m);
  register_flight(m);
  register_still_air(m);
  register_impact(m);
  register_landing(m);
  register_falling(m);
  register_coverage(m);
}
