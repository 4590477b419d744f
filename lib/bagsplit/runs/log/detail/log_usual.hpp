#pragma once

#include <cstdint>
#include <utility>
#include <vector>

#include "bagsplit/runs/log/detail/log_rows.hpp"

/// Inside the reader: what each player's times usually are, and which times are far from that.
namespace bagsplit::runs::detail {

/// Numbers of the rows that are not bad, by player. Cost: O(rows).
PlayerRows rows_by_player(const RawLog& log);

/// A time that does not fit: what the player's other runs, the other players and the row's other times lead to expect.
struct OddTime {
  std::uint32_t row = 0;
  std::uint32_t split = 0;  ///< into the split arrays of the log
  double usual_s = 0.0;     ///< what would fit, as typed: a lap in a row of laps
  double sd_s = 0.0;        ///< of that
  bool of_player = false;   ///< the player's own runs say so, not the squad's alone
  bool all = false;         ///< all times of the row are off by as much; the first is named
};

struct UsualTimes {
  std::vector<OddTime> odd;  ///< one a row at most, ordered by row
  /// Pairs of neighbouring rows of two players each of which fits the other player's usual times, and not its own.
  std::vector<std::pair<std::uint32_t, std::uint32_t>> swapped;
};

/// Rows without a flag are compared in up to three ways, each among rows of one course, base distance, start and
/// posture: the first and the last time from the start, each stretch between two marks, and where each mark lies
/// between its neighbours. What is expected is the median of the player's other runs near in the file, drawn towards
/// the squad's median as far as its spread allows; what differs is held against robust SDs of the sheet's own values
/// (differences of a player's runs in turn, players' medians about the squad's), mixed with what is usual on such
/// sheets until there are many, by Student's t with as many degrees of freedom as there are values. Laps are compared
/// with laps. Times of relay legs on the team's clock take no part; nor does the squad with fewer than 4 other players.
/// False alarms of clean sheets and what is found: tests/runs/usual_times_test.cpp. Cost: O(rows).
UsualTimes usual_times(const RawLog& log, const PlayerRows& players);

/// The time a row adds at a split: the lap in a row of laps, else the time on its clock.
double own_time_s(const RawLog& log, const RawRow& row, std::uint32_t split);

}  // namespace bagsplit::runs::detail
