#include "wetspan/plant/substrate.hpp"

#include <algorithm>
#include <cmath>

#include "../require.hpp"

namespace wetspan {
namespace {

/// Share of `volume` that drains from a pot with container capacity `capacity`, of which `room` is free.
double leached_share(double volume, double capacity, double room) {
  const double excess = volume - room;
  if (!(excess > 0.0)) return 0.0;
  const double mixed_in = -(capacity - room) * std::expm1(-excess / capacity);
  return std::max(0.0, excess - mixed_in) / volume;  // rounding may give a difference below 0
}

}  // namespace

void check(const Substrate& substrate) {
#define WETSPAN_CHECK_ROW(type, name, standard, low, high, spread, unit, shown, grade, source, meaning) \
  require("substrate." #name, substrate.name, low, high, unit);
  WETSPAN_SUBSTRATE(WETSPAN_CHECK_ROW)
#undef WETSPAN_CHECK_ROW
}

double pot_capacity(const Substrate& substrate, const Active& active) {
  check(substrate);
  require("active.sorption", active.sorption, 0.0, 1e6, "m3/kg");
  return substrate.volume *
         (substrate.water_content + substrate.sorption_factor * active.sorption * substrate.dry_density);
}

double free_pore_water(const Substrate& substrate) {
  check(substrate);
  return substrate.volume * substrate.container_capacity * (1.0 - substrate.moisture);
}

Placement place(const Substrate& substrate, Method method, double volume) {
  require("volume", volume, 0.0, 1.0, "m3");
  const double room = free_pore_water(substrate);
  const double capacity = substrate.volume * substrate.container_capacity;
  if (method == Method::continuous) return {};
  Placement placed;
  const bool from_below = method == Method::sub_irrigation;
  placed.depth = volume < room ? volume / room : 1.0;
  if (from_below) {
    placed.held = volume > room ? room / volume : 1.0;
    placed.not_taken_up = 1.0 - placed.held;
  } else {
    placed.leached = leached_share(volume, capacity, room);
    placed.held = 1.0 - placed.leached;
  }
  const double lower_roots = 2.0 - 4.0 * substrate.upper_root_share;
  placed.availability = 1.0 + (from_below ? lower_roots : -lower_roots) * (1.0 - placed.depth);
  return placed;
}

}  // namespace wetspan
