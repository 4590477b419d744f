#pragma once

#include <span>

#include "bagsplit/sprint/posterior.hpp"

/// Estimates of one quantity under several values of what the squad shares, into one.
namespace bagsplit::coach {

/// Mixture of estimates: mean and SD exactly; quantiles by inverting the mixture of their distribution functions, each
/// rebuilt from its three quantiles (median + a z + b z^2 through them; straight lines in z where that would not rise).
/// Exact for one estimate, and for normal ones; within about 1% of an SD for the skewness met here.
/// @param weights  sum 1.   @param level  of the intervals, all the same.
/// share_from_data is the weighted mean where all have one.
sprint::Estimate merge_estimates(std::span<const double> weights, std::span<const sprint::Estimate> estimates,
                                 double level);

}  // namespace bagsplit::coach
