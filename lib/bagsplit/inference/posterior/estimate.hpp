#pragma once

#include <optional>

namespace bagsplit::inference {

/// Summary of one quantity. Intervals are equal-tailed.
struct Estimate {
  double mean = 0.0;
  double sd = 0.0;
  double lo = 0.0;
  double median = 0.0;
  double hi = 0.0;
  /// 1 - posterior variance / variance before the player's own readings; may be negative. With a squad's model that is
  /// what all others leave open, so that what they told is not counted as the player's own.
  std::optional<double> share_from_data;
};

}  // namespace bagsplit::inference
