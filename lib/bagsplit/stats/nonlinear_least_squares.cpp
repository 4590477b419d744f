#include "bagsplit/stats/nonlinear_least_squares.hpp"

#include <Eigen/Jacobi>
#include <cmath>
#include <limits>
#include <utility>
#include <vector>

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

/// Where the residuals were evaluated, with all that belongs to the place.
struct Place {
  VectorXd b;
  VectorXd r;
  MatrixXd jacobian;
  double rss = 0.0;

  Place(const VectorXd& start, Index n) : b(start), r(n), jacobian(n, start.size()) {}
};

/// Q R of the Jacobian with its columns at length 1, pivoted, by Householder reflections; all steps from one place are
/// found with it. Storage is made once: a fit of a few parameters spends more on allocating than on arithmetic.
class TangentPlane {
 public:
  TangentPlane(Index n, Index p)
      : n_(n), p_(p), qr_(n, p), norms_(p), factors_(p), pivots_(p), order_(p), shifted_(p, p), extra_(p) {
    rotations_.reserve(static_cast<std::size_t>(p * (p + 1) / 2));
  }

  /// Columns parallel to within `threshold` count as parallel.
  void factorise(const MatrixXd& jacobian, double threshold) {
    for (Index j = 0; j < p_; ++j) {
      const double norm = jacobian.col(j).norm();
      norms_[j] = norm;
      qr_.col(j) = jacobian.col(j) * (norm > 0.0 ? 1.0 / norm : 1.0);
      order_[j] = j;
    }
    for (Index k = 0; k < p_; ++k) {
      bring_longest_to(k);
      reflect(k);
    }
    const double largest = pivots_.cwiseAbs().maxCoeff();
    rank_ = (pivots_.cwiseAbs().array() > threshold * largest).count();
  }

  /// Q'v in place; its first rank() elements are the part of v in the tangent plane.
  void project(VectorXd& v) const {
    for (Index k = 0; k < p_; ++k) {
      const auto column = qr_.col(k).tail(n_ - k);
      auto part = v.tail(n_ - k);
      part -= (factors_[k] * column.dot(part)) * column;
    }
  }

  Index rank() const { return rank_; }
  const VectorXd& norms() const { return norms_; }

  /// Turns R into the triangle T, T'T = R'R + lambda E'E, by rotations that are kept for the right sides (More 1978;
  /// MINPACK's qrsolv). E is D, for columns at length 1 and pivoted.
  void damp(double lambda, const VectorXd& d) {
    shifted_.triangularView<Eigen::Upper>() = qr_.topRows(p_);
    shifted_.diagonal() = pivots_;
    rotations_.clear();
    for (Index k = 0; k < p_; ++k) {
      const Index j = order_[k];
      extra_.tail(p_ - k).setZero();
      extra_[k] = std::sqrt(lambda) * d[j] / (norms_[j] > 0.0 ? norms_[j] : 1.0);
      for (Index i = k; i < p_; ++i) {
        auto& turn = rotations_.emplace_back();
        turn.makeGivens(shifted_(i, i), extra_[i], &shifted_(i, i));
        for (Index l = i + 1; l < p_; ++l) {
          rotate(turn, shifted_(i, l), extra_[l]);
        }
      }
    }
  }

  /// Step that minimises |J x + r|^2 + lambda |D x|^2, given Q'r. After damp().
  void damped_step(const VectorXd& projected, VectorXd& step) {
    extra_ = -projected.head(p_);
    auto turn = rotations_.cbegin();
    for (Index k = 0; k < p_; ++k) {
      double below = 0.0;
      for (Index i = k; i < p_; ++i) {
        rotate(*turn++, extra_[i], below);
      }
    }
    substitute_back(shifted_, step);
  }

  /// Step that minimises |J x + r|^2, given Q'r; for full rank.
  void step(const VectorXd& projected, VectorXd& step) {
    shifted_.triangularView<Eigen::Upper>() = qr_.topRows(p_);
    shifted_.diagonal() = pivots_;
    extra_ = -projected.head(p_);
    substitute_back(shifted_, step);
  }

  /// (J'J)^-1, for full rank.
  MatrixXd inverse_of_square() const {
    MatrixXd upper = qr_.topRows(p_);
    upper.diagonal() = pivots_;
    const MatrixXd inverse = upper.triangularView<Eigen::Upper>().solve(MatrixXd::Identity(p_, p_));
    MatrixXd unscaled(p_, p_);
    for (Index k = 0; k < p_; ++k) {
      unscaled.row(order_[k]) = inverse.row(k) / norms_[order_[k]];
    }
    return unscaled * unscaled.transpose();
  }

