#pragma once

#include "bagsplit/jobs/trend/season_trend.hpp"
#include "bagsplit/present/chart/canvas.hpp"

namespace bagsplit::present::chart {

/// One player's times over the dates: a cross a run, the means of the first and of the last window, and around the
/// first mean the band in which runs of other evenings lie when nothing has changed.
/// @param player  has times.   @param months  only the months are written at the dates.
text::Markup weeks(const Caption& caption, const jobs::SeasonTrend& result, const jobs::SeasonPlayer& player,
                   bool months = false);

}  // namespace bagsplit::present::chart
