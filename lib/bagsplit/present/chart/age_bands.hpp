#pragma once

#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/norms/norm.hpp"
#include "bagsplit/present/chart/canvas.hpp"

namespace bagsplit::present::chart {

/// Times over age: the middle of a reference, its middle half and the range between its 5th and 95th percentile (or
/// what it may say), with the player's time as that reference would have measured it. Nothing where the reference gives
/// no percentile.
/// @param time_s  the player's.
text::Markup age_bands(const Caption& caption, const norms::Norm& norm, runs::Sex sex, double age_years,
                       const jobs::Estimate& time_s);

/// Whether there is such a chart.
bool has_age_bands(const norms::Norm& norm, runs::Sex sex, double age_years);

}  // namespace bagsplit::present::chart
