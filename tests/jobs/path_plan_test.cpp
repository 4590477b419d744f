#include "bagsplit/jobs/path/path_plan.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "bagsplit/inference/prior/prior.hpp"
#include "support/digits.hpp"

namespace bagsplit::jobs {
namespace {

PathQuestion question(const char* course, const basepath::Limits& limits, double base_m = 18.288) {
  PathQuestion q;
  q.course = *runs::find_course(runs::builtin_courses(), course);
  q.base_distance_m = base_m;
  q.limits = limits;
  return q;
}

const basepath::RunnerLimits child{6.2, 0.85, 4.0, 3.0};

TEST(PathPlan, PointMassCircuitIsThePublishedOne) {
  const PathPlan p = plan_path(question("circuit", basepath::PointMassLimit{3.048}, 27.432));
  ASSERT_TRUE(p.usable());
  // Source: Carozza, Johnson & Morgan (2010), Math Intelligencer 32(1):10-15, p. 10: 16.7 s, 25 degrees right of the
  // line, 25% below full stops; within 1%.
  EXPECT_NEAR(p.answer.total_s, 16.7, 0.167);
  EXPECT_NEAR(p.answer.start_angle_deg, 25.0, 0.5);
  // Computed: scipy 1.10.1, point_mass_path.py: circle 17.176527 s, optimum 16.579151 s.
  EXPECT_NEAR(*p.answer.saved_over_circle_s, 17.176527 - 16.579151, 1e-4);
  EXPECT_TRUE(p.lateral.empty());
}

TEST(PathPlan, ReverseIsTheMirrorImageInACoachsTerms) {
  // Identity: angles inwards and outwards, widths and times do not know the direction.
  const PathPlan a = plan_path(question("home-second", child));
  const PathPlan b = plan_path(question("home-second-reverse", child));
  ASSERT_TRUE(a.usable() && b.usable());
  EXPECT_NEAR(a.answer.start_angle_deg, b.answer.start_angle_deg, 0.02);
  EXPECT_GT(a.answer.start_angle_deg, 5.0);
  EXPECT_NEAR(a.answer.bags[0].entry_angle_deg, b.answer.bags[0].entry_angle_deg, 0.02);
  EXPECT_GT(a.answer.bags[0].entry_angle_deg, 20.0);
  EXPECT_NEAR(a.answer.widest_m(), b.answer.widest_m(), 0.01);
  EXPECT_EQ(b.answer.bags[0].bag, "third");
}

TEST(PathPlan, ShowsThePlausibleLateralLimitsBesideTheOneAskedFor) {
  // Identity: more grip is never slower.
  basepath::RunnerLimits asked = child;
  asked.lateral_mps2 = 5.0;
  const PathPlan p = plan_path(question("circuit", asked));
  ASSERT_EQ(p.lateral.size(), 4U);
  EXPECT_DOUBLE_EQ(p.lateral[2].lateral_mps2, 5.0);
  EXPECT_DOUBLE_EQ(p.lateral[2].answer.total_s, p.answer.total_s);
  for (std::size_t k = 1; k < 4; ++k) {
    EXPECT_LT(p.lateral[k].answer.total_s, p.lateral[k - 1].answer.total_s);
    EXPECT_LT(p.lateral[k].answer.widest_m(), p.lateral[k - 1].answer.widest_m());
  }
  EXPECT_EQ(plan_path(question("circuit", child)).lateral.size(), 3U);  // 4.0 is in the range already
}

TEST(PathPlan, SavesTimeOverBothSimpleWays) {
  // Identity: both obey the same limits.
  for (const char* course : {"circuit", "home-second", "home-third", "first-third", "second-home"}) {
    const PathPlan p = plan_path(question(course, child));
    ASSERT_TRUE(p.usable()) << course;
    EXPECT_GT(*p.answer.saved_over_square_s, 0.0) << course;
    EXPECT_GT(*p.answer.saved_over_circle_s, 0.0) << course;
  }
  EXPECT_FALSE(plan_path(question("home-first", child)).answer.saved_over_square_s);
}

TEST(PathPlan, AnAgeGroupsSpreadIsThatOfItsSprints) {
  // Computed: 25 solves over the two priors in place of the slopes at their middle (below).
  PathQuestion q = question("circuit", child);
  const inference::SprintPrior prior = inference::sprint_prior(11.0, runs::Sex::female);
  q.limits =
      basepath::RunnerLimits{std::exp(prior.log_top_speed.mean), std::exp(prior.log_time_constant.mean), 4.0, 3.0};
  q.runner.kind = PathRunner::Kind::age_group;
  q.runner.log_top_speed = prior.log_top_speed;
  q.runner.log_time_constant = prior.log_time_constant;
  const PathPlan p = plan_path(q);
  ASSERT_TRUE(p.total_interval_s);
  const double z[] = {-2.8569700, -1.3556262, 0.0, 1.3556262, 2.8569700};  // Gauss-Hermite, five points
  const double w[] = {0.0112574, 0.2220759, 0.5333333, 0.2220759, 0.0112574};
  double mean = 0.0;
  double square = 0.0;
  for (int i = 0; i < 5; ++i) {
    for (int j = 0; j < 5; ++j) {
      const basepath::RunnerLimits l{std::exp(prior.log_top_speed.mean + z[i] * prior.log_top_speed.sd),
                                     std::exp(prior.log_time_constant.mean + z[j] * prior.log_time_constant.sd), 4.0,
                                     3.0};
      const double t = basepath::best_path(basepath::course_problem(q.course, q.base_distance_m, l)).total_s;
      mean += w[i] * w[j] * t;
      square += w[i] * w[j] * t * t;
    }
  }
  EXPECT_NEAR(p.total_interval_s->sd, std::sqrt(square - mean * mean), 0.06 * p.total_interval_s->sd);
  EXPECT_NEAR(p.total_interval_s->mean, mean, 0.1);
  EXPECT_LT(p.total_interval_s->lo, p.answer.total_s);
  EXPECT_GT(p.total_interval_s->hi, p.answer.total_s);
}

// Identity: the question about a player is the one with that player's medians and the profile's own limits.
TEST(PathPlan, APlayersOwnPathIsThatOfItsMedians) {
  PlayerProfile profile;
  profile.player = "12";
  EXPECT_FALSE(own_path_question(profile, runs::builtin_courses()));
  profile.top_speed_mps = Estimate{6.2, 0.2, 5.9, 6.2, 6.5, 0.9};
  profile.time_constant_s = Estimate{0.85, 0.1, 0.7, 0.85, 1.0, 0.9};
  profile.base_distance_m = 18.288;
  profile.best_path = BestPathYardstick{"circuit", child.lateral_mps2, child.braking_mps2, {}, {}};
  auto own = own_path_question(profile, runs::builtin_courses());
  ASSERT_TRUE(own);
  own->other_laterals = false;
  const PathPlan plan = plan_path(*own);
  ASSERT_TRUE(plan.usable());
  EXPECT_TRUE(plan.lateral.empty());
  EXPECT_DOUBLE_EQ(plan.answer.total_s, plan_path(question("circuit", child)).answer.total_s);
  profile.best_path->course = "a course nobody knows";
  EXPECT_FALSE(own_path_question(profile, runs::builtin_courses()));
}

TEST(PathPlan, NamesTheLimitThatMakesAStopImpossible) {
  // Identity: v^2 = 2 B x.
  PathQuestion q = question("first-second", basepath::RunnerLimits{6.2, 0.85, 4.0, 0.5});
  q.start_speed_mps = 6.0;
  EXPECT_NE(impossible_stop(q).find("braking limit is 0.5 m/s2"), std::string::npos);
  q.limits = basepath::RunnerLimits{6.2, 0.85, 4.0, 1.0};
  EXPECT_EQ(impossible_stop(q), "");
  q.course.finish = runs::Finish::through;
  q.limits = basepath::RunnerLimits{6.2, 0.85, 4.0, 0.2};
  EXPECT_EQ(impossible_stop(q), "");
}

TEST(PathPlan, WithoutACertifiedPathThereIsNoPath) {
  // Identity: no room outside the line, none to turn in.
  PathQuestion q = question("circuit", basepath::RunnerLimits{9.0, 0.5, 0.2, 0.2});
  q.max_outside_m = 0.01;
  const PathPlan p = plan_path(q);
  EXPECT_FALSE(p.usable());
  EXPECT_FALSE(p.message.empty());
  EXPECT_TRUE(p.path.empty());
  EXPECT_TRUE(p.answer.bags.empty());
}

}  // namespace
}  // namespace bagsplit::jobs
