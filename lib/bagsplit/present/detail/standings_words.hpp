// Words that the standings' text and their report share. Not installed.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "bagsplit/jobs/standings/standings.hpp"

namespace bagsplit::present {

/// Digits behind the point that people need of what is ordered.
int standings_decimals(const jobs::StandingsResult& result);

/// "time at first over home-first (60 ft bases, standing, from the signal)".
std::string standings_by_words(const jobs::StandingsResult& result);

/// Who is in, out and undecided.  @param group  has a cut.  @param players  of the group.
std::string standings_cut_sentence(const jobs::StandingsResult& result, const jobs::StandingsGroup& group,
                                   const std::vector<const jobs::Standing*>& players);

/// P(in) for a cell: no certainty that the draws cannot show, and on the same side of the bound as `status`.
std::string standings_probability(const jobs::StandingsResult& result, const jobs::Standing& player, int decimals);

/// What `given` further runs are worth.
std::string standings_worth_words(const jobs::RunsWorth& worth, std::size_t given);

/// Why nobody is to run again.
std::string nobody_again_words(const jobs::StandingsResult& result);

/// The heats to run next, one sentence each, then how they were drawn and how many are enough.
std::vector<std::string> next_heats_sentences(std::span<const std::vector<std::string>> heats, std::uint64_t seed);

/// "2 fall, 1 absent".
std::string standings_flagged_words(const jobs::FlaggedRuns& player);
/// What the list of flagged runs is and is not.
std::string standings_flagged_sentence(const jobs::StandingsResult& result);

/// How equal official times were parted, where they were; empty else.
std::string standings_ties_sentence(const jobs::StandingsResult& result);

}  // namespace bagsplit::present
