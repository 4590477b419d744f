#include "bagsplit/stats/anova.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <stdexcept>
#include <string>
#include <vector>

#include "bagsplit/stats/t_interval.hpp"
#include "reference.hpp"
#include "support/digits.hpp"

namespace {

using bagsplit::test::Reference;
using bagsplit::test::Table;
namespace stats = bagsplit::stats;

stats::OneWayAnova of(const std::string& name) {
  const Table data("nist_strd_anova_univariate/" + name + ".csv");
  return *stats::one_way_anova(data.numbers("response"), data.levels("treatment"));
}

// Source: NIST StRD, one-way ANOVA, certified values (reference/nist_strd_anova_univariate).
TEST(Anova, AgreesWithTheCertifiedValuesOfNist) {
  const Reference reference("nist_strd_anova_univariate");
  for (const std::string name : {"SiRstv", "SmLs01", "SmLs04", "SmLs07"}) {
    const auto a = of(name);
    EXPECT_REFERENCE(reference, name + "_F", *a.f);
    EXPECT_REFERENCE(reference, name + "_ss_between", a.ss_between);
    EXPECT_REFERENCE(reference, name + "_ms_between", a.ms_between);
    EXPECT_REFERENCE(reference, name + "_ss_within", a.ss_within);
    EXPECT_REFERENCE(reference, name + "_ms_within", a.ms_within);
    EXPECT_REFERENCE(reference, name + "_r_squared", *a.r_squared);
    EXPECT_REFERENCE(reference, name + "_residual_sd", a.residual_sd);
    EXPECT_REFERENCE(reference, name + "_df_between", a.df_between);
    EXPECT_REFERENCE(reference, name + "_df_within", a.df_within);
    // Digits that the doubles themselves hold: 13, 14.5, 9.5 and 3.5 constant leading digits taken off.
    const double digits = name == "SmLs07" ? 2.5 : name == "SmLs04" ? 9.0 : 13.0;
    EXPECT_DIGITS(*a.f, reference.value(name + "_F_exact_rational"), digits) << name;
  }
}

// Identity: what rounding to doubles loses is all that is lost. SmLs07 less its offset, taken off exactly, is the same
// F.
TEST(Anova, OnlyTheRoundingOfTheInputIsLost) {
  const Table data("nist_strd_anova_univariate/SmLs07.csv");
  auto values = data.numbers("response");
  const auto raw = *stats::one_way_anova(values, data.levels("treatment"));
  for (double& v : values) v -= 1e12;  // exact
  const auto less = *stats::one_way_anova(values, data.levels("treatment"));
  EXPECT_DIGITS(*raw.f, *less.f, 12);
  EXPECT_DIGITS(raw.ss_within, less.ss_within, 12);
}

// Identity: with two groups F is the square of the pooled t, with the same p.
TEST(Anova, TwoGroupsAreThePooledT) {
  const std::vector<double> x{3.5, 3.6, 3.4, 3.9};
  const std::vector<double> y{4.1, 4.3, 3.8};
  const auto t = *stats::pooled_t(x, y);
  const auto a = *stats::one_way_anova(std::vector<double>{4.1, 3.5, 3.6, 4.3, 3.4, 3.9, 3.8},
                                       std::vector<int>{2, 1, 1, 2, 1, 1, 2});
  EXPECT_DIGITS(*a.f, *t.t * *t.t, 13);
  EXPECT_DIGITS(*a.p, *t.p_two_sided, 12);
  // Identity: n0 of Searle for sizes 4 and 3 is 7 - 25/7 = 24/7.
  EXPECT_DOUBLE_EQ(a.mean_group_size, 24.0 / 7.0);
}

// Identity: undefined is absent.
TEST(Anova, FewOrEqualValues) {
  EXPECT_FALSE(stats::one_way_anova({}, {}));
  EXPECT_FALSE(stats::one_way_anova(std::vector<double>{1, 2, 3}, std::vector<int>{1, 1, 1}));
  EXPECT_FALSE(stats::one_way_anova(std::vector<double>{1, 2, 3}, std::vector<int>{1, 2, 3}));
  const auto flat = *stats::one_way_anova(std::vector<double>{1, 1, 1}, std::vector<int>{1, 1, 2});
  EXPECT_FALSE(flat.f);
  EXPECT_FALSE(flat.r_squared);
  const auto no_scatter = *stats::one_way_anova(std::vector<double>{1, 1, 2, 2}, std::vector<int>{1, 1, 2, 2});
  EXPECT_FALSE(no_scatter.f);
  EXPECT_EQ(*no_scatter.r_squared, 1.0);
}

// Common practice, no source: programmer's errors throw.
TEST(Anova, RefusesBadCalls) {
  EXPECT_THROW(stats::one_way_anova(std::vector<double>{1, 2}, std::vector<int>{1}), std::invalid_argument);
  EXPECT_THROW(stats::one_way_anova(std::vector<double>{1, std::nan("")}, std::vector<int>{1, 1}), std::domain_error);
}

}  // namespace
