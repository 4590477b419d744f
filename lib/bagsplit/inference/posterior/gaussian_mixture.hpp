#pragma once

#include <span>

#include "bagsplit/inference/posterior/estimate.hpp"

/// Mixtures of Gaussians, one component a node: what a posterior says of a linear quantity.
namespace bagsplit::inference {

/// Mean, sd and equal-tailed interval of sum_i w_i N(m_i, s_i^2).
/// Quantiles by Newton's method on the CDF, kept inside a bracket; accuracy about 1e-6 of the SD.
Estimate summarise_mixture(std::span<const double> weights, std::span<const double> means, std::span<const double> sds,
                           double level);

/// Summary of time / (time + loss), the loss Gaussian at each node: an efficiency, 0-1.
/// P(efficiency < c) = P(loss > time (1/c - 1)); mean and SD by a 7-point rule over the loss at each node.
/// @param times_s  > 0.   @param loss_means_s, loss_sds_s  such that time + loss > 0 but for a negligible probability.
Estimate summarise_efficiency(std::span<const double> weights, std::span<const double> times_s,
                              std::span<const double> loss_means_s, std::span<const double> loss_sds_s, double level);

/// Probability that a Gaussian mixture lies below x. Components with sd 0 are steps.
double mixture_below(std::span<const double> weights, std::span<const double> means, std::span<const double> sds,
                     double x);

}  // namespace bagsplit::inference
