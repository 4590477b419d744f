// Official best times, by the rule book. Not installed.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "bagsplit/jobs/standings/detail/standings_players.hpp"
#include "bagsplit/timing/official_time.hpp"

namespace bagsplit::jobs::detail {

struct Bests {
  timing::TimingClass timing_class = timing::TimingClass::hand;  ///< of all of them: classes are never mixed
  std::vector<std::optional<BestTime>> best;                     ///< one an entrant, places not yet given
  std::size_t other_class = 0;                                   ///< runs with a time of another class, left out
};

/// The official best of each entrant at the time ordered by. Hand watches of a run combine by the rule book and are
/// recorded up to the next tenth; other classes are recorded up to the next hundredth, of several readings the slower.
/// The class is the one most runs have. Source: World Athletics Technical Rules, hand timing (former Rule 165), fully
/// automatic timing (to 0.01 s, the next slower where it is not exact).
Bests official_bests(const ResolvedQuantity& time, std::span<const Entrant> entrants, const runs::RunLog& log,
                     const timing::DeviceBook& devices);

/// Places by recorded time: equal ones share a place and the next is left free, as 1, 2, 2, 4. With Ties::as_read those
/// come in the order of the times as read, and share a place only where these are equal, too.
void give_places(std::span<BestTime* const> bests, Ties ties);

}  // namespace bagsplit::jobs::detail
