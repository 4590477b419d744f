// Not installed.
#pragma once

namespace bagsplit::stats {

constexpr double square(double x) {
  return x * x;
}

inline constexpr double log_two_pi = 1.8378770664093454836;
inline constexpr double log_sqrt_two_pi = 0.5 * log_two_pi;

}  // namespace bagsplit::stats
