#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "bagsplit/gates/gate_log.hpp"
#include "bagsplit/runs/run.hpp"
#include "bagsplit/text/problem.hpp"

/// From beams broken to runs: who broke which, and what cannot be told.
namespace bagsplit::gates {

/// What is known of a child beforehand, from earlier times or from age and sex.
struct ExpectedLevel {
  std::string player;
  double log_time = 0.0;  ///< of the course, over any common unit
  double sd = 0.1;        ///< of it, what all children share left aside
};

/// What is taken for sure.
struct GateRules {
  /// Breaks of one gate no farther apart than this are one body [s]. An arm or thigh ahead of the torso breaks a beam
  /// up to 0.1 s early (Cronin & Templeton 2008, J Strength Cond Res 22(1), 217-220: hip against shoulder height 0.07
  /// s, 0.05-0.10); half as much again. Farther apart they may be two bodies and are weighed as such.
  double one_body_s = 0.15;
  /// P from which a time is written, and from which a run is given to a child of the list; the second where the list
  /// says that everybody ran. Measured in tests/gates: no other child's time in 200 files each.
  double mark_limit = 0.99, name_limit = 0.99, name_limit_told = 0.98;
  /// A start list's `time` means a start no farther off than this [s].
  double start_tolerance_s = 2.0;
  std::vector<ExpectedLevel> expected;  ///< of some children of the list, in any order
};

/// One run as the gates saw it.
struct GateRun {
  std::string player;       ///< from the start list; empty when not known
  std::uint16_t trial = 0;  ///< 0: to be numbered
  std::int64_t start_ns = 0;
  std::size_t start_line = 0;  ///< in the gate log; 0: of a player who was absent, or no beam saw it
  std::size_t first_line = 0;  ///< in the gate log: of its first break
  std::vector<std::optional<std::int64_t>> at_ns;  ///< time since the start by GateMap::places; nothing where not timed
  runs::Flag flag = runs::Flag::none;              ///< of the start list; else `void_run` where the run is in doubt
  bool in_doubt = false;
  bool met_gate = false;  ///< has a time at a gate after the start
  std::string note;       ///< what was decided or could not be
};

struct GateCounts {
  std::size_t passages = 0;
  std::size_t runs = 0;      ///< written, those in doubt included
  std::size_t in_doubt = 0;  ///< flagged void, where the list has no flag: who, or which break, cannot be told
  std::size_t double_triggers = 0;
  std::size_t missed_beams = 0;
  std::size_t strays = 0;  ///< passages of nobody on the start list, left out
  std::size_t overtakings = 0;
  std::size_t not_written = 0;  ///< starts that no line of the start list can be given to
  std::size_t no_start = 0;     ///< players of the start list without a start
};

struct GateRuns {
  std::vector<GateRun> runs;  ///< in the order of starting
  GateCounts counts;
};

/// Sorts the passages into runs.
///
/// Breaks that can be one body's on its way are grouped, and all ways to make runs of a group are weighed by the log's
/// own stretch times, beams that miss and passers-by (detail/gate_chains). The runs of the likeliest are held against
/// the lines of the start list, summed over all ways that fit, lines without a run and runs of nobody among them
/// (detail/line_chances): a passer-by or a missed beam costs the run in doubt, not the file. A time is written at
/// P >= `mark_limit`, a run named at P >= `name_limit`; else it is left empty, or flagged void with who it may be in
/// its note, and the run that would settle most is asked about (`who-ran`), one at a time.
///
/// Problem codes (path: the gate log, or the start list): notes `double-trigger`, `overtaking`, `order-not-used`;
/// suspicions `ambiguous-passage`, `missed-beam`, `no-run`, `start-list-mismatch`, `start-without-passage`,
/// `stray-passage`, `three-breaks`, `who-ran`; errors `other-list`, `unknown-answer`, `unknown-gate`.
GateRuns sort_into_runs(const GateLog& log, const StartList& starts, const GateMap& map, const GateRules& rules,
                        text::Problems& problems);

/// The runs as a run log (CSV), device `gate`, with the columns `x-started` (clock time of the start) and `note`.
///
/// Times are differences of whole nanoseconds: a log made from published splits gives the same digits back.
/// @param date  of all runs.
std::string gate_run_log(const GateRuns& runs, const GateMap& map, runs::Date date, const std::string& place);

}  // namespace bagsplit::gates
