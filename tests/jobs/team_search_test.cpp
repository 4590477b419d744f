// Even teams as numbers: against exhaustive search, with rules, and where rules contradict each other.
#include "bagsplit/jobs/teams/team_search.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <stdexcept>

#include "bagsplit/stats/random.hpp"

namespace {

using namespace bagsplit;
using jobs::TeamProblem;
using jobs::TeamRule;
using jobs::TeamSearch;

bool keeps(const TeamRule& rule, const std::vector<std::size_t>& team_of, std::size_t teams) {
  std::vector<std::size_t> count(teams, 0);
  for (const std::size_t player : rule.players) {
    ++count[team_of[player]];
  }
  const auto [least, most] = std::minmax_element(count.begin(), count.end());
  switch (rule.kind) {
    case TeamRule::Kind::together:
      return *most == rule.players.size();
    case TeamRule::Kind::apart:
      return *most <= 1;
    case TeamRule::Kind::in_team:
      return count[rule.team] == rule.players.size();
    case TeamRule::Kind::even:
      return *most - *least <= 1;
  }
  return false;
}

double objective(const TeamProblem& problem, const std::vector<std::size_t>& team_of) {
  double mean = 0.0;
  for (const double t : problem.time_s) {
    mean += t / static_cast<double>(problem.time_s.size());
  }
  double low = 1e9;
  double high = -1e9;
  double narrow = 1e9;
  double wide = -1e9;
  for (std::size_t team = 0; team < problem.teams; ++team) {
    double n = 0.0;
    double sum = 0.0;
    double square = 0.0;
    for (std::size_t i = 0; i < team_of.size(); ++i) {
      if (team_of[i] == team) {
        n += 1.0;
        sum += problem.time_s[i];
        square += (problem.time_s[i] - mean) * (problem.time_s[i] - mean);
      }
    }
    low = std::min(low, sum / n);
    high = std::max(high, sum / n);
    narrow = std::min(narrow, std::sqrt(square / n));
    wide = std::max(wide, std::sqrt(square / n));
  }
  return high - low + problem.spread_weight * (wide - narrow);
}

// Every way to give each player a team, one after the other.
std::optional<double> least_of_all(const TeamProblem& problem) {
  const std::size_t n = problem.time_s.size();
  std::vector<std::size_t> team_of(n, 0);
  std::optional<double> least;
  for (;;) {
    std::vector<std::size_t> size(problem.teams, 0);
    for (const std::size_t t : team_of) {
      ++size[t];
    }
    const auto [small, large] = std::minmax_element(size.begin(), size.end());
    if (*large - *small <= 1 && std::all_of(problem.rules.begin(), problem.rules.end(), [&](const TeamRule& rule) {
          return keeps(rule, team_of, problem.teams);
        })) {
      const double now = objective(problem, team_of);
      least = least ? std::min(*least, now) : now;
    }
    std::size_t i = 0;
    while (i < n && ++team_of[i] == problem.teams) {
      team_of[i++] = 0;
    }
    if (i == n) {
      return least;
    }
  }
}

std::vector<double> squad(stats::RandomStream& random, std::size_t n) {
  std::vector<double> out;
  for (std::size_t i = 0; i < n; ++i) {
    out.push_back(8.0 + 0.6 * random.normal());
  }
  return out;
}

// Identity: the least of all splits, tried one by one.
TEST(TeamSearch, IsTheLeastOfAllSplits) {
  stats::RandomStream random(5);
  for (const auto& [players, teams] :
       {std::pair<std::size_t, std::size_t>{4, 2}, {6, 2}, {7, 2}, {9, 3}, {10, 3}, {10, 4}, {12, 2}}) {
    for (int trial = 0; trial < 4; ++trial) {
      TeamProblem problem{.time_s = squad(random, players), .teams = teams, .rules = {}};
      const TeamSearch found = jobs::most_even_teams(problem);
      ASSERT_TRUE(found.feasible && found.searched_all) << players << " in " << teams;
      EXPECT_NEAR(found.imbalance.total_s, *least_of_all(problem), 1e-9) << players << " in " << teams;
      EXPECT_NEAR(found.imbalance.total_s, objective(problem, found.team_of), 1e-9);
      EXPECT_EQ(found.best_possible_s, found.imbalance.total_s);
    }
  }
}

// Identity: the same with rules; where no split keeps them, none is found.
TEST(TeamSearch, KeepsRandomRulesOrFindsThatTheyCannotBeKept) {
  stats::RandomStream random(6);
  int impossible = 0;
  for (int trial = 0; trial < 60; ++trial) {
    const std::size_t n = 6 + random.below(4);
    TeamProblem problem{.time_s = squad(random, n), .teams = 2 + random.below(2), .rules = {}};
    for (int r = 0; r < 3; ++r) {
      TeamRule rule;
      rule.kind = static_cast<TeamRule::Kind>(random.below(4));
      const std::size_t size = 2 + random.below(2);
      while (rule.players.size() < size) {
        const std::size_t player = random.below(n);
        if (std::find(rule.players.begin(), rule.players.end(), player) == rule.players.end()) {
          rule.players.push_back(player);
        }
      }
      std::sort(rule.players.begin(), rule.players.end());
      rule.team = random.below(problem.teams);
      problem.rules.push_back(rule);
    }
    const std::optional<double> least = least_of_all(problem);
    const TeamSearch found = jobs::most_even_teams(problem);
    EXPECT_TRUE(found.searched_all);
    ASSERT_EQ(found.feasible, least.has_value()) << trial;
    if (!least) {
      ++impossible;
      EXPECT_FALSE(found.broken.empty());
      continue;
    }
    EXPECT_NEAR(found.imbalance.total_s, *least, 1e-9) << trial;
    for (const TeamRule& rule : problem.rules) {
      EXPECT_TRUE(keeps(rule, found.team_of, problem.teams));
    }
  }
  EXPECT_GT(impossible, 3);
  EXPECT_LT(impossible, 40);
}

// Identity: of three who must all be apart two share one of two teams; the fourth rule has no part in that.
TEST(TeamSearch, NamesTheRulesThatContradictEachOtherAndNoOthers) {
  TeamProblem problem{.time_s = {8, 8.1, 8.2, 8.3, 8.4, 8.5}, .teams = 2, .rules = {}};
  problem.rules = {{TeamRule::Kind::apart, {0, 1}, 0, "a"},
                   {TeamRule::Kind::together, {3, 4}, 0, "b"},
                   {TeamRule::Kind::apart, {1, 2}, 0, "c"},
                   {TeamRule::Kind::apart, {0, 2}, 0, "d"}};
  const TeamSearch found = jobs::most_even_teams(problem);
  EXPECT_FALSE(found.feasible);
  EXPECT_EQ(found.broken, (std::vector<std::size_t>{0, 2, 3}));
  // Four together in teams of three: one rule alone.
  problem.rules = {{TeamRule::Kind::apart, {4, 5}, 0, "a"}, {TeamRule::Kind::together, {0, 1, 2, 3}, 0, "b"}};
  EXPECT_EQ(jobs::most_even_teams(problem).broken, (std::vector<std::size_t>{1}));
}

// Identity: equal players can be parted evenly in many ways; the first by id is taken, and nothing is left to gain.
TEST(TeamSearch, EqualSplitsGoByOrder) {
  const TeamProblem problem{.time_s = {8, 8, 8, 8}, .teams = 2, .rules = {}};
  const TeamSearch found = jobs::most_even_teams(problem);
  EXPECT_EQ(found.team_of, (std::vector<std::size_t>{0, 0, 1, 1}));
  EXPECT_EQ(found.imbalance.total_s, 0.0);
  EXPECT_TRUE(found.searched_all);
}

// Identity: no split has an imbalance below 0, so a small one is its own certificate. The bounds are ours.
TEST(TeamSearch, SixtyInFourAreEvenToAThousandth) {
  stats::RandomStream random(9);
  const TeamProblem problem{.time_s = squad(random, 60), .teams = 4, .rules = {}};
  const TeamSearch found = jobs::most_even_teams(problem);
  ASSERT_TRUE(found.feasible);
  EXPECT_LT(found.imbalance.total_s, 0.001);
  EXPECT_GE(found.imbalance.total_s, found.best_possible_s);
  EXPECT_EQ(jobs::most_even_teams(problem).team_of, found.team_of);
}

TEST(TeamSearch, RefusesWhatCannotBe) {
  // Common practice, no source: our own bounds.
  EXPECT_THROW(jobs::most_even_teams({.time_s = {8.0}, .teams = 2, .rules = {}}), std::invalid_argument);
  EXPECT_THROW(jobs::most_even_teams({.time_s = {8.0, 8.1}, .teams = 1, .rules = {}}), std::invalid_argument);
  EXPECT_THROW(
      jobs::most_even_teams({.time_s = {8.0, 8.1}, .teams = 2, .rules = {{TeamRule::Kind::apart, {0, 5}, 0, ""}}}),
      std::invalid_argument);
}

}  // namespace
