#include "bagsplit/basepath/straight.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <sstream>
#include <stdexcept>

#include "bagsplit/motion/onward.hpp"

namespace bagsplit::basepath {

namespace {

// Full propulsion along a line, the runner's or the point mass's.
class Line {
 public:
  Line(const Limits& limits, double before_m, double start_speed) : start_(start_speed) {
    if (const auto* r = std::get_if<RunnerLimits>(&limits)) {
      runner_.emplace(motion::Sprint{r->top_speed_mps, r->time_constant_s, r->late_slowing_per_s}, before_m,
                      start_speed);
    } else {
      push_ = std::get<PointMassLimit>(limits).acceleration_mps2;
    }
  }
  double speed(double t) const { return runner_ ? runner_->speed_mps(t) : start_ + push_ * t; }
  double distance(double t) const { return runner_ ? runner_->distance_m(t) : t * (start_ + 0.5 * push_ * t); }
  double gaining(double t) const { return runner_ ? runner_->gaining_mps2(t) : push_; }
  double time(double d) const {
    return runner_ ? runner_->time_s(d) : 2.0 * d / (start_ + std::sqrt(start_ * start_ + 2.0 * push_ * d));
  }

 private:
  double start_, push_ = 0.0;
  std::optional<motion::Onward> runner_;
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

StraightRun straight_run(const Limits& limits, double distance_m, double start_speed_mps, double end_speed_mps,
                         double before_m) {
  check(limits);
  const auto* runner = std::get_if<RunnerLimits>(&limits);
  const double top = runner ? runner->top_speed_mps : std::numeric_limits<double>::infinity();
  const double braking = runner ? runner->braking_mps2 : std::get<PointMassLimit>(limits).acceleration_mps2;
  if (!(distance_m >= 0.0) || !std::isfinite(distance_m)) {
    refuse("distance_m", distance_m, "finite and at least 0");
  }
  if (!(start_speed_mps >= 0.0 && start_speed_mps < top)) {
    refuse("start_speed_mps", start_speed_mps, "at least 0 and below the top speed");
  }
  if (!(end_speed_mps >= 0.0)) {
    refuse("end_speed_mps", end_speed_mps, "at least 0");
  }
  if (!(before_m >= 0.0) || !std::isfinite(before_m)) {
    refuse("before_m", before_m, "finite and at least 0");
  }
  const Line line(limits, before_m, start_speed_mps);
  StraightRun run;
  run.before_m = before_m;
  const double v0 = run.start_speed_mps = start_speed_mps;
  if (distance_m == 0.0) {
    if (end_speed_mps < v0) {
      refuse("distance_m", distance_m, "long enough to slow down in");
    }
    run.peak_speed_mps = run.end_speed_mps = v0;
    return run;
  }
  // Through first: is it slow enough at the end?
  const double through = line.time(distance_m);
  const double through_speed = line.speed(through);
  if (through_speed <= end_speed_mps) {
    run.gaining_s = through;
    run.gaining_m = distance_m;
    run.peak_speed_mps = run.end_speed_mps = through_speed;
    return run;
  }
  const double end = end_speed_mps;
  const double slowest = (v0 * v0 - end * end) / (2.0 * braking);
  if (slowest > distance_m * (1.0 + 1e-12)) {
    refuse("distance_m", distance_m, "long enough to slow down in with this braking limit");
  }
  const double gaining = increasing_root(
      [&](double t) {
        const double u = line.speed(t);
        return line.distance(t) + (u * u - end * end) / (2.0 * braking) - distance_m;
      },
      [&](double t) {
        const double u = line.speed(t);
        return u + u * line.gaining(t) / braking;
      },
      0.5 * through, through);
  run.gaining_s = gaining;
  run.peak_speed_mps = line.speed(gaining);
  run.gaining_m = line.distance(gaining);
  run.losing_s = (run.peak_speed_mps - end) / braking;
  run.end_speed_mps = end;
  return run;
}

double straight_time_s(const Limits& limits, double distance_m) {
  return straight_run(limits, distance_m, 0.0, std::numeric_limits<double>::infinity()).total_s();
}

StraightState straight_state(const Limits& limits, const StraightRun& run, double time_s) {
  const double t = std::clamp(time_s, 0.0, run.total_s());
  if (t <= run.gaining_s) {
    const Line line(limits, run.before_m, run.start_speed_mps);
    return {line.speed(t), line.distance(t), line.gaining(t)};
  }
  const auto* runner = std::get_if<RunnerLimits>(&limits);
  const double braking = runner ? runner->braking_mps2 : std::get<PointMassLimit>(limits).acceleration_mps2;
  const double since = t - run.gaining_s;
  return {run.peak_speed_mps - braking * since, run.gaining_m + since * (run.peak_speed_mps - 0.5 * braking * since),
          -braking};
}

}  // namespace bagsplit::basepath
