#pragma once

#include <optional>
#include <span>

namespace bagsplit::stats {

/// Which definition of a sample quantile (numbers as in Hyndman & Fan 1996).
enum class QuantileType {
  inverse_cdf = 1,  ///< smallest value whose cumulative share is at least p; always one of the values
  weibull = 6,      ///< interpolates at (n + 1) p; the right one for ends of bootstrap and permutation distributions
  linear = 7,       ///< interpolates at (n - 1) p + 1; what spreadsheets and most programs print
};

/// Quantile of sorted values.
///
/// With h = (n + 1) p (type 6) or (n - 1) p + 1 (type 7), clamped to [1, n]: x_[h] + (h - [h]) (x_[h]+1 - x_[h]).
/// @param sorted  n values, ascending, finite (ascending order is checked).   @param p in [0, 1].
/// n = 0: none; n = 1: that value; ties are handled as they stand.
/// @throws std::domain_error for p outside [0, 1], std::invalid_argument if not ascending. Cost: O(n) for the check.
/// Source: Hyndman & Fan (1996), Am Stat 50:361-365, doi:10.1080/00031305.1996.10473566.
std::optional<double> quantile_sorted(std::span<const double> sorted, double p,
                                      QuantileType type = QuantileType::linear);

/// As quantile_sorted, for values in any order (copied and sorted).
std::optional<double> quantile(std::span<const double> values, double p, QuantileType type = QuantileType::linear);

/// Median: the middle value, or the mean of the two middle ones. n = 0: none.
std::optional<double> median(std::span<const double> values);

}  // namespace bagsplit::stats
