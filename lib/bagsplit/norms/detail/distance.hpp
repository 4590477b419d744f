// Not installed.
#pragma once

#include <cmath>

namespace bagsplit::norms {

/// Distances that count as one: within 5 mm.
inline bool same_distance(double a_m, double b_m) {
  constexpr double tolerance_m = 0.005;
  return std::abs(a_m - b_m) <= tolerance_m;
}

}  // namespace bagsplit::norms
