#include "bagsplit/stats/minimise.hpp"

#include <cmath>

#include "bagsplit/stats/detail/check.hpp"

namespace bagsplit::stats {

namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;
using Function = std::function<double(const VectorXd&, VectorXd&)>;

struct Sample {
  double step = 0.0;
  double value = 0.0;
  double slope = 0.0;
};

/// Minimiser of the cubic through two samples with slopes, kept away from the ends.
double between(const Sample& a, const Sample& b) {
  const double width = b.step - a.step;
  const double d1 = a.slope + b.slope - 3.0 * (a.value - b.value) / (a.step - b.step);
  const double root = d1 * d1 - a.slope * b.slope;
  double t = 0.5;
  if (root >= 0.0 && std::isfinite(b.value)) {
    const double d2 = std::copysign(std::sqrt(root), width);
    t = 1.0 - (b.slope + d2 - d1) / (b.slope - a.slope + 2.0 * d2);
  }
  if (!(t >= 0.1)) {
    t = 0.1;
  }
  return a.step + std::fmin(t, 0.9) * width;
}

}  // namespace

Minimum minimise(const Function& function, const VectorXd& start, const MinimiseOptions& options) {
  if (!function) {
    check::fail_call("minimise", "the function is empty");
  }
  const Eigen::Index n = start.size();
  Minimum out{start, 0.0, VectorXd::Zero(n), 0, 1, false, false};
  out.value = function(out.point, out.gradient);
  if (!std::isfinite(out.value) || !out.gradient.allFinite()) {
    out.stalled = true;
    return out;
  }
  const bool guessed = options.curvature.size() == n && n > 0;
  MatrixXd inverse;
  bool scaled = false;
  const auto start_again = [&] {
    inverse.setIdentity(n, n);
    scaled = guessed;
    if (guessed) {
      inverse.diagonal() = options.curvature.cwiseInverse();
    }
  };
  start_again();
  VectorXd point(n), gradient(n), direction(n);
  for (; out.iterations < options.max_iterations; ++out.iterations) {
    if (n == 0 || out.gradient.cwiseAbs().maxCoeff() <= options.gradient_tolerance) {
      out.converged = true;
      return out;
    }
    direction.noalias() = -(inverse * out.gradient);
    double slope = direction.dot(out.gradient);
    if (!(slope < 0.0)) {  // the model of the curvature has gone bad: start it again
      start_again();
      direction.noalias() = -(inverse * out.gradient);
      slope = direction.dot(out.gradient);
    }
    const double length = direction.norm();
    const double longest = options.max_step * std::fmax(1.0, out.point.norm()) / length;
    double step = std::fmin(1.0, scaled ? longest : 0.5 / length);
    const double noise = options.value_rounding * (1.0 + std::fabs(out.value));
    Sample low{0.0, out.value, slope};
    Sample high;
    bool bracketed = false;
    bool accepted = false;
    double value = out.value;
    for (int attempt = 0; attempt < 40; ++attempt) {
      point = out.point + step * direction;
      value = function(point, gradient);
      ++out.evaluations;
      const double here = gradient.dot(direction);
      const Sample sample{step, value, here};
      const bool defined = std::isfinite(value) && gradient.allFinite();
      if (!defined || value > out.value + 1e-4 * step * slope + noise ||
          (value > low.value + noise && low.step > 0.0)) {
        high = sample;
        if (!defined) {
          high.value = HUGE_VAL;
        }
        bracketed = true;
      } else if (std::fabs(here) <= 0.9 * std::fabs(slope)) {
        accepted = true;
        break;
      } else if (here > 0.0) {
        high = sample;
        bracketed = true;
      } else {
        low = sample;
        if (!bracketed && step >= longest) {
          accepted = true;
          break;
        }
      }
      step = bracketed ? between(low, high) : std::fmin(longest, 3.0 * step);
      if (bracketed && std::fabs(high.step - low.step) * length < 1e-14) {
        break;
      }
    }
    const bool smaller_gradient = gradient.allFinite() && gradient.norm() < out.gradient.norm();
    if (!accepted && !(std::isfinite(value) && value <= out.value + noise && smaller_gradient)) {
      out.stalled = true;
      return out;
    }
    if (std::fabs(value - out.value) <= noise && !smaller_gradient) {
      out.stalled = true;
      return out;
    }
    const VectorXd s = point - out.point;
    const VectorXd y = gradient - out.gradient;
    const double sy = s.dot(y);
    if (sy > 1e-14 * s.norm() * y.norm()) {
      if (!scaled) {
        inverse *= sy / y.squaredNorm();
        scaled = true;
      }
      const VectorXd hy = inverse * y;
      inverse += ((1.0 + y.dot(hy) / sy) / sy) * s * s.transpose() - (hy * s.transpose() + s * hy.transpose()) / sy;
    }
    out.point = point;
    out.value = value;
    out.gradient = gradient;
  }
  return out;
}

}  // namespace bagsplit::stats
