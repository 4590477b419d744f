#pragma once

#include <cstdint>
#include <vector>

/// A reading that may be wrong.
namespace bagsplit::inference {

enum class SlipKind : std::uint8_t {
  mark,   ///< one time of several
  time,   ///< the only time of a reading: its press or its start
  start,  ///< the clock started early or late: all times of the reading
  lost,   ///< time lost from this mark on, as by a fall
  slow,   ///< a run not in earnest
};

struct Slip {
  SlipKind kind = SlipKind::mark;
  std::uint32_t reading = 0;  ///< into PlayerData::readings
  std::uint32_t mark = 0;     ///< of the reading, 0, 1, ...
  double probability = 0.0;
  double size_s = 0.0;     ///< read less what would fit, if it is one; of `slow`, over the whole run
  double size_sd_s = 0.0;  ///< of what would fit
};

/// Sets of slips that an answer is told for apart from the others: one that is likely for itself, or all the rest.
struct SlipGroup {
  double probability = 0.0;
  double if_commoner = 0.0;             ///< its weight beside the others', were slips five times as common
  std::vector<std::uint32_t> readings;  ///< with a slip in the likeliest of its sets, into PlayerData::readings
};

}  // namespace bagsplit::inference
