// What a coach is told to work on, from profiles made by hand.
#include "bagsplit/jobs/profile/advice.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "bagsplit/jobs/circumstances.hpp"
#include "bagsplit/jobs/profile/own_times.hpp"
#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/jobs/trend/season_trend.hpp"
#include "bagsplit/safety/safety.hpp"

namespace bagsplit::jobs {
namespace {

// A range of so much either side holds nine times in ten: 1.645 SD.
Estimate value(double median, double half, double share = 0.9) {
  return {median, half / 1.6449, median - half, median, median + half, share};
}

PlayerProfile child(const std::string& id, double reaction_s, std::optional<double> age = 11.0) {
  PlayerProfile out;
  out.player = id;
  out.age_years = age;
  out.runs_used = 6;
  out.base_distance_m = 18.288;
  out.prior_reaction_s = {0.32, 0.08};
  out.prior_log_top_speed = {std::log(6.0), 0.1};
  out.prior_log_time_constant = {0.0, 0.2};
  out.reaction_s = value(reaction_s, 0.05);
  out.top_speed_mps = value(6.0, 0.15);
  out.time_constant_s = value(1.0, 0.05);
  return out;
}

void loses(PlayerProfile& player, const std::string& bag, double loss_s, std::optional<double> beyond_s) {
  player.segment_loss_s.push_back({bag, value(loss_s, 0.08)});
  if (beyond_s) {
    player.loss_to_best_path_by_segment_s.push_back({bag, value(*beyond_s, 0.08)});
  }
}

const Marked& mark_of(const PlayerProfile& player, std::string_view what) {
  for (std::size_t k = 0; k < marked_quantities.size(); ++k) {
    if (marked_quantities[k].what == what) {
      return player.marks[k];
    }
  }
  throw std::invalid_argument("no such quantity");
}

std::vector<std::string> work_of(const PlayerProfile& player) {
  std::vector<std::string> out;
  for (const WorkOn& one : player.work_on) {
    out.push_back(one.what);
  }
  return out;
}

// Identity: what the best path loses as well is nothing to work on, however much it is; without a best path nothing is
// known.
TEST(Marks, ABagIsHeldAgainstTheOwnBestPath) {
  ProfileResult squad;
  squad.players = {child("12", 0.32)};
  loses(squad.players[0], "first", 0.50, std::nullopt);
  loses(squad.players[0], "second", 0.60, 0.02);
  loses(squad.players[0], "third", 0.45, 0.36);
  loses(squad.players[0], "home", 0.10, -0.20);
  mark_squad(squad);
  const PlayerProfile& player = squad.players[0];
  EXPECT_EQ(mark_of(player, "first").mark, Mark::unknown);
  EXPECT_EQ(mark_of(player, "second").mark, Mark::ordinary);
  EXPECT_EQ(mark_of(player, "third").mark, Mark::work);
  EXPECT_EQ(mark_of(player, "home").mark, Mark::good);
  EXPECT_EQ(work_of(player), std::vector<std::string>{"third"});
  EXPECT_EQ(player.work_on[0].text,
            "Loses 0.36 s rounding third beyond the child's own best way round, give or take 0.08.");
}

// Identity: the number alone gives the mark, at the limit too: 0.18 less 0.08 is not above 0.10.
TEST(Marks, TheNumberSaysTheMark) {
  const MarkedQuantity& bag = marked_quantities[4];
  const double sd = 0.08 / 1.6449;
  EXPECT_EQ(marked(bag, 0.18, sd).mark, Mark::ordinary);
  EXPECT_EQ(marked(bag, 0.19, sd).mark, Mark::work);
  EXPECT_EQ(marked(bag, -0.18, sd).mark, Mark::ordinary);
  EXPECT_EQ(marked(bag, -0.19, sd).mark, Mark::good);
  EXPECT_EQ(marked(bag, 0.10, 0.20 / 1.6449).mark, Mark::unknown);
  EXPECT_EQ(marked(bag, 0.50, 0.20 / 1.6449).mark, Mark::work) << "wide, and sure all the same";
}

// Identity: the middle of 0.30, 0.32, 0.34 and 0.50 is 0.33; a timer's delay that all have moves nobody.
TEST(Marks, TheCallIsHeldAgainstTheMiddleOfTheSquad) {
  for (const double delay : {0.0, 0.2}) {
    ProfileResult squad;
    squad.players = {child("1", 0.30 + delay), child("2", 0.32 + delay), child("3", 0.34 + delay),
                     child("4", 0.50 + delay)};
    mark_squad(squad);
    const Marked& last = mark_of(squad.players[3], "call");
    EXPECT_EQ(last.mark, Mark::work);
    EXPECT_NEAR(*last.cost_s, 0.17, 1e-9);
    EXPECT_EQ(mark_of(squad.players[1], "call").mark, Mark::ordinary);
    EXPECT_EQ(work_of(squad.players[3]), std::vector<std::string>{"call"});
  }
}

// Identity: the squad's own line over age: who is as slow to get up as the young are is slow only among the old.
TEST(Marks, GettingUpIsHeldAgainstTheSquadsLineOverAge) {
  ProfileResult squad;
  for (int k = 0; k < 6; ++k) {
    squad.players.push_back(child(std::to_string(k), 0.32, 8.0 + k));
    squad.players.back().posture_cost_s = {{"prone", value(1.2 - 0.1 * k, 0.06)}};
  }
  squad.players.push_back(child("slow", 0.32, 13.0));
  squad.players.back().posture_cost_s = {{"prone", value(1.2, 0.06)}};
  squad.players.push_back(child("no age", 0.32, std::nullopt));
  squad.players.back().posture_cost_s = {{"prone", value(1.2, 0.06)}};
  mark_squad(squad);
  EXPECT_EQ(mark_of(squad.players[0], "get-up").mark, Mark::ordinary);
  EXPECT_EQ(mark_of(squad.players[6], "get-up").mark, Mark::work);
  EXPECT_EQ(mark_of(squad.players[7], "get-up").why, Unknown::no_age);
}

// Identity: at first base a child of 5 m/s comes later than one of 6 by about the time the straight alone takes longer:
// 18.288/5 - 18.288/6 = 0.61 s.
TEST(Marks, SpeedIsSecondsAtFirstBase) {
  ProfileResult squad;
  squad.players = {child("1", 0.32), child("2", 0.32), child("3", 0.32), child("4", 0.32),
                   child("5", 0.32, std::nullopt)};
  squad.players[3].top_speed_mps = value(5.0, 0.10);
  mark_squad(squad);
  const Marked& slow = mark_of(squad.players[3], "speed");
  EXPECT_EQ(slow.mark, Mark::work);
  EXPECT_NEAR(*slow.cost_s, 0.61, 0.03);
  EXPECT_EQ(mark_of(squad.players[3], "first-steps").mark, Mark::ordinary);
  EXPECT_EQ(mark_of(squad.players[4], "speed").mark, Mark::unknown) << "without a birth date speed has no measure";
}

TEST(Marks, WhatIsNotKnownSaysWhy) {
  ProfileResult squad;
  squad.players = {child("1", 0.30), child("2", 0.32)};
  squad.players[1].reaction_s->share_from_data = 0.2;
  mark_squad(squad);
  EXPECT_EQ(mark_of(squad.players[0], "call").why, Unknown::few_children);
  EXPECT_EQ(mark_of(squad.players[1], "call").why, Unknown::few_runs);
  EXPECT_EQ(mark_of(squad.players[0], "get-up").why, Unknown::never_timed);
  EXPECT_FALSE(mark_of(squad.players[0], "call").cost_s);
}

// Identity: most to win first, then not known, then strengths, then the others; columns nobody was timed in are gone.
TEST(Marks, OrderedByWhatMatters) {
  ProfileResult squad;
  for (const char* id : {"1", "2", "3", "4", "5"}) {
    squad.players.push_back(child(id, 0.32));
  }
  loses(squad.players[0], "second", 0.4, 0.0);
  loses(squad.players[1], "second", 0.4, -0.3);
  loses(squad.players[3], "second", 0.4, 0.3);
  loses(squad.players[4], "second", 0.8, 0.6);
  squad.players[2] = PlayerProfile();
  squad.players[2].player = "3";
  mark_squad(squad);
  const std::vector<std::size_t> timed = timed_quantities(squad);
  EXPECT_EQ(timed, (std::vector<std::size_t>{0, 2, 3, 5}));
  EXPECT_EQ(by_what_matters(squad, timed), (std::vector<std::size_t>{4, 3, 2, 1, 0}));
}

// Source: lib/bagsplit/safety: 90 s of rest below 12 years, 120 s from there, 12 sprints an evening at most.
TEST(Marks, EveryQuantityHasADrillWithinWhatIsSafe) {
  for (const double age : {9.0, 13.0}) {
    PlayerProfile player = child("12", 0.32, age);
    for (std::size_t k = 0; k < change_quantity; ++k) {
      player.marks[k] = {Mark::work, Unknown::none, 0.5 - 0.01 * static_cast<double>(k), 0.05};
    }
    const std::vector<WorkOn> work = work_on(player);
    ASSERT_EQ(work.size(), change_quantity);
    for (std::size_t k = 0; k < work.size(); ++k) {
      EXPECT_EQ(work[k].what, marked_quantities[k].what);
      EXPECT_FALSE(work[k].drill.empty());
      EXPECT_FALSE(work[k].how.empty());
      EXPECT_LE(work[k].runs, safety::most_sprints_an_evening);
      EXPECT_EQ(work[k].rest_s, age < 12.0 ? 90.0 : 120.0);
    }
  }
}

// Identity: the slowest tenth of a normal lies 1.28 SD below its middle; -0.45 + 1.645 * 0.10 is below -0.26, -0.40 +
// 0.16 is not. Nothing of a start where the clock is in doubt.
TEST(Marks, FirstStepsOnlyOfTheSlowestTenthAndWhereTheClockIsSure) {
  const auto squad_with = [](double own_log, FirstSteps::Clock clock) {
    ProfileResult squad;
    squad.players = {child("1", 0.32), child("2", 0.32), child("3", 0.32), child("4", 0.32)};
    for (PlayerProfile& player : squad.players) {
      player.own_first_acceleration = OwnFirstAcceleration{{0.0, 0.10}, 0.2, 0.75};
    }
    squad.players[3].time_constant_s = value(1.5, 0.05);
    squad.players[3].own_first_acceleration->log.mean = own_log;
    squad.squad.emplace();
    squad.squad->first_steps.clock = clock;
    mark_squad(squad);
    return squad;
  };
  EXPECT_EQ(mark_of(squad_with(-0.45, FirstSteps::Clock::fits).players[3], "first-steps").mark, Mark::work);
  EXPECT_EQ(mark_of(squad_with(-0.40, FirstSteps::Clock::fits).players[3], "first-steps").mark, Mark::ordinary);
  const ProfileResult late = squad_with(-0.45, FirstSteps::Clock::starts_late);
  EXPECT_EQ(mark_of(late.players[3], "first-steps").why, Unknown::clock);
  EXPECT_EQ(mark_of(late.players[3], "call").why, Unknown::clock);
}

// Identity: the trend's own verdicts; who was not seen early and late is not known.
TEST(Marks, TheChangeIsTheTrends) {
  ProfileResult squad;
  squad.players = {child("1", 0.3), child("2", 0.3), child("3", 0.3), child("4", 0.3)};
  SeasonTrend trend;
  const auto add = [&](const char* id, double beyond_s, season::Verdict verdict) {
    SeasonPlayer& one = trend.players.emplace_back();
    one.player = id;
    one.change.emplace();
    one.change->seen_early_and_late = true;
    one.change->beyond_growth_s = {beyond_s, 0.05};
    one.change->beyond_growth_interval_s = {beyond_s - 0.1, beyond_s + 0.1};
    one.change->verdict = verdict;
  };
  add("1", -0.161, season::Verdict::surely_faster);
  add("2", 0.2, season::Verdict::surely_slower);
  add("3", 0.0, season::Verdict::no_sign);
  mark_changes(squad, trend);
  EXPECT_EQ(mark_of(squad.players[0], "change").mark, Mark::good);
  EXPECT_NEAR(*mark_of(squad.players[0], "change").cost_s, -0.16, 1e-9);
  EXPECT_EQ(mark_of(squad.players[1], "change").mark, Mark::work);
  EXPECT_EQ(mark_of(squad.players[2], "change").mark, Mark::ordinary);
  EXPECT_EQ(mark_of(squad.players[3], "change").why, Unknown::two_dates);
  EXPECT_TRUE(work_on(squad.players[1]).empty()) << "that a child got slower is no drill";
}

// Identity: the times as typed; the first watch counts, a fall does not, the best lap is the one soonest home.
TEST(OwnTimes, AsTheWatchReadThem) {
  const runs::RunLogResult read = runs::read_run_log(
      "# base-distance: 60 ft\ndate,player,course,trial,timer,first,second,third,home,flag\n"
      "2026-04-11,12,circuit,1,AK,4.35,7.72,10.90,14.01,\n"
      "2026-04-11,12,circuit,1,RB,4.31,7.65,10.82,13.96,\n"
      "2026-04-18,12,circuit,1,AK,4.40,7.62,10.70,13.84,\n"
      "2026-04-18,12,circuit,2,AK,4.20,7.30,10.20,13.10,fall\n"
      "2026-04-18,12,home-first,1,AK,4.05,,,,\n",
      "night.csv");
  ASSERT_TRUE(read.problems.empty());
  ProfileResult squad;
  squad.players = {child("12", 0.32)};
  const std::vector<OwnRecord> own = own_records(read.log, squad, std::nullopt, std::nullopt);
  ASSERT_EQ(own.size(), 1U);
  ASSERT_EQ(own[0].times.size(), 2U);
  const OwnTimes& lap = own[0].times[0];
  EXPECT_EQ(lap.course, "circuit");
  EXPECT_EQ(lap.runs.size(), 2U);
  EXPECT_EQ(lap.best_s, 13.84);
  EXPECT_NEAR(lap.usual_s, 13.925, 1e-9);
  EXPECT_EQ(lap.last_s, 13.84);
  ASSERT_TRUE(own[0].best_lap);
  EXPECT_EQ(own[0].best_lap->second_s, 7.62);
  EXPECT_EQ(own[0].times[1].best_s, 4.05);
}

// Identity: 28 days are four weeks and nothing is said; 49 days are seven.
TEST(Circumstances, ManyWeeksAreSaid) {
  const runs::Date first = std::chrono::year(2026) / 4 / 1;
  EXPECT_FALSE(pooled_weeks(first, first + std::chrono::days(28)));
  EXPECT_FALSE(pooled_weeks(first, std::nullopt));
  EXPECT_EQ(pooled_weeks(first, first + std::chrono::days(49)), 7);
  EXPECT_NE(as_of_words(7, false).find("those of the last day: growth and change over the 7 weeks"), std::string::npos);
  EXPECT_NE(as_of_words(7, true).find("the day asked for"), std::string::npos);
}

TEST(Circumstances, WindsThatDiffer) {
  EXPECT_EQ(wind_words(std::nullopt), "");
  EXPECT_EQ(wind_words(WindRange{-0.5, 1.4}), "");
  EXPECT_NE(wind_words(WindRange{-0.5, 1.5}).find("Winds from -0.5 to 1.5 m/s"), std::string::npos);
}

}  // namespace
}  // namespace bagsplit::jobs
