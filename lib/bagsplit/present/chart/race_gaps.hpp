#pragma once

#include <string>
#include <vector>

#include "bagsplit/jobs/relay/relay_season.hpp"
#include "bagsplit/present/chart/canvas.hpp"

namespace bagsplit::present::chart {

/// How far behind each team was after each leg: the team ahead at the top, a line a team; beneath, who ran the leg.
/// @param most_s   the largest gap of all races drawn beside each other.
/// @param runners  by team and leg, as shown; a leg in brackets counts in the race and for nothing else.
text::Markup race_gaps(const Caption& caption, const jobs::RaceGaps& race, double most_s,
                       const std::vector<std::vector<std::string>>& runners);

}  // namespace bagsplit::present::chart
