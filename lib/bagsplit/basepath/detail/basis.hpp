#pragma once

#include <cstddef>

/// The cubic on one interval, xi in [0, 1], and the Gauss points where limits are imposed. Internal to basepath.
namespace bagsplit::basepath::basis {

/// Unknowns in order: value at 0; coefficients of xi (1 - xi) and of xi (1 - xi)(2 xi - 1); value at 1.
struct Basis {
  double value[4], slope[4];
};

inline constexpr Basis at(double x) {
  const double q = x * (1.0 - x);
  const double r = 1.0 - 2.0 * x;
  return {{1.0 - x, q, -q * r, x}, {-1.0, r, 2.0 * q - r * r, 1.0}};
}

// sqrt(15)/10, for the three-point Gauss rule on [0, 1] (weights 5/18, 8/18, 5/18).
inline constexpr double gauss_offset = 0.38729833462074168852;
inline constexpr double gauss_node[3] = {0.5 - gauss_offset, 0.5, 0.5 + gauss_offset};
inline constexpr double gauss_weight[3] = {5.0 / 18.0, 8.0 / 18.0, 5.0 / 18.0};
inline constexpr Basis gauss[3] = {at(gauss_node[0]), at(gauss_node[1]), at(gauss_node[2])};

}  // namespace bagsplit::basepath::basis
