#include "bagsplit/stats/minimise.hpp"

#include <cmath>
#include <utility>

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

// What BFGS believes of the inverse of the second derivatives.
class InverseCurvature {
 public:
  InverseCurvature(Eigen::Index n, const VectorXd& guess) : n_(n), guess_(guess), guessed_(guess.size() == n && n > 0) {
    start_again();
  }

  void start_again() {
    inverse_.setIdentity(n_, n_);
    scaled_ = guessed_;
    if (guessed_) {
      inverse_.diagonal() = guess_.cwiseInverse();
    }
  }

  bool scaled() const { return scaled_; }

  VectorXd downhill(const VectorXd& gradient) const { return -(inverse_ * gradient); }

  void learn(const VectorXd& s, const VectorXd& y) {
    const double sy = s.dot(y);
    if (!(sy > 1e-14 * s.norm() * y.norm())) {
      return;
    }
    if (!scaled_) {
      inverse_ *= sy / y.squaredNorm();
      scaled_ = true;
    }
    const VectorXd hy = inverse_ * y;
    inverse_ += ((1.0 + y.dot(hy) / sy) / sy) * s * s.transpose() - (hy * s.transpose() + s * hy.transpose()) / sy;
  }

 private:
  Eigen::Index n_;
  const VectorXd& guess_;
  bool guessed_;
  bool scaled_ = false;
  MatrixXd inverse_;
};

// Where a line search ended.
struct Landing {
  VectorXd point, gradient;
  double value = 0.0;
  int evaluations = 0;
  bool accepted = false;
};

// Wolfe conditions along a direction from `from`; steps up to `longest`.
Landing search_line(const Function& function, const Minimum& from, const VectorXd& direction, double step,
                    double longest, double noise) {
  const double length = direction.norm();
  const double slope = direction.dot(from.gradient);
  Sample low{0.0, from.value, slope};
  Sample high;
  bool bracketed = false;
  Landing out{VectorXd(from.point.size()), VectorXd(from.point.size()), from.value, 0, false};
  for (int attempt = 0; attempt < 40; ++attempt) {
    out.point = from.point + step * direction;
    out.value = function(out.point, out.gradient);
    ++out.evaluations;
    const double here = out.gradient.dot(direction);
    const Sample sample{step, out.value, here};
    const bool defined = std::isfinite(out.value) && out.gradient.allFinite();
    if (!defined || out.value > from.value + 1e-4 * step * slope + noise ||
        (out.value > low.value + noise && low.step > 0.0)) {
      high = sample;
      if (!defined) {
        high.value = HUGE_VAL;
      }
      bracketed = true;
    } else if (std::fabs(here) <= 0.9 * std::fabs(slope)) {
      out.accepted = true;
      return out;
    } else if (here > 0.0) {
      high = sample;
      bracketed = true;
    } else {
      low = sample;
      if (!bracketed && step >= longest) {
        out.accepted = true;
        return out;
      }
    }
    step = bracketed ? between(low, high) : std::fmin(longest, 3.0 * step);
    if (bracketed && std::fabs(high.step - low.step) * length < 1e-14) {
      return out;
    }
  }
  return out;
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
  InverseCurvature inverse(n, options.curvature);
  for (; out.iterations < options.max_iterations; ++out.iterations) {
    if (n == 0 || out.gradient.cwiseAbs().maxCoeff() <= options.gradient_tolerance) {
      out.converged = true;
      return out;
    }
    VectorXd direction = inverse.downhill(out.gradient);
    if (!(direction.dot(out.gradient) < 0.0)) {  // the model of the curvature has gone bad
      inverse.start_again();
      direction = inverse.downhill(out.gradient);
    }
    const double length = direction.norm();
    const double longest = options.max_step * std::fmax(1.0, out.point.norm()) / length;
    const double noise = options.value_rounding * (1.0 + std::fabs(out.value));
    Landing next = search_line(function, out, direction, std::fmin(1.0, inverse.scaled() ? longest : 0.5 / length),
                               longest, noise);
    out.evaluations += next.evaluations;
    const bool smaller_gradient = next.gradient.allFinite() && next.gradient.norm() < out.gradient.norm();
    const bool lower = std::isfinite(next.value) && next.value <= out.value + noise;
    if ((!next.accepted && !(lower && smaller_gradient)) ||
        (std::fabs(next.value - out.value) <= noise && !smaller_gradient)) {
      out.stalled = true;
      return out;
    }
    inverse.learn(next.point - out.point, next.gradient - out.gradient);
    out.point = std::move(next.point);
    out.value = next.value;
    out.gradient = std::move(next.gradient);
  }
  return out;
}

}  // namespace bagsplit::stats
