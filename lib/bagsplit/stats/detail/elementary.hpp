// Not installed.
#pragma once

#include <algorithm>
#include <cmath>

namespace bagsplit::stats {

constexpr double square(double x) {
  return x * x;
}

inline constexpr double log_two_pi = 1.8378770664093454836;
inline constexpr double log_sqrt_two_pi = 0.5 * log_two_pi;

/// log(exp(a) + exp(b)) without overflow.
inline double log_add(double a, double b) {
  return std::max(a, b) + std::log1p(std::exp(-std::fabs(a - b)));
}

}  // namespace bagsplit::stats
