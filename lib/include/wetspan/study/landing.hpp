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

/// The stems and petioles within a leaf layer, and their liquid per area of bench [m]:
/// caught + from_leaves + from_above = liquid + run_off.
struct StemPart {
  double area = 0;         ///< lateral area per area of bench [1]
  double caught = 0;       ///< from droplets that hit them
  double from_leaves = 0;  ///< of the layer's run-off, what follows petioles
  double from_above = 0;   ///< that runs down from the stems above
  double liquid = 0;       ///< that came and stayed
  double run_off = 0;  ///< that came and ran off: onto the stems below, from the lowest onto the substrate
};

/// A layer of leaves and stems, from the top down, and what it holds.
struct LeafLayer {
  double area = 0;          ///< one-sided leaf area per area of bench [1]
  double interception = 0;  ///< share of what passes through crowns that meets its leaves [1]
  double light = 0;         ///< share of the light above the crop that it intercepts [1]
  double air_speed = 1;     ///< over that at the top of the crop [1]
  double liquid = 0;        ///< that came and stayed, per area of bench [m]
  double run_off = 0;       ///< that came and ran off, per area of bench [m]
  Spectrum droplets;        ///< as they came to rest
  StemPart stem;            ///< the stems and petioles between its leaves
};

/// The crop's leaves in layers of equal area, which also share stems and petioles equally. The share of light
/// and droplets that a layer meets follows the exponential law of `leaf_interception`; the air slows down
/// exponentially with depth. Throws InputError for a canopy that is not allowed.
std::vector<LeafLayer> leaf_layers(const Canopy& canopy);

/// What droplets meet in those layers inside crowns.
std::vector<CanopyLayer> canopy_layers(const Scenario& scenario, const AirState& air);

/// The flight of a scenario's droplets in the air at the crop.
FlightInput flight_input(const Scenario& scenario, const AirState& air);

/// The liquid and the leaf that a scenario's droplets meet.
ImpactSurface impact_surface(const Scenario& scenario, const AirState& air);

/// Where a spray came to rest.
struct Landing {
  Split split;                    ///< of the sprayed volume
  std::vector<LeafLayer> layers;  ///< from the top down
  double stem_run_off = 0;        ///< share that ran down the stems onto the substrate
  double straight = 0;            ///< share that fell onto the substrate past every leaf and stem
  double shattered = 0;           ///< volume that left leaves in pieces, over the sprayed; again at each leaf
  double rebounded = 0;           ///< volume that bounced off leaves whole, likewise
};

/// Liquid that is there already, per area of bench [m]: an entry per layer, or none for a dry crop.
struct Held {
  std::vector<double> leaves{}, stems{};
};

/// Follows `volume` [m per area of bench, above 0] in droplets of `spectrum` from the nozzle to rest.
///
/// Droplets fly in the air at the crop, the air speed being a draught across the spray, of 5 m/s at most, and
/// the nozzle's jet handing its speed on within 1 m at most; below `finest_settling` they settle on nothing.
/// Over crowns they fall through the layers of leaves and stems: on leaves they stick, bounce or shatter, on
/// stems they stick; what passes reaches the ground. Leaves and stems hold what their stores allow, on top of
/// what they hold already. Of what runs off leaves a share follows petioles to the layer's stem
/// (`stemflow_share`), the rest drips onto the layers below; what runs off a stem goes on down to the next
/// and in the end onto the substrate at the stem's base. Every share is kept: `split` sums to 1. A drench
/// puts all on the substrate.
///
/// Throws InputError for a scenario, air, volume, spectrum or liquid held that is not allowed, and for air in
/// which droplets cannot be flown.
Landing land(const Scenario& scenario, const AirState& air, double volume, const Spectrum& spectrum,
             const Held& held = {});

/// The scenario's own application. Throws InputError as above.
Landing land(const Scenario& scenario, const AirState& air);

/// The same liquid in at most `bins` sizes, increasing: neighbours by volume are merged, keeping volume and
/// surface, more of them around the median than in the tails. Throws InputError unless there is at least one
/// bin, and a diameter above 0 and a share of at least 0 in each.
Spectrum merged(const Spectrum& spectrum, int bins);

}  // namespace wetspan
