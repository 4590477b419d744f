#include "bagsplit/basepath/straight.hpp"

#include <gtest/gtest.h>

#include <boost/math/special_functions/lambert_w.hpp>
#include <cmath>
#include <limits>

#include "bagsplit/basepath/path.hpp"
#include "support/digits.hpp"

namespace {

using namespace bagsplit::basepath;

constexpr double through = std::numeric_limits<double>::infinity();

TEST(Straight, TimeIsTheLambertForm) {
  // Computed: Boost.Math lambert_w0, t(d) = tau (c + W0(-exp(-c))), c = 1 + d/(V tau).
  for (const double d : {1.0, 5.0, 18.288, 27.432, 60.0}) {
    for (const double top : {3.5, 6.2, 9.4}) {
      for (const double tau : {0.5, 0.85, 1.4}) {
        const double c = 1.0 + d / (top * tau);
        const double expected = tau * (c + boost::math::lambert_w0(-std::exp(-c)));
        EXPECT_DIGITS(straight_time_s(RunnerLimits{top, tau, 4.0, 3.0}, d), expected, 11);
      }
    }
  }
}

TEST(Straight, BestPathHomeToFirstIsThatTime) {
  // Identity: the best path of one leg run through is the straight sprint.
  PathProblem p;
  p.points = {{0.0, 0.0}, {18.288, 0.0}};
  p.limits = RunnerLimits{6.2, 0.85, 5.0, 4.0};
  const PathResult r = best_path(p);
  const double c = 1.0 + 18.288 / (6.2 * 0.85);
  EXPECT_DIGITS(r.total_s, 0.85 * (c + boost::math::lambert_w0(-std::exp(-c))), 11);
  EXPECT_TRUE(r.usable());
  EXPECT_EQ(r.certificate.cost_s(), 0.0);
}

TEST(Straight, PointMassThroughAndToRest) {
  // Identity: sqrt(2 d/r) through, 2 sqrt(d/r) from rest to rest.
  EXPECT_DIGITS(straight_time_s(PointMassLimit{3.048}, 27.432), std::sqrt(2.0 * 27.432 / 3.048), 13);
  const StraightRun stop = straight_run(PointMassLimit{3.048}, 27.432, 0.0, 0.0);
  EXPECT_DIGITS(stop.total_s(), 2.0 * std::sqrt(27.432 / 3.048), 13);
  EXPECT_DIGITS(stop.gaining_s, stop.losing_s, 13);
}

TEST(Straight, ARunThatStopsObeysItsOwnEquations) {
  // Identity: distances of the two phases sum to the whole, speed is continuous and ends at 0.
  const RunnerLimits runner{7.0, 1.1, 4.0, 2.7};
  const StraightRun run = straight_run(runner, 18.288, 0.0, 0.0);
  const double u = 7.0 * -std::expm1(-run.gaining_s / 1.1);
  const double x = 7.0 * (run.gaining_s + 1.1 * std::expm1(-run.gaining_s / 1.1));
  EXPECT_DIGITS(run.peak_speed_mps, u, 12);
  EXPECT_DIGITS(x + u * u / (2.0 * 2.7), 18.288, 12);
  EXPECT_DIGITS(run.losing_s, u / 2.7, 12);
  const StraightState end = straight_state(runner, run, run.total_s());
  EXPECT_NEAR(end.speed_mps, 0.0, 1e-12);
  EXPECT_DIGITS(end.distance_m, 18.288, 12);
}

TEST(Straight, AStartWithSpeedIsTheSprintJoinedLate) {
  // Identity: from the speed a sprint has after 5 m, the next 10 m take t(15) - t(5).
  const RunnerLimits runner{6.5, 0.9, 4.0, 3.0};
  const StraightRun to5 = straight_run(runner, 5.0, 0.0, through);
  const StraightRun on = straight_run(runner, 10.0, to5.end_speed_mps, through);
  EXPECT_DIGITS(on.total_s(), straight_time_s(runner, 15.0) - straight_time_s(runner, 5.0), 11);
}

TEST(Straight, AStopThatCannotBeMadeIsRefused) {
  // Identity: v^2/(2 B) = 49/6 > 8 m.
  EXPECT_THROW(straight_run(RunnerLimits{8.0, 1.0, 4.0, 3.0}, 8.0, 7.0, 0.0), std::domain_error);
  EXPECT_NO_THROW(straight_run(RunnerLimits{8.0, 1.0, 4.0, 3.0}, 8.2, 7.0, 0.0));
  EXPECT_THROW(straight_run(RunnerLimits{8.0, 1.0, 4.0, 3.0}, -1.0, 0.0, 0.0), std::domain_error);
  EXPECT_THROW(straight_run(RunnerLimits{8.0, 1.0, 4.0, 3.0}, 1.0, 8.0, 0.0), std::domain_error);
}

}  // namespace
