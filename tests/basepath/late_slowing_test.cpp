// Late slowing as the propulsion limit of the best path: the same equation as the sprint curve's.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "bagsplit/basepath/path.hpp"
#include "bagsplit/basepath/straight.hpp"
#include "bagsplit/basepath/yardstick.hpp"
#include "bagsplit/motion/curve.hpp"
#include "bagsplit/runs/courses/course.hpp"
#include "support/digits.hpp"

namespace {

using namespace bagsplit;
using namespace bagsplit::basepath;

constexpr double k = 0.013;
constexpr double base_m = 18.288;

PathResult circuit(double base, const RunnerLimits& limits, std::string_view course = "circuit") {
  return best_path(course_problem(*runs::find_course(runs::builtin_courses(), course), base, limits));
}

// Identity: a straight path is the sprint curve, in one leg (closed form) and in six on one line (the solver).
TEST(PathLateSlowing, AStraightPathIsTheCurve) {
  for (const double top : {5.0, 6.5, 8.0}) {
    const RunnerLimits runner{top, 0.87, 4.0, 3.0, k};
    PathProblem one;
    one.points = {{0.0, 0.0}, {109.728, 0.0}};
    one.limits = runner;
    const double expected = motion::time_to_distance({top, 0.87, k}, 109.728);
    EXPECT_DIGITS(best_path(one).total_s, expected, 12);
    PathProblem six = one;
    six.points.clear();
    for (int i = 0; i <= 6; ++i) {
      six.points.push_back({109.728 / 6.0 * i, 0.0});
    }
    EXPECT_NEAR(best_path(six).total_s / expected, 1.0, 5e-6);
    const PathResult r = best_path(six, {.aim = 1e-9});  // on the finest mesh
    EXPECT_TRUE(r.usable());
    EXPECT_NEAR(r.total_s / expected, 1.0, 1e-6);
    for (std::size_t i = 1; i < r.passages.size(); ++i) {
      EXPECT_NEAR(r.passages[i].speed_mps, motion::speed_at_time({top, 0.87, k}, r.passages[i].time_s), 2e-3);
    }
  }
}

// Identity: where the path ends before slowing begins it is the same path, bit for bit.
TEST(PathLateSlowing, NothingChangesBeforeItBegins) {
  for (const char* course : {"home-first", "home-second"}) {
    const PathResult with = circuit(15.0, {7.0, 0.9, 4.0, 3.0, k}, course);
    const PathResult without = circuit(15.0, {7.0, 0.9, 4.0, 3.0}, course);
    EXPECT_EQ(with.total_s, without.total_s);
  }
}

// Identity: the slower one gets, the longer it takes; a path is never faster than the straight sprint of its length;
// the multipliers tell what a faster runner would win.
TEST(PathLateSlowing, ACircuitIsCertifiedAndItsSensitivitiesAreThoseOfTheSolver) {
  for (const double top : {5.0, 6.0, 7.5}) {
    const RunnerLimits runner{top, 0.87, 4.0, 3.0, k};
    const PathResult r = circuit(base_m, runner);
    ASSERT_TRUE(r.usable());
    EXPECT_GT(r.total_s, circuit(base_m, {top, 0.87, 4.0, 3.0}).total_s);
    EXPECT_GT(r.total_s, motion::time_to_distance({top, 0.87, k}, r.length_m));
    const auto slope = [&](auto change) {
      RunnerLimits low = runner;
      RunnerLimits high = runner;
      const double step = change(low, -1.0);
      change(high, 1.0);
      return (circuit(base_m, high).total_s - circuit(base_m, low).total_s) / (2.0 * step);
    };
    const double by_speed = slope([](RunnerLimits& l, double sign) {
      l.top_speed_mps += sign * 0.02;
      return 0.02;
    });
    const double by_tau = slope([](RunnerLimits& l, double sign) {
      l.time_constant_s += sign * 0.01;
      return 0.01;
    });
    EXPECT_NEAR(r.sensitivity.top_speed / by_speed, 1.0, 0.02);
    EXPECT_NEAR(r.sensitivity.time_constant / by_tau, 1.0, 0.02);
  }
}

// Identity: on a line there is no corner: a square path without corners from rest to rest is that of the straight runs;
// the circle with a huge lateral limit is the straight sprint over its arc.
TEST(PathLateSlowing, YardsticksSlowAsWell) {
  const RunnerLimits runner{6.0, 0.87, 90.0, 3.0, k};
  const Yardstick circle = circle_path(4, base_m, runner, false);
  EXPECT_NEAR(circle.total_s / motion::time_to_distance({6.0, 0.87, k}, circle.length_m), 1.0, 1e-4);
  const RunnerLimits child{6.0, 0.87, 4.0, 3.0, k};
  const RunnerLimits tireless{6.0, 0.87, 4.0, 3.0};
  for (const bool stop : {false, true}) {
    EXPECT_GT(square_path(4, base_m, child, stop).total_s, square_path(4, base_m, tireless, stop).total_s + 0.02);
    const Yardstick slow = circle_path(4, base_m, child, stop);
    EXPECT_GT(slow.total_s, circle_path(4, base_m, tireless, stop).total_s + 0.02);
    EXPECT_NEAR(circle_path(4, base_m, RunnerLimits{6.0, 0.87, 4.0, 3.0, 1e-9}, stop).total_s,
                circle_path(4, base_m, tireless, stop).total_s, 1e-5);
  }
}

// Computed: this solver. Losses against a straight sprint that slows alike hardly know of late slowing: what the loss
// table keeps without it serves with it. README.md has the figures.
TEST(PathLateSlowing, LossesAreNearlyThoseWithout) {
  double largest = 0.0;
  for (const double base : {18.288, 27.432}) {
    for (const double top : {5.0, 6.0, 7.0, 8.0}) {
      const PathResult with = circuit(base, {top, 0.87, 4.0, 3.0, k});
      const PathResult without = circuit(base, {top, 0.87, 4.0, 3.0});
      ASSERT_TRUE(with.usable());
      double before = 0.0;
      for (std::size_t leg = 0; leg < 4; ++leg) {
        const double m = base * static_cast<double>(leg + 1);
        const double now = motion::time_to_distance({top, 0.87, k}, m) - motion::time_to_distance({top, 0.87}, m);
        largest = std::max(largest, std::fabs(with.leg_s[leg] - without.leg_s[leg] - (now - before)));
        before = now;
      }
    }
  }
  EXPECT_LT(largest, 0.04);
}

}  // namespace
