// What a coach is told to work on, from profiles made by hand.
#include "bagsplit/jobs/profile/advice.hpp"

#include <gtest/gtest.h>

#include "bagsplit/jobs/circumstances.hpp"

namespace bagsplit::jobs {
namespace {

Estimate value(double median, double half) {
  return {median, half / 1.645, median - half, median, median + half, 0.9};
}

PlayerProfile losing(double loss_second_s, double loss_home_s) {
  PlayerProfile out;
  out.player = "12";
  out.runs_used = 4;
  out.segment_loss_s = {{"second", value(loss_second_s, 0.15)}, {"home", value(loss_home_s, 0.15)}};
  return out;
}

std::vector<std::string> work_on(PlayerProfile player) {
  advise(player);
  return player.work_on;
}

bool says(const std::vector<std::string>& sentences, const std::string& part) {
  return sentences.size() == 1 && sentences.front().find(part) != std::string::npos;
}

// Identity: what the best path loses as well is nothing to work on, however much it is.
TEST(WorkOn, NothingWhereTheBestPathLosesAsMuch) {
  PlayerProfile player = losing(0.60, 0.45);
  player.loss_to_best_path_by_segment_s = {{"second", value(0.01, 0.15)}, {"home", value(0.24, 0.15)}};
  EXPECT_TRUE(work_on(player).empty());
}

// Identity: chosen by what is beyond the best path, not by the whole loss; between 0.36 - 0.15 and 0.36 + 0.15.
TEST(WorkOn, TheBagWithMostBeyondTheBestPath) {
  PlayerProfile player = losing(0.60, 0.45);
  player.loss_to_best_path_by_segment_s = {{"second", value(0.26, 0.15)}, {"home", value(0.36, 0.15)}};
  EXPECT_TRUE(says(work_on(player),
                   "from third to home: about 0.36 s is lost there beyond what the best path for this sprint loses "
                   "(between 0.21 and 0.51 s)"));
}

// Identity: without a best path the loss against a straight sprint is all there is; 0.60 - 0.15 is above 0.10.
TEST(WorkOn, AgainstAStraightSprintWhereNoBestPathIsKnown) {
  EXPECT_TRUE(
      says(work_on(losing(0.60, 0.45)), "rounding second: about 0.60 s is lost there against a straight sprint"));
  EXPECT_TRUE(work_on(losing(0.24, 0.20)).empty());
}

// Identity: the slowest tenth of a normal lies 1.28 SD below its middle; -0.45 + 1.645 * 0.10 is below -0.26, -0.40 is
// not. Nothing where the clock is in doubt, nor of the call then.
TEST(WorkOn, FirstStepsOnlyAgainstTheSquadAndWhereTheClockIsSure) {
  PlayerProfile player;
  player.player = "12";
  player.max_acceleration_mps2 = value(4.4, 0.4);
  player.own_first_acceleration = OwnFirstAcceleration{{-0.45, 0.10}, 0.2, 0.75};
  EXPECT_TRUE(says(work_on(player), "surely among the slowest tenth of this squad"));
  player.reaction_s = value(0.9, 0.1);
  player.prior_reaction_s = {0.35, 0.1};
  EXPECT_EQ(work_on(player).size(), 2U);
  FirstSteps squad;
  squad.level_told = false;
  EXPECT_TRUE(says(work_on(player, squad), "The call"));
  squad.clock = FirstSteps::Clock::starts_late;
  EXPECT_TRUE(work_on(player, squad).empty());
  player.reaction_s.reset();
  player.own_first_acceleration = OwnFirstAcceleration{{-0.40, 0.10}, 0.2, 0.75};
  EXPECT_TRUE(work_on(player).empty());
}

// Identity: 28 days are four weeks and nothing is said; 49 days are seven.
TEST(Circumstances, ManyWeeksAreSaid) {
  const runs::Date first = std::chrono::year(2026) / 4 / 1;
  EXPECT_EQ(pooled_weeks_words(first, first + std::chrono::days(28)), "");
  EXPECT_EQ(pooled_weeks_words(first, std::nullopt), "");
  const std::string words = pooled_weeks_words(first, first + std::chrono::days(49));
  EXPECT_NE(words.find("These values average 7 weeks"), std::string::npos);
  EXPECT_NE(words.find("the last two weeks alone"), std::string::npos);
  EXPECT_EQ(words.find("--"), std::string::npos);
}

TEST(Circumstances, WindsThatDiffer) {
  EXPECT_EQ(wind_words(std::nullopt), "");
  EXPECT_EQ(wind_words(WindRange{-0.5, 1.4}), "");
  EXPECT_NE(wind_words(WindRange{-0.5, 1.5}).find("Winds from -0.5 to 1.5 m/s"), std::string::npos);
}

}  // namespace
}  // namespace bagsplit::jobs
