#include "bagsplit/stats/t_interval.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <vector>

#include "reference.hpp"
#include "support/digits.hpp"

namespace {

using bagsplit::test::Reference;
using bagsplit::test::Table;
namespace stats = bagsplit::stats;

std::vector<double> both(const stats::Interval& interval) {
  return {interval.lo, interval.hi};
}

void expect_all(const Reference& reference, const std::string& name, const stats::TEstimate& got) {
  EXPECT_REFERENCE(reference, name + "_t", *got.t);
  EXPECT_REFERENCE(reference, name + "_df", got.df);
  EXPECT_REFERENCE(reference, name + "_p", *got.p_two_sided);
  EXPECT_REFERENCE(reference, name + "_ci95", both(got.interval));
}

// Source: Student (1908), Biometrika 6:1-25, sleep data, as printed in R's documentation (published_*).
// Computed: R 4.2.2, t.test, reference/sleep_student_1908/compute.R.
TEST(TInterval, SleepOfStudent) {
  const Reference reference("sleep_student_1908");
  const Table data("sleep_student_1908/data.csv");
  const auto x = data.numbers("drug1");
  const auto y = data.numbers("drug2");
  const auto paired = *stats::paired_t(x, y);
  expect_all(reference, "paired", paired);
  expect_all(reference, "welch", *stats::welch_t(x, y));
  expect_all(reference, "pooled", *stats::pooled_t(x, y));
  expect_all(reference, "one_sample_drug2", *stats::one_sample_t(y));
  EXPECT_REFERENCE(reference, "published_paired_t", *paired.t);
  EXPECT_REFERENCE(reference, "published_paired_p", *paired.p_two_sided);
  EXPECT_REFERENCE(reference, "published_paired_ci95", both(paired.interval));
  const auto welch = *stats::welch_t(x, y);
  EXPECT_REFERENCE(reference, "published_welch_t", *welch.t);
  EXPECT_REFERENCE(reference, "published_welch_df", welch.df);
  EXPECT_REFERENCE(reference, "published_welch_p", *welch.p_two_sided);
  EXPECT_REFERENCE(reference, "published_welch_ci95", both(welch.interval));
  EXPECT_REFERENCE(reference, "published_mean_difference_drug2_minus_drug1", -paired.estimate);
}

// Identity: swapping the groups mirrors the interval; shift and scale move it along; the order of rows does nothing.
TEST(TInterval, Invariances) {
  const std::vector<double> x{3.52, 3.61, 3.48, 3.55};
  const std::vector<double> y{3.66, 3.60, 3.71};
  const auto a = *stats::welch_t(x, y, 0.9);
  const auto b = *stats::welch_t(y, x, 0.9);
  EXPECT_DOUBLE_EQ(a.interval.lo, -b.interval.hi);
  EXPECT_DOUBLE_EQ(a.df, b.df);
  std::vector<double> shifted = x;
  std::vector<double> shifted_y = y;
  for (double& v : shifted) v = 1000.0 * (v + 7.0);
  for (double& v : shifted_y) v = 1000.0 * (v + 7.0);
  const auto c = *stats::welch_t(shifted, shifted_y, 0.9);
  EXPECT_DIGITS(c.interval.lo, 1000.0 * a.interval.lo, 11);
  EXPECT_DIGITS(*c.p_two_sided, *a.p_two_sided, 11);
  std::vector<double> reversed(x.rbegin(), x.rend());
  EXPECT_DIGITS(stats::one_sample_t(reversed)->interval.hi, stats::one_sample_t(x)->interval.hi, 15);
}

// Identity: with two values the 50% t interval (t_{0.75, 1} = 1) runs from one to the other.
TEST(TInterval, TwoValues) {
  const auto t = *stats::one_sample_t(std::vector<double>{4.0, 4.5}, 0.5);
  EXPECT_DIGITS(t.interval.lo, 4.0, 14);
  EXPECT_DIGITS(t.interval.hi, 4.5, 14);
  EXPECT_EQ(t.df, 1.0);
}

// Identity: what few or equal values leave undefined is absent.
TEST(TInterval, FewOrEqualValues) {
  const std::vector<double> none;
  const std::vector<double> one{3.5};
  const std::vector<double> two{3.5, 3.7};
  const std::vector<double> equal{3.5, 3.5, 3.5};
  EXPECT_FALSE(stats::one_sample_t(none));
  EXPECT_FALSE(stats::one_sample_t(one));
  EXPECT_FALSE(stats::paired_t(one, one));
  EXPECT_FALSE(stats::welch_t(one, two));
  EXPECT_FALSE(stats::welch_t(equal, equal));
  EXPECT_FALSE(stats::pooled_t(one, one));
  EXPECT_FALSE(stats::pooled_t(none, two));
  EXPECT_EQ(stats::pooled_t(one, two)->df, 1.0);
  const auto flat = *stats::one_sample_t(equal);
  EXPECT_EQ(flat.interval, (stats::Interval{3.5, 3.5}));
  EXPECT_FALSE(flat.t);
  EXPECT_FALSE(flat.p_two_sided);
  EXPECT_EQ(stats::welch_t(equal, two)->df, 1.0);
  // Always 0.10 apart, but for the rounding of the times themselves.
  const auto apart = *stats::paired_t(std::vector<double>{3.62, 4.11, 5.4}, std::vector<double>{3.52, 4.01, 5.3});
  EXPECT_EQ(apart.se, 0.0);
  EXPECT_FALSE(apart.p_two_sided);
}

// Common practice, no source: programmer's errors throw.
TEST(TInterval, RefusesBadCalls) {
  EXPECT_THROW(stats::one_sample_t(std::vector<double>{1, 2}, 1.0), std::domain_error);
  EXPECT_THROW(stats::one_sample_t(std::vector<double>{1, std::nan("")}), std::domain_error);
  EXPECT_THROW(stats::paired_t(std::vector<double>{1, 2}, std::vector<double>{1}), std::invalid_argument);
}

}  // namespace
