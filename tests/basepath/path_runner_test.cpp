// The runner with propulsion, braking and lateral limits: against another program, against what was measured on the
// bases.
#include <gtest/gtest.h>

#include <cmath>

#include "bagsplit/basepath/path.hpp"
#include "bagsplit/basepath/straight.hpp"
#include "bagsplit/basepath/yardstick.hpp"
#include "support/digits.hpp"

namespace {

using namespace bagsplit;
using namespace bagsplit::basepath;

PathProblem course(std::string_view name, double base_m, const Limits& limits) {
  return course_problem(*runs::find_course(runs::builtin_courses(), name), base_m, limits);
}

TEST(RunnerPath, ThePathKeepsTheLimits) {
  // Identity: the friction ellipse, point by point. Limits are imposed at three points of each interval of the mesh;
  // between them, where full propulsion gives way to braking, they may be exceeded for an instant. The certificate
  // counts what that is worth in time (violation_s).
  const RunnerLimits l{6.5, 0.9, 4.0, 3.0};
  for (const char* name : {"circuit", "home-second", "home-third", "second-home"}) {
    const PathResult r = best_path(course(name, 18.288, l));
    ASSERT_TRUE(r.usable()) << name;
    ASSERT_FALSE(r.path.empty());
    double mean = 0.0;
    double share = 0.0;
    for (std::size_t i = 1; i < r.path.size(); ++i) {
      const PathPoint& p = r.path[i];
      const double dt = p.time_s - r.path[i - 1].time_s;
      EXPECT_GE(dt, 0.0);
      EXPECT_LE(p.speed_mps, l.top_speed_mps * 1.001);
      const double n = std::fmin(1.0, std::fabs(p.across_mps2) / l.lateral_mps2);
      const double left = std::sqrt(1.0 - n * n);
      const double excess =
          std::fmax(0.0, std::fmax(std::fabs(p.across_mps2) - l.lateral_mps2,
                                   std::fmax(p.along_mps2 - left * (l.top_speed_mps - p.speed_mps) / l.time_constant_s,
                                             -p.along_mps2 - left * l.braking_mps2)));
      mean += excess * dt / r.total_s;
      share += excess > 0.15 ? dt / r.total_s : 0.0;
    }
    EXPECT_LT(mean, 0.02) << name;
    EXPECT_LT(share, 0.02) << name;
    EXPECT_LT(r.certificate.violation_s, 1e-3 * r.total_s) << name;
  }
}

TEST(RunnerPath, PassesTheBagsInOrderAndAddsUp) {
  // Identity: bags of the course, times of legs.
  const PathResult r = best_path(course("circuit", 18.288, RunnerLimits{6.2, 0.85, 5.0, 4.0}));
  ASSERT_EQ(r.passages.size(), 5U);
  double t = 0.0;
  for (std::size_t k = 0; k < 4; ++k) {
    t += r.leg_s[k];
    EXPECT_DIGITS(r.passages[k + 1].time_s, t, 12);
  }
  EXPECT_DIGITS(t, r.total_s, 12);
  EXPECT_NEAR(r.path.back().x_m, 0.0, 0.01);
  EXPECT_NEAR(r.path.back().y_m, 0.0, 0.01);
  EXPECT_GT(r.length_m, 4 * 18.288);
  EXPECT_EQ(r.passages[0].speed_mps, 0.0);
  EXPECT_DIGITS(r.straight_s, straight_time_s(RunnerLimits{6.2, 0.85, 5.0, 4.0}, 4 * 18.288), 12);
}

TEST(RunnerPath, AgreesWithAnotherProgram) {
  struct Case {
    const char* course;
    RunnerLimits limits;
    double total_s;
    std::vector<double> leg_s, speed_mps;
  };
  // Computed: scipy 1.10.1, runner_path.py, 12 pieces a leg: an upper bound (8 pieces: 0.002 s and 0.003 s more), but
  // for the speed of 0.02 m/s it has in place of rest, added here.
  const Case cases[] = {
      {"circuit",
       {6.2, 0.85, 5.0, 4.0},
       13.3182 + 0.02 * 0.85 / 6.2,
       {3.8911, 3.2038, 3.1705, 3.0528},
       {6.060, 6.182, 6.196, 6.200}},
      {"home-second", {7.0, 1.1, 3.5, 3.0}, 8.1588 + 0.02 * 1.1 / 7.0 + 0.02 / 3.0, {3.9752, 4.1836}, {6.269}}};
  for (const Case& c : cases) {
    const PathResult r = best_path(course(c.course, 18.288, c.limits));
    ASSERT_TRUE(r.usable()) << c.course;
    EXPECT_NEAR(r.total_s, c.total_s, 0.005) << c.course;
    EXPECT_LT(r.total_s, c.total_s + 1e-3) << c.course;
    for (std::size_t k = 0; k < c.speed_mps.size(); ++k) {
      EXPECT_NEAR(r.leg_s[k], c.leg_s[k], 0.01) << c.course << k;
      EXPECT_NEAR(r.passages[k + 1].speed_mps, c.speed_mps[k], 0.005) << c.course << k;
    }
  }
}

TEST(RunnerPath, AProfessionalsCircuitStandsBesideTheRecordedTimes) {
  // Source: record of 13.3 s (Swanson 1932, as restated by Carozza, Johnson & Morgan 2010, p. 10). Common practice, no
  // source: fast recorded circuits of adults, 13.3 to 14.5 s. A professional with V = 9.4 m/s and tau = 1.0 s runs home
  // to first in 3.9 s; contact to bag of 4.3 s adds the finish of the swing.
  for (const double lateral : {4.5, 6.0}) {
    const PathResult r = best_path(course("circuit", 27.432, RunnerLimits{9.4, 1.0, lateral, 4.0}));
    ASSERT_TRUE(r.usable());
    EXPECT_GT(r.total_s, 13.0);
    EXPECT_LT(r.total_s, 14.8);
  }
}

TEST(RunnerPath, WiderIsFasterUpToTheBest) {
  // Source: Imawaka, Yanaka & Tsunoda (2025), Taiikugaku Kenkyu 70:91-102: a wider path outside home-first goes with a
  // shorter time to second (r = -0.63). Direction only. College men, V about 8.6 m/s.
  PathProblem p = course("home-second", 27.432, RunnerLimits{8.6, 1.1, 3.2, 4.0});
  p.stop = false;
  const PathResult free = best_path(p);
  ASSERT_TRUE(free.usable());
  const double best_width = free.swings[0].widest_m;
  EXPECT_GT(best_width, 3.0);
  double before = free.total_s;
  for (const double share : {0.8, 0.6, 0.4, 0.25}) {
    p.max_outside_m = share * best_width;
    const PathResult r = best_path(p);
    ASSERT_TRUE(r.usable()) << share << ' ' << r.message << ' ' << r.certificate.cost_s();
    EXPECT_GT(r.total_s, before + 1e-3) << share;
    EXPECT_LT(r.swings[0].widest_m, 1.02 * *p.max_outside_m + 0.05);
    before = r.total_s;
  }
}

TEST(RunnerPath, EarlierIsFaster) {
  // Source: Imawaka, Yanaka & Tsunoda (2025), as above: the earlier the widest point of the path, the shorter the time
  // to second (r = 0.63 with how far along it lies). Here the angle at which the line may be left is limited, which
  // puts the widest point later.
  PathProblem p = course("home-second", 27.432, RunnerLimits{8.6, 1.1, 3.2, 4.0});
  p.stop = false;
  const PathResult free = best_path(p);
  ASSERT_TRUE(free.usable());
  double time = free.total_s;
  double along = free.swings[0].along_m;
  for (const double degrees : {20.0, 14.0, 9.0}) {
    const double a = degrees * std::acos(-1.0) / 180.0;
    p.half_planes = {{0, -std::sin(a), -std::cos(a), 0.0}};
    const PathResult r = best_path(p);
    ASSERT_TRUE(r.usable()) << degrees << ' ' << r.message << ' ' << r.certificate.cost_s();
    EXPECT_GT(r.swings[0].along_m, along) << degrees;
    EXPECT_GT(r.total_s, time) << degrees;
    time = r.total_s;
    along = r.swings[0].along_m;
  }
}

TEST(RunnerPath, CollegeMenWhoSlowRoundFirstUseALimitOfAboutThree) {
  // Source: Imawaka et al. (2025), as above: top speed 8.0 +/- 0.3 m/s on the way to first, lowest 6.9 +/- 0.4 after
  // it. With V 9.0 m/s and tau 1.0 s the best path has such speeds for a lateral limit near 3.1, and not for 5: one of
  // the reasons for the lower half of the default range.
  const auto speeds = [](double lateral) {
    PathProblem p = course("home-second", 27.432, RunnerLimits{9.0, 1.0, lateral, 4.0});
    p.stop = false;
    const PathResult r = best_path(p);
    double top = 0.0;
    double low = 1e9;
    for (const PathPoint& q : r.path) {
      if (q.leg == 0) {
        top = std::fmax(top, q.speed_mps);
      }
      if (q.time_s > r.leg_s[0] - 1.0 && q.time_s < r.leg_s[0] + 1.0) {
        low = std::fmin(low, q.speed_mps);
      }
    }
    return std::pair{top, low};
  };
  const auto [top, low] = speeds(3.1);
  EXPECT_NEAR(top, 8.0, 0.3);
  EXPECT_NEAR(low, 6.9, 0.4);
  EXPECT_GT(speeds(5.0).second, 7.4);
}

TEST(RunnerPath, InsideCornersShortenThePath) {
  // Identity: every touched corner lies inside the square of the measuring points.
  const RunnerLimits l{6.2, 0.9, 4.0, 3.0};
  runs::Course edge = *runs::find_course(runs::builtin_courses(), "circuit");
  edge.touch = runs::Touch::edge;
  const PathResult corner = best_path(course_problem(edge, 18.288, l));
  const PathResult point = best_path(course("circuit", 18.288, l));
  ASSERT_TRUE(corner.usable());
  EXPECT_LT(corner.total_s, point.total_s - 0.1);
  EXPECT_GT(corner.total_s, point.total_s - 0.6);
}

TEST(RunnerPath, AStartWithSpeedIsFasterThanFromRest) {
  // Identity: more freedom.
  PathProblem p = course("home-second", 18.288, RunnerLimits{6.2, 0.9, 4.0, 3.0});
  const double rest = best_path(p).total_s;
  p.start_speed_mps = 3.0;
  p.start_heading_deg = -20.0;
  const PathResult r = best_path(p);
  ASSERT_TRUE(r.usable());
  EXPECT_LT(r.total_s, rest);
  EXPECT_NEAR(r.passages[0].heading_deg, -20.0, 1e-9);
  EXPECT_NEAR(r.passages[0].speed_mps, 3.0, 1e-9);
}

TEST(RunnerPath, BadProblemsAreRefused) {
  // Identity: bounds stated in the header.
  const RunnerLimits l{6.2, 0.9, 4.0, 3.0};
  PathProblem p;
  p.limits = l;
  EXPECT_THROW(best_path(p), std::invalid_argument);
  p.points = {{0.0, 0.0}, {0.0, 0.0}};
  EXPECT_THROW(best_path(p), std::domain_error);
  p.points = {{0.0, 0.0}, {18.0, 0.0}, {18.0, 18.0}};
  p.full_stops = {2};
  EXPECT_THROW(best_path(p), std::invalid_argument);
  p.full_stops.clear();
  p.start_speed_mps = 6.2;
  EXPECT_THROW(best_path(p), std::domain_error);
  p.start_speed_mps = 0.0;
  p.max_outside_m = 0.0;
  EXPECT_THROW(best_path(p), std::domain_error);
  p.max_outside_m.reset();
  p.half_planes = {{2, 1.0, 0.0, 0.0}};
  EXPECT_THROW(best_path(p), std::invalid_argument);
  EXPECT_THROW(course_problem(*runs::find_course(runs::builtin_courses(), "straight"), 18.0, l), std::invalid_argument);
}

TEST(RunnerPath, HalfPlanesThatLeaveNoPathGiveAStatusNotAPath) {
  // Identity: first lies at x = 18, so a first leg kept at x <= 10 cannot reach it.
  PathProblem p;
  p.limits = RunnerLimits{6.2, 0.9, 4.0, 3.0};
  p.points = {{0.0, 0.0}, {18.0, 0.0}, {18.0, 18.0}};
  p.half_planes = {{0, -1.0, 0.0, -20.0}};
  const PathResult r = best_path(p);
  EXPECT_FALSE(r.usable());
  EXPECT_FALSE(r.message.empty());
}

}  // namespace
