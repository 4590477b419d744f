// Even teams from runs: chances in closed form, players without runs, the same answer for the same input.
#include "bagsplit/jobs/teams/teams.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <string>

#include "bagsplit/inference/squad/squad_settled.hpp"
#include "bagsplit/jobs/relay/relay.hpp"
#include "bagsplit/motion/curve.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/roster/roster.hpp"
#include "bagsplit/stats/distributions.hpp"

namespace {

using namespace bagsplit;
using jobs::TeamsOptions;
using jobs::TeamsResult;

const TeamsOptions plain;

TeamsResult teams_of(const std::string& log_text, const TeamsOptions& options = plain,
                     const std::string& roster_text = "player\n") {
  const runs::RosterResult roster = runs::read_roster(roster_text, "roster.csv");
  const runs::RunLogResult log = runs::read_run_log(log_text, "log.csv");
  EXPECT_FALSE(text::has_errors(log.problems)) << (log.problems.empty() ? "" : log.problems.front().message);
  return jobs::even_teams(log.log, roster.roster, timing::DeviceBook(), options);
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
  const char* const times[] = {"24.09,27.12", "24.27,27.55", "28.30,31.36",
                               "24.00,27.03", "25.90,29.22", "23.36,26.83"};
  for (int k = 0; k < 6; ++k) {
    log += std::string(k % 3 == 1 ? "2026-05-02," : "2026-05-01,") + std::to_string(1 + k / 3) + ",home-second," +
           std::to_string(1 + k % 3) + ",AK," + times[k] + "\n";
  }
  return log;
}

std::string players_in(const jobs::EvenTeam& team) {
  std::string out;
  for (const jobs::TeamMember& member : team.members) {
    out += (out.empty() ? "" : ",") + member.player;
  }
  return out;
}

// Identity: all as fast as each other, known exactly but for effort, form and reaction: equal chances, and the total is
// the sum of the legs.
TEST(Teams, KnownPlayersHaveTheClosedForm) {
  const std::string model =
      R"({"prior":{"log_top_speed":{"mean":1.791759469228055,"sd":0},"log_time_constant":{"mean":0,"sd":0},)"
      R"("late_slowing_per_s":{"mean":0,"sd":0},"reaction_s":{"mean":0.25,"sd":0},"segment_loss_s":{"first":{"mean":0.3,"sd":0},"second-stop":{"mean":0.8,"sd":0}}},)"
      R"("error":{"bias_s":0,"effort_cv":0.03,"day_cv":0.02,"reaction_sd_s":0.05}})";
  TeamsOptions options;
  text::Problems wrong;
  options.model = inference::read_model(model, "model.json", wrong);
  EXPECT_TRUE(wrong.empty());
  options.squad = false;
  options.draws = 200000;
  const TeamsResult result = teams_of(squad_log(), options);
  ASSERT_EQ(result.teams.size(), 2U);
  const double leg = 0.25 + 1.1 + motion::time_to_distance({6.0, 1.0}, 2 * 60 * 0.3048);
  EXPECT_NEAR(result.teams[0].total_s.mean, 4.0 * leg, 1e-6);
  EXPECT_NEAR(result.teams[0].mean_leg_s, leg, 1e-6);
  EXPECT_NEAR(result.teams[0].p_win, 0.5, 0.005);
  EXPECT_TRUE(result.proven);
  EXPECT_NEAR(result.difference_s.sd, 0.0, 1e-4);
}

// Identity: what is said of a squad's fit that did not settle is said where teams stand on it, and only there.
TEST(Teams, ASquadsFitThatDidNotSettleIsNoted) {
  const auto noted = [](const TeamsResult& result) {
    return std::find(result.notes.begin(), result.notes.end(), inference::unsettled_squad) != result.notes.end();
  };
  TeamsOptions in_full;  // every reading: a slip would explain these times, and the fit would settle
  in_full.model.error.slip = inference::SlipPrior{};
  EXPECT_TRUE(noted(teams_of(strolled(), in_full)));
  EXPECT_FALSE(noted(teams_of(squad_log())));
  TeamsOptions alone;
  alone.squad = false;
  EXPECT_FALSE(noted(teams_of(strolled(), alone)));
}

// Identity: of two teams of unequal expected time the faster wins with probability Phi(difference / its SD); here the
// totals' own Gaussian is checked against the chance told, through a rule that makes the teams uneven.
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
  const jobs::TeamMember* young = nullptr;
  const jobs::TeamMember* old = nullptr;
  std::size_t count = 0;
  for (const jobs::EvenTeam& team : result.teams) {
    for (const jobs::TeamMember& member : team.members) {
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
    return std::any_of(result.notes.begin(), result.notes.end(),
                       [&](const std::string& note) { return note.find(words) != std::string::npos; });
  };
  EXPECT_TRUE(noted("No run of 20, 21"));
  EXPECT_TRUE(noted("Neither a run nor a birth date of 22"));
}

TEST(Teams, RulesThatCannotBeKeptAreNamed) {
  // Identity: of three who must all be apart, two share one of two teams.
  const auto refused = [](const TeamsOptions& options) -> std::string {
    try {
      teams_of(squad_log(), options);
    } catch (const jobs::ImpossibleTeams& error) {
      return error.what();
    }
    return "made";
  };
  TeamsOptions options;
  options.apart = {{"1", "2"}, {"2", "3"}, {"1", "3"}};
  options.together = {{"7", "8"}};
  EXPECT_EQ(refused(options), "these cannot all be kept with 2 teams of 4 players: apart 1,2; apart 2,3; apart 1,3");
  options = plain;
  options.together = {{"1", "2", "3", "4", "5"}};
  EXPECT_EQ(refused(options), "together 1,2,3,4,5 cannot be kept with 2 teams of 4 players");
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

// Eight players' runs alone, then a relay of two teams whose legs are faster than the runs alone were.
std::string log_with_relay() {
  std::string log = "# base-distance: 60 ft\ndate,team,leg,player,course,timer,second\n";
  const char* const times[] = {"8.10", "8.31", "8.02", "9.05", "8.77", "8.60", "9.40", "8.95"};
  for (int k = 0; k < 8; ++k) {
    log += "2026-05-01,,," + std::to_string(k + 1) + ",home-second,AK," + times[k] + "\n";
  }
  const char* const red[] = {"7.60", "15.30", "22.80", "31.20"};
  const char* const blue[] = {"8.00", "16.00", "24.60", "32.80"};
  for (int k = 0; k < 4; ++k) {
    log += "2026-05-01,red," + std::to_string(k + 1) + "," + std::to_string(k + 1) + ",home-second,AK," + red[k] + "\n";
    log +=
        "2026-05-01,blue," + std::to_string(k + 1) + "," + std::to_string(k + 5) + ",home-second,AK," + blue[k] + "\n";
  }
  return log;
}

bool has_note(const TeamsResult& result, const std::string& words) {
  return std::any_of(result.notes.begin(), result.notes.end(),
                     [&](const std::string& note) { return note.find(words) != std::string::npos; });
}

// Identity: a team's expected total is the mean, over who of it starts, of what relay expects of it from the same log.
TEST(Teams, RelaysInTheLogTellTheTotalAsRelayDoes) {
  TeamsOptions options;
  options.names = {"red", "blue"};
  options.in_team = {{"red", {"1", "2", "3", "4"}}, {"blue", {"5", "6", "7", "8"}}};
  const TeamsResult result = teams_of(log_with_relay(), options);
  ASSERT_TRUE(result.relays_of);
  double red_s = 0.0;
  double blue_s = 0.0;
  std::vector<std::string> red = {"1", "2", "3", "4"};
  std::vector<std::string> blue = {"5", "6", "7", "8"};
  const auto log = runs::read_run_log(log_with_relay(), "log.csv");
  const auto roster = runs::read_roster("player\n", "roster.csv");
  for (int start = 0; start < 4; ++start) {
    jobs::RelayOptions relay_options;
    relay_options.orders = {{"red", red}, {"blue", blue}};
    relay_options.draws = 100;
    text::Problems problems;
    const jobs::RelayResult relay = jobs::relay(log.log, roster.roster, timing::DeviceBook(), relay_options, problems);
    ASSERT_EQ(relay.expected.size(), 2U);
    red_s += 0.25 * relay.expected[0].total_s.mean;
    blue_s += 0.25 * relay.expected[1].total_s.mean;
    std::rotate(red.begin(), red.begin() + 1, red.end());
    std::rotate(blue.begin(), blue.begin() + 1, blue.end());
  }
  EXPECT_NEAR(result.teams[0].total_s.mean, red_s, 1e-6);
  EXPECT_NEAR(result.teams[1].total_s.mean, blue_s, 1e-6);
  EXPECT_NEAR(result.teams[0].mean_leg_s, red_s / 4.0, 1e-5);
  EXPECT_TRUE(has_note(result, "as the relays of 2026-05-01 tell them"));
  for (const jobs::EvenTeam& team : result.teams) {
    for (const jobs::TeamMember& member : team.members) {
      EXPECT_EQ(member.relay_legs, 1U);
      EXPECT_TRUE(member.relay_course);
    }
  }
  // Common practice, no source: what the children just ran is what is expected, not the slower sum of their runs alone.
  EXPECT_LT(result.teams[0].total_s.mean, teams_of(squad_log(), options).teams[0].total_s.mean);
}

// Identity: relay rows that cannot be read are no relay, and it is said.
TEST(Teams, WithoutAUsableRelayEachLegIsARunAloneAndThatIsSaid) {
  const TeamsResult alone = teams_of(squad_log());
  EXPECT_FALSE(alone.relays_of);
  EXPECT_TRUE(has_note(alone, "There is no relay in these files"));
  EXPECT_TRUE(has_note(alone, "from a stand on the call"));
  const std::string twice = log_with_relay() + "2026-05-01,red,1,2,home-second,AK,8.0\n";
  const runs::RunLogResult log = runs::read_run_log(twice, "log.csv");
  const TeamsResult wrong =
      jobs::even_teams(log.log, runs::read_roster("player\n", "roster.csv").roster, timing::DeviceBook(), plain);
  EXPECT_FALSE(wrong.relays_of);
  EXPECT_TRUE(has_note(wrong, "are not used (leg 1 of team 'red' is there twice"));
  const double total = wrong.teams[0].total_s.mean + wrong.teams[1].total_s.mean;
  EXPECT_NEAR(total, alone.teams[0].total_s.mean + alone.teams[1].total_s.mean, 1e-6);
}

// Identity: the order of rows does not show with relays either.
TEST(Teams, TheOrderOfRelayRowsDoesNotShow) {
  std::string log = log_with_relay();
  std::vector<std::string> lines;
  for (std::size_t from = 0; from < log.size();) {
    const std::size_t to = log.find('\n', from) + 1;
    lines.push_back(log.substr(from, to - from));
    from = to;
  }
  std::reverse(lines.begin() + 2, lines.end());
  std::string reversed;
  for (const std::string& line : lines) {
    reversed += line;
  }
  const TeamsResult one = teams_of(log);
  const TeamsResult other = teams_of(reversed);
  EXPECT_EQ(players_in(one.teams[0]), players_in(other.teams[0]));
  EXPECT_NEAR(one.teams[0].total_s.mean, other.teams[0].total_s.mean, 1e-6);
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
  for (const jobs::AgeGroup& group : result.age_groups) {
    EXPECT_EQ(group.in_team, (std::vector<std::size_t>{2, 2}));
  }
}

// Identity: over two relays each team goes out by way of first once and by way of third once, never both teams the same
// way at once; each child runs one leg in each, and who began at home waits at second the next time.
TEST(Teams, LineupsAreFairOverTwoRelays) {
  const TeamsResult result = teams_of(squad_log());
  ASSERT_EQ(result.lineups.size(), 4U);
  for (const jobs::EvenTeam& team : result.teams) {
    const auto of = [&](std::size_t relay) {
      for (const jobs::Lineup& lineup : result.lineups) {
        if (lineup.team == team.name && lineup.relay == relay) {
          return lineup;
        }
      }
      return jobs::Lineup{};
    };
    EXPECT_NE(of(1).way, of(2).way);
    ASSERT_EQ(of(1).runners.size(), 4U);
    ASSERT_EQ(of(2).runners.size(), 4U);
    for (const jobs::TeamMember& member : team.members) {
      const auto leg_in = [&](std::size_t relay) {
        const jobs::Lineup lineup = of(relay);
        EXPECT_EQ(std::count(lineup.runners.begin(), lineup.runners.end(), member.player), 1);
        return std::find(lineup.runners.begin(), lineup.runners.end(), member.player) - lineup.runners.begin();
      };
      EXPECT_NE(leg_in(1) % 2, leg_in(2) % 2) << member.player;
    }
  }
  EXPECT_NE(result.lineups[0].way, result.lineups[1].way);
  EXPECT_EQ(result.lineups[0].relay, result.lineups[1].relay);
}

// Identity: in a team of fewer children the first runs again, so that both teams have as many legs.
TEST(Teams, ASmallerTeamBeginsAgainWithItsFirst) {
  const std::string seven = squad_log().substr(0, squad_log().rfind("2026"));
  const TeamsResult result = teams_of(seven);
  for (const jobs::Lineup& lineup : result.lineups) {
    ASSERT_EQ(lineup.runners.size(), 4U);
    const std::size_t different = std::set<std::string>(lineup.runners.begin(), lineup.runners.end()).size();
    EXPECT_EQ(lineup.runners.front() == lineup.runners.back(), different == 3U) << lineup.team;
  }
}

}  // namespace
