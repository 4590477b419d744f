#pragma once

#include <map>
#include <set>
#include <string>
#include <vector>

#include "bagsplit/inference/prior/model.hpp"
#include "bagsplit/jobs/profile/suspected.hpp"
#include "bagsplit/runs/player.hpp"
#include "bagsplit/runs/run.hpp"
#include "bagsplit/timing/device.hpp"

/// A whole sheet held against what its squad tells: single times, runs of two children swapped, a run under a wrong
/// bib, a posture typed wrong, a squad or a watch unlike any. Suggestions with a probability; nothing is mended.
namespace bagsplit::jobs {

struct SheetDoubts {
  std::vector<SuspectedReading> surely;   ///< surely_suspected or more, ordered by file and line
  std::vector<SuspectedReading> maybe;    ///< maybe_suspected or more
  std::vector<std::string> notes;         ///< about the squad or a watch: plain sentences
  std::set<runs::NameId> start_in_doubt;  ///< players with a run whose owner or posture is in doubt
  /// The chance that a run of a player was swapped with another's: so far a time of theirs is not in doubt by itself.
  std::map<runs::NameId, double> mixed_up;
  double slip_rate = 0.0;  ///< of wrong numbers, of all marks; 0: nothing was fitted
};

struct SheetOptions {
  inference::ModelFile model;
  unsigned threads = 1;  ///< 0: as many as the machine has; the answer does not depend on it
};

/// Fewer players tell nothing of each other; of more readings each is not looked at again here.
inline constexpr std::size_t fewest_to_compare = 3;
inline constexpr std::size_t most_to_compare = 20'000;

/// Nothing found, and nothing fitted, outside of these bounds and where the model file fixes what the squad would tell.
/// @param roster  build_index() called.   Cost: that of a squad's fit, once more for each drill whose posture is in
/// doubt.
SheetDoubts doubt_sheet(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                        const SheetOptions& options);

}  // namespace bagsplit::jobs
