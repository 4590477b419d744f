#include "bagsplit/stats/effect_size.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <stdexcept>
#include <vector>

#include "bagsplit/stats/distributions.hpp"
#include "reference.hpp"
#include "support/digits.hpp"

namespace {

using bagsplit::test::Reference;
using bagsplit::test::Table;
namespace stats = bagsplit::stats;
using stats::SmallSampleFactor;

std::vector<double> both(const stats::Interval& interval) {
  return {interval.lo, interval.hi};
}

// Source: Student (1908), Biometrika 6:1-25 (data).
// Computed: R 4.2.2, own script and effectsize 0.8.3, reference/sleep_student_1908/compute.R.
TEST(EffectSize, SleepOfStudent) {
  const Reference reference("sleep_student_1908");
  const Table data("sleep_student_1908/data.csv");
  const auto x = data.numbers("drug1");
  const auto y = data.numbers("drug2");
  const auto two = *stats::two_sample_effect(x, y);
  EXPECT_REFERENCE(reference, "two_sample_cohen_d_pooled", two.d);
  EXPECT_REFERENCE(reference, "two_sample_hedges_g_exactJ", *two.g);
  EXPECT_REFERENCE(reference, "two_sample_d_ci95_noncentral_t", both(*two.d_interval));
  EXPECT_REFERENCE(reference, "two_sample_g_ci95_noncentral_t_exactJ", both(*two.g_interval));
  EXPECT_REFERENCE(reference, "effectsize_two_sample_d_and_ci95",
                   std::vector<double>{two.d, two.d_interval->lo, two.d_interval->hi});
  EXPECT_REFERENCE(reference, "effectsize_two_sample_g_and_ci95",
                   std::vector<double>{*two.g, two.g_interval->lo, two.g_interval->hi});
  EXPECT_REFERENCE(reference, "two_sample_hedges_g_approxJ",
                   *stats::two_sample_effect(x, y, 0.95, SmallSampleFactor::approximate)->g);
  EXPECT_REFERENCE(reference, "two_sample_J_exact", stats::small_sample_factor(18));
  EXPECT_REFERENCE(reference, "two_sample_J_approx", stats::small_sample_factor(18, SmallSampleFactor::approximate));
  const auto paired = *stats::paired_effect(x, y);
  EXPECT_REFERENCE(reference, "paired_d_z", paired.d);
  EXPECT_REFERENCE(reference, "paired_g_z_exactJ", *paired.g);
  EXPECT_REFERENCE(reference, "paired_d_z_ci95_noncentral_t", both(*paired.d_interval));
  EXPECT_REFERENCE(reference, "paired_g_z_ci95_noncentral_t_exactJ", both(*paired.g_interval));
  EXPECT_REFERENCE(reference, "paired_d_av", *stats::paired_d_av(x, y));
  EXPECT_REFERENCE(reference, "paired_d_rm", *stats::paired_d_rm(x, y));
}

// Identity: J(2) = Gamma(1) / Gamma(1/2) = 1 / sqrt(pi); J(3) = sqrt(pi/6); J rises to 1.
TEST(EffectSize, SmallSampleFactorInClosedForm) {
  const double pi = std::acos(-1.0);
  EXPECT_DIGITS(stats::small_sample_factor(2), 1.0 / std::sqrt(pi), 14);
  EXPECT_DIGITS(stats::small_sample_factor(3), std::sqrt(pi / 6.0), 14);
  EXPECT_DIGITS(stats::small_sample_factor(1e6 + 1), stats::small_sample_factor(1e6 - 1), 9);
  for (double m = 10; m < 200; m += 10) {
    EXPECT_NEAR(stats::small_sample_factor(m), stats::small_sample_factor(m, SmallSampleFactor::approximate), 4e-4);
  }
}

// Identity: the limits are the noncentralities that put the observed t at the tails, also far out and with 1 df.
TEST(EffectSize, TheIntervalTurnsThePivotRound) {
  for (const double df : {1.0, 2.0, 4.0, 18.0, 200.0}) {
    for (const double t : {-30.0, -2.0, 0.0, 0.3, 6.0, 80.0}) {
      const auto ncp = stats::noncentrality_interval(t, df, 0.9);
      ASSERT_TRUE(ncp) << t << " " << df;
      EXPECT_NEAR(stats::noncentral_t_cdf(t, df, ncp->lo), 0.95, 1e-9) << t << " " << df;
      EXPECT_NEAR(stats::noncentral_t_cdf(t, df, ncp->hi), 0.05, 1e-9) << t << " " << df;
      const auto mirrored = *stats::noncentrality_interval(-t, df, 0.9);
      EXPECT_NEAR(mirrored.lo, -ncp->hi, 1e-8 * (1.0 + std::fabs(ncp->hi)));
    }
  }
}

// Identity: units and a common shift change nothing.
TEST(EffectSize, HasNoUnits) {
  const std::vector<double> x{3.5, 3.75, 3.25, 4.0};
  const std::vector<double> y{3.0, 3.5, 3.25};
  std::vector<double> xs = x;
  std::vector<double> ys = y;
  for (double& v : xs) v = 1024.0 * v + 4096.0;
  for (double& v : ys) v = 1024.0 * v + 4096.0;
  EXPECT_DIGITS(stats::two_sample_effect(xs, ys)->g_interval->hi, stats::two_sample_effect(x, y)->g_interval->hi, 12);
}

// Identity: undefined is absent.
TEST(EffectSize, FewOrEqualValues) {
  const std::vector<double> one{3.5};
  const std::vector<double> two{3.5, 3.75};
  const std::vector<double> equal{3.5, 3.5};
  EXPECT_FALSE(stats::two_sample_effect({}, two));
  EXPECT_FALSE(stats::two_sample_effect(one, one));
  EXPECT_FALSE(stats::two_sample_effect(equal, equal));
  EXPECT_FALSE(stats::paired_effect(one, one));
  EXPECT_FALSE(stats::paired_effect(two, two));
  EXPECT_FALSE(stats::paired_d_av(equal, equal));
  EXPECT_FALSE(stats::paired_d_rm(equal, two));
  const auto smallest = *stats::two_sample_effect(one, two);  // 1 df: d has no mean, so no g
  EXPECT_FALSE(smallest.g);
  EXPECT_TRUE(smallest.d_interval);
}

// Common practice, no source: programmer's errors throw.
TEST(EffectSize, RefusesBadCalls) {
  EXPECT_THROW(stats::small_sample_factor(1.0), std::domain_error);
  EXPECT_THROW(stats::paired_effect(std::vector<double>{1}, std::vector<double>{1, 2}), std::invalid_argument);
}

}  // namespace
