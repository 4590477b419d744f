#pragma once

#include <optional>
#include <span>

namespace bagsplit::stats {

/// One-way analysis of variance.
struct OneWayAnova {
  double df_between;
  double df_within;
  double ss_between;
  double ss_within;
  double ms_between;
  double ms_within;
  std::optional<double> f;          ///< none when there is no scatter within groups
  std::optional<double> p;          ///< P(F >= f)
  std::optional<double> r_squared;  ///< none when all values are equal
  double residual_sd;
  double mean_group_size;   ///< n0 = (N - sum n_g^2 / N) / (g - 1), the weight of the between-group variance
  double variance_between;  ///< (MSB - MSW) / n0, moment estimate; may be negative, not truncated
};

/// One-way ANOVA, groups by label.
///
/// Sums of squares are formed from deviations carried with their rounding error, so only what the values lost when
/// written as doubles is lost (NIST SmLs07, 13 constant leading digits: 3.5 digits, the most that doubles hold).
/// @param values N values.  @param group N labels (any integers, any order).
/// Assumes: normal errors of one variance, independent values. Groups of one are allowed.
/// Fewer than 2 groups, or no group with two values: none.  All equal: f, p and r_squared absent.
/// Cost: O(N log N).  @throws std::invalid_argument on different sizes, std::domain_error on NaN.
/// Source: Fisher (1925), Statistical Methods for Research Workers; NIST StRD for the accuracy.
std::optional<OneWayAnova> one_way_anova(std::span<const double> values, std::span<const int> group);

}  // namespace bagsplit::stats
