#include "wet_span_steps.hpp"

// Boost 1.74's dense output needs the stepper's header before its own.
#include <boost/numeric/odeint/stepper/runge_kutta_dopri5.hpp>

#include <boost/numeric/odeint/algebra/vector_space_algebra.hpp>
#include <boost/numeric/odeint/external/eigen/eigen_resize.hpp>
#include <boost/numeric/odeint/stepper/controlled_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/dense_output_runge_kutta.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <stdexcept>
#include <tuple>
#include <vector>

#include "linearised.hpp"

namespace wetspan {
namespace {

namespace odeint = boost::numeric::odeint;
using State = Steps::State;

/// Limits the error of steps. Where hundreds of classes of droplets dry out, or reach their balance with the
/// air, one after the other, the longest step for one of them would be far too short for the others. In a
/// hygroscopic liquid a class therefore counts by its share of its side of the leaves, and the errors of the
/// side's classes are added: what is limited is the error of the side's water and area. Elsewhere the time at
/// which a class dries out counts as well. A class counts in full, or less where a side has more than usual.
class Allowed {
 public:
  Allowed(const Equations& equations, double tolerance, Eigen::Index size)
      : layers_(equations.layers),
        adds_(equations.hygroscopic()),
        tolerance_(tolerance),
        weight_(Eigen::ArrayXd::Ones(size)) {
    constexpr double usual = 16.0;  // classes on a side
    for (std::size_t k = 0; k < layers_.size(); ++k) {
      const double upper = static_cast<double>(layers_[k].lower);
      for (std::size_t i = 0; i < layers_[k].classes.size(); ++i) {
        weight_[static_cast<Eigen::Index>(layers_[k].entry(i))] =
            adds_ ? equations.weight_of(k, i) : usual / std::max(usual, upper);
      }
    }
  }

  /// Error over the allowed error, of a step of length `h` [s] from the state `y` with the derivative `rate`
  /// there. It is infinite if an estimate of `errors` is not finite.
  double over(const State& y, const State& rate, const State& errors, double h) const {
    if (!errors.allFinite()) return infinity;
    counted_ = weight_ * errors.array().abs() /
               (tolerance_ * (absolute_over_relative + y.array().abs() + h * rate.array().abs()));
    if (!adds_) return counted_.maxCoeff();
    double worst = counted_.head(first_layer).maxCoeff();
    for (const Layer& layer : layers_) {
      const auto first = static_cast<Eigen::Index>(layer.first),
                 upper = static_cast<Eigen::Index>(layer.lower),
                 all = static_cast<Eigen::Index>(layer.classes.size());
      worst =
          std::max({worst, counted_.segment(first - 3, 3).maxCoeff(), counted_.segment(first, upper).sum(),
                    counted_.segment(first + upper, all - upper).sum()});
    }
    return worst;
  }

  /// The length of a step from the state `y` [s], at most `h`, that does not lead a class far beyond the end
  /// of its water. The rate of a class bends sharply there, and the error of such a step is never allowed.
  double before_ends(const State& y, const State& rate, double h) const {
    constexpr double almost = 0.9;  // of the time to its end at the present rate
    const double far = tolerance_ * absolute_over_relative;
    for (const Layer& layer : layers_) {
      for (std::size_t i = 0; i < layer.classes.size(); ++i) {
        const auto of = static_cast<Eigen::Index>(layer.entry(i));
        if (y[of] > 0.0 && -weight_[of] * (y[of] + h * rate[of]) > far) h = almost * y[of] / -rate[of];
      }
    }
    return h;
  }

 private:
  const std::vector<Layer>& layers_;
  bool adds_;
  double tolerance_;
  Eigen::ArrayXd weight_;
  mutable Eigen::ArrayXd counted_;
};

/// The same in the form that odeint's controlled steppers ask for.
struct StepError {
  using value_type = double;
  using algebra_type = odeint::vector_space_algebra;
  using operations_type = odeint::default_operations;

  const Allowed* allowed;

  double error(const algebra_type&, const State& y, const State& rate, const State& errors, double dt) const {
    return allowed->over(y, rate, errors, dt);
  }
};

class ExplicitSteps final : public Steps {
 public:
  ExplicitSteps(const Equations& equations, Eigen::Index size)
      : equations_(equations),
        allowed_(equations, equations.scenario.numerics.tolerance, size),
        stepper_(
            Controlled(StepError{&allowed_}, odeint::default_step_adjuster<double, double>(longest_step))) {}

  void restart(const State& y, double t, double step) override { stepper_.initialize(y, t, step); }
  Times take() override {
    Times times{};
    std::tie(times.from, times.to) = stepper_.do_step(std::cref(equations_));
    return times;
  }
  const State& behind() const override { return stepper_.previous_state(); }
  const State& ahead() const override { return stepper_.current_state(); }
  void at(double t, State& y) const override { stepper_.calc_state(t, y); }
  double after_event() const override { return 0.3; }

 private:
  using Controlled = odeint::controlled_runge_kutta<
      odeint::runge_kutta_dopri5<State, double, State, double, odeint::vector_space_algebra>, StepError>;

