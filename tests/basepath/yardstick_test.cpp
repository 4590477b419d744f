#include "bagsplit/basepath/yardstick.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "bagsplit/basepath/path.hpp"
#include "bagsplit/basepath/straight.hpp"
#include "support/digits.hpp"

namespace {

using namespace bagsplit::basepath;

constexpr double ft = 0.3048;

TEST(Yardstick, PointMassOnTheCircleThroughTheBags) {
  // Computed: scipy 1.10.1, integrate.quad of 1/sqrt(1 - w^4): 17.176526700092822 s at 10 ft/s2 on a 90 ft square.
  // (Carozza, Johnson & Morgan 2010, Math Intelligencer 32(1):10-15, p. 10, print 17.8 s, which this does not
  // reproduce.)
  const Yardstick y = circle_path(4, 90.0 * ft, PointMassLimit{10.0 * ft}, false);
  EXPECT_DIGITS(y.total_s, 17.176526700092822, 9);
  // Identity: the arc is a quarter of the circumference a leg.
  EXPECT_DIGITS(y.length_m, 2.0 * std::acos(-1.0) * 90.0 * ft / std::sqrt(2.0), 13);
  double sum = 0.0;
  for (const double leg : y.leg_s) {
    sum += leg;
  }
  EXPECT_DIGITS(sum, y.total_s, 12);
  // Identity: at the lateral limit v = sqrt(r R).
  EXPECT_DIGITS(y.bag_speed_mps.back(), std::sqrt(10.0 * ft * 90.0 * ft / std::sqrt(2.0)), 9);
}

TEST(Yardstick, PointMassWithThreeFullStops) {
  // Source: Carozza, Johnson & Morgan (2010), Math Intelligencer 32(1):10-15, p. 10: 22.2 s at 10 ft/s2.
  const Yardstick y = square_path(4, 90.0 * ft, PointMassLimit{10.0 * ft}, false, 0.0);
  EXPECT_NEAR(y.total_s, 22.2, 0.05);
  // Identity: 3 legs of 2 sqrt(D/r) and one of sqrt(2 D/r).
  EXPECT_DIGITS(y.total_s, 22.242640687119284, 12);
}

TEST(Yardstick, FullStopsInThePathSolverAreTheSame) {
  // Identity: straight legs from rest to rest.
  PathProblem p;
  const double b = 90.0 * ft;
  p.points = {{0.0, 0.0}, {b, 0.0}, {b, b}, {0.0, b}, {0.0, 0.0}};
  p.full_stops = {1, 2, 3};
  p.limits = PointMassLimit{10.0 * ft};
  EXPECT_DIGITS(best_path(p).total_s, 22.242640687119284, 12);
  p.limits = RunnerLimits{8.0, 1.1, 4.0, 3.0};
  EXPECT_DIGITS(best_path(p).total_s, square_path(4, b, p.limits, false, 0.0).total_s, 12);
}

TEST(Yardstick, RunnerOnTheCircleTendsToThePointMass) {
  // Identity: V -> infinity with V/tau = L = B = r is the point mass. V = 15, tau = 15/r is as near as the limits
  // allow; the propulsion lost to speed makes it a little slower.
  const double r = 2.0;
  const double point = circle_path(2, 18.0, PointMassLimit{r}, true).total_s;
  const double runner = circle_path(2, 18.0, RunnerLimits{15.0, 7.5, r, r}, true).total_s;
  EXPECT_GT(runner, point);
  EXPECT_LT(runner, 1.2 * point);
}

TEST(Yardstick, OnAWideCircleWithAmpleGripTheCircleIsAStraightSprint) {
  // Identity: with L -> infinity turning costs nothing.
  const RunnerLimits runner{6.0, 0.9, 100.0, 3.0};
  const Yardstick y = circle_path(4, 27.432, runner, false);
  EXPECT_NEAR(y.total_s, straight_time_s(runner, y.length_m), 2e-3);
}

TEST(Yardstick, TheBestPathBeatsBothEverywhere) {
  // Identity: both yardsticks obey the same limits, so neither can be faster (the square cuts its corners by 0.41 m,
  // which is worth less than its slow corners cost).
  for (const double top : {4.5, 6.0, 8.5}) {
    for (const double lateral : {2.5, 4.0, 6.0}) {
      for (const bool stop : {false, true}) {
        for (const std::size_t legs : {2U, 4U}) {
          const RunnerLimits runner{top, 1.0, lateral, 3.0};
          PathProblem p;
          const double b = 18.288;
          p.points = {{0.0, 0.0}, {b, 0.0}, {b, b}, {0.0, b}, {0.0, 0.0}};
          p.points.resize(legs + 1);
          p.limits = runner;
          p.stop = stop;
          const double best = best_path(p).total_s;
          EXPECT_LT(best, circle_path(legs, b, runner, stop).total_s);
          EXPECT_LT(best, square_path(legs, b, runner, stop).total_s);
        }
      }
    }
  }
}

TEST(Yardstick, BadArgumentsAreRefused) {
  // Identity: bounds stated in the header.
  EXPECT_THROW(circle_path(0, 18.0, PointMassLimit{3.0}, false), std::domain_error);
  EXPECT_THROW(circle_path(5, 18.0, PointMassLimit{3.0}, false), std::domain_error);
  EXPECT_THROW(square_path(4, -18.0, PointMassLimit{3.0}, false), std::domain_error);
  EXPECT_THROW(square_path(4, 18.0, PointMassLimit{3.0}, false, -1.0), std::domain_error);
}

}  // namespace
