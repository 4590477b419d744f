#include "bagsplit/inference/squad/squad_scales.hpp"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace bagsplit::inference {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

namespace {

constexpr double difference = 0.15;  // step of the differences
// Values of settled messages carry an error of about a hundredth. Once a step gains less than a few times that, it is
// the last: the next would be of the order of its square.
constexpr double value_error = 0.01;
constexpr double last_decrement = 0.1;
constexpr int most_steps = 8;
constexpr double longest_step = 0.7;
constexpr Index slope = 4;  // place of the slope of the losses

}  // namespace

SquadScales scales_of(const ScaleLogs& logs) {
  return {std::exp(logs(0)), std::exp(logs(1)), std::exp(logs(2)), std::exp(logs(3)), logs(4) / slope_unit};
}

ScaleSearch::ScaleSearch(MessagePassing& passing, const SquadScalePriors& priors) : passing_(passing), priors_(priors) {
  for (Index k = 0; k < scale_count; ++k) {
    logs_(k) = prior(k).mean;
    if (prior(k).sd > 0.0) {
      free_.push_back(k);
    }
  }
}

Normal ScaleSearch::prior(Index k) const {
  return k == 0   ? priors_.log_effort_cv
         : k == 1 ? priors_.log_day_cv
         : k == 2 ? priors_.log_reaction_sd
         : k == 3 ? priors_.log_press_factor
                  : Normal{slope_unit * priors_.loss_slope_s.mean, slope_unit * priors_.loss_slope_s.sd};
}

double ScaleSearch::log_prior(const ScaleLogs& logs) const {
  double sum = 0.0;
  for (Index k = 0; k < scale_count; ++k) {
    if (prior(k).sd > 0.0) {
      const double z = (logs(k) - prior(k).mean) / prior(k).sd;
      sum -= 0.5 * z * z + std::log(prior(k).sd);
    }
  }
  return sum;
}

// Minus infinity where the messages led to nothing: their evidence is of other scales.
double ScaleSearch::objective(const ScaleLogs& logs, const MessageFit& fit) const {
  return fit.sound ? fit.log_evidence + log_prior(logs) : -std::numeric_limits<double>::infinity();
}

ScaleLogs ScaleSearch::moved(const VectorXd& by) const {
  ScaleLogs out = logs_;
  for (Index a = 0; a < by.size(); ++a) {
    out(free_[static_cast<std::size_t>(a)]) += by(a);
  }
  return out;
}

// Gradient and curvature here.  @return false where a point around leads to nothing.
bool ScaleSearch::differentiate(VectorXd& gradient) {
  const auto m = static_cast<Index>(free_.size());
  const auto look = [&](const VectorXd& by) {
    const ScaleLogs there = moved(by);
    return objective(there, passing_.look(scales_of(there), fit_));
  };
  const MatrixXd steps = difference * MatrixXd::Identity(m, m);
  VectorXd up(m);
  VectorXd down(m);
  for (Index a = 0; a < m; ++a) {
    up(a) = look(steps.col(a));
    down(a) = look(-steps.col(a));
  }
  if (!std::isfinite(value_ + up.sum() + down.sum())) {
    return false;
  }
  gradient = (up - down) / (2.0 * difference);
  for (Index a = 0; a < m; ++a) {
    curvature_(a, a) = -(up(a) - 2.0 * value_ + down(a)) / (difference * difference);
    // The slope of the losses hardly goes with the scatter's sizes: its axis is its own.
    for (Index b = 0; b < a && free_[static_cast<std::size_t>(a)] != slope; ++b) {
      curvature_(a, b) = curvature_(b, a) =
          -(look(steps.col(a) + steps.col(b)) - up(a) - up(b) + value_) / (difference * difference);
    }
  }
  return true;
}

// Keeps at least half of the prior's precision in every direction.
MatrixXd ScaleSearch::invert_curvature() {
  const Eigen::SelfAdjointEigenSolver<MatrixXd> eigen(curvature_);
  double least = 1e300;
  for (const Index k : free_) {
    least = std::min(least, 0.5 / (prior(k).sd * prior(k).sd));
  }
  const VectorXd values = eigen.eigenvalues().cwiseMax(least);
  curvature_ = eigen.eigenvectors() * values.asDiagonal() * eigen.eigenvectors().transpose();
  return eigen.eigenvectors() * values.cwiseInverse().asDiagonal() * eigen.eigenvectors().transpose();
}