 private:
  static void rotate(const Eigen::JacobiRotation<double>& turn, double& upper, double& lower) {
    const double u = upper;
    upper = turn.c() * u - turn.s() * lower;
    lower = turn.s() * u + turn.c() * lower;
  }

  /// The lengths are taken anew for each k, so that none is known by cancellation only.
  void bring_longest_to(Index k) {
    Index best = k;
    double longest = -1.0;
    for (Index j = k; j < p_; ++j) {
      const double length = qr_.col(j).tail(n_ - k).squaredNorm();
      if (length > longest) {
        longest = length;
        best = j;
      }
    }
    if (best != k) {
      qr_.col(k).swap(qr_.col(best));
      std::swap(order_[k], order_[best]);
    }
  }

  /// Column k becomes the vector of the reflection I - factor v v'; the diagonal of R is kept apart.
  void reflect(Index k) {
    auto v = qr_.col(k).tail(n_ - k);
    const double length = v.norm();
    pivots_[k] = v[0] > 0.0 ? -length : length;
    v[0] -= pivots_[k];
    const double square = -pivots_[k] * v[0];  // half of v'v
    factors_[k] = square > 0.0 ? 1.0 / square : 0.0;
    for (Index j = k + 1; j < p_; ++j) {
      auto column = qr_.col(j).tail(n_ - k);
      column -= (factors_[k] * v.dot(column)) * v;
    }
  }

  /// Solves triangle x = extra_, and undoes pivoting and scaling.
  void substitute_back(const MatrixXd& triangle, VectorXd& step) {
    for (Index k = p_; k-- > 0;) {
      double sum = extra_[k];
      for (Index l = k + 1; l < p_; ++l) {
        sum -= triangle(k, l) * extra_[l];
      }
      extra_[k] = sum / triangle(k, k);
      const Index j = order_[k];
      step[j] = norms_[j] > 0.0 ? extra_[k] / norms_[j] : extra_[k];
    }
  }

  const Index n_;
  const Index p_;
  MatrixXd qr_;       // above the diagonal R, from it down the vectors of the reflections
  VectorXd norms_;    // of the columns of the Jacobian
  VectorXd factors_;  // of the reflections
  VectorXd pivots_;   // the diagonal of R
  Eigen::Matrix<Index, Eigen::Dynamic, 1> order_;
  Index rank_ = 0;
  MatrixXd shifted_;
  VectorXd extra_;
  std::vector<Eigen::JacobiRotation<double>> rotations_;
};

/// Offset below which steps are as good as Gauss-Newton's.
constexpr double near_the_end = 1.0 / 5.0;
/// Relative change of a sum of squares that the rounding of the residuals may hide.
constexpr double unseen = 1e-10;

class Solver {
 public:
  Solver(const LeastSquaresProblem& problem, const LeastSquaresOptions& options, const VectorXd& start, Damping damping)
      : problem_(problem),
        options_(options),
        damping_(damping),
        parallel_(problem.jacobian || problem.residuals_and_jacobian ? 1e-13 : 1e-10),
        n_(static_cast<Index>(problem.observations)),
        p_(start.size()),
        here_(start, n_),
        there_(start, n_),
        scale_(start.cwiseAbs()),
        work_(n_),
        projected_(n_),
        velocity_(p_),
        acceleration_(p_),
        step_(p_),
        diagonal_(VectorXd::Zero(p_)),
        plane_(n_, p_) {}

  LeastSquaresFit run() {
    LeastSquaresFit fit;
    fit.df = static_cast<double>(n_ - p_);
    const bool known = evaluate(here_);
    if (!known || !differentiate(here_)) {
      fit.parameters = here_.b;
      fit.message =
          known ? "the derivatives cannot be evaluated at the start" : "the residuals cannot be evaluated at the start";
      return fit;
    }
    fit.rss_at_start = here_.rss;
    see_plane();
    iterate();
    polish();
    finish(fit);
    return fit;
  }

