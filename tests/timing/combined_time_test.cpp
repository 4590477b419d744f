// Several watches on one run, by the error model.
#include "bagsplit/timing/combined_time.hpp"

#include <gtest/gtest.h>

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <cmath>
#include <limits>
#include <random>
#include <stdexcept>
#include <vector>

#include "support/digits.hpp"

namespace {

using namespace bagsplit::timing;

WatchTime watch(double time_s, double start_sd_s, double split_sd_s, double timer_sd_s = 0.0, double shared_sd_s = 0.0,
                double bias_s = 0.0, std::size_t group = 0) {
  WatchTime made;
  made.time_s = time_s;
  made.error.start_sd_s = start_sd_s;
  made.error.split_sd_s = split_sd_s;
  made.error.bias_timer_sd_s = timer_sd_s;
  made.error.bias_shared_sd_s = shared_sd_s;
  made.error.bias_mean_s = bias_s;
  made.group = group;
  return made;
}

TEST(CombinedTime, EqualWatchesAverageTheirOwnErrorsOnly) {
  // Source: Am J Phys 87(2):110 (2019), abstract: start and stop 0.10 s together (0.07 a press). SD of the mean of k
  // watches 0.10/sqrt(k): 0.071 for 2, 0.058 for 3.
  const double press_s = 0.1 / std::sqrt(2.0);
  const std::vector<WatchTime> two = {watch(4.0, press_s, press_s), watch(4.2, press_s, press_s)};
  EXPECT_NEAR(combine_watches(two).sd_s, 0.071, 0.0005);
  EXPECT_DIGITS(combine_watches(two).time_s, 4.1, 14);
  const std::vector<WatchTime> three(3, watch(4.0, press_s, press_s));
  EXPECT_NEAR(combine_watches(three).sd_s, 0.058, 0.0005);
  // Identity: a bias that all share stays, however many watches there are.
  const std::vector<WatchTime> many(400, watch(4.0, press_s, press_s, 0.0, 0.05, -0.25));
  const CombinedTime combined = combine_watches(many);
  EXPECT_DIGITS(combined.sd_s * combined.sd_s, 0.05 * 0.05 + 0.01 / 400.0, 12);
  EXPECT_DIGITS(combined.sd_without_bias_s, 0.1 / 20.0, 12);
  EXPECT_DIGITS(combined.time_s, 4.25, 13);
}

// Identity: the closed form equals generalised least squares with the whole covariance matrix, solved by Cholesky.
TEST(CombinedTime, EqualsGeneralisedLeastSquares) {
  std::mt19937 engine(7);
  std::uniform_real_distribution<double> sd(0.01, 0.1);
  for (int round = 0; round < 200; ++round) {
    const std::size_t n = 1 + engine() % 7;
    const std::vector<double> shared = {sd(engine), sd(engine), 0.0};
    std::vector<WatchTime> watches;
    for (std::size_t i = 0; i < n; ++i) {
      const std::size_t group = engine() % 3;
      watches.push_back(watch(4.0 + sd(engine), sd(engine), sd(engine), sd(engine), shared[group], -sd(engine), group));
    }
    const auto size = static_cast<Eigen::Index>(n);
    Eigen::MatrixXd covariance = Eigen::MatrixXd::Zero(size, size);
    Eigen::VectorXd times_s(size);
    for (Eigen::Index i = 0; i < size; ++i) {
      const WatchTime& a = watches[static_cast<std::size_t>(i)];
      times_s(i) = a.time_s - a.error.bias_mean_s;
      covariance(i, i) =
          std::pow(a.error.start_sd_s, 2) + std::pow(a.error.split_sd_s, 2) + std::pow(a.error.bias_timer_sd_s, 2);
      for (Eigen::Index j = 0; j < size; ++j) {
        if (a.group == watches[static_cast<std::size_t>(j)].group) {
          covariance(i, j) += std::pow(a.error.bias_shared_sd_s, 2);
        }
      }
    }
    const Eigen::VectorXd ones = Eigen::VectorXd::Ones(size);
    const Eigen::VectorXd solved = covariance.llt().solve(ones);
    const double precision = ones.dot(solved);
    const CombinedTime combined = combine_watches(watches);
    EXPECT_DIGITS(combined.time_s, solved.dot(times_s) / precision, 11);
    EXPECT_DIGITS(combined.sd_s, 1.0 / std::sqrt(precision), 11);
    double sum = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
      EXPECT_NEAR(combined.weights[i], solved(static_cast<Eigen::Index>(i)) / precision, 1e-11);
      sum += combined.weights[i];
    }
    EXPECT_NEAR(sum, 1.0, 1e-12);
  }
}

// Identity: of one watch, its time without its bias; a gate far better than the watches takes nearly all the weight.
TEST(CombinedTime, OneWatchAndAGateAmongWatches) {
  const std::vector<WatchTime> one = {watch(4.05, 0.06, 0.06, 0.04, 0.05, -0.25)};
  const CombinedTime alone = combine_watches(one);
  EXPECT_DIGITS(alone.time_s, 4.30, 14);
  EXPECT_DIGITS(alone.sd_s, std::sqrt(0.0036 + 0.0036 + 0.0016 + 0.0025), 12);
  EXPECT_EQ(alone.degrees, 0U);
  EXPECT_EQ(alone.weights.front(), 1.0);
  const std::vector<WatchTime> mixed = {watch(4.05, 0.06, 0.06, 0.04, 0.05, -0.25, 0),
                                        watch(4.01, 0.06, 0.06, 0.04, 0.05, -0.25, 0),
                                        watch(4.21, 0.001, 0.0085, 0.0, 0.01, 0.0, 1)};
  const CombinedTime both = combine_watches(mixed);
  EXPECT_GT(both.weights[2], 0.95);
  EXPECT_NEAR(both.time_s, 4.21, 0.005);
  EXPECT_EQ(both.degrees, 1U);
}

// Identity: chi-square of n equal watches about their mean is their sum of squares over the own variance.
TEST(CombinedTime, ASlipOnOneWatchShows) {
  const std::vector<WatchTime> slip = {watch(4.05, 0.05, 0.05), watch(4.09, 0.05, 0.05), watch(5.07, 0.05, 0.05)};
  const CombinedTime combined = combine_watches(slip);
  const double mean = (4.05 + 4.09 + 5.07) / 3.0;
  const double squares = std::pow(4.05 - mean, 2) + std::pow(4.09 - mean, 2) + std::pow(5.07 - mean, 2);
  EXPECT_DIGITS(combined.disagreement, squares / 0.005, 12);
  EXPECT_EQ(combined.degrees, 2U);
}

TEST(CombinedTime, RefusesWhatIsNoMeasurement) {
  EXPECT_THROW(combine_watches({}), std::domain_error);
  const std::vector<WatchTime> no_error = {watch(4.0, 0.0, 0.0)};
  EXPECT_THROW(combine_watches(no_error), std::domain_error);
  const std::vector<WatchTime> not_a_time = {watch(std::numeric_limits<double>::quiet_NaN(), 0.1, 0.1)};
  EXPECT_THROW(combine_watches(not_a_time), std::domain_error);
  const std::vector<WatchTime> unlike = {watch(4.0, 0.1, 0.1, 0.0, 0.1), watch(4.0, 0.1, 0.1, 0.0, 0.2)};
  EXPECT_THROW(combine_watches(unlike), std::invalid_argument);
}

}  // namespace
