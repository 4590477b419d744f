// Checks of the caller's season; not installed.
#pragma once

#include "bagsplit/inference/season/options.hpp"
#include "bagsplit/inference/season/season.hpp"

namespace bagsplit::season {

/// @throws std::invalid_argument for what is missing or points nowhere, std::domain_error for a number out of bounds.
void check_season(const Season& season, const Options& options);

}  // namespace bagsplit::season
