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

/// Sentences on what to work on: the bag where most is surely lost beyond what the best path for the player's own
/// sprint loses there (against a straight sprint where no best path is known), a reaction surely slower or a start
/// surely weaker than the age group's; nothing where the data cannot tell, and nothing where the best path loses as
/// much. The first steps only against the squad: a child alone cannot be told from the clock.
std::vector<std::string> work_on(const PlayerProfile& profile, const FirstSteps& squad = {});

/// Why work_on() is empty, in one wording for all.
inline constexpr const char* nothing_to_work_on =
    "no bag clearly costs more than 0.10 s, and neither the call nor the first steps are clearly slower than "
    "usual at the age";

}  // namespace bagsplit::jobs
