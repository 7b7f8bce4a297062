// From the nozzle to where the liquid comes to rest: flight, impact, leaf layers, stems, ground.
#pragma once

#include <vector>

#include "wetspan/plant/crop_air.hpp"
#include "wetspan/plant/impact.hpp"
#include "wetspan/plant/retention.hpp"
#include "wetspan/spray/droplets.hpp"
#include "wetspan/spray/flight.hpp"
#include "wetspan/study/scenario.hpp"

namespace wetspan {

/// A layer of leaves, from the top down, and what it holds.
struct LeafLayer {
  double area = 0;          ///< one-sided leaf area per area of bench [1]
  double interception = 0;  ///< share of what passes through crowns that meets its leaves [1]
  double light = 0;         ///< share of the light above the crop that it intercepts [1]
  double air_speed = 1;     ///< over that at the top of the crop [1]
  double liquid = 0;        ///< that came and stayed, per area of bench [m]
  double run_off = 0;       ///< that came and ran off, per area of bench [m]
  Spectrum droplets;        ///< as they came to rest
};

/// The crop's leaves in layers of equal area. The share of light and droplets that a layer meets follows the
/// exponential law of `leaf_interception`; the air slows down exponentially with depth.
std::vector<LeafLayer> leaf_layers(const Canopy& canopy);

/// The flight of a scenario's droplets in the air at the crop.
FlightInput flight_input(const Scenario& scenario, const AirState& air);

/// The liquid and the leaf that a scenario's droplets meet.
ImpactSurface impact_surface(const Scenario& scenario, const AirState& air);

/// Where a spray came to rest.
struct Landing {
  Split split;                    ///< of the sprayed volume
  std::vector<LeafLayer> layers;  ///< from the top down
  double stem_run_off = 0;        ///< share that ran off the stems, onto the substrate
  double shattered = 0;           ///< volume that left leaves in pieces, over the sprayed; again at each leaf
  double rebounded = 0;           ///< volume that bounced off leaves whole, likewise
};

/// Follows `volume` [m per area of bench] in droplets of `spectrum` from the nozzle to rest.
///
/// Droplets fly in the air at the crop, the air speed being a draught across the spray, of 5 m/s at most, and
/// the nozzle's jet handing its speed on within 1 m at most; below 5 um they settle on nothing (grade D).
/// Over crowns they fall through the leaf layers, stick, bounce or shatter; what passes the leaves meets
/// stems, then the ground. Leaves hold what their store allows, on top of `held` [m per area of bench, one
/// entry per layer] that is there already; what runs off goes down the stems in part and drips on the next
/// layer. Every share is kept: `split` sums to 1. A drench puts all on the substrate.
Landing land(const Scenario& scenario, const AirState& air, double volume, const Spectrum& spectrum,
             const std::vector<double>& held = {}, double held_on_stems = 0.0);

/// The scenario's own application.
Landing land(const Scenario& scenario, const AirState& air);

/// The same liquid in at most `bins` sizes, increasing: neighbours by volume are merged, keeping volume and
/// surface, more of them around the median than in the tails.
Spectrum merged(const Spectrum& spectrum, int bins);

}  // namespace wetspan
