#pragma once

#include <functional>

#include "bagsplit/norms/norm.hpp"

/// The percentile of a time that is itself uncertain: the player's posterior carried through the reference.
namespace bagsplit::norms {

/// A time as the reference would have measured it.
struct UncertainTime {
  double lo_s = 0.0, median_s = 0.0, hi_s = 0.0;  ///< of an equal-tailed interval
  double from_s = 0.0, to_s = 0.0;                ///< times between which it lies, but for 1e-7 at each end
  std::function<double(double)> below;            ///< P(T < t), non-decreasing
};

struct PercentileSummary {
  double mean = 0.0;  ///< percentile points, higher is better
  double sd = 0.0;
  double lo = 0.0;  ///< of the time's interval
  double median = 0.0;
  double hi = 0.0;
  double share_at_limit = 0.0;  ///< probability that the percentile is at the lowest or highest the reference may say
};

/// Quantiles by the monotone map from time (the fast tail of the time is the high tail of the percentile); mean and SD
/// by Gauss-Legendre quadrature of P(T < t) against the reference, some 80 values of it.
/// @throws std::domain_error unless from_s <= to_s are finite; std::invalid_argument when the reference gives only
/// words. Accuracy: mean and SD to 2e-3 percentile points where P(T < t) is smooth over a twelfth of the range
/// (uncertain_test).
PercentileSummary percentile_of(const Reference& reference, const UncertainTime& time);

}  // namespace bagsplit::norms
