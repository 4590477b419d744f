#pragma once

#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/present/chart/canvas.hpp"

namespace bagsplit::present::chart {

/// Speed over time from first move on a straight: the middle with the band of its intervals, and where 10, 20 and 30 m
/// are reached.
/// @param player  speed_curve is not empty.
text::Markup speed_curve(const Caption& caption, const jobs::PlayerProfile& player);

}  // namespace bagsplit::present::chart
