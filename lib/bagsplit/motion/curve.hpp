#pragma once

#include <span>

/// The straight sprint: speed rises exponentially towards a top speed, which falls once the sprint gets long.
///
///   symbol   meaning                                                          unit
///   V        top speed, `top_speed_mps`                                       m/s
///   tau      time constant, `time_constant_s`                                 s
///   k        late slowing, `late_slowing_per_s`                               1/s
///   d, t     distance and time from first move                                m, s
///   t_s, x_s where late slowing begins, `late_slowing_from_s`, `_from_m()`    s, m
///
///   dv/dt = (V - k max(0, x - x_s) - v)/tau,   x_s = x(t_s),   so that up to t_s
///   v(t) = V (1 - exp(-t/tau)),   x(t) = V (t - tau (1 - exp(-t/tau)))
///
/// README.md has the closed form beyond, where it comes from and what it is good for.
/// Source: Furusawa, Hill & Parkinson (1927), Proc R Soc B 102:29-42; Samozino et al. (2016), Scand J Med Sci Sports
/// 26:648-658, doi:10.1111/sms.12490.
namespace bagsplit::motion {

/// Late slowing begins this long after first move, at every age. Source: README.md.
inline constexpr double late_slowing_from_s = 6.5;

struct Sprint {
  double top_speed_mps;             ///< V > 0
  double time_constant_s;           ///< tau > 0
  double late_slowing_per_s = 0.0;  ///< k >= 0, 4 k tau <= 0.9; 0: top speed is held for ever

  double max_acceleration_mps2() const { return top_speed_mps / time_constant_s; }  ///< V/tau, at first move
};

/// Where late slowing begins [m], x_s = V (t_s - tau (1 - exp(-t_s/tau))), whether or not there is any.
double late_slowing_from_m(const Sprint& sprint);

/// The sprint with no more late slowing than the curve bears up to a distance: at most 0.45 of the top speed is lost by
/// then. For sums over sprints of which some are too slow to be true.  @param distance_m  >= 0.
Sprint slowing_up_to(Sprint sprint, double distance_m);

/// Speed at a time after first move [m/s].  @param time_s >= 0.
double speed_at_time(const Sprint& sprint, double time_s);

/// Distance covered at a time after first move [m], in a form that keeps its digits for t << tau.  @param time_s >= 0.
/// Accuracy: relative error below 1e-14 (measured, 1e-6 s to 100 s); with late slowing 1e-12.
double distance_at_time(const Sprint& sprint, double time_s);

/// Time from first move to a distance, straight sprint, without reaction or losses.
///
/// t(d) = tau (c + W0(-exp(-c))), c = 1 + d / (V tau), W0 the principal Lambert W. With a = d/(V tau) and u = t/tau
/// this is the root of u - (1 - exp(-u)) = a. The Lambert form loses digits as d -> 0 (branch point), so the root is
/// found from series on both sides of a = 1 and one Halley step on the equation itself, which keeps full precision
/// everywhere and agrees with Boost.Math lambert_w0.
///
/// With late slowing, beyond x_s: the slow exponential alone in closed form, then Halley steps (tail.hpp, README.md).
///
/// @param distance_m >= 0, finite; k (d - x_s) below V/2, some 200 m for a child.   @return time [s]; 0 at distance 0.
/// @throws std::domain_error naming the argument, its value and the bound.
/// Accuracy: relative error below 2e-14 for d/(V tau) from 1e-20 to 1e5, against 50 digits (tests/motion); with late
/// slowing 1e-12. Cost: 21 ns; beyond x_s about 0.15 us.
/// Not for: runs with a rolling start (see time_from_beam, onward.hpp), wind, slopes; beyond some 25 s of running
/// nothing is published.
/// Source: the closed form follows from x(t) above; Corless et al. (1996), Adv Comput Math 5:329-359, for W.
double time_to_distance(const Sprint& sprint, double distance_m);

/// Time from a beam, `beam_m` in front of where the runner started, to a mark `distance_m` further on: t(d + x0) -
/// t(x0). With beam_m = 0 it is time_to_distance().
double time_from_beam(const Sprint& sprint, double beam_m, double distance_m);

/// 1 over the speed at a place [s/m], dt/dd.  @param distance_m > 0, as in time_to_distance().
double slowness_s_pm(const Sprint& sprint, double distance_m);

/// How t(d) moves with the logarithms of V and tau [s], and with k [s per 1/s].
///
/// With u = t/tau, a = d/(V tau):  dt/dlog V = -tau a / (1 - exp(-u)),  dt/dlog tau = t - tau a / (1 - exp(-u)),
/// dt/dk = 0; beyond x_s README.md. At k = 0 dt/dk is that of the first bit of slowing.
/// @param distance_m > 0, finite.
struct TimeGradient {
  double time_s;
  double by_log_top_speed_s;
  double by_log_time_constant_s;
  double by_late_slowing_s2;
};
TimeGradient time_gradient(const Sprint& sprint, double distance_m);

/// Time to a distance beyond late_slowing_from_m(), and dt/dk there: half the work of time_gradient().
/// @param sprint  with late slowing, as slowing_up_to() has it; not checked.
struct LateTime {
  double time_s, by_late_slowing_s2;
};
LateTime late_time(const Sprint& sprint, double distance_m);

/// The same of time_from_beam().  @param beam_m >= 0, finite.
TimeGradient time_gradient_from_beam(const Sprint& sprint, double beam_m, double distance_m);

/// Solves u - (1 - exp(-u)) = a for u >= 0: the dimensionless core of time_to_distance. @param a >= 0 (not checked).
double dimensionless_time(double a);

}  // namespace bagsplit::motion