  const Equations& equations_;
  Allowed allowed_;
  odeint::dense_output_runge_kutta<Controlled> stepper_;
};

/// Coefficients of Rodas5P (Steinebach 2023, BIT Numer. Math. 63:27), in the form for u = sum gamma_ij k_j.
/// The rows 7 and 8 of `a` are row 6 and then 1.
namespace rodas5p {
constexpr int stages = 8;
constexpr double gamma = 0.21193756319429014;
constexpr double a[6][5] = {
    {},
    {3.0},
    {2.849394379747939, 0.45842242204463923},
    {-6.954028509809101, 2.489845061869568, -10.358996098473584},
    {2.8029986275628964, 0.5072464736228206, -0.3988312541770524, -0.04721187230404641},
    {-7.502846399306121, 2.561846144803919, -11.627539656261098, -0.18268767659942256, 0.030198172008377946}};
constexpr double c[stages][7] = {
    {},
    {-14.155112264123755},
    {-17.97296035885952, -2.859693295451294},
    {147.12150275711716, -1.41221402718213, 71.68940251302358},
    {165.43517024871676, -0.4592823456491126, 42.90938336958603, -5.961986721573306},
    {24.854864614690072, -3.0009227002832186, 47.4931110020768, 5.5814197821558125, -0.6610691825249471},
    {30.91273214028599, -3.1208243349937974, 77.79954646070892, 34.28646028294783, -19.097331116725623,
     -28.087943162872662},
    {37.80277123390563, -3.2571969029072276, 112.26918849496327, 66.9347231244047, -40.06618937091002,
     -54.66780262877968, -9.48861652309627}};
constexpr double at[stages] = {
    0.0, 0.6358126895828704, 0.4095798393397535, 0.9769306725060716, 0.4288403609558664, 1.0, 1.0, 1.0};
constexpr double by_time[stages] = {0.21193756319429014, -0.42387512638858027, -0.3384627126235924,
                                    1.8046452872882734, 2.325825639765069};
constexpr double dense[3][stages] = {
    {25.948786856663858, -2.5579724845846235, 10.433815404888879, -2.3679251022685204, 0.524948541321073,
     1.1241088310450404, 0.4272876194431874, -0.17202221070155493},
    {-9.91568850695171, -0.9689944594115154, 3.0438037242978453, -24.495224566215796, 20.176138334709044,
     15.98066361424651, -6.789040303419874, -6.710236069923372},
    {11.419903575922262, 2.8879645146136994, 72.92137995996029, 80.12511834622643, -52.072871366152654,
     -59.78993625266729, -0.15582684282751913, 4.883087185713722}};
constexpr double error_order = 5.0;  // of the error estimate, in the length of the step
}  // namespace rodas5p

class ImplicitSteps final : public Steps {
 public:
  ImplicitSteps(const Equations& equations, Eigen::Index size)
      : equations_(equations),
        linearised_(equations),
        allowed_(equations, implicit_tolerance(equations), size),
        increments_(size, rodas5p::stages),
        dense_(size, 3) {
    for (State* each : {&behind_, &ahead_, &rate_, &stage_, &u_}) each->resize(size);
  }

  void restart(const State& y, double t, double step) override { ahead_ = y, to_ = t, next_ = step; }
  Times take() override {
    using namespace rodas5p;
    std::swap(behind_, ahead_);
    from_ = to_;
    equations_(behind_, rate_, from_);
    next_ = allowed_.before_ends(behind_, rate_, next_);
    linearised_.about(behind_, from_, next_);
    const double longest = longest_from(from_);
    double rejected = 0.0, its_error = infinity;  // a length that was rejected
    double order = error_order;
    for (;;) {
      const double h = std::min(next_, longest);
      if (!(h > shortest_step)) throw std::runtime_error("steps became too short");
      attempt(h);
      const double error = error_of(h);
      // where the rates bend sharply within the step, its error falls more slowly than its order says
      if (rejected > 0.0 && its_error < infinity)
        order = std::clamp(std::log(its_error / error) / std::log(rejected / h), 1.0, error_order);
      const double by = std::isfinite(error)
                            ? std::clamp(safety * std::pow(error, -1.0 / order), shrinks_to, grows_to)
                            : shrinks_to;
      if (error <= 1.0) {
        to_ = from_ + h;
        next_ = h * (rejected > 0.0 ? std::min(by, 1.0) : by);
        for (int j = 0; j < 3; ++j) {
          dense_.col(j) = increments_ * Eigen::Map<const Eigen::Matrix<double, stages, 1>>(dense[j]);
        }
        return {from_, to_};
      }
      next_ = h * std::min(by, safety);
      rejected = h, its_error = error;
    }
  }
  const State& behind() const override { return behind_; }
  const State& ahead() const override { return ahead_; }
  void at(double t, State& y) const override {
    const double s = (t - from_) / (to_ - from_), rest = 1.0 - s;
    y = rest * behind_ + s * (ahead_ + rest * (dense_.col(0) + s * (dense_.col(1) + s * dense_.col(2))));
  }
  double after_event() const override { return 1.0; }

