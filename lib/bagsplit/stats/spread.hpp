#pragma once

#include <optional>
#include <span>

#include "bagsplit/stats/interval.hpp"

/// How far a standard deviation from few observations can be trusted, and pooling it over groups.
///
/// Assumes: normal, independent observations. The chi-square interval is sensitive to heavy tails (one fall or one late
/// press widens the truth beyond it); it is exact for normal data at any n.
/// Source: chi-square pivot (n - 1) s^2 / sigma^2; Bland & Altman (1996), BMJ 313:744, for pooling within subjects.
namespace bagsplit::stats {

/// A standard deviation on `df` degrees of freedom with its two-sided equal-tailed chi-square interval.
struct SdEstimate {
  double sd;
  double df;
  Interval interval;
};

/// Interval of a standard deviation: sd sqrt(df / chi2_{1-a/2}) to sd sqrt(df / chi2_{a/2}).
/// @param sd >= 0.  @param df > 0 (not necessarily whole).  sd = 0 gives (0, 0): the data say nothing of what rounding
/// hid.
SdEstimate sd_interval(double sd, double df, double level = 0.95);

/// Standard deviation of one sample with its interval. n < 2: none.
std::optional<SdEstimate> sample_sd(std::span<const double> values, double level = 0.95);

/// Standard deviation within groups (within-player, typical error), pooled: sqrt(sum_g SS_g / sum_g (n_g - 1)).
///
/// @param values  n values.  @param group  n labels (any integers, any order); groups of one add nothing and lose
/// nothing. No group with two values: none. Assumes the same SD in every group.
std::optional<SdEstimate> pooled_within_sd(std::span<const double> values, std::span<const int> group,
                                           double level = 0.95);

}  // namespace bagsplit::stats
