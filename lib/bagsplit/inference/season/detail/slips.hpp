// Readings that fit nothing else; not installed.
#pragma once

#include <vector>

#include "bagsplit/inference/season/detail/evidence.hpp"

namespace bagsplit::season {

/// P(slip) of each reading and of each child's evening beside all others, leaving it out, and the variance it adds:
/// written into the rows of `design` and into `units`, which are joined anew.
/// @param rate  the share of slips believed in; renewed.
void find_slips(Design& design, std::vector<Units>& units, const Scales& scales, int passes, double& rate);

}  // namespace bagsplit::season
