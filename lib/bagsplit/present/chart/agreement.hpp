#pragma once

#include "bagsplit/coach/timers.hpp"
#include "bagsplit/present/chart/canvas.hpp"

namespace bagsplit::present::chart {

/// Two readers of the same runs: the difference of each run over its mean, the bias, and the limits of agreement with
/// how well they are known.  @param pair  has an agreement.
Markup agreement(const Caption& caption, const coach::TimersPair& pair);

}  // namespace bagsplit::present::chart
