#include "bagsplit/stats/nonlinear_least_squares.hpp"

#include <Eigen/QR>
#include <cmath>
#include <limits>

#include "bagsplit/stats/check.hpp"

namespace bagsplit::stats {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

std::span<const double> view(const VectorXd& v) {
  return {v.data(), static_cast<std::size_t>(v.size())};
}
std::span<double> view(VectorXd& v) {
  return {v.data(), static_cast<std::size_t>(v.size())};
}

/// What a step is measured in: the largest length that a column of the Jacobian has had (More 1978), or its present one
/// (Marquardt 1963). The first is the steadier, the second escapes starts that are orders of magnitude away.
enum class Damping { largest_yet, present };

class Solver {
 public:
  Solver(const LeastSquaresProblem& problem, const LeastSquaresOptions& options, const VectorXd& start, Damping damping)
      : problem_(problem),
        options_(options),
        damping_(damping),
        n_(static_cast<Index>(problem.observations)),
        p_(start.size()),
        b_(start),
        scale_(start.cwiseAbs()),
        r_(n_),
        trial_r_(n_),
        work_(n_),
        jacobian_(n_, p_),
        diagonal_(VectorXd::Zero(p_)),
        augmented_(n_ + p_, p_),
        right_(n_ + p_) {}

  LeastSquaresFit run() {
    LeastSquaresFit fit;
    fit.df = static_cast<double>(n_ - p_);
    if (!evaluate(b_, r_)) {
      fit.parameters = b_;
      fit.message = "the residuals cannot be evaluated at the start";
      return fit;
    }
    rss_ = r_.squaredNorm();
    fit.rss_at_start = rss_;
    iterate();
    polish();
    finish(fit);
    return fit;
  }

 private:
  bool evaluate(const VectorXd& b, VectorXd& r) {
    ++evaluations_;
    problem_.residuals(view(b), view(r));
    return r.allFinite();
  }

  /// Jacobian at b_. Steps are relative to the size the parameter has had, so that one passing through 0 keeps a step.
  bool differentiate() {
    if (problem_.jacobian) {
      problem_.jacobian(view(b_), jacobian_);
      return jacobian_.allFinite();
    }
    VectorXd point = b_;
    for (Index j = 0; j < p_; ++j) {
      scale_[j] = std::fmax(std::fabs(b_[j]), 1e-3 * scale_[j]);
      const double size = scale_[j] > 0.0 ? scale_[j] : 1.0;
      double h = 1e-3 * size;
      bool done = false;
      // A step that leaves the domain of the model is shortened.
      for (int attempt = 0; attempt < 8 && !done; ++attempt, h *= 0.1) {
        done = true;
        static constexpr double offsets[] = {-2, -1, 1, 2};
        static constexpr double weights[] = {1.0 / 12, -8.0 / 12, 8.0 / 12, -1.0 / 12};
        jacobian_.col(j).setZero();
        for (int k = 0; k < 4 && done; ++k) {
          point[j] = b_[j] + offsets[k] * h;
          done = evaluate(point, work_);
          jacobian_.col(j) += (weights[k] / h) * work_;
        }
        point[j] = b_[j];
      }
      if (!done) {
        return false;
      }
    }
    return jacobian_.allFinite();
  }

  /// How far the residuals are from orthogonal to the tangent plane: |Q'r| / |r|, 0 for a perfect fit.
  double offset() const {
    const double norm = r_.norm();
    if (!(norm > 0.0)) {
      return 0.0;
    }
    const auto qr = factorise();
    const VectorXd t = qr.householderQ().adjoint() * r_;
    return t.head(qr.rank()).norm() / norm;
  }

  MatrixXd scaled_columns() const {
    MatrixXd scaled = jacobian_;
    for (Index j = 0; j < p_; ++j) {
      const double norm = scaled.col(j).norm();
      if (norm > 0.0) {
        scaled.col(j) /= norm;
      }
    }
    return scaled;
  }

  /// Pivoted QR of the columns at length 1. Columns parallel to within the accuracy of the derivatives count as
  /// parallel.
  Eigen::ColPivHouseholderQR<MatrixXd> factorise() const {
    Eigen::ColPivHouseholderQR<MatrixXd> qr(n_, p_);
    qr.setThreshold(problem_.jacobian ? 1e-13 : 1e-10);
    qr.compute(scaled_columns());
    return qr;
  }

