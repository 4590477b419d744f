#include "bagsplit/stats/quantile.hpp"

#include <gtest/gtest.h>

#include <stdexcept>
#include <vector>

namespace {

namespace stats = bagsplit::stats;
using stats::QuantileType;

// Computed: R 4.2.2, quantile(c(10, 20, 30, 40, 55), c(.1, .25, .5, .9), type = 7 and 6 and 1).
TEST(Quantile, AgreesWithAnotherProgram) {
  const std::vector<double> x{10, 20, 30, 40, 55};
  EXPECT_DOUBLE_EQ(*stats::quantile(x, 0.1), 14.0);
  EXPECT_DOUBLE_EQ(*stats::quantile(x, 0.25), 20.0);
  EXPECT_DOUBLE_EQ(*stats::quantile(x, 0.9), 49.0);
  EXPECT_DOUBLE_EQ(*stats::quantile(x, 0.1, QuantileType::weibull), 10.0);
  EXPECT_DOUBLE_EQ(*stats::quantile(x, 0.25, QuantileType::weibull), 15.0);
  EXPECT_DOUBLE_EQ(*stats::quantile(x, 0.9, QuantileType::weibull), 55.0);
  EXPECT_DOUBLE_EQ(*stats::quantile(x, 0.1, QuantileType::inverse_cdf), 10.0);
  EXPECT_DOUBLE_EQ(*stats::quantile(x, 0.25, QuantileType::inverse_cdf), 20.0);
  EXPECT_DOUBLE_EQ(*stats::quantile(x, 0.9, QuantileType::inverse_cdf), 55.0);
}

// Identity: with n values, type 6 at k/(n+1), type 7 at (k-1)/(n-1) and type 1 at k/n are the k-th value.
TEST(Quantile, OrderStatisticsAreMetExactly) {
  const std::vector<double> x{1, 2, 4, 8, 16, 32, 64, 128, 256};
  for (std::size_t k = 1; k <= x.size(); ++k) {
    const double rank = static_cast<double>(k);
    EXPECT_DOUBLE_EQ(*stats::quantile_sorted(x, rank / 10.0, QuantileType::weibull), x[k - 1]);
    EXPECT_DOUBLE_EQ(*stats::quantile_sorted(x, (rank - 1.0) / 8.0, QuantileType::linear), x[k - 1]);
    EXPECT_EQ(*stats::quantile_sorted(x, rank / 9.0, QuantileType::inverse_cdf), x[k - 1]);
  }
  // 0.1 * 30 is a little more than 3 in doubles; the third value is meant.
  std::vector<double> thirty;
  for (int i = 1; i <= 30; ++i) {
    thirty.push_back(i);
  }
  EXPECT_EQ(*stats::quantile_sorted(thirty, 0.1, QuantileType::inverse_cdf), 3.0);
}

// Identity: medians of short lists.
TEST(Quantile, FewValuesAndTies) {
  EXPECT_FALSE(stats::median({}));
  EXPECT_FALSE(stats::quantile({}, 0.5));
  EXPECT_EQ(*stats::median(std::vector<double>{7}), 7.0);
  EXPECT_EQ(*stats::median(std::vector<double>{7, 3}), 5.0);
  EXPECT_EQ(*stats::median(std::vector<double>{9, 1, 5}), 5.0);
  EXPECT_EQ(*stats::median(std::vector<double>{2, 2, 2, 9}), 2.0);
  EXPECT_EQ(*stats::quantile(std::vector<double>{7}, 0.99), 7.0);
}

// Common practice, no source: programmer's errors throw.
TEST(Quantile, RefusesBadCalls) {
  EXPECT_THROW(stats::quantile(std::vector<double>{1}, 1.5), std::domain_error);
  EXPECT_THROW(stats::quantile_sorted(std::vector<double>{2, 1}, 0.5), std::invalid_argument);
}

}  // namespace
