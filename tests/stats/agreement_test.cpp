#include "bagsplit/stats/agreement.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <stdexcept>
#include <string>
#include <vector>

#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/univariate.hpp"
#include "reference.hpp"
#include "support/digits.hpp"

namespace {

using bagsplit::test::Reference;
using bagsplit::test::Table;
namespace stats = bagsplit::stats;
using stats::LimitInterval;

std::vector<double> both(const stats::Interval& interval) {
  return {interval.lo, interval.hi};
}

// Source: Bland & Altman (1986), Lancet 327:307-310, peak-flow meters, first readings (published_*).
// Computed: R 4.2.2, reference/bland_altman_1986_pefr/compute.R.
TEST(Agreement, PeakFlowMetersOfBlandAndAltman) {
  const Reference reference("bland_altman_1986_pefr");
  const Table data("bland_altman_1986_pefr/data.csv");
  const auto wright = data.numbers("wright1");
  const auto mini = data.numbers("mini1");
  stats::AgreementOptions options;
  const auto exact = *stats::limits_of_agreement(wright, mini, options);
  EXPECT_REFERENCE(reference, "n", exact.n);
  EXPECT_REFERENCE(reference, "bias", exact.bias);
  EXPECT_REFERENCE(reference, "sd", exact.sd);
  EXPECT_REFERENCE(reference, "se_bias", exact.se_bias);
  EXPECT_REFERENCE(reference, "bias_ci95", both(exact.bias_interval));
  EXPECT_REFERENCE(reference, "limits_1.96sd", both(exact.limits));
  EXPECT_REFERENCE(reference, "upper_limit_ci95_exact", both(exact.upper_limit_interval));
  EXPECT_REFERENCE(reference, "lower_limit_ci95_exact", both(exact.lower_limit_interval));
  options.method = LimitInterval::approximate_1999;
  const auto later = *stats::limits_of_agreement(wright, mini, options);
  EXPECT_REFERENCE(reference, "lower_limit_ci95_BA1999", both(later.lower_limit_interval));
  EXPECT_REFERENCE(reference, "upper_limit_ci95_BA1999", both(later.upper_limit_interval));
  options.method = LimitInterval::approximate_1986;
  const auto first = *stats::limits_of_agreement(wright, mini, options);
  EXPECT_REFERENCE(reference, "lower_limit_ci95_BA1986", both(first.lower_limit_interval));
  EXPECT_REFERENCE(reference, "upper_limit_ci95_BA1986", both(first.upper_limit_interval));

  options.multiplier = 2.0;  // as in the paper
  const auto paper = *stats::limits_of_agreement(wright, mini, options);
  EXPECT_REFERENCE(reference, "limits_2sd", both(paper.limits));
  EXPECT_REFERENCE(reference, "published_bias", paper.bias);
  EXPECT_REFERENCE(reference, "published_sd", paper.sd);
  EXPECT_REFERENCE(reference, "published_limits_2sd", both(paper.limits));
  EXPECT_REFERENCE(reference, "published_se_bias", paper.se_bias);
  EXPECT_REFERENCE(reference, "published_bias_ci95", both(paper.bias_interval));
  EXPECT_REFERENCE(reference, "published_lower_limit_ci95", both(paper.lower_limit_interval));
  EXPECT_REFERENCE(reference, "published_upper_limit_ci95", both(paper.upper_limit_interval));

  const auto trend = *stats::proportional_bias(wright, mini);
  EXPECT_REFERENCE(reference, "proportional_bias_slope_of_difference_on_mean", trend.slope);
  EXPECT_REFERENCE(reference, "proportional_bias_p", *trend.p_two_sided);
  EXPECT_REFERENCE(reference, "correlation", *stats::correlation(wright, mini));
}

struct Watches {
  std::vector<double> first{4.05, 4.11, 4.02, 3.88, 3.95, 3.90, 4.30, 4.22, 4.35, 4.01, 4.08, 3.99, 3.70, 3.82, 3.77};
  std::vector<double> second{4.01, 4.02, 4.00, 3.90, 3.88, 3.86, 4.09, 4.08, 4.14, 3.95, 4.06, 3.98, 3.75, 3.88, 3.86};
  std::vector<int> balanced{1, 1, 1, 2, 2, 2, 3, 3, 3, 4, 4, 4, 5, 5, 5};
  std::vector<int> unbalanced{1, 1, 1, 2, 3, 3, 3, 3, 4, 4, 5, 5, 5, 5, 5};
};

// Computed: R 4.2.2, lme4 1.1-31, lmer(d ~ 1 + (1 | subject)), reference/agreement_repeated/compute.R (invented times).
TEST(Agreement, RepeatedPairsAgreeWithAMixedModelWhenBalanced) {
  const Watches w;
  const auto a = *stats::limits_of_agreement_repeated(w.first, w.second, w.balanced);
  EXPECT_DIGITS(a.bias, 0.046, 12);
  EXPECT_DIGITS(a.sd, 0.0952598786959169, 6);
}

// Computed: R 4.2.2, formulas of Zou (2013) written out, reference/agreement_repeated/compute.R.
TEST(Agreement, RepeatedPairsUnbalanced) {
  const Watches w;
  const auto a = *stats::limits_of_agreement_repeated(w.first, w.second, w.unbalanced);
  EXPECT_DIGITS(a.bias, 0.0492, 12);
  EXPECT_DIGITS(a.sd, 0.0895981956663562, 11);
  EXPECT_DIGITS(a.limits.hi, 0.224809236585831, 11);
  EXPECT_DIGITS(a.upper_limit_interval.lo, 0.11753452878836, 11);
  EXPECT_DIGITS(a.upper_limit_interval.hi, 0.507101031164932, 11);
}

// Identity: the exact interval holds the limit with the probability it claims. Simulated with 4000 samples of 5; the
// acceptance band is 5 standard errors, so chance fails this fewer than 1 time in a million (and the seed is fixed).
TEST(Agreement, TheExactIntervalCovers) {
  unsigned long long state = 2026;
  const auto uniform = [&] {
    state = state * 6364136223846793005ULL + 1442695040888963407ULL;
    return (static_cast<double>(state >> 11) + 0.5) * 0x1.0p-53;
  };
  stats::AgreementOptions options;
  options.level = 0.9;
  const double truth = stats::normal_quantile(0.975);
  int inside = 0;
  const int samples = 4000;
  const std::vector<double> zero(5, 0.0);
  for (int i = 0; i < samples; ++i) {
    std::vector<double> d(5);
    for (double& v : d) v = stats::normal_quantile(uniform());
    inside += stats::limits_of_agreement(d, zero, options)->upper_limit_interval.contains(truth);
  }
  EXPECT_NEAR(static_cast<double>(inside) / samples, 0.9, 5 * std::sqrt(0.09 / samples));
}

// Identity: swapping the methods mirrors everything.
TEST(Agreement, Mirrors) {
  const Watches w;
  const auto a = *stats::limits_of_agreement(w.first, w.second);
  const auto b = *stats::limits_of_agreement(w.second, w.first);
  EXPECT_DOUBLE_EQ(a.limits.lo, -b.limits.hi);
  EXPECT_DOUBLE_EQ(a.lower_limit_interval.lo, -b.upper_limit_interval.hi);
  const auto r = *stats::limits_of_agreement_repeated(w.second, w.first, w.unbalanced);
  EXPECT_DIGITS(-r.lower_limit_interval.lo, 0.507101031164932, 11);
}

// Identity: undefined is absent; no scatter gives limits of no width.
TEST(Agreement, FewOrEqualValues) {
  const std::vector<double> one{1.0};
  const std::vector<double> up{1.0, 2.0, 4.0};
  const std::vector<double> shifted{1.5, 2.5, 4.5};
  EXPECT_FALSE(stats::limits_of_agreement({}, {}));
  EXPECT_FALSE(stats::limits_of_agreement(one, one));
  const auto flat = *stats::limits_of_agreement(up, shifted);
  EXPECT_EQ(flat.limits, (stats::Interval{-0.5, -0.5}));
  EXPECT_EQ(flat.upper_limit_interval.hi, -0.5);
  EXPECT_FALSE(stats::limits_of_agreement_repeated(up, shifted, std::vector<int>{1, 1, 1}));
  EXPECT_FALSE(stats::proportional_bias(std::vector<double>{1, 2}, std::vector<double>{1, 3}));
  EXPECT_FALSE(stats::proportional_bias(std::vector<double>{1, 2, 3}, std::vector<double>{3, 2, 1}));
  EXPECT_FALSE(stats::proportional_bias(up, shifted)->p_two_sided);
}

// Common practice, no source: programmer's errors throw.
TEST(Agreement, RefusesBadCalls) {
  const std::vector<double> two{1, 2};
  EXPECT_THROW(stats::limits_of_agreement(two, std::vector<double>{1}), std::invalid_argument);
  stats::AgreementOptions options;
  options.coverage = 1.0;
  EXPECT_THROW(stats::limits_of_agreement(two, two, options), std::domain_error);
}

}  // namespace
