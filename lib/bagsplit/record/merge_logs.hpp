#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "bagsplit/runs/log/run_log.hpp"

/// Several recorders' logs as one.
namespace bagsplit::record {

/// What somebody who saw it says. A place is a line of a log: "a.csv:12".
struct MergeAnswers {
  std::vector<std::pair<std::string, std::string>> same;  ///< places that are one run
  std::vector<std::string> alone;                         ///< places that are a run of their own
};

struct MergeResult {
  runs::RunLog log;           ///< corrections resolved, without the column x-entry; write_run_log() writes it
  text::Problems problems;    ///< of the files, and what is asked
  std::size_t same = 0;       ///< readings that stood in two files alike, kept once
  std::size_t conflicts = 0;  ///< the same timer's times of one run differ between files
  std::size_t open = 0;       ///< questions
};

/// Merges logs: readings of one run by several timers come together, a reading that stands in two files alike is kept
/// once.
///
/// Where every log of a date, place and course has its trials typed by hand, they say which runs are one. A recorder
/// counts trials by itself, and who misses a run counts wrong from then on: such logs are aligned by order, bib, times
/// and the clock (`x-at`), a missed run leaves a gap, and trials are numbered anew. What that leaves open is asked
/// (suspicions `which-bib`, `same-run`, `out-of-order`, `side-by-side`, `one-run-more`, `one-run-fewer`); the runs of
/// the first four are flagged void and say `open` in their note. Gaps are told (note `missed-run`). Relay legs go by
/// team, leg and trial, and absences by player.
///
/// `answers` are kept to, and what they settle is not asked again; an answer for a line where no run stands is an error
/// (`unknown-line`).
///
/// The same timer with other times of the same run is a conflict (error `conflicting-entries`, with both places): the
/// first is kept in the log, and the caller should write nothing. Cost: reads each file, and all together once more;
/// for two logs of n and m runs O(n m).
MergeResult merge_logs(std::span<const runs::LogText> files, const runs::ReadOptions& options,
                       const MergeAnswers& answers = {});

}  // namespace bagsplit::record