 private:
  /// The longest step from a time [s]. Where the record of air has no row for long, as steady air, residue in
  /// balance with it is followed in steps of up to an hour.
  double longest_from(double t) const {
    constexpr double hour = 3600.0;
    const std::vector<double>& rows = equations_.air.time;
    const double now = equations_.start + t;
    const auto next = std::upper_bound(rows.begin(), rows.end(), now);
    return next == rows.end() ? longest_step : std::clamp(*next - now, longest_step, hour);
  }
  void attempt(double h) {
    using namespace rodas5p;
    linearised_.shift(1.0 / (gamma * h));
    for (int i = 0; i < stages; ++i) {
      auto earlier = increments_.leftCols(i);
      if (i == 0) {
        u_ = rate_;
      } else {
        if (i < 6) stage_ = behind_ + earlier * Eigen::Map<const Eigen::VectorXd>(a[i], i);
        else stage_ += increments_.col(i - 1);
        equations_(stage_, u_, from_ + rodas5p::at[i] * h);
        u_ += earlier * (Eigen::Map<const Eigen::VectorXd>(c[i], i) / h);
      }
      if (by_time[i] != 0.0) u_ += (h * by_time[i]) * linearised_.by_time();
      linearised_.solve(u_);
      increments_.col(i) = u_;
    }
    ahead_ = stage_ + u_;
  }
  double error_of(double h) {
    if (!ahead_.allFinite()) return infinity;
    // An error of a leaf's temperature settles within a part of a long step, and does not grow. After an
    // event, steps would otherwise follow how the temperature settles by a millionth of a kelvin.
    for (std::size_t k = 0; k < equations_.layers.size(); ++k) {
      u_[static_cast<Eigen::Index>(equations_.layers[k].warmth)] /= squared(1.0 + h * linearised_.settles(k));
    }
    return allowed_.over(behind_, rate_, u_, h);
  }

  // of the next step's length over the last: a factor, and bounds [1]
  static constexpr double safety = 0.9, shrinks_to = 0.2, grows_to = 5.0;

  const Equations& equations_;
  Linearised linearised_;
  Allowed allowed_;
  State behind_, ahead_, rate_, stage_, u_;
  Eigen::MatrixXd increments_, dense_;
  double from_ = 0.0, to_ = 0.0, next_ = first_step;
};

/// Explicit steps until stability limits them, as where very thin leaves stay wet for days; then implicit
/// ones.
class SwitchingSteps final : public Steps {
 public:
  SwitchingSteps(const Equations& equations, Eigen::Index size)
      : equations_(equations), size_(size), steps_(std::make_unique<ExplicitSteps>(equations, size)) {}

  void restart(const State& y, double t, double step) override {
    steps_->restart(y, t, step);
    step_ = step, time_ = t;
  }
  Times take() override {
    ++taken_;
    if (!implicit_ && taken_ >= patience && taken_ % between_looks == 0 && (taken_ >= most || stiff())) {
      const State now = steps_->ahead();
      steps_ = std::make_unique<ImplicitSteps>(equations_, size_);
      steps_->restart(now, time_, step_);
      implicit_ = true;
    }
    const Times times = steps_->take();
    step_ = times.to - times.from, time_ = times.to;
    return times;
  }
  const State& behind() const override { return steps_->behind(); }
  const State& ahead() const override { return steps_->ahead(); }
  void at(double t, State& y) const override { steps_->at(t, y); }
  double after_event() const override { return steps_->after_event(); }

 private:
  /// Whether the last step was about as long as the pair of Dormand and Prince is stable.
  bool stiff() const {
    // Length of a step times the fastest rate [1]. The pair is stable up to 3.3, but its steps keep below
    // that, and where rates have a kink, as at the dew point, far below. Where accuracy limits steps it is
    // 0.1.
    constexpr double stable = 0.7;
    Linearised linearised(equations_);
    linearised.about(steps_->ahead(), time_, step_);
    return step_ * linearised.fastest() > stable;
  }

  // explicit steps before the first look, from one to the next, and at most: rates with a kink at which
  // leaves stay, as in saturated air, hold explicit steps far below what is stable
  static constexpr int patience = 2000, between_looks = 100, most = 6000;

  const Equations& equations_;
  Eigen::Index size_;
  std::unique_ptr<Steps> steps_;
  bool implicit_ = false;
  int taken_ = 0;
  double step_ = first_step, time_ = 0.0;  // the last length, and where it ended [s]
};

}  // namespace

double implicit_tolerance(const Equations& equations) {
  double classes = 0.0;
  for (const Layer& layer : equations.layers) classes += static_cast<double>(layer.classes.size());
  return std::max(equations.scenario.numerics.tolerance, finest_by_square * squared(classes));
}

std::unique_ptr<Steps> steps_of(const Equations& equations, const State& first) {
  if (equations.hygroscopic()) return std::make_unique<ImplicitSteps>(equations, first.size());
  return std::make_unique<SwitchingSteps>(equations, first.size());
}

}  // namespace wetspan
