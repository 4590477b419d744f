// Even teams from runs: chances in closed form, players without runs, the same answer for the same input.
#include "bagsplit/coach/teams.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>

#include "bagsplit/coach/squad_settled.hpp"
#include "bagsplit/runs/roster.hpp"
#include "bagsplit/runs/run_log.hpp"
#include "bagsplit/sprint/curve.hpp"
#include "bagsplit/stats/distributions.hpp"

namespace {

using namespace bagsplit;
using coach::TeamsOptions;
using coach::TeamsResult;

const TeamsOptions plain;

TeamsResult teams_of(const std::string& log_text, const TeamsOptions& options = plain, const std::string& roster_text = "player\n") {
  const runs::RosterResult roster = runs::read_roster(roster_text, "roster.csv");
  const runs::RunLogResult log = runs::read_run_log(log_text, "log.csv");
  EXPECT_FALSE(runs::has_errors(log.problems)) << (log.problems.empty() ? "" : log.problems.front().message);
  return coach::even_teams(log.log, roster.roster, timing::DeviceBook(), options);
}

std::string squad_log() {
  std::string log = "# base-distance: 60 ft\ndate,player,course,timer,second\n";
  const char* const times[] = {"8.10", "8.31", "8.02", "9.05", "8.77", "8.60", "9.40", "8.95"};
  for (int k = 0; k < 8; ++k) {
    log += "2026-05-01," + std::to_string(k + 1) + ",home-second,AK," + times[k] + "\n";
  }
  return log;
}

// Two children who strolled home-second: times (made up) so far from any prior that the squad's fit does not settle.
std::string strolled() {
  std::string log = "# base-distance: 60 ft\n# start: signal\ndate,player,course,trial,timer,first,second\n";
  const char* const times[] = {"24.09,27.12", "24.27,27.55", "28.30,31.36", "24.00,27.03", "25.90,29.22", "23.36,26.83"};
  for (int k = 0; k < 6; ++k) {
    log += std::string(k % 3 == 1 ? "2026-05-02," : "2026-05-01,") + std::to_string(1 + k / 3) + ",home-second," +
           std::to_string(1 + k % 3) + ",AK," + times[k] + "\n";
  }
  return log;
}

std::string players_in(const coach::EvenTeam& team) {
  std::string out;
  for (const coach::TeamMember& member : team.members) {
    out += (out.empty() ? "" : ",") + member.player;
  }
  return out;
}

// Identity: all as fast as each other, known exactly but for effort, form and reaction: equal chances, and the total is the sum of the legs.
TEST(Teams, KnownPlayersHaveTheClosedForm) {
  const std::string model =
      R"({"prior":{"log_top_speed":{"mean":1.791759469228055,"sd":0},"log_time_constant":{"mean":0,"sd":0},)"
      R"("reaction_s":{"mean":0.25,"sd":0},"segment_loss_s":{"first":{"mean":0.3,"sd":0},"second-stop":{"mean":0.8,"sd":0}}},)"
      R"("error":{"bias_s":0,"effort_cv":0.03,"day_cv":0.02,"reaction_sd_s":0.05}})";
  TeamsOptions options;
  runs::Problems wrong;
  options.model = sprint::read_model(model, "model.json", wrong);
  EXPECT_TRUE(wrong.empty());
  options.squad = false;
  options.draws = 200000;
  const TeamsResult result = teams_of(squad_log(), options);
  ASSERT_EQ(result.teams.size(), 2U);
  const double leg = 0.25 + 1.1 + sprint::time_to_distance({6.0, 1.0}, 2 * 60 * 0.3048);
  EXPECT_NEAR(result.teams[0].total_s.mean, 4.0 * leg, 1e-6);
  EXPECT_NEAR(result.teams[0].mean_leg_s, leg, 1e-6);
  EXPECT_NEAR(result.teams[0].p_win, 0.5, 0.005);
  EXPECT_TRUE(result.proven);
  EXPECT_NEAR(result.difference_s.sd, 0.0, 1e-4);
}

// Identity: what is said of a squad's fit that did not settle is said where teams stand on it, and only there.
TEST(Teams, ASquadsFitThatDidNotSettleIsNoted) {
  const auto noted = [](const TeamsResult& result) {
    return std::find(result.notes.begin(), result.notes.end(), coach::unsettled_squad) != result.notes.end();
  };
  EXPECT_TRUE(noted(teams_of(strolled())));
  EXPECT_FALSE(noted(teams_of(squad_log())));
  TeamsOptions alone;
  alone.squad = false;
  EXPECT_FALSE(noted(teams_of(strolled(), alone)));
}

// Identity: of two teams of unequal expected time the faster wins with probability Phi(difference / its SD); here the totals' own
// Gaussian is checked against the chance told, through a rule that makes the teams uneven.
TEST(Teams, TheChanceIsThatOfTheGaussianDifference) {
  TeamsOptions options;
  options.in_team = {{"1", {"1", "2", "3", "6"}}};
  options.draws = 200000;
  const TeamsResult result = teams_of(squad_log(), options);
  EXPECT_EQ(players_in(result.teams[0]), "1,2,3,6");
  EXPECT_EQ(result.slowest, "2");
  EXPECT_GT(result.difference_s.mean, 0.5);
  // Effort and form of about 2.5% of 7 s, reaction 0.06 s: eight legs scatter by some 0.53 s beside what is not known.
  const double sd = std::hypot(result.difference_s.sd, std::sqrt(8.0) * 0.19);
  EXPECT_NEAR(result.teams[0].p_win, stats::normal_cdf(result.difference_s.mean / sd), 0.04);
}

TEST(Teams, TheOrderOfRowsDoesNotShow) {
  // Identity: rows and roster in another order are the same input.
  const TeamsResult one = teams_of(squad_log());
  std::string log = "# base-distance: 60 ft\ndate,player,course,timer,second\n";
  const char* const times[] = {"8.10", "8.31", "8.02", "9.05", "8.77", "8.60", "9.40", "8.95"};
  for (int k = 7; k >= 0; --k) {
    log += "2026-05-01," + std::to_string(k + 1) + ",home-second,AK," + times[k] + "\n";
  }
  const TeamsResult other = teams_of(log);
  EXPECT_EQ(players_in(one.teams[0]), players_in(other.teams[0]));
  EXPECT_EQ(players_in(one.teams[0]).front(), '1');
}

TEST(Teams, PlayersWithoutRunsArePlacedByTheNormAndNamed) {
  // Identity: an older child of the roster is expected to be faster; both are told apart from those who ran.
  const TeamsResult result = teams_of(squad_log(), plain, "player,sex,born\n20,F,2018-05-01\n21,F,2012-05-01\n22,,\n");
  const coach::TeamMember* young = nullptr;
  const coach::TeamMember* old = nullptr;
  std::size_t count = 0;
  for (const coach::EvenTeam& team : result.teams) {
    for (const coach::TeamMember& member : team.members) {
      ++count;
      young = member.player == "20" ? &member : young;
      old = member.player == "21" ? &member : old;
    }
  }
  EXPECT_EQ(count, 11U);
  EXPECT_FALSE(result.same_size);
  ASSERT_TRUE(young != nullptr && old != nullptr);
  EXPECT_EQ(young->runs, 0U);
  EXPECT_GT(young->leg_s.mean, old->leg_s.mean + 0.5);
  const auto noted = [&](const char* words) {
    return std::any_of(result.notes.begin(), result.notes.end(), [&](const std::string& note) { return note.find(words) != std::string::npos; });
  };
  EXPECT_TRUE(noted("No run of 20, 21"));
  EXPECT_TRUE(noted("Neither a run nor a birth date of 22"));
}

TEST(Teams, RulesThatCannotBeKeptAreNamed) {
  // Identity: of three who must all be apart, two share one of two teams.
  const auto refused = [](const TeamsOptions& options) -> std::string {
    try {
      teams_of(squad_log(), options);
    } catch (const coach::ImpossibleTeams& error) {
      return error.what();
    }
    return "made";
  };
  TeamsOptions options;
  options.apart = {{"1", "2"}, {"2", "3"}, {"1", "3"}};
  options.together = {{"7", "8"}};
  EXPECT_EQ(refused(options), "these cannot all be kept with 2 teams of 4 players: --apart 1,2; --apart 2,3; --apart 1,3");
  options = plain;
  options.together = {{"1", "2", "3", "4", "5"}};
  EXPECT_EQ(refused(options), "--together 1,2,3,4,5 cannot be kept with 2 teams of 4 players");
  options = plain;
  options.together = {{"1", "77"}};
  EXPECT_NE(refused(options).find("'77'"), std::string::npos);
  options = plain;
  options.equal_ages_years = 2;
  EXPECT_NE(refused(options).find("birth dates"), std::string::npos);
  options = plain;
  options.teams = 9;
  EXPECT_NE(refused(options).find("9 teams of 8 players"), std::string::npos);
}

TEST(Teams, AgeGroupsAreSpreadEvenly) {
  // Identity: of four of 8-9 years and four of 12-13, two each.
  std::string roster = "player,born\n";
  for (int k = 1; k <= 8; ++k) {
    roster += std::to_string(k) + (k % 2 == 0 ? ",2017-01-01\n" : ",2013-06-01\n");
  }
  TeamsOptions options;
  options.equal_ages_years = 2;
  const TeamsResult result = teams_of(squad_log(), options, roster);
  ASSERT_EQ(result.age_groups.size(), 2U);
  for (const coach::AgeGroup& group : result.age_groups) {
    EXPECT_EQ(group.in_team, (std::vector<std::size_t>{2, 2}));
  }
}

}  // namespace
