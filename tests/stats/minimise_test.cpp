#include "bagsplit/stats/minimise.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <stdexcept>

namespace {

using bagsplit::stats::minimise;
using Eigen::VectorXd;

// Source: Rosenbrock (1960), Comput J 3:175-184: the curved valley, minimum 0 at (1, 1), started at (-1.2, 1).
TEST(Minimise, RosenbrocksValley) {
  const auto valley = [](const VectorXd& x, VectorXd& g) {
    const double a = x[1] - x[0] * x[0];
    g.resize(2);
    g << -400.0 * a * x[0] - 2.0 * (1.0 - x[0]), 200.0 * a;
    return 100.0 * a * a + (1.0 - x[0]) * (1.0 - x[0]);
  };
  VectorXd start(2);
  start << -1.2, 1.0;
  const auto found = minimise(valley, start);
  EXPECT_TRUE(found.converged);
  EXPECT_NEAR(found.point[0], 1.0, 1e-6);
  EXPECT_NEAR(found.point[1], 1.0, 1e-6);
  EXPECT_LT(found.iterations, 60);
}

// Identity: an even function has its minimum where both branches meet, x = 0, or at +-sqrt(2) when 0 is a maximum.
TEST(Minimise, EvenFunctions) {
  const auto even = [](double c) {
    return [c](const VectorXd& x, VectorXd& g) {
      g = VectorXd::Constant(1, 4.0 * x[0] * x[0] * x[0] + 2.0 * c * x[0]);
      return std::pow(x[0], 4) + c * x[0] * x[0];
    };
  };
  EXPECT_NEAR(minimise(even(1.0), VectorXd::Ones(1)).point[0], 0.0, 1e-7);
  EXPECT_NEAR(std::fabs(minimise(even(-4.0), VectorXd::Ones(1)).point[0]), std::sqrt(2.0), 1e-7);
}

// Identity: where the function is not defined the step is shortened; log x - x has its maximum at 1.
TEST(Minimise, StaysWhereTheFunctionIsDefined) {
  const auto barrier = [](const VectorXd& x, VectorXd& g) {
    g = VectorXd::Constant(1, x[0] > 0.0 ? 1.0 - 1.0 / x[0] : 0.0);
    return x[0] > 0.0 ? x[0] - std::log(x[0]) : std::numeric_limits<double>::infinity();
  };
  EXPECT_NEAR(minimise(barrier, VectorXd::Constant(1, 50.0)).point[0], 1.0, 1e-6);
  EXPECT_TRUE(minimise(barrier, VectorXd::Constant(1, -1.0)).stalled);
}

// Common practice, no source: no parameters is solved at once; programmer's errors throw.
TEST(Minimise, Edges) {
  const auto constant = [](const VectorXd&, VectorXd& g) {
    g.resize(0);
    return 3.0;
  };
  EXPECT_TRUE(minimise(constant, VectorXd(0)).converged);
  EXPECT_THROW(minimise(nullptr, VectorXd::Ones(1)), std::invalid_argument);
}

}  // namespace
