#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "bagsplit/timing/reading_error.hpp"

/// Several watches on one run, combined by the error model: for estimates, not for official times.
namespace bagsplit::timing {

/// One watch's time at a mark.
struct WatchTime {
  double time_s = 0.0;
  ReadingError error;
  /// Watches of one group share the device and start part of their bias: it does not average out among them. Give the
  /// same number to all watches of one device profile and start timing.
  std::size_t group = 0;
};

struct CombinedTime {
  double time_s = 0.0;             ///< bias means taken off
  double sd_s = 0.0;               ///< whole uncertainty, shared bias included
  double sd_without_bias_s = 0.0;  ///< scatter of the presses alone: what compares two runs timed by the same people
  std::vector<double> weights;     ///< of the watches, same order, sum 1
  double disagreement = 0.0;       ///< chi-square of the watches about their mean, own errors only...
  std::size_t degrees = 0;         ///< ...with so many degrees of freedom (n - groups); large means a slip on a watch
};

/// Generalised least squares under time_r = T + shared_g + own_r + press_r.
///
/// Within a group weights are 1 / (bias_timer_sd^2 + start_sd^2 + split_sd^2); groups are weighted by 1 / (variance of
/// that mean + shared variance). k equal watches: SD^2 = own^2/k + shared^2, so more watches never go below the shared
/// bias.
/// @param watches  n >= 1, each time finite, each own variance > 0.
/// @throws std::domain_error, std::invalid_argument.
/// Source: weighted least squares with a known covariance (Aitken 1936, Proc R Soc Edinb 55:42-48).
CombinedTime combine_watches(std::span<const WatchTime> watches);

}  // namespace bagsplit::timing
