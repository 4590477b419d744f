#include "bagsplit/present/chart/intervals.hpp"

#include <algorithm>

#include "bagsplit/present/profile_quantities.hpp"
#include "bagsplit/text/display.hpp"
#include "bagsplit/text/number_text.hpp"

namespace bagsplit::present::chart {

namespace {

constexpr double row_height = 20.0;
constexpr std::size_t most_label_cells = 16;

text::Markup row_part(const IntervalRow& row, const Scale& x, double y) {
  const double lo = x.within(row.lo);
  const double hi = x.within(row.hi);
  text::Markup out = line({lo, y}, {hi, y}, row.hollow ? text::Literal("bar dashed") : text::Literal("bar"));
  out += line({lo, y - 4.0}, {lo, y + 4.0}, "bar") + line({hi, y - 4.0}, {hi, y + 4.0}, "bar");
  return out + dot({x.within(row.middle), y}, row.hollow);
}

}  // namespace

IntervalRow interval_row(std::string label, const jobs::Estimate& e, int decimals) {
  return {std::move(label),         std::min(e.lo, e.median),        e.median,
          std::max(e.hi, e.median), text::fixed(e.median, decimals), mostly_prior(e)};
}

double row_top(const IntervalChart& chart, std::size_t row) {
  return row_height * static_cast<double>(row) + (chart.gap_after && row >= *chart.gap_after ? gap_height : 0.0);
}

Scale shared_axis(const std::vector<IntervalRow>& rows) {
  std::vector<double> values;
  for (const IntervalRow& row : rows) {
    values.push_back(row.lo);
    values.push_back(row.hi);
  }
  return scale_over(values, 0.0, 1.0);
}

text::Markup intervals(const Caption& caption, const IntervalChart& chart) {
  return interval_rows(caption, chart, 0.0, chart.mark_words.empty() ? 4.0 : 20.0, {});
}

text::Markup interval_rows(const Caption& caption, const IntervalChart& chart, double indent, double top,
                           const text::Markup& beside) {
  double left = 20.0;
  double right = 0.0;
  std::vector<double> values;
  for (const IntervalRow& row : chart.rows) {
    left = std::max(left, text_width(text::shortened(text::one_line(row.label), most_label_cells)) + 10.0);
    right = std::max(right, text_width(row.after) + 10.0);
    values.insert(values.end(), {row.lo, row.hi});
  }
  if (chart.reference) {
    values.push_back(*chart.reference);
  }
  if (chart.band) {
    values.insert(values.end(), {chart.band->first, chart.band->second});
  }
  left += indent;
  Scale x = chart.values.value_or(scale_over(values, 0.0, 1.0));
  x.from = left;
  x.to = width - std::max(right, 12.0);
  const double bottom = top + row_top(chart, chart.rows.size()) + 2.0;

  text::Markup out = beside;
  if (chart.band) {
    const double a = x.within(chart.band->first);
    const double b = x.within(chart.band->second);
    out +=
        box({a, top}, {b, bottom}, "band") + line({a, top}, {a, bottom}, "edge") + line({b, top}, {b, bottom}, "edge");
  }
  out += bottom_axis(x, top, bottom, chart.unit, 5);
  if (chart.reference) {
    out += line({x.within(*chart.reference), top - 2.0}, {x.within(*chart.reference), bottom}, "mark");
  }
  if (!chart.mark_words.empty()) {
    const double at = chart.band ? x.within(0.5 * (chart.band->first + chart.band->second))
                                 : x.within(chart.reference.value_or(x.low));
    const double half = 0.5 * text_width(chart.mark_words);
    out += label({std::clamp(at, half, width - half), 12.0}, chart.mark_words, Anchor::middle, "small");
  }
  for (std::size_t i = 0; i < chart.rows.size(); ++i) {
    const IntervalRow& row = chart.rows[i];
    const double y = top + row_top(chart, i) + 0.5 * row_height + 1.0;
    out += label({left - 8.0, y + 4.0}, text::shortened(text::one_line(row.label), most_label_cells), Anchor::end);
    out += row_part(row, x, y);
    out += row.after.empty() ? text::Markup() : label({width, y + 4.0}, row.after, Anchor::end);
  }
  return drawing(caption, bottom + 32.0, out);
}

}  // namespace bagsplit::present::chart
