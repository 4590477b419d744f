#include "bagsplit/jobs/teams/team_search.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <stdexcept>

#include "bagsplit/jobs/teams/detail/team_parting.hpp"

namespace bagsplit::jobs {

namespace {

// Fewest rules that contradict each other: each is left out in turn, and stays out where the rest contradicts itself
// without it.
std::vector<std::size_t> contradiction(const TeamProblem& problem) {
  std::vector<std::uint8_t> kept(problem.rules.size(), 1);
  for (std::size_t r = 0; r < kept.size(); ++r) {
    kept[r] = 0;
    std::vector<std::size_t> any;
    bool done = false;
    if (Parting(problem, kept).find_any(any, done) || !done) {
      kept[r] = 1;
    }
  }
  std::vector<std::size_t> out;
  for (std::size_t r = 0; r < kept.size(); ++r) {
    if (kept[r] != 0) {
      out.push_back(r);
    }
  }
  return out;
}

}  // namespace

Imbalance imbalance_of(const TeamProblem& problem, std::span<const std::size_t> team_of) {
  const double mean =
      std::accumulate(problem.time_s.begin(), problem.time_s.end(), 0.0) / static_cast<double>(problem.time_s.size());
  std::vector<double> sum(problem.teams, 0.0);
  std::vector<double> square(problem.teams, 0.0);
  std::vector<double> size(problem.teams, 0.0);
  for (std::size_t i = 0; i < team_of.size(); ++i) {
    const double off = problem.time_s[i] - mean;
    sum[team_of[i]] += off;
    square[team_of[i]] += off * off;
    size[team_of[i]] += 1.0;
  }
  for (std::size_t t = 0; t < problem.teams; ++t) {
    sum[t] /= size[t];
    square[t] = std::sqrt(square[t] / size[t]);
  }
  const auto range = [](const std::vector<double>& x) {
    const auto [low, high] = std::minmax_element(x.begin(), x.end());
    return *high - *low;
  };
  Imbalance out{range(sum), range(square), 0.0};
  out.total_s = out.time_s + problem.spread_weight * out.spread_s;
  return out;
}

TeamSearch most_even_teams(const TeamProblem& problem) {
  const std::size_t n = problem.time_s.size();
  if (problem.teams < 2 || problem.teams > 64 || n < problem.teams || !(problem.spread_weight >= 0.0)) {
    throw std::invalid_argument(
        "most_even_teams: 2 to 64 teams, a player for each, and a weight of at least 0 are needed");
  }
  for (const TeamRule& rule : problem.rules) {
    if (rule.players.empty() || rule.team >= problem.teams ||
        std::any_of(rule.players.begin(), rule.players.end(), [&](std::size_t p) { return p >= n; })) {
      throw std::invalid_argument("most_even_teams: a rule names no player, or a player or team that does not exist");
    }
  }
  TeamSearch out;
  Parting parting(problem, {});
  std::vector<std::size_t> split;
  bool done = false;
  out.feasible = parting.find_any(split, done);
  if (!out.feasible) {
    out.searched_all = done;
    out.broken = done ? contradiction(problem) : std::vector<std::size_t>();
    return out;
  }
  parting.improve(split);
  out.searched_all = parting.may_be_proven() && parting.prove(split);
  out.team_of = parting.players_teams(split);
  out.imbalance = imbalance_of(problem, out.team_of);
  out.best_possible_s = out.searched_all ? out.imbalance.total_s : 0.0;
  return out;
}

}  // namespace bagsplit::jobs
