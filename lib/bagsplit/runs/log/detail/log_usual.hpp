#pragma once

#include <cstdint>
#include <utility>
#include <vector>

#include "bagsplit/runs/log/detail/log_rows.hpp"

/// Inside the reader: what each player's times usually are, and which times are far from that.
namespace bagsplit::runs::detail {

/// Numbers of the rows that are not bad, by player. Cost: O(rows).
PlayerRows rows_by_player(const RawLog& log);

/// A time far from what the player, or where the player has few the squad, usually has at that mark.
struct OddTime {
  std::uint32_t row = 0;
  std::uint32_t split = 0;  ///< into the split arrays of the log
  double usual_s = 0.0;     ///< median of the player's, or of the squad's, times there
  bool of_player = false;
};

struct UsualTimes {
  std::vector<OddTime> odd;  ///< by a factor of 2 (player) or 3 (squad); ordered by row, then split
  /// Pairs of neighbouring rows of two players each of which fits the other player's usual times, and not its own.
  std::vector<std::pair<std::uint32_t, std::uint32_t>> swapped;
};

/// Medians by player, course, base distance, mark, start and posture, over rows without a flag. Laps are compared with
/// laps. Times of relay legs on the team's clock take no part. A player with fewer than 3 times at a mark is compared
/// with the median of at least 4 players' medians. Cost: O(rows).
UsualTimes usual_times(const RawLog& log, const PlayerRows& players);

/// The time a row adds at a split: the lap in a row of laps, else the time on its clock.
double own_time_s(const RawLog& log, const RawRow& row, std::uint32_t split);

}  // namespace bagsplit::runs::detail
