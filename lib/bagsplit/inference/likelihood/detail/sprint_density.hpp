#pragma once

#include <cstddef>
#include <span>

namespace bagsplit::inference {

/// What is integrated over (log V, log tau): an unnormalised density with, at each point, the Gaussian of some linear
/// terms. Mode search and lattice know no more of a player than this.
class SprintDensity {
 public:
  virtual ~SprintDensity() = default;

  virtual std::size_t term_count() const = 0;
  /// log of the density at (log V, log tau).
  virtual double log_posterior(double log_top_speed, double log_time_constant) = 0;
  /// As log_posterior; also the mean of the terms there (q values) and their covariance (q x q, row-major).
  virtual double condition(double log_top_speed, double log_time_constant, std::span<double> means,
                           std::span<double> covariance) = 0;
};

}  // namespace bagsplit::inference
