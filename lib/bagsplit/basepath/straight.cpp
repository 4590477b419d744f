#include "bagsplit/basepath/straight.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <sstream>
#include <stdexcept>

namespace bagsplit::basepath {

namespace {

// x - (1 - exp(-x)) for x >= 0 without cancellation: for small x its series.
double excess(double x) {
  if (x > 0.5) {
    return x + std::expm1(-x);
  }
  double term = 0.5 * x * x;
  double sum = term;
  for (int k = 3; k < 22; ++k) {
    term *= -x / k;
    sum += term;
  }
  return sum;
}

// Propulsion along a line, the runner's or the point mass's.
struct Line {
  bool point_mass;
  double top, tau, push, braking;

  explicit Line(const Limits& limits) {
    if (const auto* r = std::get_if<RunnerLimits>(&limits)) {
      point_mass = false;
      top = r->top_speed_mps;
      tau = r->time_constant_s;
      push = top / tau;
      braking = r->braking_mps2;
    } else {
      point_mass = true;
      push = braking = std::get<PointMassLimit>(limits).acceleration_mps2;
      top = std::numeric_limits<double>::infinity();
      tau = 1.0;
    }
  }
  double speed(double v0, double t) const {
    return point_mass ? v0 + push * t : v0 + (top - v0) * -std::expm1(-t / tau);
  }
  double distance(double v0, double t) const {
    return point_mass ? t * (v0 + 0.5 * push * t) : v0 * t + (top - v0) * tau * excess(t / tau);
  }
  double acceleration(double v) const { return point_mass ? push : (top - v) / tau; }
};

// The root of an increasing function on [0, high] by Newton's method kept inside a shrinking bracket.
template <class F, class D>
double increasing_root(F&& f, D&& slope, double start, double high) {
  double low = 0.0;
  double t = std::clamp(start, 0.0, high);
  for (int i = 0; i < 200; ++i) {
    const double value = f(t);
    if (value == 0.0) {
      return t;
    }
    (value > 0.0 ? high : low) = t;
    const double s = slope(t);
    double next = s > 0.0 ? t - value / s : 0.5 * (low + high);
    if (!(next > low && next < high)) {
      next = 0.5 * (low + high);
    }
    if (std::fabs(next - t) <= 1e-16 * t || next == t) {
      return next;
    }
    t = next;
  }
  return t;
}

void refuse(const char* what, double value, const char* bound) {
  std::ostringstream text;
  text << "straight_run: " << what << " is " << value << ", but must be " << bound;
  throw std::domain_error(text.str());
}

}  // namespace

StraightRun straight_run(const Limits& limits, double distance_m, double start_speed_mps, double end_speed_mps) {
  check(limits);
  const Line line(limits);
  if (!(distance_m >= 0.0) || !std::isfinite(distance_m)) {
    refuse("distance_m", distance_m, "finite and at least 0");
  }
  if (!(start_speed_mps >= 0.0 && start_speed_mps < line.top)) {
    refuse("start_speed_mps", start_speed_mps, "at least 0 and below the top speed");
  }
  if (!(end_speed_mps >= 0.0)) {
    refuse("end_speed_mps", end_speed_mps, "at least 0");
  }
  StraightRun run;
  const double v0 = run.start_speed_mps = start_speed_mps;
  if (distance_m == 0.0) {
    if (end_speed_mps < v0) {
      refuse("distance_m", distance_m, "long enough to slow down in");
    }
    run.peak_speed_mps = run.end_speed_mps = v0;
    return run;
  }
  // Through first: is it slow enough at the end?
  // x(t) >= V (t - tau) for the runner, = r t^2/2 for the point mass: both bound the time.
  const double high =
      line.point_mass ? 1.01 * std::sqrt(2.0 * distance_m / line.push) : distance_m / line.top + line.tau;
  const double through =
      increasing_root([&](double t) { return line.distance(v0, t) - distance_m; },
                      [&](double t) { return line.speed(v0, t); }, std::sqrt(2.0 * distance_m / line.push), high);
  const double through_speed = line.speed(v0, through);
  if (through_speed <= end_speed_mps) {
    run.gaining_s = through;
    run.gaining_m = distance_m;
    run.peak_speed_mps = run.end_speed_mps = through_speed;
    return run;
  }
  const double end = end_speed_mps;
  const double slowest = (v0 * v0 - end * end) / (2.0 * line.braking);
  if (slowest > distance_m * (1.0 + 1e-12)) {
    refuse("distance_m", distance_m, "long enough to slow down in with this braking limit");
  }
  const double gaining = increasing_root(
      [&](double t) {
        const double u = line.speed(v0, t);
        return line.distance(v0, t) + (u * u - end * end) / (2.0 * line.braking) - distance_m;
      },
      [&](double t) {
        const double u = line.speed(v0, t);
        return u + u * line.acceleration(u) / line.braking;
      },
      0.5 * through, through);
  run.gaining_s = gaining;
  run.peak_speed_mps = line.speed(v0, gaining);
  run.gaining_m = line.distance(v0, gaining);
  run.losing_s = (run.peak_speed_mps - end) / line.braking;
  run.end_speed_mps = end;
  return run;
}

double straight_time_s(const Limits& limits, double distance_m) {
  return straight_run(limits, distance_m, 0.0, std::numeric_limits<double>::infinity()).total_s();
}

StraightState straight_state(const Limits& limits, const StraightRun& run, double time_s) {
  const Line line(limits);
  const double t = std::clamp(time_s, 0.0, run.total_s());
  if (t <= run.gaining_s) {
    const double v = line.speed(run.start_speed_mps, t);
    return {v, line.distance(run.start_speed_mps, t), line.acceleration(v)};
  }
  const double since = t - run.gaining_s;
  return {run.peak_speed_mps - line.braking * since,
          run.gaining_m + since * (run.peak_speed_mps - 0.5 * line.braking * since), -line.braking};
}

}  // namespace bagsplit::basepath
