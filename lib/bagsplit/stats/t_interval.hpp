#pragma once

#include <optional>
#include <span>

#include "bagsplit/stats/interval.hpp"

/// Student's t: intervals and tests for one mean, paired differences and two means.
///
/// Assumes: observations independent, differences or groups near normal (with n = 3 this cannot be checked: lean on
/// what is known of the measurement). Equal values: standard error 0, an interval of width 0, and no t or p. That is
/// what the arithmetic gives, not what is known: rounded times hide their scatter, so add resolution^2/12 where it is
/// known. Cost: O(n).  @throws std::domain_error on NaN or infinite values or a level outside (0, 1). Source: Student
/// (1908), Biometrika 6:1-25, doi:10.1093/biomet/6.1.1; Welch (1947), Biometrika 34:28-35.
namespace bagsplit::stats {

/// A mean or difference of means with what Student's t says about it.
struct TEstimate {
  double estimate;
  double se;
  double df;
  Interval interval;                  ///< two-sided, at the level asked for
  std::optional<double> t;            ///< (estimate - hypothesis) / se; none when se = 0
  std::optional<double> p_two_sided;  ///< none when se = 0
};

/// Mean of a sample against `hypothesis`. n < 2: none.
std::optional<TEstimate> one_sample_t(std::span<const double> x, double level = 0.95, double hypothesis = 0.0);

/// Mean of x_i - y_i. @param x, y same size, pair by pair. n < 2: none.
std::optional<TEstimate> paired_t(std::span<const double> x, std::span<const double> y, double level = 0.95);

/// mean(x) - mean(y), variances not assumed equal, Satterthwaite's df. Either group n < 2, or both groups without any
/// scatter (df is 0/0): none.
std::optional<TEstimate> welch_t(std::span<const double> x, std::span<const double> y, double level = 0.95);

/// mean(x) - mean(y), one variance pooled over both groups, df = n1 + n2 - 2. A group of one is allowed (it adds
/// nothing to the variance); an empty group or n1 + n2 < 3: none.
std::optional<TEstimate> pooled_t(std::span<const double> x, std::span<const double> y, double level = 0.95);

/// The t estimate for anything with a standard error on `df` degrees of freedom (infinite df: normal).
/// @param se >= 0.  @param df > 0.
TEstimate t_estimate(double estimate, double se, double df, double level = 0.95, double hypothesis = 0.0);

}  // namespace bagsplit::stats
