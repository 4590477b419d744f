#pragma once

#include <string>
#include <vector>

#include "bagsplit/inference/posterior/posterior.hpp"
#include "bagsplit/inference/reading/assemble.hpp"
#include "bagsplit/jobs/profile/profile.hpp"

/// What to say to a coach beside the numbers: which run to time next, and what to work on.
namespace bagsplit::jobs {

/// For each quantity whose share from data is below one half: the run, of those a coach with a watch can time, that is
/// expected to shrink its posterior SD most; none where the best gains less than a tenth.
/// @param term_means  of the posterior.
/// @param base_m  base distance for the circuit and home-first candidates; a circuit is offered only where losses are
/// in play.
std::vector<NextRun> next_runs(const inference::Posterior& posterior, const inference::TermMeans& term_means,
                               const inference::Assembled& assembled, const PlayerProfile& profile,
                               std::optional<double> base_m);

inline constexpr double surely_lost_s = 0.10;  ///< at a bag: less is no advice
/// Longer and weaker than what is usual at the age: the slower quarter of what is expected begins there.
double slow_reaction_s(const PlayerProfile& profile);
double weak_start_mps2(const PlayerProfile& profile);

/// What the marks surely show as time to win, most of it first, each with a drill. The drills are common practice, no
/// source; count and rest keep to what `safety` says.
std::vector<WorkOn> work_on(const PlayerProfile& profile);

/// Takes back the marks to work on that hang on one row (PlayerProfile::hangs_on), with a note each, then fills
/// work_on.
void advise(PlayerProfile& profile);

/// Said where nothing stands out.
inline constexpr const char* nothing_to_work_on = "nothing surely stands out to work on";

}  // namespace bagsplit::jobs
