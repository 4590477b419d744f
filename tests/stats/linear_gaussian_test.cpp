// Linear Gaussian quantities, who is lowest of several, and the assignment problem.
#include "bagsplit/stats/linear_gaussian.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <stdexcept>

#include "bagsplit/stats/assignment.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/random.hpp"

namespace {

using namespace bagsplit::stats;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// Identity: regression of one normal on another, mean + rho sd/sd (y - mean), variance (1 - rho^2) sd^2.
TEST(LinearGaussian, WhatIsSeenMovesWhatGoesWithIt) {
  LinearGaussian world;
  MatrixXd covariance(2, 2);
  covariance << 4.0, 1.2, 1.2, 1.0;
  const std::size_t first = world.add(covariance);
  LinearQuantity a{10.0};
  a.add(first, 1.0);
  LinearQuantity b{3.0};
  b.add(first + 1, 1.0);
  const auto seen = world.see(std::vector{b}, std::vector{4.0});
  const JointNormal told = world.given(std::vector{a}, seen);
  EXPECT_NEAR(told.mean(0), 10.0 + 1.2 * 1.0, 1e-12);
  EXPECT_NEAR(told.covariance(0, 0), 4.0 - 1.44, 1e-12);
  // A factor added afterwards is as it was.
  LinearQuantity c;
  c.add(world.add(0.5), 2.0).add(a);
  EXPECT_NEAR(world.given(std::vector{c}, seen).covariance(0, 0), 4.0 - 1.44 + 1.0, 1e-12);
}

// Identity: the mean of n equal readings has variance sd^2 / n under a flat prior.
TEST(LinearGaussian, ReadingsOfAnUnknownAverage) {
  LinearGaussian world;
  LinearQuantity truth;
  truth.add(world.add(1e3), 1.0);
  std::vector<LinearQuantity> readings;
  const std::vector<double> values{4.0, 4.2, 4.6};
  for (std::size_t k = 0; k < values.size(); ++k) {
    readings.emplace_back(truth).add(world.add(0.1), 1.0);
  }
  const JointNormal told = world.given(std::vector{truth}, world.see(readings, values));
  EXPECT_NEAR(told.mean(0), 4.2666666667, 1e-6);
  EXPECT_NEAR(told.covariance(0, 0), 0.01 / 3.0, 1e-7);
}

TEST(LinearGaussian, TheSameSeenTwiceIsAMistake) {
  // Identity: a covariance of rank one has no Cholesky factor.
  LinearGaussian world;
  LinearQuantity a;
  a.add(world.add(1.0), 1.0);
  EXPECT_THROW(world.see(std::vector{a, a}, std::vector{1.0, 1.0}), std::invalid_argument);
  EXPECT_THROW(world.see(std::vector{a}, std::vector{1.0, 1.0}), std::invalid_argument);
}

// Identity: of two normals the first is lower with probability Phi((m2 - m1) / sd of the difference); what both share
// cancels.
TEST(LowestOf, TwoNormalsGiveTheClosedForm) {
  LinearGaussian world;
  const std::size_t shared = world.add(5.0);
  std::vector<LinearQuantity> two(2);
  two[0].constant = 30.0;
  two[1].constant = 30.4;
  for (LinearQuantity& q : two) {
    q.add(shared, 1.0).add(world.add(0.4), 1.0);
  }
  const std::vector<double> p = p_lowest({{1.0}, {world.joint(two)}}, 200000, 7);
  const double expected = normal_cdf(0.4 / std::hypot(0.4, 0.4));
  EXPECT_NEAR(p[0], expected, 0.005);  // 4.5 standard errors
  EXPECT_NEAR(p[0] + p[1], 1.0, 1e-12);
  // A mixture weighs its parts.
  const std::vector<double> mixed =
      p_lowest({{0.25, 0.75}, {world.joint(two), world.joint(std::vector{two[1], two[0]})}}, 200000, 7);
  EXPECT_NEAR(mixed[0], 0.25 * expected + 0.75 * (1.0 - expected), 0.005);
}

// Identity: equal teams have equal chances.
TEST(LowestOf, EqualsAreEqual) {
  const JointNormal three{VectorXd::Constant(3, 20.0), MatrixXd::Identity(3, 3)};
  for (const double p : p_lowest({{1.0}, {three}}, 90000, 3)) {
    EXPECT_NEAR(p, 1.0 / 3.0, 0.007);
  }
  EXPECT_EQ(p_lowest({{1.0}, {{VectorXd::Constant(1, 2.0), MatrixXd::Identity(1, 1)}}}, 10, 3), (std::vector{1.0}));
  EXPECT_THROW(p_lowest({{1.0}, {three}}, 0, 3), std::invalid_argument);
}

// Identity: the least sum over all permutations.
TEST(Assignment, IsTheLeastOfAllPermutations) {
  RandomStream random(11);
  for (std::size_t n = 1; n <= 7; ++n) {
    for (int trial = 0; trial < 20; ++trial) {
      const auto size = static_cast<Eigen::Index>(n);
      MatrixXd cost(size, size);
      for (Eigen::Index i = 0; i < size; ++i) {
        for (Eigen::Index j = 0; j < size; ++j) {
          cost(i, j) = std::round(20.0 * random.normal());  // ties happen
        }
      }
      const auto sum = [&](const std::vector<std::size_t>& workers) {
        double s = 0.0;
        for (std::size_t j = 0; j < n; ++j) {
          s += cost(static_cast<Eigen::Index>(workers[j]), static_cast<Eigen::Index>(j));
        }
        return s;
      };
      std::vector<std::size_t> order(n);
      std::iota(order.begin(), order.end(), std::size_t{0});
      double least = sum(order);
      while (std::next_permutation(order.begin(), order.end())) {
        least = std::min(least, sum(order));
      }
      std::vector<std::size_t> found = cheapest_assignment(cost);
      EXPECT_EQ(sum(found), least);
      std::sort(found.begin(), found.end());
      std::iota(order.begin(), order.end(), std::size_t{0});
      EXPECT_EQ(found, order);
    }
  }
  EXPECT_THROW(cheapest_assignment(MatrixXd::Zero(2, 3)), std::invalid_argument);
}

}  // namespace
