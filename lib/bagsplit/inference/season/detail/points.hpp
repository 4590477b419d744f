// The design over evening_sd and the size of changes, and the share that changed summed over; not installed.
#pragma once

#include <vector>

#include "bagsplit/inference/season/detail/messages.hpp"

namespace bagsplit::season {

/// All that was fitted.
struct Fitted {
  Scales scales = {};
  double slip_rate = 0.0;
  std::vector<Units> units = {};
  std::vector<ChildFit> children = {};  ///< at `scales`, no slope
  std::vector<ChangeFit> changes = {};
  std::vector<Point> points = {};  ///< weights sum to 1; those that count for nothing are left out
};

/// Scales, slips, scales again where a reading is suspected, then the points.
Fitted fit_design(Design& design);

}  // namespace bagsplit::season
