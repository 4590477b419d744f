#pragma once

#include <Eigen/Core>
#include <functional>

namespace bagsplit::stats {

struct MinimiseOptions {
  int max_iterations = 200;
  double gradient_tolerance = 1e-8;  ///< converged when no component of the gradient is larger
  double value_rounding = 1e-12;     ///< relative error of the function's values: smaller changes are noise
  Eigen::VectorXd curvature{};       ///< a guess at the second derivatives, each above 0; empty: none
  double max_step = 2.0;             ///< longest step (Euclidean), times the length of the point where that is above 1
};

struct Minimum {
  Eigen::VectorXd point;
  double value;
  Eigen::VectorXd gradient;
  int iterations;
  int evaluations;
  bool converged;  ///< gradient small enough
  bool stalled;    ///< no descent left within rounding
};

/// Local minimum of a smooth function of a few parameters by BFGS with a Wolfe line search.
///
/// @param function  fills the gradient and returns the value; +infinity where it is not defined (the step is
/// shortened). Deterministic. Cost: about 1.2 evaluations an iteration. Source: Nocedal & Wright (2006), Numerical
/// Optimization, 2nd ed., algorithms 3.5 and 6.1.
Minimum minimise(const std::function<double(const Eigen::VectorXd& point, Eigen::VectorXd& gradient)>& function,
                 const Eigen::VectorXd& start, const MinimiseOptions& options = {});

}  // namespace bagsplit::stats
