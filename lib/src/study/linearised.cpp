#include "linearised.hpp"

#include <algorithm>
#include <cmath>

namespace wetspan {
namespace {

using One = Lanes<1>;
using classes::step_of;

constexpr double time_step = 1e-3;  // of the difference quotient in time, over the length given
constexpr double scale_of_water = 1e-6, scale_of_discs = 1e-3;  // [m], [1]: added to the number itself
constexpr double scale_of_source = 1e-9;                        // [kg/m2/s]

}  // namespace

Linearised::Linearised(const Equations& equations) : equations_(equations), layers_(equations.layers.size()) {
  const auto size = static_cast<Eigen::Index>(equations.size);
  share_ = Eigen::ArrayXd::Zero(size);
  share_[house_vapour] = share_[carried_off] = equations.came;
  share_[bench_left] = equations.on_bench;
  for (const Layer& layer : equations.layers) {
    share_[static_cast<Eigen::Index>(layer.dew)] = equations.dew_unit() * layer.area;
    share_[static_cast<Eigen::Index>(layer.stem_left)] = layer.stem.water;
    for (std::size_t i = 0; i < layer.classes.size(); ++i) {
      share_[static_cast<Eigen::Index>(layer.entry(i))] = layer.per_bench(i);
    }
  }
  share_ /= equations.came;
  for (Eigen::ArrayXd* each : {&diagonal_, &by_drive_, &by_around_, &by_full_, &shell_, &driving_, &disc_,
                               &water_, &inverse_, &kept_}) {
    *each = Eigen::ArrayXd::Zero(size);
  }
  by_time_ = changed_ = rates_ = rates_changed_ = State::Zero(size);
}

Linearised::Side Linearised::side_of(std::size_t k, int side) const {
  const Layer& layer = equations_.layers[k];
  const std::size_t from = side == 0 ? 0 : layer.lower, to = side == 0 ? layer.lower : layer.classes.size();
  return {from, to, static_cast<Eigen::Index>(layer.entry(from)), static_cast<Eigen::Index>(to - from)};
}

/// What a layer gives off, its rates and z, if the sums over its droplets are given.
Linearised::Outputs Linearised::outputs_of(std::size_t k, const SprayedAir<double>& air, double temperature,
                                           const Equations::OnLeaves& on,
                                           const Equations::SideSums (&side)[2]) const {
  const LeafSurface<double> surface = equations_.surface_of(k, air, temperature);
  Equations::GivenOff given;
  Outputs now;
  for (int s = 0; s < 2; ++s) {
    const double around = Equations::outside(side[s], surface, s == 1, air.free.vapour);
    given.evaporation += surface.through[s] * (around - air.free.vapour);
    Equations::bare_side_gives(s == 1, surface, on, side[s].discs, given);
    now[first_around + s] = surface.diffusivity * around;
  }
  const Equations::LeafRates rates = equations_.leaf_rates(k, air, surface, on, given);
  now[warmth] = rates.warmth, now[dew] = rates.dew;
  now[source] = equations_.layers[k].area * rates.evaporation;
  now[drive] = surface.diffusivity * surface.saturated;
  now[full] = on.full;
  return now;
}

/// The derivatives of the classes' rates, and those of the sums over the classes.
void Linearised::classes_about(std::size_t k, int side, const State& y, const Outputs& now) {
  const Layer& layer = equations_.layers[k];
  const Equations::LayerForms& forms = equations_.forms_[k];
  const Side of = side_of(k, side);
  equations_.kernel_.slopes(equations_.classes_of(k), of.from, of.to, y.data() + layer.first,
                            {1.0, now[drive], now[first_around + side], now[full]}, forms.by_mass.data(),
                            forms.water.data(), slopes_of(k));
}

classes::Slopes Linearised::slopes_of(std::size_t k) {
  const std::size_t first = equations_.layers[k].first;
  const auto of = [&](Eigen::ArrayXd& numbers) { return numbers.data() + first; };
  return {of(diagonal_), of(by_drive_), of(by_around_), of(by_full_),
          of(shell_),    of(driving_),  of(disc_),      of(water_)};
}

void Linearised::layer_about(std::size_t k, const State& y, const Nearby (&airs)[4]) {
  const Layer& layer = equations_.layers[k];
  OnLayer& of = layers_[k];
  const Equations::OnLeaves on = equations_.on_leaves(k, y);
  const Equations::SideSums side[2] = {equations_.sum_classes(k, 0, layer.lower, y),
                                       equations_.sum_classes(k, layer.lower, layer.classes.size(), y)};
  const double temperature = equations_.temperature(layer, y);
  const Outputs now = outputs_of(k, airs[now_].air, temperature, on, side);
  of.source = now[source];
  const auto quotient = [&](const Outputs& changed, double step) -> Outputs {
    return (changed - now) / step;
  };
  of.by.col(by_heat) = quotient(outputs_of(k, airs[warmer_].air, temperature, on, side), airs[warmer_].step);
  of.by.col(by_vapour) =
      quotient(outputs_of(k, airs[moister_].air, temperature, on, side), airs[moister_].step);
  of.by_time = quotient(outputs_of(k, airs[later_].air, temperature, on, side), airs[later_].step);
  of.by.col(by_warmth) =
      quotient(outputs_of(k, airs[now_].air, temperature + step_of * warmth_unit, on, side), step_of);
  changed_ = y;
  changed_[static_cast<Eigen::Index>(layer.dew)] += step_of;
  of.by.col(by_dew) =
      quotient(outputs_of(k, airs[now_].air, temperature, equations_.on_leaves(k, changed_), side), step_of);
  for (int s = 0; s < 2; ++s) {
    auto by_sum = of.by.middleCols<side_sums>(first_sum + side_sums * s);
    by_sum.setZero();
    if (side_of(k, s).count == 0) continue;
    const auto changed = [&](int which, double step, auto change) {
      Equations::SideSums sides[2] = {side[0], side[1]};
      Equations::OnLeaves leaves = on;
      change(sides[s], leaves, step);
      by_sum.col(which) = quotient(outputs_of(k, airs[now_].air, temperature, leaves, sides), step);
    };
    using Sum = Equations::SideSums;
    using Leaves = Equations::OnLeaves;
    if (side[s].shells > 0.0) {
      const double step = step_of * side[s].shells;
      changed(0, step, [](Sum& sum, Leaves&, double by) { sum.shells += by; });
      changed(1, step, [](Sum& sum, Leaves&, double by) { sum.drive += by; });
    }
    changed(2, step_of * (side[s].discs + scale_of_discs),
            [](Sum& sum, Leaves&, double by) { sum.discs += by; });
    changed(3, step_of * (on.water[s] + scale_of_water), [&](Sum&, Leaves& leaves, double by) {
      leaves.water[s] += by, leaves.full += by / equations_.scenario.retention.leaf_store;
    });
    classes_about(k, s, y, now);
  }
}

/// The films on bench and stems: by the air, and each by itself.
void Linearised::films_about(const State& y, const Nearby (&airs)[4]) {
  const Equations& e = equations_;
  const auto each_film = [&](auto use) {
    use(Eigen::Index{2}, Eigen::Index{bench_left}, e.on_bench);
    for (std::size_t k = 0; k < layers_.size(); ++k) {
      use(border(k, 2), static_cast<Eigen::Index>(e.layers[k].stem_left), e.layers[k].stem.water);
    }
  };
  sources_.setZero(of_border_.rows());
  source_ = e.follow_films(airs[now_].air, y, rates_);
  for (const int of : {warmer_, moister_, later_}) {
    const double step = airs[of].step;
    const double changed = (e.follow_films(airs[of].air, y, rates_changed_) - source_) / step;
    (of == later_ ? source_by_time_ : sources_[of == warmer_ ? 0 : 1]) = changed;
    each_film([&](Eigen::Index row, Eigen::Index entry, double) {
      const double by = (rates_changed_[entry] - rates_[entry]) / step;
      (of == later_ ? by_time_[entry] : of_border_(row, of == warmer_ ? 0 : 1)) = by;
    });
  }
  changed_ = y;
  each_film([&](Eigen::Index, Eigen::Index entry, double) { changed_[entry] += step_of; });
  e.follow_films(airs[now_].air, changed_, rates_changed_);
  each_film([&](Eigen::Index row, Eigen::Index entry, double water) {
    if (!(y[entry] > 0.0)) return;  // dry
    of_border_(row, row) = (rates_changed_[entry] - rates_[entry]) / step_of;
    sources_[row] = -of_border_(row, row) * e.density * water;
  });
}

void Linearised::house_about(const State& y, const Nearby (&airs)[4]) {
  const Equations& e = equations_;
  const auto rates = [&](int of, double warmth_of, double evaporation) {
    const HouseRates<double> changes =
        house_rates<One>(e.of_, e.house_, airs[of].air, warmth_of, evaporation);
    return Eigen::Vector2d(changes.heat, evaporation * e.house_.by_came - changes.leaving);
  };
  const double heat = y[house_heat], more = step_of * std::max(std::abs(source_), scale_of_source);
  const Eigen::Vector2d now = rates(now_, heat, source_);
  const double warmer = airs[warmer_].step;
  of_border_.block<2, 1>(0, 0) = (rates(warmer_, heat + warmer, source_) - now) / warmer;
  of_border_.block<2, 1>(0, 1) = (rates(moister_, heat, source_) - now) / airs[moister_].step;
  by_source_.head<2>() = (rates(now_, heat, source_ + more) - now) / more;
  by_time_.head<2>() =
      (rates(later_, heat, source_) - now) / airs[later_].step + by_source_.head<2>() * source_by_time_;
  of_border_ += by_source_ * sources_.transpose();
}

void Linearised::about(const State& y, double t, double ahead) {
  const Equations& e = equations_;
  const auto air_with = [&](std::size_t entry) {
    changed_ = y, changed_[static_cast<Eigen::Index>(entry)] += step_of;
    return e.air_at(changed_, t);
  };
  const double later = (e.start + t + time_step * ahead) - (e.start + t);  // as the record sees it
  const Nearby airs[4] = {{e.air_at(y, t), 1.0},
                          {air_with(house_heat), step_of},
                          {air_with(house_vapour), step_of},
                          {e.air_at(y, t + later), later}};
  const auto size = border(layers_.size(), 0);
  of_border_.setZero(size, size);
  by_source_.setZero(size);
  by_time_.setZero();
  films_about(y, airs);
  for (std::size_t k = 0; k < layers_.size(); ++k) {
    layer_about(k, y, airs);
    const Outputs& by = layers_[k].by_time;
    by_time_[static_cast<Eigen::Index>(e.layers[k].warmth)] = by[warmth];
    by_time_[static_cast<Eigen::Index>(e.layers[k].dew)] = by[dew];
    source_by_time_ += by[source];
    for (int s = 0; s < 2; ++s) {
      const auto [from, to, first, count] = side_of(k, s);
      by_time_.segment(first, count) = by_drive_.segment(first, count) * by[drive] +
                                       by_around_.segment(first, count) * by[first_around + s] +
                                       by_full_.segment(first, count) * by[full];
    }
    source_ += layers_[k].source;
  }
  if (e.house_answers) house_about(y, airs);
  by_time_[carried_off] -= (share_ * by_time_.array()).sum() / share_[carried_off];
}

double Linearised::fastest() const {
  double rate = std::max(of_border_.diagonal().cwiseAbs().maxCoeff(), diagonal_.abs().maxCoeff());
  for (const OnLayer& of : layers_) {
    rate = std::max({rate, std::abs(of.by(warmth, by_warmth)), std::abs(of.by(dew, by_dew))});
  }
  return rate;
}

void Linearised::shift(double shift) {
  shift_ = shift;
  inverse_ = 1.0 / (shift - diagonal_);
  auto matrix = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, most, most>(-of_border_);
  matrix.diagonal().array() += shift;
  for (std::size_t k = 0; k < layers_.size(); ++k) {
    OnLayer& of = layers_[k];
    Eigen::Matrix<double, sums, shared> by_shared = Eigen::Matrix<double, sums, shared>::Zero();
    for (int s = 0; s < 2; ++s) {
      const auto [from, to, first, count] = side_of(k, s);
      const auto inverse = inverse_.segment(first, count);
      const Eigen::ArrayXd* of_sums[side_sums] = {&shell_, &driving_, &disc_, &water_};
      for (int j = 0; j < side_sums; ++j) {
        const auto weight = of_sums[j]->segment(first, count) * inverse;
        const int row = side_sums * s + j;
        by_shared(row, 0) = (weight * by_drive_.segment(first, count)).sum();
        by_shared(row, 1 + s) = (weight * by_around_.segment(first, count)).sum();
        by_shared(row, full - drive) = (weight * by_full_.segment(first, count)).sum();
      }
    }
    const auto shared_by = of.by.bottomRows<shared>();
    const Eigen::Matrix<double, shared, sums> shared_by_sums = shared_by.rightCols<sums>();
    const Eigen::Matrix<double, shared, shared> feedback =
        Eigen::Matrix<double, shared, shared>::Identity() - shared_by_sums * by_shared;
    const Eigen::Matrix<double, sums, shared> through = by_shared * feedback.inverse();
    of.sums_by = through * shared_by.leftCols<first_sum>();
    of.sums_kept = Eigen::Matrix<double, sums, sums>::Identity() + through * shared_by_sums;
    const Eigen::Matrix<double, 3, sums> rates_by_sums = of.by.topRows<3>().rightCols<sums>();
    of.rates_by = of.by.topRows<3>().leftCols<first_sum>() + rates_by_sums * of.sums_by;
    of.rates_kept = rates_by_sums * of.sums_kept;
    const Eigen::Index own[first_sum] = {0, 1, border(k, 0), border(k, 1)};
    for (int j = 0; j < first_sum; ++j) {
      matrix(border(k, 0), own[j]) -= of.rates_by(warmth, j);
      matrix(border(k, 1), own[j]) -= of.rates_by(dew, j);
      matrix(0, own[j]) -= by_source_[0] * of.rates_by(source, j);
      matrix(1, own[j]) -= by_source_[1] * of.rates_by(source, j);
    }
  }
  solved_.compute(matrix);
}

void Linearised::solve(State& r) {
  const Equations& e = equations_;
  const double water = (share_ * r.array()).sum() / shift_;
  Border border_of(of_border_.rows());
  border_of[0] = r[house_heat], border_of[1] = r[house_vapour], border_of[2] = r[bench_left];
  Sums kept[most_layers];
  for (std::size_t k = 0; k < layers_.size(); ++k) {
    const Layer& layer = e.layers[k];
    for (int s = 0; s < 2; ++s) {
      const Side side = side_of(k, s);
      const classes::FourSums sum =
          e.kernel_.eliminate(slopes_of(k), side.from, side.to, inverse_.data() + layer.first,
                              r.data() + layer.first, kept_.data() + layer.first);
      kept[k].segment<side_sums>(Eigen::Index{side_sums} * s) << sum.shells, sum.driving, sum.discs,
          sum.water;
    }
    const Eigen::Vector3d rates = layers_[k].rates_kept * kept[k];
    border_of[border(k, 0)] = r[static_cast<Eigen::Index>(layer.warmth)] + rates[warmth];
    border_of[border(k, 1)] = r[static_cast<Eigen::Index>(layer.dew)] + rates[dew];
    border_of[border(k, 2)] = r[static_cast<Eigen::Index>(layer.stem_left)];
    border_of.head<2>() += by_source_.head<2>() * rates[source];
  }
  border_of = solved_.solve(border_of).eval();
  r[house_heat] = border_of[0], r[house_vapour] = border_of[1], r[bench_left] = border_of[2];
  for (std::size_t k = 0; k < layers_.size(); ++k) {
    const Layer& layer = e.layers[k];
    const OnLayer& of = layers_[k];
    const Own own(border_of[0], border_of[1], border_of[border(k, 0)], border_of[border(k, 1)]);
    r[static_cast<Eigen::Index>(layer.warmth)] = own[by_warmth];
    r[static_cast<Eigen::Index>(layer.dew)] = own[by_dew];
    r[static_cast<Eigen::Index>(layer.stem_left)] = border_of[border(k, 2)];
    const Sums changes = of.sums_by * own + of.sums_kept * kept[k];
    const Shared z = of.by.bottomRows<shared>().leftCols<first_sum>() * own +
                     of.by.bottomRows<shared>().rightCols<sums>() * changes;
    for (int s = 0; s < 2; ++s) {
      const Side side = side_of(k, s);
      e.kernel_.substitute(slopes_of(k), side.from, side.to, inverse_.data() + layer.first,
                           kept_.data() + layer.first, z[0], z[1 + s], z[full - drive],
                           r.data() + layer.first);
    }
  }
  r[carried_off] = 0.0;
  r[carried_off] = (water - (share_ * r.array()).sum()) / share_[carried_off];
}

}  // namespace wetspan
