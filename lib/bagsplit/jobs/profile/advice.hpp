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

inline constexpr double surely_lost_s = 0.10;  ///< at a bag: less is no advice; nothing_to_work_on says it
/// Longer and weaker than what is usual at the age: the slower quarter of what is expected begins there.
double slow_reaction_s(const PlayerProfile& profile);
double weak_start_mps2(const PlayerProfile& profile);

/// Sentences on what to work on: the bag where most is surely lost beyond what the best path for the player's own
/// sprint loses there (against a straight sprint where no best path is known), a reaction surely slower or a start
/// surely weaker than the age group's; nothing where the data cannot tell, and nothing where the best path loses as
/// much. What hangs on one row (PlayerProfile::hangs_on) is none of it: the notes say so.
void advise(PlayerProfile& profile);

/// Why work_on() is empty, in one wording for all.
inline constexpr const char* nothing_to_work_on =
    "no bag clearly costs more than 0.10 s, and neither the call nor the first steps are clearly slower than "
    "usual at the age";

}  // namespace bagsplit::jobs
