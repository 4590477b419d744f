#pragma once

#include <functional>
#include <span>

#include "bagsplit/norms/norm.hpp"

/// The percentile of a time that is itself uncertain: the player's posterior carried through the reference.
namespace bagsplit::norms {

/// One part of a Gaussian mixture for the time, as the reference would have measured it.
struct Component {
  double weight = 1.0;  ///< >= 0; normalised here
  double mean_s = 0.0;
  double sd_s = 0.0;  ///< >= 0
};

struct PercentileSummary {
  double mean = 0.0;  ///< percentile points, higher is better
  double sd = 0.0;
  double lo = 0.0;  ///< equal-tailed interval
  double median = 0.0;
  double hi = 0.0;
  double share_at_limit = 0.0;  ///< probability that the percentile is at the lowest or highest the reference may say
};

/// Percentile of a time known as a mixture of Gaussians. Quantiles by the monotone map from time (the fast tail of the
/// time is the high tail of the percentile); mean and SD by Gauss-Legendre quadrature of P(T <= t) against the
/// reference.
/// @param time   at least one component, weights not all 0.   @param level in (0, 1), equal-tailed.
/// @throws std::invalid_argument, std::domain_error; std::invalid_argument when the reference gives only words.
/// Accuracy: mean and SD to 1e-4 percentile points against the closed form for a normal reference (uncertain_test).
PercentileSummary percentile_of(const Reference& reference, std::span<const Component> time, double level);

/// The same for any distribution of the time. @param cdf  P(T <= t), non-decreasing.
/// @param from_s, to_s  times between which the distribution lies, but for 1e-9 at each end.
PercentileSummary percentile_of(const Reference& reference, const std::function<double(double)>& cdf, double from_s,
                                double to_s, double level);

}  // namespace bagsplit::norms
