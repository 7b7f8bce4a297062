// Where the sprayed liquid comes to rest: flight, impact, leaf layers, stems, ground.
#pragma once

#include <vector>

#include "wetspan/plant/crop_air.hpp"
#include "wetspan/plant/impact.hpp"
#include "wetspan/plant/retention.hpp"
#include "wetspan/spray/droplets.hpp"
#include "wetspan/spray/flight.hpp"
#include "wetspan/study/scenario.hpp"

namespace wetspan {

/// The stems and petioles within a leaf layer, and the balance of their liquid per area of bench [m]:
/// caught + from_leaves + from_above = liquid + run_off.
struct StemPart {
  double area = 0;         ///< lateral area per area of bench [1]
  double caught = 0;       ///< from droplets that hit them
  double from_leaves = 0;  ///< run-off of the layer's leaves that follows petioles
  double from_above = 0;   ///< run-off of the stems above
  double liquid = 0;       ///< retained
  double run_off = 0;      ///< to the stems below, or from the lowest layer to the substrate
};

/// A layer of leaves and stems, and the liquid that it retains. Layers are numbered from the top down.
struct LeafLayer {
  double area = 0;          ///< one-sided leaf area per area of bench [1]
  double interception = 0;  ///< share of the flux through crowns that the layer's leaves intercept [1]
  double light = 0;         ///< share of the light above the crop that it intercepts [1]
  double air_speed = 1;     ///< relative to that at the top of the crop [1]
  double liquid = 0;        ///< retained on the leaves, per area of bench [m]
  double run_off = 0;       ///< run-off from the leaves, per area of bench [m]
  Spectrum droplets;        ///< sizes of the retained droplets
  StemPart stem;            ///< the stems and petioles between its leaves
};

/// Divides the canopy into layers of equal leaf area and equal stem area. The share of light and droplets
/// that a layer intercepts follows the exponential law of `leaf_interception`; air speed falls exponentially
/// with depth in the canopy. Throws InputError for a canopy that is not allowed.
std::vector<LeafLayer> leaf_layers(const Canopy& canopy);

/// The same layers inside crowns, as the targets of the droplets in `cascade`.
std::vector<CanopyLayer> canopy_layers(const Scenario& scenario, const AirState& air);

/// Input for the flight of a scenario's droplets in the air at the crop.
FlightInput flight_input(const Scenario& scenario, const AirState& air);

/// Properties of liquid and leaf for the impact of a scenario's droplets.
ImpactSurface impact_surface(const Scenario& scenario, const AirState& air);

/// Where a spray came to rest.
struct Landing {
  Split split;                    ///< of the sprayed volume
  std::vector<LeafLayer> layers;  ///< from the top down
  double stem_run_off = 0;        ///< share that ran down the stems onto the substrate
  double straight = 0;            ///< share that reached the substrate without touching a leaf or stem
  double shattered = 0;           ///< volume shattered on leaves over the sprayed volume, summed over impacts
  double rebounded = 0;           ///< volume rebounded from leaves, likewise
  double heat = 0;                ///< that the flight takes from the air, per sprayed volume [J/m3]
};

/// Liquid that the crop already holds, per area of bench [m], with one entry per layer; empty for a dry crop.
struct Held {
  std::vector<double> leaves{}, stems{};
};

/// Computes where `volume` [m3 per m2 of bench = m, above 0] in droplets of `spectrum` comes to rest.
///
/// Droplets fly through the air at the crop. The air speed acts as a cross draught, limited to 5 m/s, and the
/// nozzle's jet entrains air over at most 1 m. Droplets finer than `finest_settling` do not deposit. Above
/// crowns, droplets fall through the layers of leaves and stems. They adhere to, rebound from or shatter on
/// leaves, and adhere to stems; the others reach the ground. Leaves and stems retain liquid up to their
/// storage capacity, which liquid already held reduces. A share of the run-off from leaves follows petioles
/// to the layer's stem (`stemflow_share`); the rest drips onto the layers below. Run-off from a stem flows to
/// the stem of the layer below, and finally onto the substrate at the stem's base. Volume is conserved:
/// `split` sums to 1. A drench puts the whole volume on the substrate.
///
/// Throws InputError for a scenario, air, volume, spectrum or held liquid that is not allowed, and for air
/// outside the range in which flights can be computed.
Landing land(const Scenario& scenario, const AirState& air, double volume, const Spectrum& spectrum,
             const Held& held = {});

/// The same for the volume and spectrum of the scenario. Throws InputError as above.
Landing land(const Scenario& scenario, const AirState& air);

/// Liquid that falls inside crowns.
struct FallingLiquid {
  double share = 0;   ///< volume per area of crown over the sprayed volume per area of bench [1]
  Spectrum droplets;  ///< empty if nothing falls there
};

/// Computes the liquid that falls inside crowns below `below` leaf layers (0: above all of them) if the
/// scenario's nozzle sprays droplets of `spectrum`: what a level card catches there. It leaves out drip.
/// @throws InputError for a scenario, air or spectrum that is not allowed, or unless below is 0 ..
///         canopy.layers
FallingLiquid falling_below(const Scenario& scenario, const AirState& air, const Spectrum& spectrum,
                            int below);

/// Reduces a spectrum to at most `bins` increasing sizes. Neighbouring bins are merged so that volume and
/// surface are conserved, with wider bins near the median than in the tails. Throws InputError unless
/// there is at least one bin and every bin has a diameter above 0 and a share of at least 0.
Spectrum merged(const Spectrum& spectrum, int bins);

}  // namespace wetspan
