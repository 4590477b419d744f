#include "bagsplit/stats/univariate.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <random>
#include <stdexcept>
#include <vector>

#include "reference.hpp"
#include "support/digits.hpp"

namespace {

using bagsplit::test::Reference;
using bagsplit::test::Table;
namespace stats = bagsplit::stats;

// Source: NIST StRD, univariate summary statistics, certified values (reference/nist_strd_anova_univariate).
TEST(Univariate, AgreesWithTheCertifiedValuesOfNist) {
  const Reference reference("nist_strd_anova_univariate");
  for (const char* name : {"Michelso", "NumAcc1", "NumAcc2", "NumAcc3", "NumAcc4"}) {
    const std::string prefix = name;
    const auto y = Table("nist_strd_anova_univariate/" + prefix + ".csv").numbers("y");
    EXPECT_REFERENCE(reference, prefix + "_mean", *stats::mean(y));
    EXPECT_REFERENCE(reference, prefix + "_sd", *stats::standard_deviation(y));
    EXPECT_DIGITS(*stats::mean(y), reference.value(prefix + "_mean"), 14.5);
  }
  // Source: NIST StRD, NumAcc1: three whole numbers, so every digit can be had.
  const auto numacc1 = Table("nist_strd_anova_univariate/NumAcc1.csv").numbers("y");
  EXPECT_EQ(*stats::standard_deviation(numacc1), 1.0);
  // NumAcc4 as doubles differs from NumAcc4 as decimals by 1e-9; 8 digits are what the doubles hold.
  const auto numacc4 = Table("nist_strd_anova_univariate/NumAcc4.csv").numbers("y");
  EXPECT_DIGITS(*stats::standard_deviation(numacc4), 0.1, 8);
}

// Identity: multiples of 2^-10 after an offset of 2^40 are exact doubles, so nothing may be lost.
TEST(Univariate, AHugeOffsetCostsNoDigits) {
  std::vector<double> small{0, 1, 5, 2, 9, 4};
  for (double& v : small) {
    v /= 1024.0;
  }
  std::vector<double> large = small;
  for (double& v : large) {
    v += 1099511627776.0;
  }
  EXPECT_EQ(*stats::variance(large), *stats::variance(small));
  EXPECT_EQ(*stats::skewness(large), *stats::skewness(small));
}

// Identity: the variance of 1..n is n (n + 1) / 12, its skewness 0; scaling by a power of 2 is exact.
TEST(Univariate, KnownForms) {
  std::vector<double> x(99);
  std::iota(x.begin(), x.end(), 1.0);
  EXPECT_DOUBLE_EQ(*stats::variance(x), 99.0 * 100.0 / 12.0);
  EXPECT_NEAR(*stats::skewness(x), 0.0, 1e-15);
  std::vector<double> scaled = x;
  for (double& v : scaled) {
    v *= -8.0;
  }
  EXPECT_EQ(*stats::variance(scaled), 64.0 * *stats::variance(x));
  EXPECT_EQ(*stats::correlation(x, scaled), -1.0);
  EXPECT_DOUBLE_EQ(*stats::covariance(x, scaled), -8.0 * *stats::variance(x));
  // Identity: skewness of {0, 0, 0, 1} is 2 / sqrt(3).
  EXPECT_DOUBLE_EQ(*stats::skewness(std::vector<double>{0, 0, 0, 1}), 2.0 / std::sqrt(3.0));
}

// Identity: a sum of doubles whose exact value is known; plain summation gives 0 or worse.
TEST(Univariate, SumsKeepWhatCancels) {
  EXPECT_EQ(stats::sum(std::vector<double>{1.0, 1e100, 1.0, -1e100}), 2.0);
  EXPECT_EQ(stats::sum({}), 0.0);
}

// Identity: the order of the values does not matter beyond the last digit.
TEST(Univariate, OrderDoesNotMatter) {
  std::mt19937_64 engine(7);
  std::vector<double> x;
  for (int i = 0; i < 500; ++i) {
    x.push_back(static_cast<double>(engine() >> 40) * 1e-5 + 1e6);
  }
  const double before = *stats::variance(x);
  std::sort(x.begin(), x.end());
  EXPECT_DIGITS(*stats::variance(x), before, 15);
}

// Identity: what few or equal values leave undefined is absent, and equal values have no scatter at all.
TEST(Univariate, FewOrEqualValues) {
  const std::vector<double> none;
  const std::vector<double> one{3.52};
  const std::vector<double> two{1.0, 2.0};
  const std::vector<double> equal(49, 4.27);
  EXPECT_FALSE(stats::mean(none));
  EXPECT_EQ(*stats::mean(one), 3.52);
  EXPECT_FALSE(stats::variance(one));
  EXPECT_FALSE(stats::standard_deviation(none));
  EXPECT_EQ(*stats::variance(two), 0.5);
  EXPECT_FALSE(stats::skewness(two));
  EXPECT_EQ(*stats::variance(equal), 0.0);
  EXPECT_FALSE(stats::skewness(equal));
  EXPECT_FALSE(stats::correlation(equal, equal));
  EXPECT_FALSE(stats::correlation(one, one));
  EXPECT_EQ(*stats::correlation(two, std::vector<double>{5.0, 4.0}), -1.0);
}

// Common practice, no source: a NaN is a programmer's error, and the message names its place.
TEST(Univariate, RefusesWhatIsNotFinite) {
  const std::vector<double> bad{1.0, std::numeric_limits<double>::quiet_NaN()};
  EXPECT_THROW(stats::mean(bad), std::domain_error);
  EXPECT_THROW(stats::variance(bad), std::domain_error);
  EXPECT_THROW(stats::covariance(bad, std::vector<double>{1.0}), std::invalid_argument);
  try {
    stats::variance(bad);
  } catch (const std::domain_error& error) {
    EXPECT_NE(std::string(error.what()).find("values[1]"), std::string::npos) << error.what();
  }
}

}  // namespace
