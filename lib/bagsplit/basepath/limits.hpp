#pragma once

#include <string_view>
#include <variant>

/// What a runner can do on the bases: propulsion, turning, braking. SI.
namespace bagsplit::basepath {

/// A runner. With a_t along and a_n across the velocity, P = (V - k max(0, X - x_s) - v)/tau after X metres of path:
///   gaining speed   (a_t/P)^2 + (a_n/L)^2 <= 1,        losing speed   (a_t/B)^2 + (a_n/L)^2 <= 1.
/// Where the runner is faster than what late slowing leaves, P < 0: -P is lost besides, and costs no grip.
struct RunnerLimits {
  double top_speed_mps;             ///< V, as in the sprint curve; 0.5 to 15
  double time_constant_s;           ///< tau, as in the sprint curve; 0.05 to 10
  double lateral_mps2;              ///< L, 0.2 to 100
  double braking_mps2;              ///< B, 0.2 to 100
  double late_slowing_per_s = 0.0;  ///< k, as in the sprint curve; 4 k tau <= 0.9
};

/// A point mass whose acceleration is at most this in any direction, with no top speed (Carozza, Johnson & Morgan
/// 2010).
struct PointMassLimit {
  double acceleration_mps2;  ///< r, 0.01 to 1000
};

using Limits = std::variant<RunnerLimits, PointMassLimit>;

/// A number that is poorly known: what is used where nobody says otherwise, and the range to try.
struct RangedDefault {
  double value, low, high;
  std::string_view source;
};

/// Lateral limit of a young runner [m/s2]: 4.0, range 2.5 to 6.0.
///
/// No measurement on children could be found. Adults: a steady 6 m/s on a radius of 6 m asks for 6.0 and was run;
/// sprinters at their best on 17.2 m (10 % below their straight speed, taken as 9 m/s) use 3.8; college players who
/// slow from 8.0 to 6.9 m/s round first do what a limit of about 3 would make best. See README.md.
RangedDefault default_lateral_mps2();

/// Braking limit of a young runner [m/s2]: 3.0, range 2.2 to 4.5.
///
/// Children of 6-10 who stop on a signal slow at 2.24 to 3.19 (means of groups; they did not know when); 3.05 is
/// assumed in any direction by Carozza et al. A runner who sees the bag coming can use more.
RangedDefault default_braking_mps2();

/// @throws std::domain_error naming the limit, its value and the bound, when one is not finite or out of the ranges
/// above.
void check(const Limits& limits);

/// Top speed on a steady bend: on a circle nothing is left for gaining speed, so v = min(V, sqrt(L R)); sqrt(r R) for
/// the point mass. A runner whose V^2/R is below L loses nothing; measured runners do (see README.md for the
/// comparison).
/// @param radius_m > 0.  @throws std::domain_error.
double steady_bend_speed_mps(const Limits& limits, double radius_m);

}  // namespace bagsplit::basepath
