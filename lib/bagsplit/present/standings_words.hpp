// Words that the standings' text and their report share. Not installed.
#pragma once

#include <string>
#include <vector>

#include "bagsplit/coach/standings.hpp"

namespace bagsplit::present {

/// Digits behind the point that people need of what is ordered.
int standings_decimals(const coach::StandingsResult& result);

/// "time at first over home-first (60 ft bases, standing, from the signal)".
std::string standings_by_words(const coach::StandingsResult& result);

/// Who is in, out and undecided.  @param group  has a cut.  @param players  of the group.
std::string standings_cut_sentence(const coach::StandingsResult& result, const coach::StandingsGroup& group,
                                   const std::vector<const coach::Standing*>& players);

/// P(in) for a cell: no certainty that the draws cannot show, and on the same side of the bound as `status`.
std::string standings_probability(const coach::StandingsResult& result, const coach::Standing& player, int decimals);

/// What `given` further runs are worth.
std::string standings_worth_words(const coach::RunsWorth& worth, std::size_t given);

/// "2 fall, 1 absent".
std::string standings_flagged_words(const coach::FlaggedRuns& player);
/// What the list of flagged runs is and is not.
std::string standings_flagged_sentence(const coach::StandingsResult& result);

/// How equal official times were parted, where they were; empty else.
std::string standings_ties_sentence(const coach::StandingsResult& result);

}  // namespace bagsplit::present
