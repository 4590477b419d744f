#include "bagsplit/stats/bootstrap.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <stdexcept>
#include <string>
#include <vector>

#include "bagsplit/stats/quantile.hpp"
#include "bagsplit/stats/univariate.hpp"
#include "reference.hpp"
#include "support/digits.hpp"

namespace {

using bagsplit::test::Reference;
using bagsplit::test::Table;
namespace stats = bagsplit::stats;
using stats::BiasCorrection;
using Rows = std::span<const std::size_t>;

std::vector<double> pick(const std::vector<double>& x, Rows rows) {
  std::vector<double> out;
  for (const std::size_t i : rows) out.push_back(x[i]);
  return out;
}

stats::IndexStatistic mean_of(const std::vector<double>& x) {
  return [x](Rows rows) { return *stats::mean(pick(x, rows)); };
}

std::vector<double> both(const stats::Interval& interval) {
  return {interval.lo, interval.hi};
}

// Source: Efron & Tibshirani (1993), Tables 2.1, 2.2 (published_*).
// Computed: R 4.2.2, complete enumeration of 7^7 resamples, reference/bootstrap_exhaustive_mouse/compute.R.
TEST(Bootstrap, MiceWithoutMonteCarloError) {
  const Reference reference("bootstrap_exhaustive_mouse");
  const auto x = Table("bootstrap_exhaustive_mouse/data.csv").where("group", "treatment", "days");
  const auto median = [x](Rows rows) { return *stats::median(pick(x, rows)); };
  for (const std::string name : {"mean", "median"}) {
    const stats::IndexStatistic statistic = name == "mean" ? mean_of(x) : stats::IndexStatistic(median);
    const auto b = *stats::bootstrap(x.size(), statistic);
    const auto j = *stats::jackknife(x.size(), statistic);
    EXPECT_TRUE(b.exhaustive);
    EXPECT_EQ(b.values.size(), 1716u);
    EXPECT_REFERENCE(reference, name + "_estimate", b.estimate);
    EXPECT_REFERENCE(reference, name + "_ideal_se", b.se);
    EXPECT_REFERENCE(reference, name + "_ideal_bias", b.bias);
    EXPECT_REFERENCE(reference, name + "_p_less_p_equal", std::vector<double>{b.share_below, b.share_equal});
    EXPECT_REFERENCE(reference, name + "_acceleration", *j.acceleration);
    EXPECT_REFERENCE(reference, "published_ideal_bootstrap_se_" + name + "_treatment", b.se);
    for (const auto& [level, suffix] : {std::pair{0.9, std::string("90")}, std::pair{0.95, std::string("95")}}) {
      EXPECT_REFERENCE(reference, name + "_percentile_ci" + suffix, both(stats::percentile_interval(b, level)));
      const auto strict = *stats::bca_interval(b, j.acceleration, level, BiasCorrection::strict);
      const auto mid = *stats::bca_interval(b, j.acceleration, level);
      EXPECT_REFERENCE(reference, name + "_z0_strict", strict.z0);
      EXPECT_REFERENCE(reference, name + "_z0_mid", mid.z0);
      EXPECT_REFERENCE(reference, name + "_bca_levels" + suffix + "_z0_strict",
                       std::vector<double>{strict.level_lo, strict.level_hi});
      EXPECT_REFERENCE(reference, name + "_bca_levels" + suffix + "_z0_mid",
                       std::vector<double>{mid.level_lo, mid.level_hi});
      EXPECT_REFERENCE(reference, name + "_bca_ci" + suffix + "_z0_strict", both(strict.interval));
      EXPECT_REFERENCE(reference, name + "_bca_ci" + suffix + "_z0_mid", both(mid.interval));
    }
  }
}

stats::IndexStatistic law_school_correlation() {
  const Table data("bootstrap_law_school/data.csv");
  return [x = data.numbers("LSAT"), y = data.numbers("GPA")](Rows rows) {
    return stats::correlation(pick(x, rows), pick(y, rows)).value_or(std::nan(""));
  };
}

// Source: Efron & Tibshirani (1993), pp. 49-54, Table 6.1 (published_*).
// Computed: R 4.2.2, 400,000 resamples and boot 1.3-28.1, reference/bootstrap_law_school/compute.R; the tolerances of
// that file hold for any seed.
TEST(Bootstrap, LawSchoolCorrelation) {
  const Reference reference("bootstrap_law_school");
  const auto statistic = law_school_correlation();
  const auto j = *stats::jackknife(15, statistic);
  EXPECT_REFERENCE(reference, "correlation", j.estimate);
  EXPECT_REFERENCE(reference, "published_correlation", j.estimate);
  EXPECT_REFERENCE(reference, "jackknife_se", j.se);
  EXPECT_REFERENCE(reference, "jackknife_bias", j.bias);
  EXPECT_REFERENCE(reference, "jackknife_values", j.leave_one_out);
  EXPECT_REFERENCE(reference, "acceleration", *j.acceleration);
  stats::BootstrapOptions options;
  options.resamples = 20'000;
  options.threads = 2;
  const auto b = *stats::bootstrap(15, statistic, options);
  EXPECT_FALSE(b.exhaustive);
  EXPECT_REFERENCE(reference, "bootstrap_se", b.se);
  EXPECT_REFERENCE(reference, "published_bootstrap_se_B3200", b.se);
  const auto bca90 = *stats::bca_interval(b, j.acceleration, 0.9);
  const auto bca95 = *stats::bca_interval(b, j.acceleration, 0.95);
  EXPECT_REFERENCE(reference, "bias_correction_z0", bca90.z0);
  EXPECT_REFERENCE(reference, "bca_levels_ci95", std::vector<double>{bca95.level_lo, bca95.level_hi});
  EXPECT_REFERENCE(reference, "bca_ci90", both(bca90.interval));
  EXPECT_REFERENCE(reference, "bca_ci95", both(bca95.interval));
  EXPECT_REFERENCE(reference, "percentile_ci90", both(stats::percentile_interval(b, 0.9)));
  EXPECT_REFERENCE(reference, "percentile_ci95", both(stats::percentile_interval(b, 0.95)));
}

// Identity: the ideal bootstrap SE of a mean is sqrt(sum (x - m)^2 / n^2); the jackknife SE is the usual one; a mean
// has no bias; the acceleration of a mean is skewness / (6 sqrt n).
TEST(Bootstrap, TheMeanInClosedForm) {
  const std::vector<double> x{3.5, 3.75, 3.25, 4.5, 3.0};
  const auto b = *stats::bootstrap(x.size(), mean_of(x));
  const auto j = *stats::jackknife(x.size(), mean_of(x));
  EXPECT_DIGITS(b.se, std::sqrt(*stats::variance(x) * 4.0) / 5.0, 12);
  EXPECT_NEAR(b.bias, 0.0, 1e-14);
  EXPECT_DIGITS(j.se, *stats::standard_error(x), 12);
  EXPECT_NEAR(j.bias, 0.0, 1e-13);
  EXPECT_DIGITS(*j.acceleration, *stats::skewness(x) / (6.0 * std::sqrt(5.0)), 11);
  // Identity: without correction BCa is the percentile interval.
  auto plain = b;
  plain.share_below = 0.5;
  plain.share_equal = 0.0;
  EXPECT_EQ(both(stats::bca_interval(plain, 0.0, 0.9)->interval), both(stats::percentile_interval(b, 0.9)));
}

// Identity: one stream an index: threads do not matter, the seed does; an increasing map takes the interval along.
TEST(Bootstrap, ThreadsAndMaps) {
  const auto statistic = law_school_correlation();
  stats::BootstrapOptions options;
  options.resamples = 999;
  const auto one = *stats::bootstrap(15, statistic, options);
  options.threads = 4;
  EXPECT_EQ(stats::bootstrap(15, statistic, options)->values, one.values);
  const auto mapped = *stats::bootstrap(
      15, [&](Rows rows) { return std::atanh(statistic(rows)); }, options);
  const auto a = *stats::bca_interval(one, -0.07, 0.9);
  const auto b = *stats::bca_interval(mapped, -0.07, 0.9);
  EXPECT_NEAR(std::tanh(b.interval.lo), a.interval.lo, 1e-4);
  options.seed = 2;
  EXPECT_NE(stats::bootstrap(15, statistic, options)->values, one.values);
}

// Identity: what few, equal or undefined values give.
TEST(Bootstrap, FewOrEqualValues) {
  const std::vector<double> equal{2, 2, 2};
  EXPECT_FALSE(stats::bootstrap(0, mean_of({})));
  EXPECT_FALSE(stats::jackknife(1, mean_of({1})));
  const auto one = *stats::bootstrap(1, mean_of({4}));
  EXPECT_EQ(one.se, 0.0);
  EXPECT_EQ(both(stats::percentile_interval(one)), (std::vector<double>{4, 4}));
  const auto flat = *stats::bootstrap(3, mean_of(equal));
  EXPECT_EQ(flat.se, 0.0);
  EXPECT_FALSE(stats::jackknife(3, mean_of(equal))->acceleration);
  EXPECT_FALSE(stats::bca_interval(flat, std::nullopt));
  // A correlation is not defined where all resampled points are one: 3 of 27 ordered resamples, 3 of 10 distinct ones.
  const std::vector<double> x{1, 2, 4}, y{3, 1, 2};
  const auto r = *stats::bootstrap(
      3, [&](Rows rows) { return stats::correlation(pick(x, rows), pick(y, rows)).value_or(std::nan("")); });
  EXPECT_EQ(r.undefined, 3u);
  EXPECT_FALSE(stats::bootstrap(3, [](Rows) { return std::nan(""); }));
  // Defined for 4 of the 10 distinct lists, but these are 15 of the 27 ordered ones: more than half.
  EXPECT_TRUE(stats::bootstrap(3, [](Rows rows) {
    const std::size_t sum = rows[0] + rows[1] + rows[2];
    return rows[0] == 0 && sum >= 1 && sum <= 3 ? static_cast<double>(sum) : std::nan("");
  }));
  // One defined resample of two has no spread.
  stats::BootstrapOptions two;
  two.resamples = 2;
  two.exhaustive_up_to = 0;
  int call = 0;
  two.threads = 1;
  EXPECT_FALSE(stats::bootstrap(
      20, [&](Rows) { return call++ == 1 ? std::nan("") : 1.0; }, two));
}

// Common practice, no source: programmer's errors throw.
TEST(Bootstrap, RefusesBadCalls) {
  EXPECT_THROW(stats::bootstrap(3, nullptr), std::invalid_argument);
  EXPECT_THROW(stats::jackknife(3, nullptr), std::invalid_argument);
  stats::BootstrapOptions options;
  options.exhaustive_up_to = 20;
  EXPECT_THROW(stats::bootstrap(3, mean_of({1, 2, 3}), options), std::domain_error);
}

}  // namespace
