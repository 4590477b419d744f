// The parts of standings(). Not installed.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "bagsplit/jobs/standings/detail/standings_players.hpp"
#include "bagsplit/jobs/standings/standings.hpp"
#include "bagsplit/stats/ranking.hpp"

namespace bagsplit::jobs::detail {

/// A player in the order, while it is made.
struct Ranked {
  const Entrant* entrant = nullptr;
  const Belief* belief = nullptr;
  Standing standing;
  std::vector<double> weights;  ///< of the parts in what is ordered, in their own units
};

/// What is ordered, in each draw: players x draws.
struct Values {
  std::vector<double> draws;
  std::size_t count = 0;  ///< draws of a player
  bool lower_is_better = false;

  std::span<const double> of(std::size_t player) const { return std::span(draws).subspan(player * count, count); }
};

/// From draws of the parts to draws of what is ordered: the part itself, its z-score, or the index. Fills value, parts
/// and weights of the players, and the scales of an index.
Values compose(std::span<Ranked> players, std::span<const ResolvedQuantity> parts, std::vector<double> part_draws,
               StandingsResult& result);

/// Orders each group; fills place, expected rank, probability, tier, status. What hangs on one row is not sure.
void order_groups(std::vector<Ranked>& players, const Values& values, const runs::RunLog& log, StandingsResult& result);

/// Who should run again.
void give_next_runs(std::span<const Ranked> players, const Values& values, std::span<const ResolvedQuantity> parts,
                    const runs::RunLog& log, StandingsResult& result);

/// What the runs cannot tell.
void add_notes(std::span<const Ranked> players, std::span<const ResolvedQuantity> parts,
               const inference::SquadModel& squad, const runs::RunLog& log, StandingsResult& result);

/// What finishing orders cannot tell, and what to do in the next round.
void add_heat_notes(std::span<const Ranked> players, StandingsResult& result);

}  // namespace bagsplit::jobs::detail
