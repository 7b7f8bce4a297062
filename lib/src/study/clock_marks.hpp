// Discontinuities of droplets and films: the edge of a class begins to recede, or a class or a film dries
// out.
//
//   edge recedes   s = lets_go r_i^2
//   dried out      s = dries r_i^2: the last thousandth of the water evaporates at once
//   deposit        dB = turns_mobile(dL), dR = dL - dB                     docs/science/uptake.md
//
// s is the clock of a side [m2], r_i the base radius of a class [m]; L, B and R are the active ingredient in
// liquid, mobile and locked [kg/m2]. The clocks at these discontinuities, called marks, are known in advance,
// so that a step can end at a mark (docs/science/clocks.md).
#pragma once

#include <algorithm>
#include <cmath>

#include "clock_events.hpp"
#include "wetspan/plant/uptake.hpp"

namespace wetspan::clocks {
inline namespace WETSPAN_LANES_NAMESPACE {
namespace {  // in the kernel alone

constexpr double at_mark = 1.0 - 1e-10;  // share of a mark at which it counts as reached, because of rounding

/// Adds evaporated water, as a share of all water, to the house's air or to what is carried off.
template <int Width>
void Events<Width>::evaporate(int lane, double water) {
  const std::size_t into = L::get(crops().terms.house.answers, lane) > 0.0 ? house_vapour : carried_off;
  L::set(steps_.end[into], lane, L::get(steps_.end[into], lane) + water);
}

/// Evaporates the rest of a film that counts as dry, and dries its active ingredient.
template <int Width>
void Events<Width>::film_dries(int lane, std::size_t film) {
  const double rest = L::get(steps_.end[film], lane);
  L::set(steps_.end[film], lane, 0.0);
  if (film == bench_left) return;
  Progress& progress = progress_[lane];
  const std::size_t k = layer_of(film);
  progress.solution.stem_dry_time[k] = L::get(steps_.end[elapsed], lane) - rest / steps_.end_rate(lane, film);
  double& last = progress.solution.stem_wet_time;
  const auto& times = progress.solution.stem_dry_time;
  last = *std::max_element(times.begin(), times.begin() + static_cast<std::ptrdiff_t>(crops().layers));
  constexpr double per_area = 1.0;  // a film covers its stem
  active_dries(lane, k, on_stem, entry_of(k, stem_active), 1.0, progress.event.layer[k].stem_fresh, per_area,
               stem_exposure);
}

/// Dries a share `part` of the active ingredient in the liquid of a surface, on the wet share `contact` of
/// the surface [1]. A part of it is mobile afterwards, the rest is locked.
template <int Width>
void Events<Width>::active_dries(int lane, std::size_t k, Surface surface, std::size_t entry, double part,
                                 double fresh, double contact, std::size_t exposure_entry) {
  const double left = L::get(steps_.end[entry], lane);
  if (!(left > 0.0)) return;
  Progress& progress = progress_[lane];
  L::set(steps_.end[entry], lane, part < 1.0 ? left * (1.0 - part) : 0.0);
  const double moved = part < 1.0 ? left - left * (1.0 - part) : left;
  progress.solution.dried[k][surface] += moved;
  DryDeposit& deposit = progress.solution.deposit[k][surface];
  weather(deposit, *progress.event.uptake, L::get(steps_.end[exposure_entry], lane),
          L::get(steps_.end[elapsed], lane));
  const double mass = moved * fresh;
  // where all turns mobile, rounding must not leave less than nothing locked
  const double turned = std::min(mass, contact * turns_mobile(*progress.event.uptake, mass / contact));
  deposit.mobile += turned, deposit.locked += mass - turned;
}

/// Advances uptake from a dry deposit and its loss to an exposure [1] and a time [s].
template <int Width>
void Events<Width>::weather(DryDeposit& deposit, const Uptake& uptake, double exposure_now, double now) {
  const double taken = -std::expm1(deposit.exposure - exposure_now) * deposit.mobile;
  const double lost = -std::expm1(uptake.residue_loss * (deposit.time - now)) * deposit.locked;
  deposit.mobile -= taken, deposit.taken += taken;
  deposit.locked -= lost, deposit.lost += lost;
  deposit.exposure = exposure_now, deposit.time = now;
}

/// Handles the marks that clocks have reached; returns the lanes in which there were any.
template <int Width>
unsigned Events<Width>::pass_marks(const Mask& fit) {
  unsigned lanes = 0;
  on_each_side(
      [&](std::size_t k, std::size_t below) {
        return fit & (steps_.end[clock_of(k, below)] >= crops().sides[k][below].next * at_mark);
      },
      [&](const Place& place) {
        pass_marks(place);
        lanes |= 1U << place.lane;
      });
  return lanes;
}

/// Removes the classes of a side that have dried out.
template <int Width>
void Events<Width>::pass_marks(const Place& place) {
  Progress& progress = progress_[place.lane];
  const Event::Side& side = progress.event.side[place.layer][place.below];
  LeafSide<L>& its = crops().sides[place.layer][place.below];
  std::size_t& dried = progress.dried[place.layer][place.below];
  const std::size_t released = dried + count(its.classes.receding, place.lane);
  const double clock = L::get(steps_.end[clock_of(place.layer, place.below)], place.lane);
  while (dried < side.count && clock >= next_dry(place) * at_mark) class_dries(place, side.classes[dried++]);
  if (dried == side.count) L::set(its.end, place.lane, 0.0);  // there is nothing left to sum up
  line_up(place, std::max(released, dried));
  if (dried > released) pin(place, dried);
}

/// Evaporates the rest of a class that counts as dry, and dries its active ingredient.
template <int Width>
void Events<Width>::class_dries(const Place& place, const ClassTerms& drop) {
  const auto& [lane, k, below] = place;
  Progress& progress = progress_[lane];
  const Event& event = progress.event;
  R& on_side = steps_.end[water_of(k, below)];
  double& wet = progress.wet_part[k][below];  // share of the side's liquid
  const bool last_of_side = progress.dried[k][below] == event.side[k][below].count;
  // the last class takes all that is left, including the errors of steps
  const double rest = last_of_side ? L::get(on_side, lane) : gone * drop.share;
  active_dries(lane, k, below ? on_lower : on_upper, active_of(k, below),
               last_of_side ? 1.0 : drop.share / wet, event.layer[k].fresh[below], drop.disc,
               entry_of(k, exposure));
  wet = last_of_side ? 0.0 : wet - drop.share;
  L::set(on_side, lane, last_of_side ? 0.0 : L::get(on_side, lane) - rest);
  evaporate(lane, rest * event.water_share[k] * event.layer[k].side_share[below]);
  L::set(steps_.wet_classes, lane, static_cast<double>(--progress.wet_classes));
  if (progress.wet_classes > 0) return;
  const double flow = event.last_flow[k] * steps_.end_rate(lane, clock_of(k, below)) * drop.by_square;
  progress.solution.last_drop_time = L::get(steps_.end[elapsed], lane) + event.last_moments[k] * gone / flow;
}

/// The clock of a side at which its next class dries out.
template <int Width>
double Events<Width>::next_dry(const Place& place) const {
  const Progress& progress = progress_[place.lane];
  const Event::Side& side = progress.event.side[place.layer][place.below];
  const std::size_t i = progress.dried[place.layer][place.below];
  return i < side.count ? progress.event.layer[place.layer].dries * side.classes[i].square : infinity;
}

// Classes that begin to recede ------------------------------------------------------------------------------

/// Registers the classes whose edge begins to recede within the next step.
template <int Width>
void Events<Width>::see_who_recedes() {
  on_each_side(
      [&](std::size_t k, std::size_t below) {
        const LeafSide<L>& side = crops().sides[k][below];
        return (side.end >= side.classes.lets_go) | (side.classes.receding != side.classes.were_receding);
      },
      [&](const Place& place) {
        const LeafSide<L>& side = crops().sides[place.layer][place.below];
        const std::size_t dried = progress_[place.lane].dried[place.layer][place.below];
        const std::size_t before = dried + count(side.classes.receding, place.lane);
        std::size_t released = dried + count(side.classes.were_receding, place.lane);
        while (L::get(side.end, place.lane) >= release(place, released)) ++released;
        if (released == before) return;
        load(place, before, released);
        recede(place, released);
        pin(place, released);
      });
}

template <int Width>
std::size_t Events<Width>::count(const R& number, int lane) {
  return static_cast<std::size_t>(L::get(number, lane));
}

/// The clock of a side at which the edge of its class `i` begins to recede.
template <int Width>
double Events<Width>::release(const Place& place, std::size_t i) const {
  const Event& event = progress_[place.lane].event;
  const Event::Side& side = event.side[place.layer][place.below];
  return i < side.count ? event.layer[place.layer].lets_go * side.classes[i].square : infinity;
}

/// Loads the receding classes of a side, those before `released`, and the next to dry after classes have
/// dried.
template <int Width>
void Events<Width>::line_up(const Place& place, std::size_t released) {
  const Progress& progress = progress_[place.lane];
  const Event::Side& side = progress.event.side[place.layer][place.below];
  SideClasses<L>& classes = classes_at(place);
  const std::size_t dried = progress.dried[place.layer][place.below];
  const bool wet = dried < side.count;
  load(place, dried, std::max(released, dried + (wet ? 1 : 0)));
  L::set(classes.most_fall, place.lane, wet ? side.classes[dried].most_fall : 0.0);
  L::set(crops().sides[place.layer][place.below].next, place.lane, next_dry(place));
  recede(place, released);
  L::set(classes.were_receding, place.lane, L::get(classes.receding, place.lane));
  L::set(classes.lets_go, place.lane, L::get(classes.let_go, place.lane));
}

template <int Width>
void Events<Width>::load(const Place& place, std::size_t from, std::size_t to) {
  const Progress& progress = progress_[place.lane];
  SideClasses<L>& classes = classes_at(place);
  for (std::size_t i = from; i < to; ++i) {
    const ClassTerms& drop = progress.event.side[place.layer][place.below].classes[i];
    const std::size_t at = i - progress.dried[place.layer][place.below];
    L::set(classes.square[at], place.lane, drop.square);
    L::set(classes.by_square[at], place.lane, drop.by_square);
    L::set(classes.shell[at], place.lane, drop.shell);
    L::set(classes.disc[at], place.lane, drop.disc);
  }
}

/// Registers that the classes before `released` recede at the end of the step.
template <int Width>
void Events<Width>::recede(const Place& place, std::size_t released) {
  SideClasses<L>& classes = classes_at(place);
  const std::size_t dried = progress_[place.lane].dried[place.layer][place.below];
  L::set(classes.receding, place.lane, static_cast<double>(released - dried));
  L::set(classes.let_go, place.lane, release(place, released));
}

/// Registers that the classes from `from` on are pinned.
template <int Width>
void Events<Width>::pin(const Place& place, std::size_t from) {
  SideClasses<L>& classes = classes_at(place);
  const Event::Pinned& pinned = progress_[place.lane].event.side[place.layer][place.below].pinned[from];
  for (std::size_t j = 0; j < course_terms; ++j) L::set(classes.pinned_shell[j], place.lane, pinned.shell[j]);
  L::set(classes.pinned_disc, place.lane, pinned.disc);
}

}  // namespace
}  // namespace WETSPAN_LANES_NAMESPACE
}  // namespace wetspan::clocks
