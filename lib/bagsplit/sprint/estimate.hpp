#pragma once

#include <optional>

namespace bagsplit::sprint {

/// Summary of one quantity. Intervals are equal-tailed.
struct Estimate {
  double mean = 0.0;
  double sd = 0.0;
  double lo = 0.0;
  double median = 0.0;
  double hi = 0.0;
  std::optional<double> share_from_data;  ///< 1 - posterior variance / prior variance; may be negative
};

}  // namespace bagsplit::sprint
