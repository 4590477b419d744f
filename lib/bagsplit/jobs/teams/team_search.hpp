#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

/// Parting players into teams as evenly as can be: numbers only, names left behind.
namespace bagsplit::jobs {

/// One thing the teams must keep to.
struct TeamRule {
  enum class Kind : std::uint8_t {
    together,  ///< all of `players` in one team
    apart,     ///< no two of `players` in one team
    in_team,   ///< all of `players` in team `team`
    even,      ///< of `players` the teams' numbers differ by one at most
  };
  Kind kind = Kind::together;
  std::vector<std::size_t> players;  ///< ascending
  std::size_t team = 0;
  std::string words;  ///< as people gave it: "--together 3,7"
};

struct TeamProblem {
  std::vector<double> time_s;  ///< expected leg time of each player
  std::size_t teams = 2;       ///< 2 .. 64, at most as many as players
  std::vector<TeamRule> rules;
  double spread_weight = 0.25;         ///< >= 0
  std::size_t most_steps = 1'000'000;  ///< of the exact search before it gives up proving
};

/// Team sizes differ by one at most; the mean leg time of a team is compared, so an odd player out does no harm.
///
/// imbalance = range of the teams' mean leg times + spread_weight x range of the teams' spreads, a team's spread the
/// root mean square of its players' distances from the mean of all.
struct Imbalance {
  double time_s = 0.0, spread_s = 0.0, total_s = 0.0;
};
Imbalance imbalance_of(const TeamProblem& problem, std::span<const std::size_t> team_of);

struct TeamSearch {
  bool feasible = false;
  bool searched_all = false;         ///< nothing feasible was found and nothing was left to try; or the best is proven
  std::vector<std::size_t> team_of;  ///< of each player
  Imbalance imbalance;
  double best_possible_s = 0.0;     ///< no split whatever has a smaller imbalance: the same where proven, else 0
  std::vector<std::size_t> broken;  ///< rules that cannot all be kept, as few as contradict each other
};

/// The most even split. Exact by branch and bound where `most_steps` is enough, else by exchanging players between
/// teams until nothing helps, from several starts; where even `most_steps` cannot do, it is not tried. Deterministic:
/// equal splits go to the one whose list of teams by player comes first, and teams no rule names are numbered by their
/// first player.
/// @throws std::invalid_argument for sizes that do not fit.
TeamSearch most_even_teams(const TeamProblem& problem);

}  // namespace bagsplit::jobs
