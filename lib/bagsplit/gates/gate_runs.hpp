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

/// What decides between arm and torso, runner and passer-by. Defaults are for sprints of children and adults.
struct GateRules {
  /// Breaks of one gate no farther apart than this may be one body [s]. An arm or thigh ahead of the torso breaks a
  /// beam up to 0.1 s early (Cronin & Templeton 2008, J Strength Cond Res 22(1), 217-220: hip against shoulder height
  /// 0.07 s, 0.05-0.10); three times that.
  double one_body_s = 0.3;
  /// Bounds of the mean speed over a stretch [m/s], as for reading run logs (runs::SuspicionLimits).
  double fastest_mps = 12.4;
  double slowest_mps = 0.9;
  /// Nobody starts faster: time constant of the bound from rest [s], as for reading run logs.
  double fastest_time_constant_s = 1.0;
  /// A break fits a runner when its time lies within this factor of what is expected of them. Common practice, no
  /// source.
  double fits_within = 2.5;
  /// The better of two runners must fit better by this factor, else it is not decided. Common practice, no source.
  double clearly_better = 1.22;
  /// A start list's `time` means a start no farther off than this [s].
  double start_tolerance_s = 2.0;
};

/// One run as the gates saw it.
struct GateRun {
  std::string player;       ///< from the start list; empty when not known
  std::uint16_t trial = 0;  ///< 0: to be numbered
  std::int64_t start_ns = 0;
  std::size_t start_line = 0;                      ///< in the gate log; 0: of a player who was absent
  std::vector<std::optional<std::int64_t>> at_ns;  ///< time since the start by GateMap::places; nothing where not timed
  runs::Flag flag = runs::Flag::none;              ///< of the start list; else `void_run` where the run is in doubt
  bool in_doubt = false;
  bool met_gate = false;  ///< broke a gate after the start
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
/// A break of the start gate begins a run. Each later break is given to the one runner on the course who can be there:
/// ahead of it, at a mean speed within the bounds, nearest to the time expected. What is expected comes from the log
/// itself (median of each stretch over the runs that were alone on the course), else from a common sprint curve scaled
/// to the log; and from the runner's own stretches before. Two breaks of a gate within `one_body_s` by a runner who is
/// alone there are arm and torso: the later is the torso. A break that two runners fit about equally, or a second break
/// that fits a run as well as the first, is given to nobody and both runs are flagged void. Starts are given to the
/// start list in order, anchored at its times; where numbers do not match, the runs between two anchors are void.
///
/// Problem codes (path: the gate log, or the start list): notes `double-trigger`, `overtaking`; suspicions
/// `ambiguous-passage`, `clock-step`, `missed-beam`, `stray-passage`, `start-list-mismatch`, `start-without-passage`,
/// `three-breaks`; error `unknown-gate`. Cost: O(passages x runners at once on the course), twice.
GateRuns sort_into_runs(const GateLog& log, const StartList& starts, const GateMap& map, const GateRules& rules,
                        text::Problems& problems);

/// The runs as a run log (CSV), device `gate`, with the columns `x-started` (clock time of the start) and `note`.
///
/// Times are differences of whole nanoseconds: a log made from published splits gives the same digits back.
/// @param date  of all runs.
std::string gate_run_log(const GateRuns& runs, const GateMap& map, runs::Date date, const std::string& place);

namespace detail {
/// Gives the starts to the lines of the start list: player, trial, flag, note; drops starts that are nobody's.
void name_runners(std::vector<GateRun>& found, const GateLog& log, const StartList& starts, const GateRules& rules,
                  GateCounts& counts, text::Problems& problems);
}  // namespace detail

}  // namespace bagsplit::gates
