#pragma once

#include <optional>

#include "bagsplit/jobs/profile/own_times.hpp"
#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/present/chart/canvas.hpp"

namespace bagsplit::present::chart {

/// A child's own diamond: at the bags the times of its best lap as the watch read them; each side as thick as the
/// seconds it costs beyond the child's own best way round, which stand beside it. A side that is not known is thin and
/// broken.
text::Markup own_diamond(const Caption& caption, const jobs::PlayerProfile& player,
                         const std::optional<jobs::OwnLap>& lap);

/// A child's runs of one kind over the dates, each a ring, as the watch read it; higher is faster.
text::Markup own_weeks(const Caption& caption, const jobs::OwnTimes& times);

}  // namespace bagsplit::present::chart