// Goes there, or part of the way.  @return whether any part of it is no worse.
bool ScaleSearch::advance(VectorXd move) {
  for (int halving = 0; halving < 5; ++halving) {
    const ScaleLogs next = moved(move);
    MessageFit fit = passing_.settle(scales_of(next), fit_, 4);
    const double value = objective(next, fit);
    if (value > value_ - value_error) {
      logs_ = next;
      fit_ = std::move(fit);
      value_ = value;
      return true;
    }
    move *= 0.5;
  }
  return false;
}

ScaleSearch::Step ScaleSearch::step() {
  VectorXd gradient;
  if (!differentiate(gradient)) {
    return Step::lost;
  }
  VectorXd move = invert_curvature() * gradient;
  const double decrement = gradient.dot(move);
  if (decrement < 0.01) {
    return Step::last;
  }
  if (const double length = move.cwiseAbs().maxCoeff(); length > longest_step) {
    move *= longest_step / length;
  }
  if (!advance(std::move(move))) {
    return Step::lost;
  }
  return decrement < last_decrement ? Step::last : Step::taken;
}

void ScaleSearch::find_mode() {
  const auto m = static_cast<Index>(free_.size());
  fit_ = passing_.settle(scales_of(logs_), passing_.start(), 6);
  learn_slip_rate();
  value_ = objective(logs_, fit_);
  // Until differences tell of it, the prior's.
  curvature_ = MatrixXd::Zero(m, m);
  for (Index a = 0; a < m; ++a) {
    const double sd = prior(free_[static_cast<std::size_t>(a)]).sd;
    curvature_(a, a) = 1.0 / (sd * sd);
  }
  converged_ = m == 0;
  for (int i = 0; i < most_steps && m > 0; ++i) {
    const Step done = step();
    if (done != Step::taken) {
      converged_ = done == Step::last;
      break;
    }
  }
  learn_slip_rate();
  converged_ = converged_ && fit_.settled;
}

void ScaleSearch::learn_slip_rate() {
  if (passing_.slip_rate() > 0.0) {
    passing_.learn_slip_rate(fit_);
    fit_ = passing_.settle(scales_of(logs_), fit_, 4);
    value_ = objective(logs_, fit_);
  }
}

// Points on the axes around the mode. For a normal they carry 1 / 1.21 of the weight between them; the density at each,
// against what a normal would have there, tells of skewness.
void ScaleSearch::spread(const MatrixXd& axes, ScaleDesign& out) {
  constexpr double f2 = 1.21;
  const Index m = axes.cols();
  const double radius = std::sqrt(f2 * static_cast<double>(m));
  out.points.front().weight = 1.0 - 1.0 / f2;
  for (Index axis = 0; axis < m; ++axis) {
    for (const double sign : {1.0, -1.0}) {
      const ScaleLogs place = moved(sign * radius * axes.col(axis));
      MessageFit settled = passing_.settle(scales_of(place), fit_, 4);
      out.settled = out.settled && settled.settled;
      const double ratio = std::exp(std::clamp(objective(place, settled) - value_ + 0.5 * radius * radius, -1.5, 1.5));
      out.points.push_back({ratio / (f2 * 2.0 * static_cast<double>(m)), place, std::move(settled)});
    }
  }
  double total = 0.0;
  for (const ScalePoint& point : out.points) {
    total += point.weight;
  }
  out.mean.setZero();
  for (ScalePoint& point : out.points) {
    point.weight /= total;
    out.mean += point.weight * point.at;
  }
  for (const ScalePoint& point : out.points) {
    out.sd += point.weight * (point.at - out.mean).cwiseAbs2();
  }
  out.sd = out.sd.cwiseSqrt();
}

ScaleDesign ScaleSearch::design(double narrow_sd) {
  ScaleDesign out{{{1.0, logs_, fit_}}, logs_, ScaleLogs::Zero(), value_, converged_};
  if (free_.empty()) {
    return out;
  }
  const Eigen::SelfAdjointEigenSolver<MatrixXd> eigen(curvature_);
  const MatrixXd axes = eigen.eigenvectors() * eigen.eigenvalues().cwiseSqrt().cwiseInverse().asDiagonal();
  out.log_evidence -= 0.5 * eigen.eigenvalues().array().log().sum();
  const VectorXd sds = axes.rowwise().norm();
  if (sds.maxCoeff() > narrow_sd) {
    spread(axes, out);
    return out;
  }
  for (Index a = 0; a < sds.size(); ++a) {
    out.sd(free_[static_cast<std::size_t>(a)]) = sds(a);
  }
  return out;
}

}  // namespace bagsplit::inference
