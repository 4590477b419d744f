#pragma once

#include <optional>

#include "bagsplit/motion/curve.hpp"
#include "bagsplit/motion/tail.hpp"

/// A full sprint carried on from any place and speed: after a bend, after braking, after a stop.
namespace bagsplit::motion {

/// dv/dt = (V - k max(0, x - x_s) - v)/tau from x = from_m, v = from_mps: the sprint's own equation (curve.hpp).
/// From 0 m at rest it is the curve.
class Onward {
 public:
  /// @param from_m >= 0, run already.  @param from_mps  0 up to below V.
  /// @throws std::domain_error as time_to_distance().
  Onward(const Sprint& sprint, double from_m, double from_mps);

  double speed_mps(double time_s) const;
  double distance_m(double time_s) const;  ///< covered since
  double gaining_mps2(double time_s) const;

  /// Time to a distance further on.  @param distance_m >= 0, finite.  @throws std::domain_error as time_to_distance().
  double time_s(double distance_m) const;

 private:
  Sprint sprint_;
  double from_m_, from_mps_;
  double plain_m_ = 0.0, plain_s_ = 0.0;  // until late slowing begins
  std::optional<Tail> tail_;              // from there on

  double plain_time_s(double distance_m) const;
};

}  // namespace bagsplit::motion
