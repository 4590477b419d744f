#include "bagsplit/stats/shrinkage.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numeric>
#include <stdexcept>
#include <string>
#include <vector>

#include "bagsplit/stats/univariate.hpp"
#include "reference.hpp"
#include "support/digits.hpp"

namespace {

using bagsplit::stats::BetweenVariance;
using bagsplit::stats::FitStatus;
using bagsplit::stats::james_stein;
using bagsplit::stats::normal_shrinkage;
using bagsplit::stats::NormalShrinkage;
using bagsplit::test::Reference;
using bagsplit::test::Table;

struct Batting {
  Batting() {
    const Table data("shrinkage_efron_morris/batting.csv");
    season = data.numbers("season_average");
    for (const double hits : data.numbers("hits")) y.push_back(hits / 45.0);
    const double m = *bagsplit::stats::mean(y);
    variance = m * (1.0 - m) / 45.0;
  }
  double squared_error(const std::vector<double>& estimates) const {
    double total = 0.0;
    for (std::size_t i = 0; i < y.size(); ++i) total += (estimates[i] - season[i]) * (estimates[i] - season[i]);
    return total;
  }
  std::vector<double> y, season;
  double variance;
};

// Identity: the players stand as numbers; whose averages they are is in the source.
TEST(Shrinkage, ThePlayersAreNumbers) {
  std::vector<double> numbers(18);
  std::iota(numbers.begin(), numbers.end(), 1.0);
  EXPECT_EQ(Table("shrinkage_efron_morris/batting.csv").numbers("player"), numbers);
}

// Source: Efron & Morris (1977), Sci Am 236(5):119-127 (published_*).
// Computed: R 4.2.2, reference/shrinkage_efron_morris/compute.R.
TEST(Shrinkage, BattingAveragesOfEfronAndMorris) {
  const Reference reference("shrinkage_efron_morris");
  const Batting b;
  const auto js = *james_stein(b.y, b.variance);
  EXPECT_REFERENCE(reference, "js_c", js.factor);
  EXPECT_REFERENCE(reference, "js_estimates", js.estimates);
  EXPECT_REFERENCE(reference, "js_sse_vs_season", b.squared_error(js.estimates));
  EXPECT_REFERENCE(reference, "mle_sse_vs_season", b.squared_error(b.y));
  EXPECT_REFERENCE(reference, "published_c", js.factor);
  EXPECT_REFERENCE(reference, "published_grand_average", js.mean);
  EXPECT_REFERENCE(reference, "published_js_first", js.estimates[0]);
}

void expect_all(const Reference& r, const std::string& p, const NormalShrinkage& s) {
  EXPECT_REFERENCE(r, p + "_tau2", s.tau2);
  EXPECT_REFERENCE(r, p + "_mu", s.mu);
  EXPECT_REFERENCE(r, p + "_mu_se", s.mu_se);
  EXPECT_REFERENCE(r, p + "_Q", s.q);
  EXPECT_REFERENCE(r, p + "_shrunk_means", s.estimates);
  EXPECT_REFERENCE(r, p + "_shrunk_se_incl_mu", s.se);
  EXPECT_REFERENCE(r, p + "_shrunk_se_plugin", s.se_plug_in);
  EXPECT_REFERENCE(r, p + "_shrinkage_factor_B", s.factor);
  if (s.log_likelihood) {
    EXPECT_REFERENCE(r, p + "_loglik", *s.log_likelihood);
  }
}

// Source: Rubin (1981), J Educ Stat 6:377-401 (data); Gelman et al. (2013), section 5.5 (published_*).
// Computed: R 4.2.2, metafor 3.8-1 and own script, reference/shrinkage_efron_morris/compute.R.
TEST(Shrinkage, EmpiricalBayesAgreesWithAnotherProgram) {
  const Reference r("shrinkage_efron_morris");
  const Batting b;
  const std::vector<double> equal(b.y.size(), b.variance);
  expect_all(r, "batting_normal_equal_variance_DL", *normal_shrinkage(b.y, equal, BetweenVariance::dersimonian_laird));
  expect_all(r, "batting_normal_equal_variance_REML", *normal_shrinkage(b.y, equal));

  const Table schools("shrinkage_efron_morris/eight_schools.csv");
  auto v = schools.numbers("se");
  for (double& s : v) s *= s;
  const auto y = schools.numbers("effect");
  const auto reml = *normal_shrinkage(y, v);
  expect_all(r, "eight_schools_REML", reml);
  expect_all(r, "eight_schools_DL", *normal_shrinkage(y, v, BetweenVariance::dersimonian_laird));
  EXPECT_EQ(reml.status, FitStatus::at_boundary);
  EXPECT_EQ(reml.tau2, 0.0);
  EXPECT_REFERENCE(r, "published_eight_schools_weighted_mean", reml.mu);
  EXPECT_REFERENCE(r, "published_eight_schools_weighted_mean_se", reml.mu_se);
}

// Identity: with equal variances both estimators are variance(y) - v; unequal ones make the score zero; units carry
// over.
TEST(Shrinkage, Identities) {
  const std::vector<double> y{1.0, 4.0, 2.0, 9.0, 5.0};
  const std::vector<double> equal(5, 0.5);
  EXPECT_DIGITS(normal_shrinkage(y, equal)->tau2, *bagsplit::stats::variance(y) - 0.5, 12);
  EXPECT_DIGITS(normal_shrinkage(y, equal, BetweenVariance::dersimonian_laird)->tau2,
                *bagsplit::stats::variance(y) - 0.5, 12);
  const std::vector<double> v{0.1, 2.0, 0.5, 4.0, 1.0};
  const auto s = *normal_shrinkage(y, v);
  double w = 0, w2 = 0, q2 = 0;
  for (std::size_t i = 0; i < y.size(); ++i) {
    const double a = 1.0 / (v[i] + s.tau2);
    w += a;
    w2 += a * a;
    q2 += a * a * (y[i] - s.mu) * (y[i] - s.mu);
  }
  EXPECT_NEAR(w - w2 / w - q2, 0.0, 1e-10);
  std::vector<double> ys = y, vs = v;
  for (double& a : ys) a = 100.0 * a + 7.0;
  for (double& a : vs) a *= 1e4;
  EXPECT_DIGITS(normal_shrinkage(ys, vs)->tau2, 1e4 * s.tau2, 10);
  EXPECT_DIGITS(normal_shrinkage(ys, vs)->estimates[3], 100.0 * s.estimates[3] + 7.0, 12);
}

// Identity: what few or equal values give.
TEST(Shrinkage, FewOrEqualValues) {
  EXPECT_FALSE(james_stein(std::vector<double>{1, 2, 3}, 1.0));
  EXPECT_EQ(james_stein(std::vector<double>{2, 2, 2, 2}, 1.0)->factor, 0.0);
  EXPECT_EQ(james_stein(std::vector<double>{1, 2, 3, 4}, 100.0)->factor, 0.0);  // positive part
  EXPECT_FALSE(normal_shrinkage({}, {}));
  EXPECT_FALSE(normal_shrinkage(std::vector<double>{1}, std::vector<double>{1}));
  const auto flat = *normal_shrinkage(std::vector<double>{2, 2}, std::vector<double>{1, 3});
  EXPECT_EQ(flat.tau2, 0.0);
  EXPECT_DIGITS(flat.estimates[1], 2.0, 15);
  EXPECT_GT(normal_shrinkage(std::vector<double>{0, 10}, std::vector<double>{1, 1})->tau2, 0.0);
}

// Common practice, no source: programmer's errors throw.
TEST(Shrinkage, RefusesBadCalls) {
  EXPECT_THROW(james_stein(std::vector<double>{1, 2, 3, 4}, 0.0), std::domain_error);
  EXPECT_THROW(normal_shrinkage(std::vector<double>{1, 2}, std::vector<double>{1}), std::invalid_argument);
  EXPECT_THROW(normal_shrinkage(std::vector<double>{1, 2}, std::vector<double>{1, 0}), std::domain_error);
}

}  // namespace
