#pragma once

#include "bagsplit/jobs/timers/timers.hpp"
#include "bagsplit/present/chart/canvas.hpp"

namespace bagsplit::present::chart {

/// Two readers of the same runs: the difference of each run over its mean, the bias, and the limits of agreement with
/// how well they are known.  @param pair  has an agreement.
text::Markup agreement(const Caption& caption, const jobs::TimersPair& pair);

}  // namespace bagsplit::present::chart
