#pragma once

/// Distribution functions and quantiles, one plain function each, so that Boost.Math is compiled once.
/// Degrees of freedom need not be whole numbers. Accuracy: 12 digits or more over the ranges used here
/// (distributions_test).
/// @throws std::domain_error for a probability outside (0, 1), degrees of freedom not above 0, or NaN.
/// Source: Boost.Math; definitions as in Johnson, Kotz & Balakrishnan (1995), Continuous Univariate Distributions, 2nd
/// ed.
namespace bagsplit::stats {

double normal_cdf(double z);       ///< P(Z <= z), standard normal; keeps its digits in the lower tail.
double normal_log_cdf(double z);   ///< log P(Z <= z), finite far into the lower tail (z down to -1e150).
double normal_quantile(double p);  ///< z with P(Z <= z) = p.
/// Owen's T(h, a): P(X > h and 0 < Y < a X), X and Y independent standard normal.
double owens_t(double h, double a);
double student_t_cdf(double t, double df);
double student_t_two_sided_p(double t, double df);  ///< P(|T| >= |t|).
double student_t_quantile(double p, double df);     ///< df may be infinite (normal).
double chi_square_cdf(double x, double df);
double chi_square_quantile(double p, double df);
double f_upper_tail(double f, double df1, double df2);  ///< P(F >= f).
double f_quantile(double p, double df1, double df2);
double noncentral_t_quantile(double p, double df, double ncp);

}  // namespace bagsplit::stats