  /// Solves min |J x + r|^2 + lambda |D x|^2.
  VectorXd solve_damped(const VectorXd& r) {
    right_.head(n_) = -r;
    right_.tail(p_).setZero();
    VectorXd x = factor_.solve(right_);
    return x.cwiseQuotient(diagonal_);
  }

  void iterate() {
    double lambda = 1e-2;
    double growth = 2.0;
    bool fresh = false;
    for (; iterations_ < options_.max_iterations; ++iterations_) {
      if (!fresh) {
        if (!differentiate()) {
          stop_ = "the derivatives cannot be evaluated";
          return;
        }
        for (Index j = 0; j < p_; ++j) {
          const double norm = jacobian_.col(j).norm();
          diagonal_[j] = damping_ == Damping::largest_yet ? std::fmax(diagonal_[j], norm) : norm;
          if (!(diagonal_[j] > 0.0)) {
            diagonal_[j] = 1.0;
          }
        }
        fresh = true;
        if (offset() <= options_.relative_offset) {
          converged_ = true;
          return;
        }
      }
      augmented_.topRows(n_) = jacobian_ * diagonal_.cwiseInverse().asDiagonal();
      augmented_.bottomRows(p_) = std::sqrt(lambda) * MatrixXd::Identity(p_, p_);
      factor_.compute(augmented_);
      const VectorXd v = solve_damped(r_);
      VectorXd step = v;
      const bool bent = add_acceleration(v, step);
      const VectorXd trial = b_ + step;
      const bool good = bent && step.allFinite() && evaluate(trial, trial_r_);
      const double trial_rss = good ? trial_r_.squaredNorm() : std::numeric_limits<double>::infinity();
      const double predicted =
          rss_ - (r_ + jacobian_ * v).squaredNorm() + lambda * diagonal_.cwiseProduct(v).squaredNorm();
      if (good && trial_rss < rss_) {
        const double gain = predicted > 0.0 ? (rss_ - trial_rss) / predicted : 1.0;
        const double s = 2.0 * std::fmin(gain, 1.0) - 1.0;
        lambda = std::fmax(lambda * std::fmax(1.0 / 5.0, 1.0 - s * s * s), 1e-16);
        growth = 2.0;
        b_ = trial;
        r_ = trial_r_;
        rss_ = trial_rss;
        fresh = false;
      } else {
        const double relative = step.cwiseAbs().cwiseQuotient((b_.cwiseAbs().array() + 1e-300).matrix()).maxCoeff();
        if (relative < 4.0 * std::numeric_limits<double>::epsilon() || lambda > 1e30) {
          stop_ = "no further progress in double precision";
          return;
        }
        lambda *= growth;
        growth *= 2.0;
      }
    }
    stop_ = "the iteration limit was reached";
    limit_ = true;
  }

  /// Second-order correction along v; false when the model bends too much for the step to be trusted.
  bool add_acceleration(const VectorXd& v, VectorXd& step) {
    constexpr double h = 0.1;
    if (!evaluate(b_ + h * v, work_)) {
      return false;
    }
    const VectorXd second = (2.0 / h) * ((work_ - r_) / h - jacobian_ * v);
    const VectorXd a = solve_damped(second);
    if (!a.allFinite()) {
      return false;
    }
    const double ratio = 2.0 * diagonal_.cwiseProduct(a).norm() / diagonal_.cwiseProduct(v).norm();
    if (!(ratio <= options_.max_acceleration)) {
      return false;
    }
    step = v + 0.5 * a;
    return true;
  }

  /// Gauss-Newton steps as long as they bring the residuals nearer to orthogonal: the last digits.
  void polish() {
    if (!differentiate()) {
      return;
    }
    double best = offset();
    for (int k = 0; k < 12 && best > 1e-15; ++k) {
      const VectorXd norms = jacobian_.colwise().norm().transpose();
      const auto qr = factorise();
      if (qr.rank() < p_) {
        return;
      }
      VectorXd step = qr.solve(-r_);
      step = step.cwiseQuotient(norms);
      const VectorXd old_b = b_;
      const VectorXd old_r = r_;
      const MatrixXd old_jacobian = jacobian_;
      b_ += step;
      const bool good = evaluate(b_, r_) && r_.squaredNorm() <= rss_ * (1.0 + 1e-10) && differentiate();
      const double now = good ? offset() : best;
      if (!(now < best)) {
        b_ = old_b;
        r_ = old_r;
        jacobian_ = old_jacobian;
        return;
      }
      best = now;
      rss_ = r_.squaredNorm();
    }
  }

