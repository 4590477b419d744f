// Who changed between two windows of dates; not installed.
#pragma once

#include <cstddef>
#include <vector>

#include "bagsplit/inference/season/detail/state_of_child.hpp"

namespace bagsplit::season {

/// Indices of dates.
struct Windows {
  std::vector<int> early = {}, late = {};
};

/// The first and the last third of the dates, one date each where there are three or fewer.
Windows thirds(std::size_t dates);

std::vector<Moment> moments_of(const Season& season, const Windows& windows);

std::vector<Change> changes_between(const Fit::State& state, const Windows& windows);

}  // namespace bagsplit::season
