#pragma once

#include <string>
#include <vector>

#include "bagsplit/runs/run.hpp"

/// What a run just typed in is held against: the player's own runs so far, and the squad's.
namespace bagsplit::record {

/// Margins beyond which a time is asked about. Hand-timed runs of one child differ by about 0.1 s from two presses and
/// 2-4% from effort; the margins are two to three times that, so that most good runs pass without a question. Common
/// practice, no source.
struct ExpectationLimits {
  double faster_s = 0.2;       ///< below the player's best by this and ...
  double faster_share = 0.04;  ///< ... by this share of it
  double slower_s = 0.5;       ///< above the player's slowest by this and ...
  double slower_share = 0.15;  ///< ... by this share of it
  double squad_low = 0.65;     ///< of the squad's median, for a player without runs
  double squad_high = 1.6;
  std::size_t squad_players = 4;  ///< players needed for a median
};

/// What is unexpected about a reading: each mark and each stretch between two marks is compared with the player's other
/// runs without a flag over the same course (base distance, start and posture the same), or, where the player has none,
/// with the median of the other players' medians. Sentences for people without a full stop, the most important first;
/// empty when nothing is unexpected.
///
/// @param run  number of the run in log.runs; @param reading  number of the reading in log.readings, one of the run's.
/// Cost: O(splits of the log).
std::vector<std::string> unexpected(const runs::RunLog& log, std::size_t run, std::size_t reading,
                                    const ExpectationLimits& limits = {});

}  // namespace bagsplit::record
