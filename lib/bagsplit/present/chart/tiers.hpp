#pragma once

#include <optional>
#include <string>
#include <vector>

#include "bagsplit/present/chart/intervals.hpp"

namespace bagsplit::present::chart {

/// Players in order with their intervals and the tiers they belong to.
struct TierChart {
  struct Row {
    IntervalRow interval;
    std::size_t first_tier = 0, last_tier = 0;  ///< a player may belong to several that overlap; from 0
  };
  std::vector<Row> rows;  ///< best first
  std::string unit;
  std::optional<Scale> values;
  std::optional<std::size_t> cut_after;  ///< rows above the cut line; none: no line
};

/// The intervals, and left of them a bracket for each tier over all its rows, two columns of brackets where tiers
/// overlap.
text::Markup tiers(const Caption& caption, const TierChart& chart);

}  // namespace bagsplit::present::chart
