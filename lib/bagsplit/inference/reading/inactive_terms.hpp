#pragma once

#include <Eigen/Core>
#include <cstdint>
#include <span>
#include <vector>

#include "bagsplit/inference/reading/player_data.hpp"

/// Terms that no reading depends on: given the sprint and the active terms they follow these as the joint prior ties
/// them.
namespace bagsplit::inference {

class InactiveTerms {
 public:
  /// @param active    terms that readings depend on, @param inactive  others that are asked about.
  InactiveTerms(const PlayerData& data, std::span<const std::uint32_t> active, std::span<const std::uint32_t> inactive);

  /// What the prior makes of a term's mean at a sprint so far from the prior's middle (logarithms).
  double sloped(std::uint32_t term, double log_top_speed_off, double log_time_constant_off) const {
    return data_->term_slopes.empty() ? 0.0
                                      : data_->term_slopes[2 * term] * log_top_speed_off +
                                            data_->term_slopes[2 * term + 1] * log_time_constant_off;
  }
  /// Mean of the inactive terms, beyond their own at the sprint, for what the active ones are beyond theirs: inactive x
  /// active.
  const Eigen::MatrixXd& gain() const { return gain_; }
  /// Covariance of all, active ones first, where that of the active ones is `of_active`.
  Eigen::MatrixXd spread(const Eigen::MatrixXd& of_active) const;

 private:
  const PlayerData* data_;
  Eigen::MatrixXd gain_, left_;  // left: what the active ones do not tell of the inactive
};

}  // namespace bagsplit::inference
