#pragma once

#include <cstdint>
#include <span>
#include <string>

#include "bagsplit/runs/log/detail/log_rows.hpp"

/// Inside the reader: rows that are, or claim to be, readings of one run.
namespace bagsplit::runs::detail {

/// Whether a row can be one more reading of the run that the rows `earlier` make (at least one); where not, that is
/// reported.
bool fits_run(RawLog& log, const RawRow& row, std::span<const std::uint32_t> earlier, const ReadOptions& options);

/// Reports a watch that tells a much different time from another of its kind on the same run, and marks its row
/// suspicious.
void compare_watches(RawLog& log, RawRow& row, std::span<const std::uint32_t> earlier, const ReadOptions& options);

/// The same times at the same marks.
bool same_times(const RawLog& log, const RawRow& a, const RawRow& b);

/// "line 7", with its file where that is another than `seen_from`'s.
std::string place_of(const RawLog& log, const RawRow& row, const RawRow& seen_from);

}  // namespace bagsplit::runs::detail
