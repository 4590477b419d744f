#pragma once

#include <algorithm>
#include <cstdint>
#include <limits>
#include <span>
#include <vector>

#include "bagsplit/jobs/teams/team_search.hpp"

/// The search behind most_even_teams(); stays inside the module.
namespace bagsplit::jobs {

inline constexpr std::size_t any_team = std::numeric_limits<std::size_t>::max();
inline constexpr double same_imbalance_s = 1e-12;  ///< closer than this is equal

/// Players that stay together, as one.
struct Block {
  std::vector<std::size_t> players;
  std::size_t team = any_team;          ///< fixed by a rule
  double sum_s = 0.0, square_s2 = 0.0;  ///< of the players' distances from the mean of all
  std::size_t ruled = 0;                ///< rules that name it
};

/// Sums by team while a split is being made.
struct Teams {
  std::vector<std::size_t> size;
  std::vector<double> sum_s, square_s2;

  explicit Teams(std::size_t n) : size(n, 0), sum_s(n, 0.0), square_s2(n, 0.0) {}
  void add(const Block& block, std::size_t t, double sign) {
    size[t] = sign > 0.0 ? size[t] + block.players.size() : size[t] - block.players.size();
    sum_s[t] += sign * block.sum_s;
    square_s2[t] += sign * block.square_s2;
  }
};

class Parting {
 public:
  /// @param kept  1 for each rule that counts; empty: all.
  Parting(const TeamProblem& problem, std::span<const std::uint8_t> kept);

  /// Rules that contradict each other before anything is tried.
  bool impossible() const { return impossible_; }

  /// Any split that keeps the rules, blocks with rules first.  @return done: found, or nothing left to try.
  bool find_any(std::vector<std::size_t>& team_of_block, bool& done);

  /// Exchanges blocks between teams until nothing helps, from several starts.
  void improve(std::vector<std::size_t>& team_of_block);

  /// Whether there is any hope of trying them all: the number of ways to part so many blocks, rules left aside.
  bool may_be_proven() const;

  /// Branch and bound from a known split.  @return proven.
  bool prove(std::vector<std::size_t>& team_of_block);

  /// Teams of the players; teams no rule names are numbered by their first player.
  std::vector<std::size_t> players_teams(std::span<const std::size_t> team_of_block) const;

 private:
  void make_blocks();
  template <typename Before>
  void order_blocks(Before&& before);
  void prepare_bounds();
  void search();
  void descend(std::size_t depth, Teams& sums, std::vector<std::size_t>& placed);
  void take(const Teams& sums, const std::vector<std::size_t>& placed);
  bool may_join(std::size_t block, std::size_t t, const Teams& sums, const std::vector<std::size_t>& placed) const;
  bool keeps(const std::vector<std::size_t>& team_of_block) const;
  double bound(std::size_t depth, const Teams& sums) const;
  Teams sums_of(std::span<const std::size_t> team_of_block) const;
  double total(const Teams& sums) const;
  void descend_by_exchange(std::vector<std::size_t>& team_of_block) const;

  const TeamProblem& problem_;
  std::size_t teams_;
  double mean_s_ = 0.0;
  std::size_t base_ = 0, extra_ = 0;
  std::vector<const TeamRule*> rules_;
  bool impossible_ = false;
  std::vector<Block> blocks_;
  std::vector<std::size_t> block_of_;           // of a player
  std::vector<std::uint8_t> named_;             // teams that a rule names
  std::vector<std::vector<std::size_t>> foes_;  // blocks that must be apart
  struct Even {
    std::vector<std::size_t> members;  // of each block
    std::size_t least = 0, more = 0;   // `more` teams may have one above the least
  };
  std::vector<Even> even_;
  std::vector<std::vector<std::size_t>> counts_;  // of even_, by team, while searching

  std::vector<std::size_t> order_;
  // Of the players not yet placed at a depth: sums of the k smallest and k largest distances, and of their squares.
  struct Rest {
    std::vector<double> low_sum, high_sum, low_square, high_square;
  };
  std::vector<Rest> rest_;
  bool first_only_ = false;
  std::size_t steps_left_ = 0;
  std::vector<std::size_t> best_, best_teams_;
  double best_total_ = 0.0;
};

}  // namespace bagsplit::jobs
