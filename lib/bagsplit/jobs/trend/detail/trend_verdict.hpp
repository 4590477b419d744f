// What a change comes to in words, and how many more runs would settle it. Not installed.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "bagsplit/jobs/trend/trend.hpp"
#include "bagsplit/stats/hierarchical_means.hpp"

namespace bagsplit::jobs::detail {

// How much a player's next runs would tell.
struct RunsSoFar {
  double variance_first = 0.0;  // of the mean of the first window; slope: 0
  double variance_last = 0.0;   // of the mean of the last window; slope: of the slope
  double per_run = 0.0;         // variance one more run has as a mean of its own, its share of the day's form included
  std::size_t runs = 0;         // slope: runs now
  bool slope = false;
};

// By what the squad is judged.
struct Yardstick {
  double worthwhile_s = 0.0, level = 0.9, false_discovery_share = 0.1;
  TrendObstacle outside = TrendObstacle::none;  // timer, device or ground: goes with the dates, for all alike
  bool reaction = false;
};

// Verdicts of the squad. `posterior[i]` and `so_far[i]` belong to `players[i]`; players without a plain change are left
// as they are.
void judge(std::vector<PlayerTrend>& players, const std::vector<std::optional<stats::MixtureOfNormals>>& posterior,
           const std::vector<RunsSoFar>& so_far, const Yardstick& by);

}  // namespace bagsplit::jobs::detail