  void finish(LeastSquaresFit& fit) {
    fit.parameters = b_;
    fit.rss = rss_;
    fit.iterations = iterations_;
    fit.evaluations = evaluations_;
    fit.relative_offset = offset();
    const auto qr = factorise();
    const VectorXd norms = jacobian_.colwise().norm().transpose();
    const bool full_rank = jacobian_.allFinite() && qr.rank() == p_ && norms.minCoeff() > 0.0;
    if (fit.df > 0.0) {
      fit.residual_sd = std::sqrt(rss_ / fit.df);
    }
    if (full_rank && fit.df > 0.0) {
      const MatrixXd inverse =
          qr.matrixR().topRows(p_).triangularView<Eigen::Upper>().solve(MatrixXd::Identity(p_, p_));
      MatrixXd unscaled = qr.colsPermutation() * inverse;
      unscaled = norms.cwiseInverse().asDiagonal() * unscaled;
      fit.covariance = (rss_ / fit.df) * (unscaled * unscaled.transpose());
      fit.se = fit.covariance->diagonal().cwiseSqrt();
    }
    // A perfect fit has nothing to be orthogonal to: a fall of the residuals by 12 digits counts as well.
    if (!full_rank) {
      fit.status = FitStatus::not_identifiable;
      fit.message = "the residuals do not tell all parameters apart";
    } else if (converged_ || fit.relative_offset <= options_.relative_offset || rss_ <= 1e-24 * fit.rss_at_start) {
      fit.status = FitStatus::converged;
      fit.message = "converged";
    } else if (limit_) {
      fit.status = FitStatus::hit_iteration_limit;
      fit.message = stop_;
    } else if (fit.relative_offset <= 1e-4) {
      fit.status = FitStatus::limited_by_rounding;
      fit.message = stop_;
    } else {
      fit.status = FitStatus::failed;
      fit.message = stop_;
    }
  }

  const LeastSquaresProblem& problem_;
  const LeastSquaresOptions& options_;
  const Damping damping_;
  const Index n_;
  const Index p_;
  VectorXd b_;
  VectorXd scale_;
  VectorXd r_;
  VectorXd trial_r_;
  VectorXd work_;
  MatrixXd jacobian_;
  VectorXd diagonal_;
  MatrixXd augmented_;
  VectorXd right_;
  Eigen::HouseholderQR<MatrixXd> factor_;
  double rss_ = 0.0;
  int iterations_ = 0;
  int evaluations_ = 0;
  bool converged_ = false;
  bool limit_ = false;
  std::string stop_;
};

}  // namespace

LeastSquaresFit nonlinear_least_squares(const LeastSquaresProblem& problem, std::span<const double> start,
                                        const LeastSquaresOptions& options) {
  if (!problem.residuals) {
    check::fail_call("nonlinear_least_squares", "problem.residuals is empty");
  }
  if (start.empty()) {
    check::fail_call("nonlinear_least_squares", "start is empty, but must have at least 1 parameter");
  }
  check::all_finite("nonlinear_least_squares", "start", start);
  const VectorXd b = Eigen::Map<const VectorXd>(start.data(), static_cast<Index>(start.size()));
  if (problem.observations < start.size()) {
    LeastSquaresFit fit;
    fit.status = FitStatus::too_few_data;
    fit.message =
        std::to_string(problem.observations) + " observations for " + std::to_string(start.size()) + " parameters";
    fit.parameters = b;
    return fit;
  }
  auto fit = Solver(problem, options, b, Damping::largest_yet).run();
  if (!usable(fit.status)) {
    auto other = Solver(problem, options, b, Damping::present).run();
    other.evaluations += fit.evaluations;
    if (usable(other.status) || other.rss < fit.rss) {
      fit = std::move(other);
    }
  }
  return fit;
}

}  // namespace bagsplit::stats
