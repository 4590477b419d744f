#include "bagsplit/inference/prior/prior_rule.hpp"

#include <algorithm>

namespace bagsplit::inference {

const PriorRule& prior_rule() {
  static const PriorRule rule = [] {
    PriorRule made{};
    double sum = 0.0;
    constexpr int middle = PriorRule::points / 2;
    for (int i = 0; i < PriorRule::points; ++i) {
      made.z[i] = 1.1 * (i - middle);
      made.weight[i] = std::exp(-0.5 * made.z[i] * made.z[i]);
      sum += made.weight[i];
    }
    for (double& w : made.weight) {
      w /= sum;
    }
    return made;
  }();
  return rule;
}

double log_at_node(const Normal& prior, double z) {
  constexpr double edge = 50.0;
  return std::clamp(prior.mean + prior.sd * z, -edge, edge);
}

}  // namespace bagsplit::inference
