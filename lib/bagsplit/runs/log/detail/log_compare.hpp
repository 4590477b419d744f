#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "bagsplit/runs/log/detail/log_rows.hpp"

/// Inside the reader: rows that are, or claim to be, readings of one run.
namespace bagsplit::runs::detail {

/// Whether a row can be one more reading of the run that the rows `earlier` make (at least one); where not, that is
/// reported.
bool fits_run(RawLog& log, const RawRow& row, std::span<const std::uint32_t> earlier, const ReadOptions& options);

/// Two rows that are readings of one run.
struct WatchPair {
  std::uint32_t row = 0, before = 0;
};

/// Whether two readings of one run are of one kind and without a flag, so that their times can be compared.
bool can_compare(const RawLog& log, const RawRow& row, const RawRow& before);

/// Reports watches that tell much different times of one run: beyond what the two do on all the runs they share, or
/// where these are few, SuspicionLimits::watches_apart_s. @param pairs  that can be compared, those of a row together.
/// @return the rows reported. Cost: O(pairs).
std::vector<std::uint32_t> compare_watches(RawLog& log, std::span<const WatchPair> pairs, const ReadOptions& options);

/// The same times at the same marks.
bool same_times(const RawLog& log, const RawRow& a, const RawRow& b);

/// "line 7", with its file where that is another than `seen_from`'s.
std::string place_of(const RawLog& log, const RawRow& row, const RawRow& seen_from);

}  // namespace bagsplit::runs::detail
