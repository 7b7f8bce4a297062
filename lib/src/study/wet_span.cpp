#include "wetspan/study/wet_span.hpp"

#include <algorithm>
#include <cmath>
#include <memory>
#include <optional>
#include <sstream>

#include "unchecked.hpp"
#include "wet_parts.hpp"
#include "wet_record.hpp"
#include "wetspan/errors.hpp"

namespace wetspan {
namespace {

using State = Equations::State;

constexpr int most_steps = 200'000;
constexpr int steps_between_looks = 16;  // of Following::watch: some milliseconds of the largest systems
constexpr double shortest_after_event = 1e-3;  // [s]
constexpr double after_overshoot = 0.1;        // next step, over one that left the range of the equations [1]

/// The integration of one wet span.
class Span {
 public:
  Span(const Load& load, const Following& following, bool keep_history, Equations& equations)
      : load_(load),
        following_(following),
        equations_(equations),
        y_(equations.first_state(load)),
        steps_(steps_of(equations, y_)),
        last_step_(*steps_, y_.size()),
        deposits_(equations),
        record_(equations, deposits_, *steps_, keep_history),
        parts_(equations, deposits_, absolute_over_relative * implicit_tolerance(equations)) {}

  WetSpan follow() {
    const double last = std::min({equations_.air.time.back() - equations_.start,
                                  equations_.scenario.numerics.longest, following_.at_most});
    int steps = 0;
    record_.start(y_);
    steps_->restart(y_, t_, first_step);
    while (t_ < last && !finished()) {
      if (++steps > most_steps) give_up("too many steps");
      if (following_.watch && steps % steps_between_looks == 0) following_.watch();
      if (take_step()) end_step(last);
    }
    parts_.settle(y_);
    return record_.result(y_, t_, steps, load_);
  }

 private:
  /// Whether the span need be followed no longer.
  bool at_least_followed() const { return t_ >= following_.at_least; }
  bool finished() const { return t_ > 0.0 && at_least_followed() && record_.all_dry(); }

  [[noreturn]] void give_up(const std::string& reason) const {
    std::ostringstream message;
    message << "the wet span could not be followed beyond " << t_ << " s after the spray (" << reason
            << "): leaf at " << equations_.temperature(equations_.layers.front(), y_)
            << " K; look at air.speed, leaf.heat_capacity, droplets.dv50 and numerics.tolerance first";
    throw IntegrationError(message.str());
  }

  /// Returns false if the step left the range of the equations and must be repeated.
  bool take_step() {
    try {
      last_step_.taken(steps_->take());
    } catch (const std::exception& error) {
      give_up(error.what());
    }
    if (last_step_.ahead().allFinite()) return true;
    // a step so long that it left the range of the equations, which the error estimate cannot see
    const double shorter = after_overshoot * last_step_.length();
    if (shorter < shortest_step) give_up("a value is not finite");
    steps_->restart(y_, t_, shorter);
    return false;
  }

  /// Accepts the step, or its part up to the first event or to the last time that is asked for.
  void end_step(double last) {
    const bool more = !at_least_followed();
    const double most = more ? std::min(last, following_.at_least) : last;
    Interruption interruption = parts_.earliest_interruption(last_step_, std::min(last_step_.to(), most));
    const double from = t_;
    t_ = interruption.moment;
    y_ = t_ < last_step_.to() ? last_step_.at(t_) : last_step_.ahead();
    record_.note_dryness(y_, t_, last_step_);
    // the span ends with the last of its water, wherever the step ends
    if (!more && finished() && record_.wet_time() > from && record_.wet_time() < t_) {
      interruption = {t_ = record_.wet_time()};
      y_ = last_step_.at(t_);
    }
    record_.follow(y_, t_);
    handle(interruption);
    if (interruption.happens() || t_ < last_step_.to()) restart();
  }

  void handle(const Interruption& interruption) {
    if (interruption.dries) {
      end(*interruption.dries);
      // equal classes dry at the same time
      while (const std::optional<WetPart> equal = parts_.at_limit(y_)) end(*equal);
    }
    if (interruption.deliquesces) parts_.deliquesce(*interruption.deliquesces, y_);
    if (equations_.hygroscopic()) parts_.leave_balance(y_);
  }

  /// A part is at its limit.
  void end(const WetPart& part) {
    if (part.stays) return parts_.come_into_balance(part, y_, t_);
    const auto dry = [&] { return t_ + parts_.last_moments_of(part, y_, t_); };
    if (part.layer && !record_.droplets_dry() && parts_.last_class()) record_.last_droplet_dries(dry());
    if (part.stems_of) record_.stems_dry(dry(), parts_.last_film_on_stems(part));
    parts_.dry_out(part, y_);
    record_.rest_removed(y_, t_);
  }

  /// Continues after an event, where rates are discontinuous.
  void restart() {
    deposits_.start(y_, t_);
    steps_->restart(y_, t_, std::max(shortest_after_event, steps_->after_event() * last_step_.length()));
  }

  const Load& load_;
  const Following& following_;
  Equations& equations_;
  State y_;
  double t_ = 0.0;  // since the spray [s]
  std::unique_ptr<Steps> steps_;
  LastStep last_step_;
  Deposits deposits_;
  WetRecord record_;
  WetParts parts_;
};

}  // namespace

std::string_view name_of(Status status) {
  switch (status) {
    case Status::dry:
      return "dry";
    case Status::wet_at_end:
      return "wet at end";
    case Status::nothing_wet:
      return "nothing wet";
    case Status::failed:
      return "failed";
  }
  return "";
}

std::string_view name_of(Path path) { return path == Path::clock ? "clock" : "reference"; }

WetSpan wet_span(const Scenario& scenario, const Load& load, const CropAir& air, double start,
                 const Following& following, bool keep_history) {
  check(scenario);
  check(air);
  check_start(air, start);
  check_load(load, scenario);
  if (std::isnan(following.at_least) || std::isnan(following.at_most)) {
    throw InputError("how long to follow a wet span is not a number");
  }
  return unchecked::wet_span(scenario, load, air, start, following, keep_history);
}

WetSpan unchecked::wet_span(const Scenario& scenario, const Load& load, const CropAir& air, double start,
                            const Following& following, bool keep_history) {
  Equations equations(scenario, load, air, start);
  if (equations.leaf_water <= 0.0 && following.at_least <= 0.0) {  // a drench
    WetSpan result;
    result.left = load;
    result.layer_wet_time.assign(equations.layers.size(), 0.0);
    result.layer_leaf_uptake = result.layer_wet_time;
    return result;
  }
  return Span(load, following, keep_history, equations).follow();
}

}  // namespace wetspan
