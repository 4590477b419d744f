#pragma once

#include <optional>
#include <string>
#include <vector>

#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/present/chart/canvas.hpp"

namespace bagsplit::present::chart {

/// One line of the chart: a dot with a bar.
struct IntervalRow {
  std::string label;
  double lo = 0.0, middle = 0.0, hi = 0.0;  ///< lo <= middle <= hi, finite
  std::string after;                        ///< right of the bar: the numbers
  bool hollow = false;                      ///< mostly not the player's own: hollow dot, dashed bar
};

/// A row of an estimate, its median with the ends of its interval; hollow where it is mostly the age group's norm.
IntervalRow interval_row(std::string label, const jobs::Estimate& estimate, int decimals);

struct IntervalChart {
  std::vector<IntervalRow> rows;
  std::string unit;
  std::optional<Scale> values;                    ///< low and high of the axis; none: from the rows
  std::optional<double> reference;                ///< a line through all rows
  std::optional<std::pair<double, double>> band;  ///< a shaded band with edges through all rows
  std::string mark_words;                         ///< what the line or band is, above it
  std::optional<std::size_t> gap_after;           ///< so many rows, then room for a line
};

/// Intervals on one axis, one a row.
text::Markup intervals(const Caption& caption, const IntervalChart& chart);

/// The same beginning right of `indent` and below `top`, with something drawn beside the rows, which are 20 units high.
text::Markup interval_rows(const Caption& caption, const IntervalChart& chart, double indent, double top,
                           const text::Markup& beside);

/// Where row `row` of a chart begins, counted from its first one; the end of the last for the number of rows.
double row_top(const IntervalChart& chart, std::size_t row);
inline constexpr double gap_height = 18.0;

/// The axis that rows of several charts share.
Scale shared_axis(const std::vector<IntervalRow>& rows);

}  // namespace bagsplit::present::chart
