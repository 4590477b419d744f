#pragma once

#include <optional>
#include <string>
#include <vector>

#include "bagsplit/text/display.hpp"

namespace bagsplit::present {

/// Intervals on one common axis, one a line, in characters:
///
///     12  |-----o-----|
///      7        |-----o--------|
///         4.0             4.5           5.0   s
struct PlottedInterval {
  std::string label;
  double lo = 0.0;
  double middle = 0.0;  ///< the estimate, drawn as a dot
  double hi = 0.0;
  std::string after = {};  ///< text right of the bar, e.g. the numbers
};

/// Values at which an axis from `low` to `high` is marked: multiples of 1, 2 or 5 times a power of ten, at most `most`
/// of them, all within the bounds.  @param most >= 2.   @throws std::domain_error unless low < high, both finite.
std::vector<double> axis_marks(double low, double high, std::size_t most);

/// Digits behind the point that a multiple of `step` needs, at most 6.
int decimals_for(double step);

/// Where values lie in a row of cells.
struct IntervalAxis {
  double low = 0.0, high = 1.0;  ///< low < high
  std::size_t cells = 16;        ///< at least 2

  std::size_t cell_of(double value) const;  ///< the nearest; beyond the ends the end
};

/// An axis that holds all intervals, and the reference.
IntervalAxis axis_of(const std::vector<PlottedInterval>& intervals, std::size_t cells,
                     std::optional<double> reference = std::nullopt);

/// One bar as a row of cells, for a column of a table.
std::string interval_bar(const PlottedInterval& interval, const IntervalAxis& axis, const text::TextOptions& options,
                         std::optional<double> reference = std::nullopt);

/// The plot with a line end after each line. A bar's ends lie within half a cell of their values.
/// @param intervals  lo <= middle <= hi, all finite; none gives no text.
/// @param unit       at the end of the axis.
/// @param reference  a value marked by a line through the plot, e.g. the reference's middle.
std::string interval_plot(const std::vector<PlottedInterval>& intervals, const std::string& unit,
                          const text::TextOptions& options, std::optional<double> reference = std::nullopt);

}  // namespace bagsplit::present
