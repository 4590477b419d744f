#include "bagsplit/motion/curve.hpp"

#include <algorithm>
#include <cmath>
#include <sstream>
#include <stdexcept>

#include "bagsplit/motion/checks.hpp"
#include "bagsplit/motion/tail.hpp"

namespace bagsplit::motion {

namespace detail {

void refuse(const char* function, const char* argument, double value, const char* bound) {
  std::ostringstream text;
  text << function << ": " << argument << " is " << value << ", but must be " << bound;
  throw std::domain_error(text.str());
}

void check(const char* function, const Sprint& sprint) {
  if (!(sprint.top_speed_mps > 0.0) || !std::isfinite(sprint.top_speed_mps)) {
    refuse(function, "top_speed_mps", sprint.top_speed_mps, "finite and above 0");
  }
  if (!(sprint.time_constant_s > 0.0) || !std::isfinite(sprint.time_constant_s)) {
    refuse(function, "time_constant_s", sprint.time_constant_s, "finite and above 0");
  }
  if (!(sprint.late_slowing_per_s >= 0.0 && 4.0 * sprint.late_slowing_per_s * sprint.time_constant_s <= 0.9)) {
    refuse(function, "late_slowing_per_s", sprint.late_slowing_per_s, "at least 0 and at most 0.225 / time_constant_s");
  }
}

void check_not_negative(const char* function, const char* argument, double value) {
  if (!(value >= 0.0) || !std::isfinite(value)) {
    refuse(function, argument, value, "finite and at least 0");
  }
}

void check_late(const char* function, const Sprint& sprint, const char* argument, double value, double late_m) {
  if (!(sprint.late_slowing_per_s * late_m < 0.5 * sprint.top_speed_mps)) {
    refuse(function, argument, value, "short enough for late slowing to leave more than half of the top speed");
  }
}

}  // namespace detail

namespace {

using detail::check;
using detail::check_not_negative;
using detail::refuse;

// x_s in seconds at top speed.
double slowing_from(const Sprint& sprint) {
  return sprint.time_constant_s * covered(late_slowing_from_s / sprint.time_constant_s);
}

Tail tail_of(const Sprint& sprint) {
  return {sprint.time_constant_s, sprint.late_slowing_per_s, 1.0,
          -std::expm1(-late_slowing_from_s / sprint.time_constant_s)};
}

double time_at(const Sprint& sprint, const char* function, const char* argument, double distance_m) {
  const double tau = sprint.time_constant_s;
  if (sprint.late_slowing_per_s > 0.0) {
    const double late = distance_m / sprint.top_speed_mps - slowing_from(sprint);
    if (late > 0.0) {
      detail::check_late(function, sprint, argument, distance_m, late * sprint.top_speed_mps);
      return late_slowing_from_s + tail_of(sprint).time(late);
    }
  }
  return tau * dimensionless_time(distance_m / (sprint.top_speed_mps * tau));
}

// Seconds of running beyond which late slowing has taken half of the speed.
void check_late_time(const char* function, const Sprint& sprint, const Tail& tail, double time_s) {
  detail::check_late(function, sprint, "time_s", time_s,
                     tail.covered(time_s - late_slowing_from_s) * sprint.top_speed_mps);
}

}  // namespace

double late_slowing_from_m(const Sprint& sprint) {
  check("late_slowing_from_m", sprint);
  return sprint.top_speed_mps * slowing_from(sprint);
}

Sprint slowing_up_to(Sprint sprint, double distance_m) {
  constexpr double most_lost = 0.45;  // the curve is there for half,
  constexpr double most_bent = 0.2;   // and for k tau up to 0.225
  if (sprint.late_slowing_per_s > 0.0) {
    const double late = distance_m / sprint.top_speed_mps - slowing_from(sprint);
    sprint.late_slowing_per_s =
        std::min(sprint.late_slowing_per_s, most_bent / std::max(sprint.time_constant_s, late * most_bent / most_lost));
  }
  return sprint;
}

double dimensionless_time(double a) {
  if (a <= 0.0) {
    return 0.0;
  }
  if (a > 40.0) {
    return 1.0 + a;  // exp(-u) is below half a unit in the last place
  }
  // Start. Small a: the inverse series in s = sqrt(2a) (the branch-point series of W, coefficients as in Corless et al.
  // 1996, section 4). Large a: the series of W0 at exp(-1-a). Both are within 1e-4 of the root on their side of a = 1.
  double u;
  if (a < 1.0) {
    const double s = std::sqrt(2.0 * a);
    u = s *
        (1.0 + s * (1.0 / 6.0 +
                    s * (1.0 / 36.0 +
                         s * (1.0 / 270.0 + s * (1.0 / 4320.0 + s * (-1.0 / 17010.0 + s * (-139.0 / 5443200.0 +
                                                                                           s * (-1.0 / 204120.0))))))));
    if (s < 0.01) {
      return u;  // the first term left out is below 1e-21 of u
    }
  } else {
    const double e = std::exp(-(1.0 + a));
    u = 1.0 + a - e * (1.0 + e * (1.0 + e * (1.5 + e * (8.0 / 3.0 + e * (125.0 / 24.0 + e * 10.8)))));
  }
  // One Halley step (error cubed) on f(u) = covered(u) - a, f' = 1 - exp(-u), f'' = exp(-u).
  const double e = std::exp(-u);
  const double slope = u > 0.5 ? 1.0 - e : -std::expm1(-u);
  const double f = (u > 0.5 ? u - slope : covered(u)) - a;
  return u - f * slope / (slope * slope - 0.5 * f * e);
}

double speed_at_time(const Sprint& sprint, double time_s) {
  check("speed_at_time", sprint);
  check_not_negative("speed_at_time", "time_s", time_s);
  if (sprint.late_slowing_per_s > 0.0 && time_s > late_slowing_from_s) {
    const Tail tail = tail_of(sprint);
    check_late_time("speed_at_time", sprint, tail, time_s);
    return sprint.top_speed_mps * tail.speed(time_s - late_slowing_from_s);
  }
  return -sprint.top_speed_mps * std::expm1(-time_s / sprint.time_constant_s);
}

double distance_at_time(const Sprint& sprint, double time_s) {
  check("distance_at_time", sprint);
  check_not_negative("distance_at_time", "time_s", time_s);
  if (sprint.late_slowing_per_s > 0.0 && time_s > late_slowing_from_s) {
    const Tail tail = tail_of(sprint);
    check_late_time("distance_at_time", sprint, tail, time_s);
    return sprint.top_speed_mps * (slowing_from(sprint) + tail.covered(time_s - late_slowing_from_s));
  }
  return sprint.top_speed_mps * sprint.time_constant_s * covered(time_s / sprint.time_constant_s);
}

double time_to_distance(const Sprint& sprint, double distance_m) {
  check("time_to_distance", sprint);
  check_not_negative("time_to_distance", "distance_m", distance_m);
  return time_at(sprint, "time_to_distance", "distance_m", distance_m);
}

double slowness_s_pm(const Sprint& sprint, double distance_m) {
  return 1.0 / speed_at_time(sprint, time_to_distance(sprint, distance_m));
}

TimeGradient time_gradient(const Sprint& sprint, double distance_m) {
  check("time_gradient", sprint);
  if (!(distance_m > 0.0) || !std::isfinite(distance_m)) {
    refuse("time_gradient", "distance_m", distance_m, "finite and above 0");
  }
  const double tau = sprint.time_constant_s;
  const double late = distance_m / sprint.top_speed_mps - slowing_from(sprint);
  if (late > 0.0 && sprint.late_slowing_per_s > 0.0) {
    const Tail tail = tail_of(sprint);
    detail::check_late("time_gradient", sprint, "distance_m", distance_m, late * sprint.top_speed_mps);
    const double s = tail.time(late);
    const double speed = tail.speed(s);
    const Tail::Slopes slopes = tail.slopes(s, late_slowing_from_s);
    const double e = std::exp(-late_slowing_from_s / tau);
    const double start_by_tau = e - 1.0 + e * late_slowing_from_s / tau;  // of x_s/V
    return {late_slowing_from_s + s, -distance_m / sprint.top_speed_mps / speed,
            -tau * (start_by_tau + slopes.by_tau) / speed, -slopes.by_k / speed};
  }
  const double a = distance_m / (sprint.top_speed_mps * tau);
  const double u = dimensionless_time(a);
  // 1 - exp(-u) is u - a at the root, exact unless both are large.
  const double speed = u < 8.0 ? u - a : 1.0 - std::exp(-u);
  const double slope = -tau * a / speed;
  double by_late_slowing = 0.0;
  if (late > 0.0) {
    by_late_slowing = -tail_of(sprint).slopes(tau * u - late_slowing_from_s, late_slowing_from_s).by_k / speed;
  }
  return {tau * u, slope, tau * u + slope, by_late_slowing};
}

LateTime late_time(const Sprint& sprint, double distance_m) {
  const Tail tail = tail_of(sprint);
  const double s = tail.time(distance_m / sprint.top_speed_mps - slowing_from(sprint));
  return {late_slowing_from_s + s, -tail.slope_by_k(s, late_slowing_from_s) / tail.speed(s)};
}

TimeGradient time_gradient_from_beam(const Sprint& sprint, double beam_m, double distance_m) {
  TimeGradient gradient = time_gradient(sprint, beam_m + distance_m);
  if (beam_m > 0.0) {
    const TimeGradient at_beam = time_gradient(sprint, beam_m);
    gradient.time_s -= at_beam.time_s;
    gradient.by_log_top_speed_s -= at_beam.by_log_top_speed_s;
    gradient.by_log_time_constant_s -= at_beam.by_log_time_constant_s;
    gradient.by_late_slowing_s2 -= at_beam.by_late_slowing_s2;
  }
  return gradient;
}

double time_from_beam(const Sprint& sprint, double beam_m, double distance_m) {
  const double time_s = time_to_distance(sprint, beam_m + distance_m);
  return beam_m > 0.0 ? time_s - time_to_distance(sprint, beam_m) : time_s;
}

}  // namespace bagsplit::motion
