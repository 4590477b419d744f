#pragma once

#include <cstddef>
#include <optional>
#include <span>

namespace bagsplit::stats {

/// What a mean and an SD need of a sample, in a form that merges: shards of a large file are summed up apart, the sums
/// added.
///
/// Merging is exact but for rounding, whatever the shards and their order: 7 digits of the variance are left where the
/// mean is 10^7 SDs (moments_test). Empty: count 0. Source: Chan, Golub & LeVeque (1983), Am Stat 37:242-247,
/// doi:10.1080/00031305.1983.10483115, equations 2.1.
struct Moments {
  std::size_t count = 0;
  double mean = 0.0;
  double squares = 0.0;  ///< sum of (x - mean)^2

  /// @throws std::domain_error for a value that is not finite.
  static Moments of(std::span<const double> values);
  void merge(const Moments& other);
  /// Divisor count - 1. Fewer than 2: none.
  std::optional<double> variance() const;
};

}  // namespace bagsplit::stats
