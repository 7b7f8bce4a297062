// The kernel that integrates the flights of several droplets at once. Like clock_kernel.cpp it is compiled
// once for each instruction set: WETSPAN_WIDTH is the number of lanes; WETSPAN_LANES_NAMESPACE and
// WETSPAN_FLIGHT_KERNEL distinguish the copies.
//
// Each lane integrates one droplet until its flight ends, and then takes the next droplet. The Dormand-Prince
// pair and the error control are those of the reference path in flight.cpp.
//
// This file must not emit a function that the rest of the library shares (DEVELOPERS.md).

#ifndef WETSPAN_WIDTH
#define WETSPAN_WIDTH 2
#define WETSPAN_LANES_NAMESPACE baseline_lanes
#define WETSPAN_FLIGHT_KERNEL baseline_flights
#endif

#include "flight_kernel.hpp"

#include "../dormand_prince.hpp"
#include "../root.hpp"

namespace wetspan::flight {
inline namespace WETSPAN_LANES_NAMESPACE {
namespace {

using namespace dormand_prince;

/// Constants of the error control: the usual safety factor, and bounds on the change of the step.
constexpr double safety = 0.9, most_longer = 5.0, most_shorter = 0.2;

/// The default laws, for vector lanes.
template <class L>
struct FittedLaws {
  using R = typename L::R;
  const Film& film;
  const AirFits& air;
  const FallFit& fall;
  double fitted_at_air;          // saturation as fitted, at the temperature of the air [Pa]
  DiffusionFits<R> diffusion{};  // not used by the saturation pressure

  FittedLaws(const Film& of, const AirFits& by, const FallFit& falls) : film(of), air(by), fall(falls) {
    fitted_at_air = L::get(fitted(L::all(film.T_air)), 0);
  }

  [[gnu::always_inline]] R fitted(const R& T) const {
    return FittedAir<L>{air, diffusion}.saturation_over_ice_or_water(T);
  }
  /// Shifted to be exact at the temperature of the air, so that nothing evaporates into saturated air.
  [[gnu::always_inline]] R saturation(const R& T) const {
    return film.saturation + (fitted(T) - fitted_at_air);
  }

  [[gnu::always_inline]] static R exponential(const R& x) { return FittedAir<L>::exponential(x); }
  [[gnu::always_inline]] R drag_factor(const R& Re) const { return turton_levenspiel<L>(Re); }
  [[gnu::always_inline]] static R transfer(const R& Re, double cbrt_Sc) {
    return ranz_marshall(L::sqrt(Re) * cbrt_Sc);
  }
  [[gnu::always_inline]] R drive(const R& T) const {
    return L::log((film.P - film.e) / (film.P - saturation(T)));
  }
  [[gnu::always_inline]] R terminal_speed(const R& area, const R& d0) const {
    const R d2 = d0 * d0 * area;
    const R stokes = (constants::gravity * (film.liquid - film.density) / (18.0 * film.viscosity)) * d2;
    const R z = L::pow((film.density / film.viscosity) * stokes * L::sqrt(d2), FallFit::power);
    return stokes * L::polynomial(fall.share, z * (1.0 / fall.half_fall) - 1.0);
  }
};

template <int Width>
class Flights {
  using L = Lanes<Width>;
  using R = typename L::R;
  using Mask = typename L::Mask;
  using Equations = DropletEquations<L, FittedLaws<L>>;
  using State = typename Equations::State;

 public:
  static constexpr double any_diameter = 1e-5;  // of idle lanes [m]

  Flights(const FlightInput& input, const Film& film, const FittedLaws<L>& laws, std::span<const double> d,
          std::span<Ending> endings)
      : input_(input),
        film_(film),
        diameters_(d),
        endings_(endings),
        droplets_(input, film, laws, L::all(any_diameter)) {
    for (int lane = 0; lane < Width; ++lane) refill(lane);
  }

  void run() {
    while (busy_ != 0) step();
  }

 private:
  /// One lane's equations in plain doubles, for its events.
  using Alone = Lanes<1>;
  using One = DropletEquations<Alone, FittedLaws<Alone>>;

  static void mark(Mask& mask, int lane, bool value) {
    if constexpr (Width == 1) mask = value;
    else mask[lane] = value ? -1 : 0;
  }

  /// Loads the next droplet into a lane.
  void refill(int lane) {
    const unsigned bit = 1U << lane;
    if (next_ == diameters_.size()) {
      busy_ &= ~bit;
      L::set(length_, lane, 0.0);
      return;
    }
    busy_ |= bit, fresh_ |= bit;
    held_[lane] = next_;
    tried_[lane] = 0;
    const One droplet(input_, film_, laws_alone_, diameters_[next_++]);
    const typename One::State start = droplet.at_nozzle();
    for (std::size_t i = 0; i < flight_entries; ++i) L::set(y_[i], lane, start[i]);
    L::set(time_, lane, 0.0);
    L::set(length_, lane, droplet.first_step());
    L::set(droplets_.d0, lane, droplet.d0);
    mark(droplets_.wet, lane, droplet.wet);
    mark(droplets_.relaxed, lane, droplet.relaxed);
  }

  /// Tries a step in every lane.
  void step() {
    if (fresh_ != 0) {
      State rate;
      droplets_.rates(y_, rate);
      for (std::size_t i = 0; i < flight_entries; ++i) {
        for (int lane = 0; lane < Width; ++lane) {
          if ((fresh_ >> lane) & 1U) L::set(k_[0][i], lane, L::get(rate[i], lane));
        }
      }
      fresh_ = 0;
    }
    stage<1>(), stage<2>(), stage<3>(), stage<4>(), stage<5>(), stage<6>();
    const R error = error_over_allowed();
    constexpr double least = 1e-10, most = 1e10;
    const R factor = safety * L::pow(L::min(L::max(error, L::all(least)), L::all(most)), step_by_error);
    const Mask accepted = error <= L::all(1.0);
    const R next = L::min(length_ * L::min(L::max(factor, L::all(most_shorter)), L::all(most_longer)),
                          L::all(longest_step));
    const R reached = time_ + length_;
    const R zero = L::all(0.0);
    const Mask dry = !droplets_.wet;
    const Mask goes_on = (ahead_[Z] > zero) & (droplets_.inside(ahead_) > zero) &
                         (reached <= L::all(input_.longest)) & (dry | (droplets_.above_core(ahead_) > zero));
    const unsigned events = L::bits_of(accepted) & ~L::bits_of(goes_on) & busy_;
    unsigned ended = 0;
    for (int lane = 0; lane < Width; ++lane) {  // before the step is accepted, since events need its data
      if ((events >> lane) & 1U) ended |= meet(lane);
    }
    time_ = L::select(accepted, reached, time_);
    length_ = next;
    for (std::size_t i = 0; i < flight_entries; ++i) {
      y_[i] = L::select(accepted, ahead_[i], y_[i]);
      k_[0][i] = L::select(accepted, k_[6][i], k_[0][i]);
    }
    for (int lane = 0; lane < Width; ++lane) {
      const unsigned bit = 1U << lane;
      if ((events & ~ended & bit) != 0) go_on_dry(lane);
      if ((busy_ & ~ended & bit) != 0 && ++tried_[lane] == most_steps) ended |= bit;  // given up
    }
    settle(L::bits_of(accepted) & busy_ & ~ended);
    for (int lane = 0; lane < Width; ++lane) {
      if ((ended >> lane) & 1U) refill(lane);
    }
  }

  template <int S>
  [[gnu::always_inline]] void stage() {
    R goes[S];
    for (int j = 0; j < S; ++j) goes[j] = weights[S][j] * length_;
    for (std::size_t i = 0; i < flight_entries; ++i) {
      R sum = y_[i];
      for (int j = 0; j < S; ++j) {
        if (weights[S][j] != 0.0) sum = L::fma(k_[j][i], goes[j], sum);
      }
      ahead_[i] = sum;
    }
    droplets_.rates(ahead_, k_[S]);
  }

  /// Error estimate of the pair over the allowed error: the largest of all entries.
  R error_over_allowed() const {
    R largest = L::all(0.0), sound = L::all(0.0);
    for (std::size_t i = 0; i < flight_entries; ++i) {
      R sum = k_[0][i] * error_weights[0];
      for (int s = 2; s < stages; ++s) sum = L::fma(k_[s][i], L::all(error_weights[s]), sum);
      const R allowed = input_.tolerance * (1.0 + L::abs(y_[i]) + length_ * L::abs(k_[0][i]));
      const R ratio = L::abs(sum * length_) * L::inverse(allowed);
      largest = L::max(ratio, largest);
      sound += ratio;
    }
    constexpr double refused = 1e10;
    return L::select(sound == sound, largest, L::all(refused));
  }

  Dense dense(int lane, std::size_t i) const {
    const double h = L::get(length_, lane), start = L::get(y_[i], lane),
                 rise = L::get(ahead_[i], lane) - start;
    const double c3 = h * L::get(k_[0][i], lane) - rise;
    double c5 = 0.0;
    for (int s = 0; s < stages; ++s) c5 += h * dense_weights[s] * L::get(k_[s][i], lane);
    return {start, rise, c3, rise - h * L::get(k_[6][i], lane) - c3, c5};
  }

  One alone(int lane) const {
    One droplet(input_, film_, laws_alone_, L::get(droplets_.d0, lane));
    droplet.wet = L::holds(droplets_.wet, lane), droplet.relaxed = L::holds(droplets_.relaxed, lane);
    return droplet;
  }

  /// Locates the first event within a lane's step, and writes the state there to `ahead_` and `met_`. Returns
  /// the lane's bit if the flight ends there.
  unsigned meet(int lane) {
    std::array<Dense, flight_entries> course;
    for (std::size_t i = 0; i < flight_entries; ++i) course[i] = dense(lane, i);
    const One droplet = alone(lane);
    const auto at = [&](double theta) {
      typename One::State s;
      for (std::size_t i = 0; i < flight_entries; ++i) s[i] = course[i].at(theta);
      return s;
    };
    double theta = 1.0;
    // shortens the step to where the distance is no longer positive, if that is earlier
    const auto passes = [&](auto distance) {
      const double end = distance(at(theta)), begin = distance(at(0.0));
      if (end > 0.0) return false;
      theta = begin > 0.0 ? narrowed(Bracket<double>{0.0, theta, begin, end}, to_rounding,
                                     [&](double share) { return distance(at(share)); })
                                .to
                          : 0.0;
      return true;
    };
    Ending& ending = endings_[held_[lane]];
    const double begin = L::get(time_, lane), h = L::get(length_, lane);
    bool ends = false;
    const auto end_as = [&](FlightEnd end) { ends = true, ending.end = end; };
    if (begin + h > input_.longest) {
      theta = (input_.longest - begin) / h;
      end_as(FlightEnd::still_aloft);
    }
    if (passes([&](const typename One::State& s) { return droplet.inside(s); }))
      end_as(FlightEnd::left_target);
    if (passes([&](const typename One::State& s) { return s[Z]; })) end_as(FlightEnd::reached_crop);
    if (droplet.wet && passes([&](const typename One::State& s) { return droplet.above_core(s); })) {
      ends = input_.core_share == 0.0;
      ending.end = FlightEnd::evaporated;
    }
    const typename One::State met = at(theta);
    const double time = ending.end == FlightEnd::still_aloft && ends ? input_.longest : begin + theta * h;
    if (ends) {
      ending.state = met;
      ending.time = time;
      ending.wet = droplet.wet, ending.relaxed = droplet.relaxed;
      ending.followed = true;
      return 1U << lane;
    }
    met_[lane] = met, met_time_[lane] = time;
    return 0;
  }

  /// A droplet has dried to its core, and continues as a solid particle.
  void go_on_dry(int lane) {
    for (std::size_t i = 0; i < flight_entries; ++i) L::set(y_[i], lane, met_[lane][i]);
    L::set(y_[AREA], lane, droplets_.core_area);
    L::set(y_[TEMPERATURE], lane, 0.0);
    L::set(time_, lane, met_time_[lane]);
    mark(droplets_.wet, lane, false);
    start_anew(lane);
  }

  void start_anew(int lane) {
    fresh_ |= 1U << lane;
    if (L::get(length_, lane) > longest_first_step) L::set(length_, lane, longest_first_step);
  }

  /// Among these lanes, marks those whose droplets have reached their steady velocity, which they then keep.
  void settle(unsigned lanes) {
    if ((L::bits_of(droplets_.small(y_)) & lanes) == 0) return;
    const unsigned settled = L::bits_of(droplets_.settled(y_)) & lanes;
    for (int lane = 0; lane < Width; ++lane) {
      if (((settled >> lane) & 1U) == 0) continue;
      mark(droplets_.relaxed, lane, true);
      start_anew(lane);
    }
  }

  const FlightInput& input_;
  const Film& film_;
  std::span<const double> diameters_;
  std::span<Ending> endings_;
  std::size_t next_ = 0;
  Equations droplets_;
  FittedLaws<Alone> laws_alone_{film_, droplets_.laws.air, droplets_.laws.fall};
  unsigned busy_ = 0, fresh_ = 0;  // lanes with a droplet; lanes whose rates must be evaluated again
  std::size_t held_[Width] = {};   // index of the lane's droplet
  int tried_[Width] = {};          // number of steps tried
  typename One::State met_[Width] = {};
  double met_time_[Width] = {};  // [s]
  State y_{}, ahead_{};
  State k_[stages] = {};
  R time_{}, length_{};  // [s]
};

template <int Width>
void follow(const FlightInput& input, const Film& film, const AirFits& air, const FallFit& fall,
            std::span<const double> diameters, std::span<Ending> endings) {
  const FittedLaws<Lanes<Width>> laws(film, air, fall);
  Flights<Width>(input, film, laws, diameters, endings).run();
}

}  // namespace
}  // namespace WETSPAN_LANES_NAMESPACE

extern const Kernel WETSPAN_FLIGHT_KERNEL;
const Kernel WETSPAN_FLIGHT_KERNEL{follow<WETSPAN_WIDTH>};

}  // namespace wetspan::flight