 private:
  /// Residuals at place.b, and the Jacobian with them where the caller gives both.
  bool evaluate(Place& place) {
    ++evaluations_;
    if (problem_.residuals_and_jacobian) {
      problem_.residuals_and_jacobian(view(place.b), view(place.r), place.jacobian);
    } else {
      problem_.residuals(view(place.b), view(place.r));
    }
    place.rss = place.r.squaredNorm();
    return std::isfinite(place.rss) || place.r.allFinite();
  }

  bool evaluate(const VectorXd& b, VectorXd& r) {
    ++evaluations_;
    problem_.residuals(view(b), view(r));
    return r.allFinite();
  }

  /// Jacobian of a place whose residuals are known.
  bool differentiate(Place& place) {
    if (problem_.residuals_and_jacobian) {
      return place.jacobian.allFinite();
    }
    if (problem_.jacobian) {
      problem_.jacobian(view(place.b), place.jacobian);
      return place.jacobian.allFinite();
    }
    return difference(place) && place.jacobian.allFinite();
  }

  /// Steps are relative to the size the parameter has had, so that one passing through 0 keeps a step.
  bool difference(Place& place) {
    VectorXd point = place.b;
    for (Index j = 0; j < p_; ++j) {
      scale_[j] = std::fmax(std::fabs(place.b[j]), 1e-3 * scale_[j]);
      const double size = scale_[j] > 0.0 ? scale_[j] : 1.0;
      double h = 1e-3 * size;
      bool done = false;
      // A step that leaves the domain of the model is shortened.
      for (int attempt = 0; attempt < 8 && !done; ++attempt, h *= 0.1) {
        done = true;
        static constexpr double offsets[] = {-2, -1, 1, 2};
        static constexpr double weights[] = {1.0 / 12, -8.0 / 12, 8.0 / 12, -1.0 / 12};
        place.jacobian.col(j).setZero();
        for (int k = 0; k < 4 && done; ++k) {
          point[j] = place.b[j] + offsets[k] * h;
          done = evaluate(point, work_);
          place.jacobian.col(j) += (weights[k] / h) * work_;
        }
        point[j] = place.b[j];
      }
      if (!done) {
        return false;
      }
    }
    return true;
  }

  /// The offset is how far the residuals are from orthogonal to the tangent plane: |Q'r| / |r|, 0 for a perfect fit.
  void see_plane() {
    plane_.factorise(here_.jacobian, parallel_);
    projected_ = here_.r;
    plane_.project(projected_);
    offset_ = here_.rss > 0.0 ? projected_.head(plane_.rank()).norm() / std::sqrt(here_.rss) : 0.0;
  }

  void measure_steps() {
    for (Index j = 0; j < p_; ++j) {
      const double norm = plane_.norms()[j];
      diagonal_[j] = damping_ == Damping::largest_yet ? std::fmax(diagonal_[j], norm) : norm;
      if (!(diagonal_[j] > 0.0)) {
        diagonal_[j] = 1.0;
      }
    }
  }

  double length(const VectorXd& step) const { return diagonal_.cwiseProduct(step).norm(); }

  /// Of the sum of squares along the velocity, from the equations it solves: no difference of two sums.
  double predicted_fall(double lambda) {
    work_.noalias() = here_.jacobian * velocity_;
    return work_.squaredNorm() + 2.0 * lambda * diagonal_.cwiseProduct(velocity_).squaredNorm();
  }

  bool move_if_lower() {
    if (!(there_.rss < here_.rss) || !differentiate(there_)) {
      return false;
    }
    std::swap(here_, there_);
    see_plane();
    return true;
  }

  /// For steps so small that rounding decides which sum of squares is the lower.
  bool move_if_nearer_to_orthogonal() {
    if (!(there_.rss <= here_.rss * (1.0 + unseen)) || !differentiate(there_)) {
      return false;
    }
    const double before = offset_;
    std::swap(here_, there_);
    see_plane();
    if (!(offset_ < before)) {
      std::swap(here_, there_);
      see_plane();
      return false;
    }
    return true;
  }

