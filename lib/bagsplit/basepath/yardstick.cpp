#include "bagsplit/basepath/yardstick.hpp"

#include <algorithm>
#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <boost/math/tools/roots.hpp>
#include <cmath>
#include <limits>
#include <numbers>
#include <sstream>
#include <stdexcept>

#include "bagsplit/basepath/straight.hpp"
#include "bagsplit/motion/curve.hpp"

namespace bagsplit::basepath {

namespace {

constexpr double pi = std::numbers::pi;

void check_course(const char* function, std::size_t legs, double base_distance_m) {
  if (legs < 1 || legs > 4) {
    throw std::domain_error(std::string(function) + ": legs is " + std::to_string(legs) + ", but must be from 1 to 4");
  }
  if (!(base_distance_m > 0.0) || !std::isfinite(base_distance_m)) {
    std::ostringstream text;
    text << function << ": base_distance_m is " << base_distance_m << ", but must be finite and above 0";
    throw std::domain_error(text.str());
  }
}

template <class F>
double integral(F&& f, double from, double to) {
  if (!(to > from)) {
    return 0.0;
  }
  return boost::math::quadrature::gauss_kronrod<double, 21>::integrate(f, from, to, 12, 1e-12);
}

template <class F>
double increasing_root(F&& f, double low, double high) {
  boost::math::tools::eps_tolerance<double> tolerance(50);
  std::uintmax_t iterations = 200;
  const auto bracket = boost::math::tools::toms748_solve(f, low, high, tolerance, iterations);
  return 0.5 * (bracket.first + bracket.second);
}

// Motion along the circle. Gaining speed is followed by a parameter x: sqrt(phi) where the lateral limit is met first,
// the straight sprint's t/tau where the top speed is (there x has no end).
class Circle {
 public:
  Circle(double radius, const Limits& limits) : radius_(radius) {
    if (const auto* r = std::get_if<RunnerLimits>(&limits)) {
      top_ = r->top_speed_mps;
      tau_ = r->time_constant_s;
      lateral_ = r->lateral_mps2;
      braking_ = r->braking_mps2;
      runner_ = true;
    } else {
      push_ = lateral_ = braking_ = std::get<PointMassLimit>(limits).acceleration_mps2;
    }
    scale_ = radius_ * lateral_;
    by_angle_ = !runner_ || top_ * top_ > scale_;
    end_ = by_angle_ ? std::sqrt(0.5 * pi) : std::numeric_limits<double>::infinity();
  }

  double end() const { return end_; }
  double speed(double x) const {
    return by_angle_ ? std::sqrt(scale_ * std::sin(std::min(x * x, 0.5 * pi))) : -top_ * std::expm1(-x);
  }

  double gaining_time(double from, double to) const {
    return integral([this](double x) { return clock(x); }, from, to);
  }
  double gaining_distance(double from, double to) const {
    return integral([this](double x) { return speed(x) * clock(x); }, from, to);
  }

  // To rest at full braking: distance = R L phi/(2 B).
  double braking_distance(double v) const { return 0.5 * scale_ / braking_ * std::asin(std::min(1.0, v * v / scale_)); }
  double braking_time_over(double distance) const {
    const double y = std::sqrt(2.0 * braking_ * distance / scale_);
    return integral([this](double q) { return scale_ * q / (std::sqrt(scale_ * std::sin(q * q)) * braking_); }, 0.0, y);
  }
  double braking_speed_over(double distance) const {
    return std::sqrt(scale_ * std::sin(2.0 * braking_ * distance / scale_));
  }

 private:
  double propulsion(double v) const { return runner_ ? (top_ - v) / tau_ : push_; }
  double clock(double x) const {  // dt/dx
    const double v = speed(x);
    if (by_angle_) {
      return scale_ * x / (v * propulsion(v));
    }
    const double beta = v * v / scale_;
    return tau_ / std::sqrt(1.0 - beta * beta);
  }

