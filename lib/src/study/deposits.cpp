#include "deposits.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "wetspan/plant/uptake.hpp"

namespace wetspan {
namespace {

constexpr double at_once = 1e100;  // 1/s: upper bound of rates when almost no liquid is left

/// Flux from a saturated liquid, over the amount on its surface at the start [1/s].
double saturated(const SurfaceNow& now, double fresh) { return std::min(now.saturated / fresh, at_once); }

double mean(double begin, double middle, double end) { return (begin + 4.0 * middle + end) / 6.0; }

}  // namespace

Deposits::Deposits(const Equations& equations) : equations_(equations) {
  for (const Layer& layer : equations.layers) {
    OnLayer& on = layers_.emplace_back();
    double discs[2] = {};
    for (std::size_t i = 0; i < layer.classes.size(); ++i) {
      const DropletClass& drop = layer.classes[i];
      on.disc.push_back(drop.number * std::numbers::pi * drop.radius * drop.radius);
      discs[i < layer.lower ? 0 : 1] += on.disc.back();
    }
    for (std::size_t side = 0; side < 2; ++side) {
      on.contact[side] = discs[side] > 0.0 ? wet_share(discs[side]) : 1.0;
    }
    for (std::size_t surface = 0; surface < surfaces; ++surface) {
      const double area = surface == on_stem ? layer.stem.area : layer.area;
      const OnSurface& came = layer.came[surface];
      const double all = came.sum();
      on.fresh[surface] = area > 0.0 ? all / area : 0.0;
      if (!(on.fresh[surface] > 0.0)) continue;
      any_ = true;
      on.deposit[surface] = {
          .liquid = came.liquid / all, .mobile = came.mobile / all, .locked = came.locked / all};
    }
  }
}

void Deposits::start(const State& y, double t) {
  time_ = t;
  if (any_) equations_.surfaces_now(y, t, begin_);
}

void Deposits::follow(const State& halfway, const StateAt& between, const State& y, double t) {
  if (!any_ || !(t > time_)) return;
  equations_.surfaces_now(y, t, end_);
  follow(halfway, between, begin_, end_, time_, t, 0);
  time_ = t;
  std::swap(begin_, end_);
}

void Deposits::follow(const State& state_halfway, const StateAt& between, const Moment& begin,
                      const Moment& end, double from, double to, std::size_t halvings) {
  const double halfway = 0.5 * (from + to);
  Moment& middle = middle_[halvings];
  equations_.surfaces_now(state_halfway, halfway, middle);
  const Piece piece{begin, middle, end, to - from};
  if (halvings == most_halvings || !bends(piece)) return follow(piece);
  follow(between(0.5 * (from + halfway)), between, begin, middle, from, halfway, halvings + 1);
  follow(between(0.5 * (halfway + to)), between, middle, end, halfway, to, halvings + 1);
}

/// Whether a parabola is not accurate enough for the uptake from liquids. The difference between Simpson's
/// rule and the trapezoidal rule is about the error of the trapezoidal rule. The error of Simpson's rule is
/// of the order of the square of this difference over the amount.
bool Deposits::bends(const Piece& piece) const {
  constexpr double share = 0.1;  // of the tolerance
  const double allowed = share * equations_.scenario.numerics.tolerance;
  for (std::size_t k = 0; k < layers_.size(); ++k) {
    for (std::size_t surface = 0; surface < surfaces; ++surface) {
      const double left = layers_[k].deposit[surface].liquid, fresh = layers_[k].fresh[surface];
      if (!(left > allowed)) continue;
      // If a liquid becomes saturated within the piece, the three rates may lie on a line by chance. They do
      // not lie on a line for two different solubilities, so that the test is repeated with a higher one.
      for (const double higher : {1.0, 2.0}) {
        const auto gives = [&](const Moment& moment) {
          const SurfaceNow& now = moment[k][surface];
          return std::min(now.dissolved * left, higher * saturated(now, fresh));
        };
        const double begin = gives(piece.begin), middle = gives(piece.middle), end = gives(piece.end);
        const double amount = std::min(left, piece.time * mean(begin, middle, end));
        const double bent = std::min(left, piece.time * std::abs(begin - 2.0 * middle + end) / 6.0);
        if (bent * bent > allowed * amount) return true;
      }
    }
  }
  return false;
}

void Deposits::follow(const Piece& piece) {
  for (std::size_t k = 0; k < layers_.size(); ++k) {
    for (std::size_t surface = 0; surface < surfaces; ++surface) {
      const double fresh = layers_[k].fresh[surface];
      if (!(fresh > 0.0)) continue;
      Deposit& its = layers_[k].deposit[surface];
      const SurfaceNow &begin = piece.begin[k][surface], &middle = piece.middle[k][surface],
                       &end = piece.end[k][surface];
      if (its.liquid > 0.0) {
        const double left = liquid_after(
            its.liquid, {begin.dissolved, middle.dissolved, end.dissolved},
            {saturated(begin, fresh), saturated(middle, fresh), saturated(end, fresh)}, piece.time);
        its.taken += its.liquid - left, its.liquid = left;
      }
      const double enters =
          -std::expm1(-piece.time * mean(begin.mobile, middle.mobile, end.mobile)) * its.mobile;
      its.taken += enters, its.mobile -= enters;
      if (its.locked > 0.0) follow_locked(k, surface, piece);
    }
  }
}

/// Dew dissolves the locked deposit that it covers, up to the solubility, and the plant takes up dissolved
/// active ingredient. When dew dries a part of the precipitate is mobile; for such small amounts this part is
/// proportional to the amount. The rates depend on the amount left, for which two fixed-point iterations are
/// made.
void Deposits::follow_locked(std::size_t k, std::size_t surface, const Piece& piece) {
  constexpr int corrections = 2;
  OnLayer& on = layers_[k];
  Deposit& its = on.deposit[surface];
  const double time = piece.time;
  const Uptake& uptake = equations_.scenario.uptake;
  const SurfaceNow &begin = piece.begin[k][surface], &middle = piece.middle[k][surface],
                   &end = piece.end[k][surface];
  if (!(begin.dew > 0.0 || middle.dew > 0.0 || end.dew > 0.0)) {
    const double lost = -std::expm1(-uptake.residue_loss * time) * its.locked;
    its.lost += lost, its.locked -= lost;
    return;
  }
  const double contact = surface == on_stem ? 1.0 : on.contact[surface];
  const double bared = std::max(0.0, begin.dew_cover - end.dew_cover) / time;  // [1/s]
  const double dried = std::max(0.0, begin.dew - end.dew) / time;              // [m/s]
  struct Rates {
    double lost = 0, enters = 0, turns = 0;  // [1/s], of what is locked
    double sum() const { return lost + enters + turns; }
  };
  const auto rates = [&](const SurfaceNow& now, double left) {
    Rates at{.lost = uptake.residue_loss * (1.0 - now.dew_cover)};
    const double locked = on.fresh[surface] * left;  // per area of the surface [kg/m2]
    if (!(now.dew > 0.0) || !(locked > 0.0)) return at;
    const double holds = now.solubility * contact * now.dew / now.dew_cover;
    const bool saturated = locked > holds;
    at.enters = now.permeance * now.dew_cover * now.dew_cover / now.dew * std::min(1.0, holds / locked);
    at.turns = uptake.mobile_share * (saturated ? now.solubility * contact * dried / locked : bared);
    return at;
  };
  Rates over = rates(begin, its.locked);
  for (int i = 0; i < corrections; ++i) {
    const double by = over.sum() * time;
    const Rates first = rates(begin, its.locked), half = rates(middle, its.locked * std::exp(-0.5 * by)),
                last = rates(end, its.locked * std::exp(-by));
    over = {.lost = mean(first.lost, half.lost, last.lost),
            .enters = mean(first.enters, half.enters, last.enters),
            .turns = mean(first.turns, half.turns, last.turns)};
  }
  if (!(over.sum() > 0.0)) return;
  const double part = -std::expm1(-over.sum() * time) * its.locked / over.sum();
  its.lost += over.lost * part, its.taken += over.enters * part, its.mobile += over.turns * part;
  its.locked -= over.sum() * part;
}

double Deposits::share_of(std::size_t k, std::size_t i) const {
  const Layer& layer = equations_.layers[k];
  const bool dried = layer.state[i] == Wetness::dried;
  const std::size_t from = i < layer.lower ? 0 : layer.lower;
  const std::size_t to = i < layer.lower ? layer.lower : layer.classes.size();
  double alike = 0.0;
  int count = 0;
  for (std::size_t j = from; j < to; ++j) {
    if ((layer.state[j] == Wetness::dried) == dried) alike += layer.classes[j].landed, ++count;
  }
  return count > 1 ? layer.classes[i].landed / alike : 1.0;
}

void Deposits::class_dries(std::size_t k, std::size_t i) {
  const std::size_t side = i < equations_.layers[k].lower ? on_upper : on_lower;
  // the concentration is the same in all classes of a side
  dries(k, side, share_of(k, i), layers_[k].disc[i]);
}

void Deposits::class_takes_up(std::size_t k, std::size_t i) {
  Deposit& its = layers_[k].deposit[i < equations_.layers[k].lower ? on_upper : on_lower];
  const double dissolves = share_of(k, i) * its.locked;
  its.locked -= dissolves, its.liquid += dissolves;
}

void Deposits::dries(std::size_t k, std::size_t surface, double part, double contact) {
  Deposit& its = layers_[k].deposit[surface];
  const double fresh = layers_[k].fresh[surface], moved = part * its.liquid, mass = fresh * moved;
  const Uptake& uptake = equations_.scenario.uptake;
  // where all turns mobile, rounding must not leave less than nothing locked
  const double turned = mass > 0.0 && contact > 0.0
                            ? std::min(moved, contact * turns_mobile(uptake, mass / contact) / fresh)
                            : 0.0;
  its.liquid -= moved, its.mobile += turned, its.locked += moved - turned;
}

OnSurface Deposits::left(std::size_t k, std::size_t surface) const {
  const double all = equations_.layers[k].came[surface].sum();
  const Deposit& its = layers_[k].deposit[surface];
  return {.liquid = all * its.liquid, .mobile = all * its.mobile, .locked = all * its.locked};
}

double Deposits::taken_by_leaves(std::size_t k) const {
  double sum = 0.0;
  for (const Surface side : {on_upper, on_lower}) {
    sum += equations_.layers[k].came[side].sum() * layers_[k].deposit[side].taken;
  }
  return sum;
}

BySite Deposits::sum(double Deposit::* part) const {
  BySite sum;
  for (std::size_t k = 0; k < layers_.size(); ++k) {
    const auto of = [&](std::size_t surface) {
      return equations_.layers[k].came[surface].sum() * (layers_[k].deposit[surface].*part);
    };
    sum.leaf += of(on_upper) + of(on_lower), sum.stem += of(on_stem);
  }
  return sum;
}

}  // namespace wetspan
