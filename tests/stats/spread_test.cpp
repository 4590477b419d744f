#include "bagsplit/stats/spread.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <stdexcept>
#include <vector>

#include "bagsplit/stats/univariate.hpp"
#include "reference.hpp"
#include "support/digits.hpp"

namespace {

using bagsplit::test::Reference;
using bagsplit::test::Table;
namespace stats = bagsplit::stats;

// Computed: R 4.2.2, qchisq, reference/sleep_student_1908/compute.R.
TEST(Spread, ChiSquareIntervalOfAVariance) {
  const Reference reference("sleep_student_1908");
  const auto x = Table("sleep_student_1908/data.csv").numbers("drug1");
  const auto sd = *stats::sample_sd(x);
  EXPECT_REFERENCE(reference, "variance_ci95_x",
                   std::vector<double>{sd.interval.lo * sd.interval.lo, sd.interval.hi * sd.interval.hi});
  EXPECT_DIGITS(sd.sd, reference.value("sds", "x"), 14);
}

// Source: Bland & Altman (1986), Lancet 327:307-310, replicate readings of two meters (within-subject SD).
// Computed: R 4.2.2, reference/bland_altman_1986_pefr/compute.R.
TEST(Spread, WithinSubjectSdOfReplicates) {
  const Reference reference("bland_altman_1986_pefr");
  const Table data("bland_altman_1986_pefr/data.csv");
  for (const std::string meter : {"wright", "mini"}) {
    std::vector<double> values;
    std::vector<int> group;
    for (const char* replicate : {"1", "2"}) {
      const auto column = data.numbers(meter + replicate);
      values.insert(values.end(), column.begin(), column.end());
      for (int i = 0; i < 17; ++i) group.push_back(i);
    }
    const auto sd = *stats::pooled_within_sd(values, group);
    EXPECT_REFERENCE(reference, "within_subject_sd_" + meter, sd.sd);
    EXPECT_EQ(sd.df, 17.0);
  }
}

// Identity: with 2 degrees of freedom chi-square is exponential, so the limits have a closed form.
TEST(Spread, ThreeRunsInClosedForm) {
  const auto sd = stats::sd_interval(0.05, 2.0, 0.9);
  EXPECT_DIGITS(sd.interval.lo, 0.05 / std::sqrt(-std::log(0.05)), 13);
  EXPECT_DIGITS(sd.interval.hi, 0.05 / std::sqrt(-std::log(0.95)), 13);
}

// Identity: pooling two groups is by their sums of squares; labels, order, shifts by group do not
// matter.
TEST(Spread, PooledSdIsThatOfBothSumsOfSquares) {
  const std::vector<double> x{3.5, 3.6, 3.4};
  const std::vector<double> y{4.1, 4.3};
  const std::vector<double> all{3.5, 4.1, 3.6, 4.3, 3.4};
  const std::vector<int> group{7, -2, 7, -2, 7};
  const auto sd = *stats::pooled_within_sd(all, group);
  const double squares = 2.0 * *stats::variance(x) + *stats::variance(y);
  EXPECT_DIGITS(sd.sd, std::sqrt(squares / 3.0), 14);
  const std::vector<double> reordered{103.4, 4.3, 103.5, 4.1, 103.6, 55.0};
  const std::vector<int> relabelled{0, 1, 0, 1, 0, 9};
  EXPECT_DIGITS(stats::pooled_within_sd(reordered, relabelled)->sd, sd.sd, 12);
}

// Identity: undefined is absent; equal values have an SD of 0 and an interval of no width.
TEST(Spread, FewOrEqualValues) {
  EXPECT_FALSE(stats::sample_sd({}));
  EXPECT_FALSE(stats::sample_sd(std::vector<double>{1.0}));
  EXPECT_FALSE(stats::pooled_within_sd({}, {}));
  EXPECT_FALSE(stats::pooled_within_sd(std::vector<double>{1, 2, 3}, std::vector<int>{1, 2, 3}));
  const auto flat = *stats::sample_sd(std::vector<double>{2, 2, 2});
  EXPECT_EQ(flat.sd, 0.0);
  EXPECT_EQ(flat.interval, (stats::Interval{0.0, 0.0}));
}

// Common practice, no source: programmer's errors throw.
TEST(Spread, RefusesBadCalls) {
  EXPECT_THROW(stats::sd_interval(-1.0, 3.0), std::domain_error);
  EXPECT_THROW(stats::sd_interval(1.0, 0.0), std::domain_error);
  EXPECT_THROW(stats::pooled_within_sd(std::vector<double>{1, 2}, std::vector<int>{1}), std::invalid_argument);
}

}  // namespace