  double radius_;
  bool runner_ = false, by_angle_ = true;
  double top_ = 0.0, tau_ = 1.0, lateral_ = 1.0, braking_ = 1.0, push_ = 1.0;
  double scale_ = 1.0, end_ = 0.0;
};

// A place on the circle that a runner passes.
struct Passing {
  double time_s = 0.0, at_m = 0.0, speed_mps = 0.0;
};

// With late slowing the push hangs on the way run as well: Runge and Kutta's method in steps of 1 ms, up to the end or
// to where braking has to begin. Bags on the way are added to `bags`.
Passing gained_with_slowing(const RunnerLimits& r, const Circle& circle, double radius, double length, double arc,
                            bool stop, std::vector<Passing>& bags) {
  const double from_m = motion::late_slowing_from_m({r.top_speed_mps, r.time_constant_s, r.late_slowing_per_s});
  const auto gaining = [&](double at, double v) {
    const double left = r.top_speed_mps - r.late_slowing_per_s * std::max(0.0, at - from_m);
    const double push = (left - v) / r.time_constant_s;
    const double beta = v * v / (radius * r.lateral_mps2);
    return push > 0.0 ? push * std::sqrt(std::max(0.0, 1.0 - beta * beta)) : push;
  };
  const auto beyond = [&](const Passing& p) {
    return p.at_m + (stop ? circle.braking_distance(p.speed_mps) : 0.0) - length;
  };
  const auto between = [](const Passing& a, const Passing& b, double share) {
    return Passing{a.time_s + share * (b.time_s - a.time_s), a.at_m + share * (b.at_m - a.at_m),
                   a.speed_mps + share * (b.speed_mps - a.speed_mps)};
  };
  constexpr double h = 1e-3;
  Passing now;
  while (true) {
    const double v1 = now.speed_mps;
    const double a1 = gaining(now.at_m, v1);
    const double v2 = v1 + 0.5 * h * a1;
    const double a2 = gaining(now.at_m + 0.5 * h * v1, v2);
    const double v3 = v1 + 0.5 * h * a2;
    const double a3 = gaining(now.at_m + 0.5 * h * v2, v3);
    const double v4 = v1 + h * a3;
    const double a4 = gaining(now.at_m + h * v3, v4);
    const Passing next{now.time_s + h, now.at_m + h / 6.0 * (v1 + 2.0 * v2 + 2.0 * v3 + v4),
                       v1 + h / 6.0 * (a1 + 2.0 * a2 + 2.0 * a3 + a4)};
    const double bag_m = arc * static_cast<double>(bags.size() + 1);
    if (next.at_m >= bag_m && bag_m < length) {
      bags.push_back(between(now, next, (bag_m - now.at_m) / (next.at_m - now.at_m)));
    }
    if (beyond(next) >= 0.0) {
      return between(now, next, beyond(now) / (beyond(now) - beyond(next)));
    }
    now = next;
  }
}

Yardstick slowing_circle(std::size_t legs, double radius, const RunnerLimits& r, bool stop) {
  const Circle circle(radius, r);
  const double arc = 0.5 * pi * radius;
  Yardstick y;
  y.length_m = arc * static_cast<double>(legs);
  std::vector<Passing> bags;
  const Passing gained = gained_with_slowing(r, circle, radius, y.length_m, arc, stop, bags);
  const double braking = stop ? y.length_m - gained.at_m : 0.0;
  y.total_s = gained.time_s + (stop ? circle.braking_time_over(braking) : 0.0);
  while (bags.size() + 1 < legs) {
    const double left = y.length_m - arc * static_cast<double>(bags.size() + 1);
    bags.push_back({y.total_s - circle.braking_time_over(left), y.length_m - left, circle.braking_speed_over(left)});
  }
  bags.push_back({y.total_s, y.length_m, stop ? 0.0 : gained.speed_mps});
  double before = 0.0;
  for (const Passing& bag : bags) {
    y.leg_s.push_back(bag.time_s - before);
    y.bag_speed_mps.push_back(bag.speed_mps);
    before = bag.time_s;
  }
  return y;
}

}  // namespace

Yardstick square_path(std::size_t legs, double base_distance_m, const Limits& limits, bool stop,
                      double corner_radius_m) {
  check(limits);
  check_course("square_path", legs, base_distance_m);
  if (!(corner_radius_m >= 0.0 && corner_radius_m <= 5.0)) {
    std::ostringstream text;
    text << "square_path: corner_radius_m is " << corner_radius_m << ", but must be from 0 to 5";
    throw std::domain_error(text.str());
  }
  if (!(corner_radius_m < 0.5 * base_distance_m)) {
    std::ostringstream text;
    text << "square_path: corner_radius_m is " << corner_radius_m << ", but must be below half the base distance";
    throw std::domain_error(text.str());
  }
  const auto line_m = [&](std::size_t leg) {  // the straight part of a leg
    return base_distance_m - (leg > 0 ? corner_radius_m : 0.0) - (leg + 1 < legs ? corner_radius_m : 0.0);
  };
  const auto* runner = std::get_if<RunnerLimits>(&limits);
  const double braking = runner ? runner->braking_mps2 : std::get<PointMassLimit>(limits).acceleration_mps2;
  double corner = corner_radius_m > 0.0 ? steady_bend_speed_mps(limits, corner_radius_m) : 0.0;
  if (runner) {
    corner = std::min(corner, runner->top_speed_mps * (1.0 - 1e-12));
  }
  // No corner faster than the next one, or the end, can be reached from.
  std::vector<double> cap(legs + 1, corner);
  cap[legs] = stop ? 0.0 : std::numeric_limits<double>::infinity();
  for (std::size_t k = legs; k-- > 1;) {
    cap[k] = std::min(cap[k], std::sqrt(cap[k + 1] * cap[k + 1] + 2.0 * braking * line_m(k)));
  }
  Yardstick y;
  const double half_corner_m = 0.25 * pi * corner_radius_m;
  double v = 0.0;
  for (std::size_t k = 0; k < legs; ++k) {
    const StraightRun run = straight_run(limits, line_m(k), v, cap[k + 1], y.length_m + (k > 0 ? half_corner_m : 0.0));
    double leg_s = run.total_s();
    double leg_m = line_m(k);
    if (k > 0 && corner_radius_m > 0.0) {
      leg_s += half_corner_m / v;
      leg_m += half_corner_m;
    }
    v = run.end_speed_mps;
    if (k + 1 < legs && corner_radius_m > 0.0) {
      leg_s += half_corner_m / v;
      leg_m += half_corner_m;
    }
    y.leg_s.push_back(leg_s);
    y.bag_speed_mps.push_back(v);
    y.total_s += leg_s;
    y.length_m += leg_m;
  }
  return y;
}

Yardstick circle_path(std::size_t legs, double base_distance_m, const Limits& limits, bool stop) {
  check(limits);
  check_course("circle_path", legs, base_distance_m);
  const double radius = base_distance_m / std::sqrt(2.0);
  const double arc = 0.5 * pi * radius;
  const double length = arc * static_cast<double>(legs);
  if (const auto* r = std::get_if<RunnerLimits>(&limits); r != nullptr && r->late_slowing_per_s > 0.0) {
    return slowing_circle(legs, radius, *r, stop);
  }
  const Circle circle(radius, limits);

  // Where gaining ends: at the end of the path, at the lateral limit, or where braking has to begin.
  const auto used = [&](double x) {
    return circle.gaining_distance(0.0, x) + (stop ? circle.braking_distance(circle.speed(x)) : 0.0) - length;
  };
  double high = circle.end();
  if (!std::isfinite(high)) {
    high = 1.0;
    while (used(high) < 0.0 && high < 1e6) {
      high *= 2.0;
    }
  }
  const double peak = used(high) <= 0.0 ? high : increasing_root(used, 0.0, high);
  const double gained = circle.gaining_distance(0.0, peak);
  const double gained_s = circle.gaining_time(0.0, peak);
  const double peak_speed = circle.speed(peak);
  const double braking = stop ? circle.braking_distance(peak_speed) : 0.0;
  const double steady = std::max(0.0, length - gained - braking);
  const double total = gained_s + steady / peak_speed + (stop ? circle.braking_time_over(braking) : 0.0);

  Yardstick y;
  y.length_m = length;
  y.total_s = total;
  double before = 0.0;
  for (std::size_t k = 1; k <= legs; ++k) {
    const double s = arc * static_cast<double>(k);
    double t = total;
    double v = stop ? 0.0 : peak_speed;
    if (k < legs && s <= gained) {
      const double x = increasing_root([&](double q) { return circle.gaining_distance(0.0, q) - s; }, 0.0, peak);
      t = circle.gaining_time(0.0, x);
      v = circle.speed(x);
    } else if (k < legs && s <= gained + steady) {
      t = gained_s + (s - gained) / peak_speed;
      v = peak_speed;
    } else if (k < legs) {
      t = total - circle.braking_time_over(length - s);
      v = circle.braking_speed_over(length - s);
    }
    y.leg_s.push_back(t - before);
    y.bag_speed_mps.push_back(v);
    before = t;
  }
  return y;
}

}  // namespace bagsplit::basepath
