#pragma once

#include <cstddef>
#include <vector>

#include "bagsplit/basepath/limits.hpp"

/// Two simple ways round the bases under the same limits, to compare the best path with.
namespace bagsplit::basepath {

struct Yardstick {
  double total_s = 0.0;
  double length_m = 0.0;
  std::vector<double> leg_s;
  std::vector<double> bag_speed_mps;  ///< at the end of each leg
};

/// Radius on which a runner who keeps to the base lines is taken to turn at a bag: about one stride. Common practice,
/// no source.
inline constexpr double default_corner_radius_m = 1.0;

/// Straight along the base lines with slow corners: each corner is a quarter circle of `corner_radius_m` from one base
/// line to the next, run at the speed of a steady bend (or slower, where that is not reached); the lines between are
/// run with full propulsion, then full braking. 0 stands for a full stop at each bag. The arc passes 0.41 radii inside
/// the measuring point: with 1 m within reach of the bag. A leg ends in the middle of its corner.
/// @param legs  1 to 4, from rest.  @param stop  comes to rest at the end.  @param corner_radius_m  0 to 5, and below
/// half the
///   base distance.
/// @throws std::domain_error.
Yardstick square_path(std::size_t legs, double base_distance_m, const Limits& limits, bool stop,
                      double corner_radius_m = default_corner_radius_m);

/// Along the circle through the four bags (radius base distance / sqrt 2), as fast as the limits allow.
///
/// With beta = v^2/(R L) the share of friction used for turning, dv/dt = P(v) sqrt(1 - beta^2) up to v = min(V, sqrt(L
/// R)), and -B sqrt(1 - beta^2) before a stop. Integrated by Gauss-Kronrod quadrature over phi, sin phi = beta (or over
/// the straight sprint's own clock where V is reached first).
/// With late slowing the motion is stepped through instead.
/// @throws std::domain_error.  Accuracy: relative 1e-9, with late slowing 1e-6 (yardstick_test).
Yardstick circle_path(std::size_t legs, double base_distance_m, const Limits& limits, bool stop);

}  // namespace bagsplit::basepath
