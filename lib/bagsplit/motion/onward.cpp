#include "bagsplit/motion/onward.hpp"

#include <cmath>
#include <limits>

#include "bagsplit/motion/checks.hpp"

namespace bagsplit::motion {

Onward::Onward(const Sprint& sprint, double from_m, double from_mps)
    : sprint_(sprint), from_m_(from_m), from_mps_(from_mps) {
  detail::check("Onward", sprint);
  detail::check_not_negative("Onward", "from_m", from_m);
  if (!(from_mps >= 0.0 && from_mps < sprint.top_speed_mps)) {
    detail::refuse("Onward", "from_mps", from_mps, "at least 0 and below top_speed_mps");
  }
  const double k = sprint.late_slowing_per_s;
  if (k == 0.0) {
    plain_m_ = plain_s_ = std::numeric_limits<double>::infinity();
    return;
  }
  const double late_m = from_m - late_slowing_from_m(sprint);
  const double top = sprint.top_speed_mps;
  double speed = from_mps;
  if (late_m < 0.0) {
    plain_m_ = -late_m;
    plain_s_ = plain_time_s(plain_m_);
    speed = from_mps - (top - from_mps) * std::expm1(-plain_s_ / sprint.time_constant_s);
  } else {
    detail::check_late("Onward", sprint, "from_m", from_m, late_m);
  }
  tail_.emplace(sprint.time_constant_s, k, 1.0 - k * std::fmax(0.0, late_m) / top, speed / top);
}

// With u = t/tau and q = 1 - v0/V:  u - q (1 - exp(-u)) = d/(V tau), the curve from where it has the speed v0; one step
// of Newton's method gives back the digits that the shift took.
double Onward::plain_time_s(double distance_m) const {
  const double tau = sprint_.time_constant_s;
  const double a = distance_m / (sprint_.top_speed_mps * tau);
  if (from_mps_ == 0.0 || a == 0.0) {
    return tau * dimensionless_time(a);
  }
  const double share = from_mps_ / sprint_.top_speed_mps;
  const double before = -std::log1p(-share);
  const double u = std::fmax(0.0, dimensionless_time(a + (before - share)) - before);
  const double f = share * u + (1.0 - share) * covered(u) - a;
  return tau * (u - f / (share - (1.0 - share) * std::expm1(-u)));
}

double Onward::speed_mps(double time_s) const {
  if (time_s <= plain_s_) {
    return from_mps_ - (sprint_.top_speed_mps - from_mps_) * std::expm1(-time_s / sprint_.time_constant_s);
  }
  return sprint_.top_speed_mps * tail_->speed(time_s - plain_s_);
}

double Onward::distance_m(double time_s) const {
  if (time_s <= plain_s_) {
    const double tau = sprint_.time_constant_s;
    return from_mps_ * time_s + (sprint_.top_speed_mps - from_mps_) * tau * covered(time_s / tau);
  }
  return plain_m_ + sprint_.top_speed_mps * tail_->covered(time_s - plain_s_);
}

double Onward::gaining_mps2(double time_s) const {
  if (time_s <= plain_s_) {
    return (sprint_.top_speed_mps - from_mps_) / sprint_.time_constant_s * std::exp(-time_s / sprint_.time_constant_s);
  }
  return sprint_.top_speed_mps * tail_->gaining(time_s - plain_s_);
}

double Onward::time_s(double distance_m) const {
  detail::check_not_negative("Onward", "distance_m", distance_m);
  if (distance_m <= plain_m_) {
    return plain_time_s(distance_m);
  }
  detail::check_late("Onward", sprint_, "distance_m", distance_m, from_m_ + distance_m - late_slowing_from_m(sprint_));
  return plain_s_ + tail_->time((distance_m - plain_m_) / sprint_.top_speed_mps);
}

}  // namespace bagsplit::motion
