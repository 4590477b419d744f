#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/runs/log/detail/log_rows.hpp"
#include "bagsplit/runs/log/detail/log_usual.hpp"

/// Inside the reader: what is wrong with one row's times, and what was probably meant.
namespace bagsplit::runs::detail {

/// The first thing about a row's times that cannot be, or is hardly so.
struct TimeFinding {
  std::string_view code;    ///< empty: nothing found
  bool certain = false;     ///< an error: the times cannot all be right
  std::uint32_t split = 0;  ///< into the split arrays: the cell to point at
  std::string message;
  std::string expected;
  std::string hint;
  std::optional<SetAside::Slip> slip;  ///< the time cannot be what was meant: out of the estimates
  double too_long_s = 0.0;             ///< of that slip
};

/// Looks at one row; a plain one without odd times gives nothing, and need not be asked about. `odd` are the times of
/// this row that are far from usual (may be empty).
TimeFinding examine_times(RawLog& log, const RawRow& row, std::span<const OddTime> odd, const ReadOptions& options);

}  // namespace bagsplit::runs::detail