  void iterate() {
    double lambda = 1e-3;
    double growth = 2.0;
    for (; iterations_ < options_.max_iterations; ++iterations_) {
      if (offset_ <= options_.relative_offset) {
        converged_ = true;
        return;
      }
      measure_steps();
      plane_.damp(lambda, diagonal_);
      plane_.damped_step(projected_, velocity_);
      const bool bent = add_acceleration();
      const double rss = here_.rss;
      const double predicted = predicted_fall(lambda);
      const bool seen = predicted > unseen * rss;
      there_.b = here_.b + step_;
      const bool good = bent && step_.allFinite() && evaluate(there_);
      if (good && (seen ? move_if_lower() : move_if_nearer_to_orthogonal())) {
        lambda = relaxed(lambda, seen ? (rss - here_.rss) / predicted : 1.0);
        growth = 2.0;
        continue;
      }
      const double relative = step_.cwiseAbs().cwiseQuotient((here_.b.cwiseAbs().array() + 1e-300).matrix()).maxCoeff();
      if (relative < 4.0 * std::numeric_limits<double>::epsilon() || lambda > 1e30) {
        stop_ = "no further progress in double precision";
        return;
      }
      lambda *= growth;
      growth *= 2.0;
    }
    stop_ = "the iteration limit was reached";
    limit_ = true;
  }

  /// Damping after an accepted step, by the ratio of the fall to the predicted one (Nielsen 1999). Near the end it
  /// falls with the offset: a constant factor would set the pace of the last steps.
  double relaxed(double lambda, double gain) const {
    const double s = 2.0 * std::fmin(gain, 1.0) - 1.0;
    return std::fmax(lambda * std::fmax(std::fmin(near_the_end, offset_), 1.0 - s * s * s), 1e-16);
  }

  /// Second-order correction along the velocity; false when the model bends too much for the step to be trusted. Left
  /// out near the end, where the last one, which falls with the length of the step, says that it is too small to
  /// matter.
  bool add_acceleration() {
    constexpr double h = 0.1;
    constexpr double negligible = 0.01;
    step_ = velocity_;
    const double size = length(velocity_);
    if (offset_ < near_the_end && bending_ * size < negligible) {
      return true;
    }
    there_.b = here_.b + h * velocity_;
    if (!evaluate(there_.b, work_)) {
      return false;
    }
    work_ = (work_ - here_.r) / h;
    work_.noalias() -= here_.jacobian * velocity_;
    work_ *= 2.0 / h;
    plane_.project(work_);
    plane_.damped_step(work_, acceleration_);
    const double ratio = 2.0 * length(acceleration_) / size;
    bending_ = ratio / size;
    if (!acceleration_.allFinite() || !(ratio <= options_.max_acceleration)) {
      return false;
    }
    step_ += 0.5 * acceleration_;
    return true;
  }

  /// Gauss-Newton steps as long as they bring the residuals nearer to orthogonal: the last digits. What an offset of
  /// 1e-12 leaves is 1e-12 of a standard error.
  void polish() {
    for (int k = 0; k < 12 && offset_ > 1e-12 && plane_.rank() == p_; ++k) {
      plane_.step(projected_, step_);
      there_.b = here_.b + step_;
      if (!evaluate(there_) || !move_if_nearer_to_orthogonal()) {
        return;
      }
    }
  }

  void finish(LeastSquaresFit& fit) {
    fit.parameters = here_.b;
    fit.rss = here_.rss;
    fit.iterations = iterations_;
    fit.evaluations = evaluations_;
    fit.relative_offset = offset_;
    const bool full_rank = plane_.rank() == p_ && plane_.norms().minCoeff() > 0.0;
    if (fit.df > 0.0) {
      fit.residual_sd = std::sqrt(here_.rss / fit.df);
    }
    if (full_rank && fit.df > 0.0) {
      fit.covariance = (here_.rss / fit.df) * plane_.inverse_of_square();
      fit.se = fit.covariance->diagonal().cwiseSqrt();
    }
    // A perfect fit has nothing to be orthogonal to: a fall of the residuals by 12 digits counts as well.
    if (!full_rank) {
      fit.status = FitStatus::not_identifiable;
      fit.message = "the residuals do not tell all parameters apart";
    } else if (converged_ || fit.relative_offset <= options_.relative_offset || here_.rss <= 1e-24 * fit.rss_at_start) {
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
  const double parallel_;  // two columns this near to parallel are: the accuracy of the derivatives
  const Index n_;
  const Index p_;
  Place here_;
  Place there_;  // tried; the other storage is swapped in when it is accepted
  VectorXd scale_;
  VectorXd work_;
  VectorXd projected_;  // Q'r
  VectorXd velocity_;
  VectorXd acceleration_;
  VectorXd step_;
  VectorXd diagonal_;
  TangentPlane plane_;
  double offset_ = 0.0;
  double bending_ = std::numeric_limits<double>::infinity();  // second-order part of a step for its length, last seen
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
