#include "bagsplit/stats/distributions.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <stdexcept>

#include "support/digits.hpp"

namespace {

using namespace bagsplit::stats;

// Computed: R 4.2.2, pnorm, qnorm, pt, qt, pchisq, qchisq, pf, qf, pt(ncp=), qt(ncp=) with the arguments shown.
TEST(Distributions, AgreeWithAnotherProgram) {
  EXPECT_DIGITS(normal_cdf(-8), 6.2209605742717849e-16, 13);
  EXPECT_DIGITS(normal_log_cdf(-20), -203.91715537109727, 14);
  EXPECT_DIGITS(normal_log_cdf(-9.5), -48.306019298965232, 14);
  EXPECT_DIGITS(normal_log_cdf(-40), -804.6084420137538, 14);
  EXPECT_DIGITS(normal_quantile(0.975), 1.9599639845400536, 14);
  EXPECT_DIGITS(normal_quantile(1e-10), -6.3613409024040557, 14);
  EXPECT_DIGITS(student_t_cdf(2.5, 3.7), 0.96408898854408664, 13);
  EXPECT_DIGITS(student_t_quantile(0.975, 2), 4.3026527297494619, 13);
  EXPECT_DIGITS(student_t_quantile(0.95, 17.776), 1.73524819104777, 12);
  EXPECT_DIGITS(student_t_quantile(1e-6, 5), -24.771029720515955, 12);
  EXPECT_DIGITS(chi_square_cdf(3.3, 7), 0.14406695274850687, 13);
  EXPECT_DIGITS(chi_square_quantile(0.025, 2), 0.050635615968579753, 13);
  EXPECT_DIGITS(chi_square_quantile(0.975, 2), 7.3777589082278707, 13);
  EXPECT_DIGITS(chi_square_quantile(0.025, 13.4), 5.2550339517963973, 12);
  EXPECT_DIGITS(f_upper_tail(11.027, 5, 15), 0.00013458352967583547, 12);
  EXPECT_DIGITS(f_quantile(0.975, 5, 4.785), 7.4988805282740811, 12);
  // R's pt with ncp is good for about 10 digits.
  EXPECT_DIGITS(noncentral_t_quantile(0.975, 16, normal_quantile(0.975) * std::sqrt(17.0)), 12.98065568385773, 8);
}

// Identity: t with 1 df is Cauchy, with infinitely many the normal; chi-square with 2 df is exponential; F(1, m) is
// t^2.
TEST(Distributions, KnownForms) {
  EXPECT_DIGITS(student_t_quantile(0.95, 1), std::tan(0.45 * std::acos(-1.0)), 13);
  EXPECT_DIGITS(student_t_quantile(0.975, std::numeric_limits<double>::infinity()), normal_quantile(0.975), 14);
  EXPECT_DIGITS(chi_square_cdf(3.0, 2.0), -std::expm1(-1.5), 14);
  EXPECT_DIGITS(f_upper_tail(6.25, 1, 9), student_t_two_sided_p(2.5, 9), 13);
  EXPECT_EQ(f_upper_tail(0.0, 3, 4), 1.0);
  EXPECT_EQ(f_upper_tail(std::numeric_limits<double>::infinity(), 3, 4), 0.0);
  EXPECT_EQ(student_t_two_sided_p(0.0, 4), 1.0);
}

// Identity: the log of the normal distribution is continuous where the formula changes, and finite far out.
TEST(Distributions, LogNormalTailIsSmooth) {
  EXPECT_NEAR(normal_log_cdf(-10.0 - 1e-9), normal_log_cdf(-10.0 + 1e-9), 3e-8);
  EXPECT_DIGITS(normal_log_cdf(-10.0), std::log(normal_cdf(-10.0)), 14);
  EXPECT_TRUE(std::isfinite(normal_log_cdf(-1e100)));
  EXPECT_EQ(normal_log_cdf(40.0), 0.0);
}

// Common practice, no source: what has no answer throws.
TEST(Distributions, RefuseBadCalls) {
  EXPECT_THROW(normal_quantile(0.0), std::domain_error);
  EXPECT_THROW(student_t_quantile(1.0, 3), std::domain_error);
  EXPECT_THROW(student_t_cdf(1.0, 0.0), std::domain_error);
  EXPECT_THROW(chi_square_cdf(-1.0, 2.0), std::domain_error);
  EXPECT_THROW(student_t_cdf(std::nan(""), 2.0), std::domain_error);
}

TEST(OwensT, KnownValues) {
  for (const double h : {0.0, 0.3, 1.7, 4.0}) {
    // Identity: T(h, 1) = Phi(h) Phi(-h) / 2, and T(h, infinity) = Phi(-h) / 2 for h >= 0.
    EXPECT_NEAR(owens_t(h, 1.0), 0.5 * normal_cdf(h) * normal_cdf(-h), 1e-15);
    EXPECT_NEAR(owens_t(h, 1e8), 0.5 * normal_cdf(-h), 1e-8);
  }
  // Identity: T(0, a) = atan(a) / (2 pi).
  EXPECT_NEAR(owens_t(0.0, 0.7), std::atan(0.7) / (2.0 * 3.14159265358979323846), 1e-15);
}

}  // namespace
