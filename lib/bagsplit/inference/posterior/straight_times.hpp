#pragma once

#include <vector>

#include "bagsplit/inference/posterior/posterior.hpp"

namespace bagsplit::inference {

/// Time of each node's sprint over a distance, with the late slowing that is likely there.
inline std::vector<double> straight_times_s(const Posterior& posterior, double distance_m) {
  std::vector<double> at_usual(posterior.size());
  for (std::size_t i = 0; i < posterior.size(); ++i) {
    at_usual[i] = straight_time_s(posterior.sprints()[i], distance_m);
  }
  std::vector<double> out(posterior.size());
  std::vector<double> sds(posterior.size());
  const auto [late, coefficients] = posterior.with_late({}, distance_m);
  posterior.mixture(at_usual, late, coefficients, out, sds);
  return out;
}

}  // namespace bagsplit::inference
