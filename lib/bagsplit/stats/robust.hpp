#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "bagsplit/stats/interval.hpp"

namespace bagsplit::stats {

/// A straight line that a few wild points cannot pull away.
struct TheilSen {
  double slope;               ///< median of the slopes of all pairs with different x
  double intercept;           ///< median(y) - slope median(x)
  double residual_intercept;  ///< median(y - slope x): half of the points lie above
  std::size_t pairs;
  std::optional<Interval> slope_interval;  ///< none where ties leave no variance (all y equal)
  double kendall_s = 0.0;                  ///< concordant less discordant pairs
  double kendall_variance = 0.0;           ///< of S where x and y are independent, corrected for ties in both
  std::optional<double> kendall_tau_b;     ///< none when all y are equal
};

/// Theil-Sen slope with Sen's interval (normal approximation to Kendall's S, corrected for ties in x and y: Kendall &
/// Gibbons 1990, Rank Correlation Methods, 5th ed.).
///
/// @param x, y n points, any order.  Fewer than 2 points or all x equal: none.
/// Assumes: errors independent and alike, about a line; no normality. Bears 29% of wild points.
/// Small samples: for n < 8 or so the interval is the whole range of pairwise slopes, and does not reach its level.
/// Cost: O(n^2 log n) time, n(n-1)/2 doubles of memory.
/// Source: Theil (1950), Proc K Ned Akad Wet 53:386-392; Sen (1968), J Am Stat Assoc 63:1379-1389, eq. (2.6).
std::optional<TheilSen> theil_sen(std::span<const double> x, std::span<const double> y, double level = 0.95);

enum class Order { increasing, decreasing };

/// Weighted least-squares fit that never falls (or never rises): pool adjacent violators.
/// @param y n values in order of time, @param weights n values > 0, or empty for equal weights.  Empty gives empty.
/// Assumes only the order. Cost: O(n).
/// Source: Ayer et al. (1955), Ann Math Stat 26:641-647; Robertson, Wright & Dykstra (1988), Order Restricted
/// Statistical Inference, section 1.2.
std::vector<double> isotonic(std::span<const double> y, std::span<const double> weights = {},
                             Order order = Order::increasing);

}  // namespace bagsplit::stats
