#pragma once

#include <cmath>

#include "bagsplit/inference/reading/player_data.hpp"
#include "bagsplit/motion/curve.hpp"

/// Integrals over the prior of (log V, log tau), for the share of an answer that comes from the readings.
namespace bagsplit::inference {

/// Nodes and weights of a trapezoid rule for one normal variable (z in its SDs; weights sum to 1).
struct PriorRule {
  static constexpr int points = 9;
  double z[points];
  double weight[points];
};
const PriorRule& prior_rule();

/// A logarithm at one of its nodes. A prior so wide that the sprint would be no number stops at the edge of what is
/// one: such a prior leaves all to the readings either way.
double log_at_node(const Normal& prior, double z);

/// SDs of log tau from its mean at a node of the rule, given how it goes with log V.
inline double log_time_constant_z(const PlayerData& data, double z, double of_its_own) {
  return data.log_correlation * z + std::sqrt(1.0 - data.log_correlation * data.log_correlation) * of_its_own;
}

/// Variance of a function of (V, tau) under the Gaussian prior of log V and log tau - with a squad's model that which
/// all others' runs leave: a 9 x 9 trapezoid rule.
/// @param function  called with a Sprint, returns double.
template <typename Function>
double prior_variance_of(const PlayerData& data, Function&& function) {
  const PriorRule& rule = prior_rule();
  const SlowingSprints sprints(data);
  double sum = 0.0;
  double square = 0.0;
  double reference = 0.0;
  bool first = true;
  for (int i = 0; i < PriorRule::points; ++i) {
    const double top_speed_mps = std::exp(log_at_node(data.log_top_speed, rule.z[i]));
    for (int j = 0; j < PriorRule::points; ++j) {
      const double z = log_time_constant_z(data, rule.z[i], rule.z[j]);
      const double value = function(sprints(top_speed_mps, std::exp(log_at_node(data.log_time_constant, z))));
      if (first) {
        reference = value;
        first = false;
      }
      const double weight = rule.weight[i] * rule.weight[j];
      sum += weight * (value - reference);
      square += weight * (value - reference) * (value - reference);
    }
  }
  return square - sum * sum;
}

}  // namespace bagsplit::inference
