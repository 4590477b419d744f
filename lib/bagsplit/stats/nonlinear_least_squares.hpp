#pragma once

#include <Eigen/Core>
#include <functional>
#include <optional>
#include <span>
#include <string>

#include "bagsplit/stats/fit_status.hpp"

namespace bagsplit::stats {

/// Least squares of residuals that are nonlinear in the parameters.
struct LeastSquaresProblem {
  std::size_t observations = 0;
  /// Writes the n residuals (observed - model, weighted if wanted) at the parameters. Non-finite residuals reject a
  /// step.
  std::function<void(std::span<const double> parameters, std::span<double> residuals)> residuals;
  /// Optional: writes d residual_i / d parameter_j, n x p. Without it, fourth-order central differences (about 11
  /// digits).
  std::function<void(std::span<const double> parameters, Eigen::Ref<Eigen::MatrixXd> jacobian)> jacobian;
  /// Optional, in place of `jacobian`: both in one call, where they share most of their cost.
  std::function<void(std::span<const double> parameters, std::span<double> residuals,
                     Eigen::Ref<Eigen::MatrixXd> jacobian)>
      residuals_and_jacobian;
};

struct LeastSquaresOptions {
  int max_iterations = 2000;  ///< accepted and rejected steps; raise for starts many orders of magnitude away
  double relative_offset =
      1e-9;  ///< converged when the residuals are this orthogonal to the tangent plane (Bates & Watts)
  double max_acceleration = 0.75;  ///< largest ratio of second-order to first-order step; smaller is more careful
};

struct LeastSquaresFit {
  FitStatus status = FitStatus::failed;
  std::string message;  ///< one line for people
  Eigen::VectorXd parameters;
  double rss = 0.0;  ///< residual sum of squares
  double rss_at_start = 0.0;
  double df = 0.0;                    ///< n - p
  std::optional<double> residual_sd;  ///< sqrt(rss / df); none when df = 0
  std::optional<Eigen::MatrixXd>
      covariance;                     ///< rss/df (J'J)^-1; none when df = 0 or the parameters cannot be told apart
  std::optional<Eigen::VectorXd> se;  ///< square roots of its diagonal
  double relative_offset = 0.0;       ///< reached
  int iterations = 0;
  int evaluations = 0;  ///< of the residuals, those for the Jacobian included
};

/// Levenberg-Marquardt with scale-free damping, second-order (geodesic) correction and Gauss-Newton steps at the end.
///
/// @param start p finite values. 0 is a poor start for a parameter whose size is unknown (differences are relative).
/// Assumes: independent errors of one variance (after the caller's weights); a local minimum is found, near the start.
/// Standard errors are those of the linear approximation at the optimum: with n - p < 10 prefer a profile or a
/// posterior. n < p: too_few_data. n = p: fitted, no standard errors. Tangent vectors that are parallel at the optimum:
/// not_identifiable. Accuracy: NIST StRD nonlinear problems, both starts: 8 digits or more in the parameters
/// (nonlinear_least_squares_test). Cost: each iteration at most 2 evaluations of the residuals, one of the Jacobian (4
/// p of the residuals without one) and O(n p^2); no storage is made after the start.
/// @throws std::invalid_argument for a missing function or an empty start, std::domain_error for a start that is not
/// finite. Source: Levenberg (1944); Marquardt (1963); Nielsen (1999), IMM-REP-1999-05; Transtrum & Sethna (2012),
/// arXiv:1201.5885; Bates & Watts (1988), Nonlinear Regression Analysis, for the convergence criterion.
LeastSquaresFit nonlinear_least_squares(const LeastSquaresProblem& problem, std::span<const double> start,
                                        const LeastSquaresOptions& options = {});

}  // namespace bagsplit::stats
