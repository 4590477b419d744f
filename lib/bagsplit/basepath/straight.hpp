#pragma once

#include "bagsplit/basepath/limits.hpp"

/// The best run along a straight line, in closed form (up to one equation in one unknown).
namespace bagsplit::basepath {

/// A run along a line: full propulsion for `gaining_s`, then full braking for `losing_s` (0 where none is needed).
struct StraightRun {
  double gaining_s = 0.0, losing_s = 0.0;
  double start_speed_mps = 0.0, peak_speed_mps = 0.0, end_speed_mps = 0.0;
  double gaining_m = 0.0;  ///< distance covered while gaining
  double before_m = 0.0;   ///< run before it began

  double total_s() const { return gaining_s + losing_s; }
};

/// Runs `distance_m` from `start_speed_mps` and is no faster than `end_speed_mps` at its end (infinity: runs through).
///
/// Runner: the sprint curve carried on (motion/onward.hpp). Point mass: v^2 = v0^2 + 2 r x. Braking is at B (r)
/// throughout.
///
/// @param distance_m >= 0.  @param start_speed_mps  0 up to below the top speed.  @param end_speed_mps >= 0.
/// @param before_m  run already, for late slowing; >= 0.
/// @return  nothing to certify: exact to rounding (relative 1e-12).
/// @throws std::domain_error on bad arguments, beyond what the sprint curve allows (motion/curve.hpp), and when the run
/// cannot be slow enough at its end: start_speed^2 - end_speed^2
///   above 2 B distance.
StraightRun straight_run(const Limits& limits, double distance_m, double start_speed_mps, double end_speed_mps,
                         double before_m = 0.0);

/// Time over a distance from rest, running through: what path times are compared with.
double straight_time_s(const Limits& limits, double distance_m);

/// Speed and distance a time after the start of such a run.
struct StraightState {
  double speed_mps, distance_m, acceleration_mps2;
};
StraightState straight_state(const Limits& limits, const StraightRun& run, double time_s);

}  // namespace bagsplit::basepath
