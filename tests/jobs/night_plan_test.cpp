// Planning a night: what mixes of drills are expected to tell.
#include "bagsplit/jobs/night/night_plan.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <utility>
#include <vector>

#include "bagsplit/inference/season/verdict.hpp"
#include "bagsplit/safety/safety.hpp"
#include "bagsplit/stats/planning.hpp"

namespace {

using namespace bagsplit;
using jobs::Mix;
using jobs::NightPlan;
using jobs::Wanted;

jobs::NightQuestion question() {
  jobs::NightQuestion q;
  q.age_years = 10.0;
  q.scales = {0.02, 0.015, 0.06, 1.0};
  q.simulated = 100;
  return q;
}

const Mix& mix_of(const NightPlan& plan, const std::string& name) {
  for (const Mix& mix : plan.mixes) {
    if (mix.name == name) {
      return mix;
    }
  }
  throw std::logic_error("no mix " + name);
}

// Identity: the linear expectation against the exact posterior of simulated players.
TEST(NightPlan, TheExpectationHoldsInSimulation) {
  const NightPlan plan = jobs::plan_night(question(), timing::DeviceBook());
  for (const char* name : {"most telling", "circuit only"}) {
    const Mix& mix = mix_of(plan, name);
    for (std::size_t w = 0; w < mix.expected_sd.size(); ++w) {
      ASSERT_TRUE(mix.simulated_sd[w]);
      EXPECT_NEAR(*mix.simulated_sd[w] / mix.expected_sd[w], 1.0, 0.1) << name << ' ' << w;
    }
  }
}

// Common practice, no source: what a coach should learn before the night. Circuits by one watch on the call tell top
// speed well, the time constant poorly and reaction hardly at all.
TEST(NightPlan, CircuitsAloneTellSpeedAndHardlyReaction) {
  const NightPlan plan = jobs::plan_night(question(), timing::DeviceBook());
  const Mix& circuits = mix_of(plan, "circuit only");
  EXPECT_GT(circuits.expected_sd[0], 0.9 * plan.prior_sd[0]);  // reaction
  EXPECT_GT(circuits.expected_sd[1], 0.7 * plan.prior_sd[1]);  // time constant
  EXPECT_LT(circuits.expected_sd[2], 0.6 * plan.prior_sd[2]);  // top speed
}

// Identity: the best of all mixes is at least as good as each, and fits the time.
TEST(NightPlan, TheMostTellingMixFitsAndIsNotBeaten) {
  jobs::NightQuestion q = question();
  q.simulated = 0;
  for (const double minutes : {20.0, 45.0, 90.0}) {
    q.minutes = minutes;
    q.gates = minutes > 30.0;
    const NightPlan plan = jobs::plan_night(q, timing::DeviceBook());
    const auto score = [&](const Mix& mix) {
      double sum = 0.0;
      for (std::size_t w = 0; w < mix.expected_sd.size(); ++w) {
        sum += std::log(mix.expected_sd[w] / plan.prior_sd[w]);
      }
      return sum;
    };
    for (const Mix& mix : plan.mixes) {
      EXPECT_LE(mix.minutes, minutes + 1e-9);
      EXPECT_GE(score(mix), score(plan.mixes.front()) - 1e-9) << mix.name;
    }
    // Identity: more time never tells less.
    q.minutes = 1.5 * minutes;
    EXPECT_LE(score(jobs::plan_night(q, timing::DeviceBook()).mixes.front()), score(plan.mixes.front()) + 1e-9);
  }
}

// Identity: the t interval and the change that would be told at the number of runs given, and at one fewer. The rule:
// inference/season/README.md.
TEST(RunsNeeded, AreTheFewestThatDo) {
  const jobs::RunsQuestion q{0.12, 4.0, 0.05, 0.06, 0.15, 0.8, 0.9};
  const jobs::RunsNeeded needed = jobs::runs_needed(q);
  ASSERT_TRUE(needed.for_half_width && needed.for_change && needed.nights_for_change);
  EXPECT_LE(stats::t_half_width(*needed.for_half_width, 0.12, 0.9), 0.06);
  EXPECT_GT(stats::t_half_width(*needed.for_half_width - 1, 0.12, 0.9), 0.06);
  const auto told_s = [](std::size_t n) {
    return season::detectable_change(static_cast<double>(n) / (2.0 * 0.12 * 0.12), 0.25, 0.035 * 4.0, 1.0, 0.8);
  };
  EXPECT_LE(told_s(*needed.for_change), 0.15);
  EXPECT_GT(told_s(*needed.for_change - 1), 0.15);
}

// Common practice, no source: 12 sprints of a child in an evening. Identity: evenings hold the runs and no fewer do.
TEST(RunsNeeded, MoreThanAnEveningIsSaidInEvenings) {
  const jobs::RunsQuestion q{0.12, 4.0, 0.05, 0.01, 0.02, 0.8, 0.9};
  const jobs::RunsNeeded needed = jobs::runs_needed(q);
  const std::size_t most = safety::most_sprints_an_evening;
  EXPECT_EQ(most, 12U);
  for (const auto& [runs, evenings] : {std::pair(needed.for_half_width, needed.evenings_for_half_width),
                                       std::pair(needed.for_change, needed.evenings_for_change)}) {
    ASSERT_TRUE(runs && evenings);
    EXPECT_GT(*evenings, 1U);
    EXPECT_GE(*evenings * most, *runs);
    EXPECT_LT((*evenings - 1) * most, *runs);
  }
  EXPECT_DOUBLE_EQ(needed.half_width_of_evening_s.value(), stats::t_half_width(most, 0.12, 0.9));
  const jobs::RunsNeeded few = jobs::runs_needed({0.12, 4.0, 0.05, 0.1, std::nullopt, 0.8, 0.9});
  EXPECT_EQ(few.evenings_for_half_width, 1U);
  EXPECT_FALSE(few.evenings_for_change);
}

// Identity: without a run there is no rest between runs; with time without end nobody runs more than an evening's most.
TEST(NightPlan, ATooShortNightHasNoRestAndALongOneNoMoreRuns) {
  jobs::NightQuestion q = question();
  q.simulated = 0;
  q.minutes = 5.0;
  q.players = 100;
  EXPECT_FALSE(jobs::plan_night(q, timing::DeviceBook()).least_rest_s);
  q.minutes = 600.0;
  q.players = 1;
  const NightPlan longest = jobs::plan_night(q, timing::DeviceBook());
  ASSERT_TRUE(longest.least_rest_s);
  EXPECT_GT(*longest.least_rest_s, 0.0);
  for (const Mix& mix : longest.mixes) {
    std::size_t runs = 0;
    for (const std::size_t n : mix.runs) {
      runs += n;
    }
    EXPECT_LE(runs, safety::most_sprints_an_evening) << mix.name;
  }
}

// Source: Moran et al. (2017), Int J Sports Med 38(1):1-11: 90 s between sprints or more. Identity: the runs fill the
// time.
TEST(NightPlan, OneChildAloneRestsAsLongAsTheSafetyTableSays) {
  jobs::NightQuestion q = question();
  q.simulated = 0;
  for (const double age : {8.0, 13.0}) {
    for (const double minutes : {10.0, 20.0, 45.0}) {
      for (const std::size_t players : {1U, 2U, 12U}) {
        q.age_years = age;
        q.minutes = minutes;
        q.players = players;
        const NightPlan plan = jobs::plan_night(q, timing::DeviceBook());
        if (!plan.least_rest_s) {
          continue;
        }
        EXPECT_GE(*plan.least_rest_s, safety::least_rest_s(age) - 1e-9) << age << ' ' << minutes << ' ' << players;
        EXPECT_NEAR(plan.slower * plan.mixes.front().minutes, minutes, 1e-9);
      }
    }
  }
}

TEST(NightPlan, RefusesWhatCannotBe) {
  // Identity: refused by name.
  jobs::NightQuestion q = question();
  q.watches = 0;
  EXPECT_THROW(jobs::plan_night(q, timing::DeviceBook()), std::domain_error);
  q = question();
  q.players = 0;
  EXPECT_THROW(jobs::plan_night(q, timing::DeviceBook()), std::domain_error);
}

jobs::NamedDrill named(const char* name) {
  const runs::Drill drill = *runs::find_drill(runs::builtin_drills(), name);
  return {drill, *runs::find_course(runs::builtin_courses(), drill.course)};
}

// Identity: a drill by name tells what the same run without one does.
TEST(NightPlan, ADrillByNameTellsWhatItsRunDoes) {
  const NightPlan plain = jobs::plan_night(question(), timing::DeviceBook());
  for (const auto& [drill, kind] : {std::pair{"home-to-first", "home-first only"}, {"once-round", "circuit only"}}) {
    jobs::NightQuestion q = question();
    q.drills = {named(drill)};
    const NightPlan plan = jobs::plan_night(q, timing::DeviceBook());
    ASSERT_EQ(plan.drills.size(), 1U);
    EXPECT_EQ(plan.drills[0].name, drill);
    const Mix& same = mix_of(plain, kind);
    const Mix& mix = mix_of(plan, "most telling");
    EXPECT_EQ(mix.runs[0], *std::max_element(same.runs.begin(), same.runs.end()));
    for (std::size_t w = 0; w < mix.expected_sd.size(); ++w) {
      EXPECT_NEAR(mix.expected_sd[w], same.expected_sd[w], 1e-9) << drill << ' ' << w;
    }
  }
}

// Identity: with a start from lying alone the reaction and the get-up cannot be told apart; beside the same from
// standing they can. Each drill asked for is run once at least, and no child more than twelve times.
TEST(NightPlan, StandingBesideLyingPartsGetUpFromReaction) {
  jobs::NightQuestion q = question();
  q.minutes = 120.0;
  q.drills = {named("rise-and-run")};
  const NightPlan lying = jobs::plan_night(q, timing::DeviceBook());
  q.drills.push_back(named("stand-and-run"));
  const NightPlan both = jobs::plan_night(q, timing::DeviceBook());
  EXPECT_GT(lying.mixes[0].expected_sd[0], 0.95 * lying.prior_sd[0]);
  EXPECT_LT(both.mixes[0].expected_sd[0], 0.93 * lying.mixes[0].expected_sd[0]);
  EXPECT_GE(both.mixes[0].runs[0], 1U);
  EXPECT_GE(both.mixes[0].runs[1], 1U);
  EXPECT_LE(both.mixes[0].runs[0] + both.mixes[0].runs[1], safety::most_sprints_an_evening);
  EXPECT_EQ(mix_of(both, "as often as each drill says").runs, (std::vector<std::size_t>{3, 3}));
}

TEST(NightPlan, ARelayIsNotPlannedAsRunsOneByOne) {
  jobs::NightQuestion q = question();
  q.drills = {named("out-and-back")};
  EXPECT_NE(jobs::why_not_planned(q.drills[0]), "");
  EXPECT_THROW(jobs::plan_night(q, timing::DeviceBook()), std::domain_error);
  EXPECT_EQ(jobs::why_not_planned(named("rise-and-run")), "");
}

}  // namespace
