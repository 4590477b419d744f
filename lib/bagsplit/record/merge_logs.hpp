#pragma once

#include <cstddef>
#include <span>
#include <string>

#include "bagsplit/runs/log/run_log.hpp"

/// Several recorders' logs as one.
namespace bagsplit::record {

struct MergeResult {
  runs::RunLog log;           ///< corrections resolved, without the column x-entry; write_run_log() writes it
  text::Problems problems;    ///< of the files; conflicts are errors `conflicting-entries`, with both places
  std::size_t same = 0;       ///< readings that stood in two files alike, kept once
  std::size_t conflicts = 0;  ///< the same timer's times of one run differ between files
};

/// Merges logs: readings of one run by several timers come together, a reading that stands in two files alike is kept
/// once. The same timer with other times of the same run is a conflict: the first is kept in the log, and the caller
/// should write nothing. Cost: reads each file, and all together once more.
MergeResult merge_logs(std::span<const runs::LogText> files, const runs::ReadOptions& options);

}  // namespace bagsplit::record
