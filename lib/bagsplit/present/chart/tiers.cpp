#include "bagsplit/present/chart/tiers.hpp"

#include <algorithm>

#include "bagsplit/text/display.hpp"

namespace bagsplit::present::chart {

namespace {

constexpr double bracket_step = 9.0;

// Rows of a tier, from and to; tiers that hold nobody are left out.
struct Bracket {
  std::size_t tier = 0, from = 0, to = 0;
};

std::vector<Bracket> brackets_of(const std::vector<TierChart::Row>& rows) {
  std::vector<Bracket> brackets;
  std::size_t tiers = 0;
  for (const TierChart::Row& row : rows) {
    tiers = std::max(tiers, row.last_tier + 1);
  }
  for (std::size_t tier = 0; tier < tiers; ++tier) {
    Bracket bracket{tier, rows.size(), 0};
    for (std::size_t i = 0; i < rows.size(); ++i) {
      if (rows[i].first_tier <= tier && tier <= rows[i].last_tier) {
        bracket.from = std::min(bracket.from, i);
        bracket.to = i;
      }
    }
    if (bracket.from < rows.size()) {
      brackets.push_back(bracket);
    }
  }
  return brackets;
}

}  // namespace

text::Markup tiers(const Caption& caption, const TierChart& chart) {
  IntervalChart plain;
  plain.unit = chart.unit;
  plain.values = chart.values;
  for (const TierChart::Row& row : chart.rows) {
    plain.rows.push_back(row.interval);
  }
  constexpr double left = 34.0;
  const double top = 8.0;
  if (chart.cut_after && *chart.cut_after < chart.rows.size()) {
    plain.gap_after = chart.cut_after;
  }
  text::Markup brackets;
  for (const Bracket& bracket : brackets_of(chart.rows)) {
    const double x = 4.0 + bracket_step * static_cast<double>(bracket.tier % 3);
    const bool before_gap = plain.gap_after && bracket.to + 1 == *plain.gap_after;
    const double a = top + row_top(plain, bracket.from) + 3.0;
    const double b = top + row_top(plain, bracket.to + 1) - (before_gap ? gap_height : 0.0) - 3.0;
    brackets += curve({{x + 5.0, a}, {x, a}, {x, b}, {x + 5.0, b}}, "bracket");
  }
  if (plain.gap_after) {
    const double y = top + row_top(plain, *plain.gap_after) - 3.0;
    brackets += line({0.0, y}, {width, y}, "mark") + label({width, y - 3.0}, "cut", Anchor::end, "small");
  }
  return interval_rows(caption, plain, left, top, brackets);
}

}  // namespace bagsplit::present::chart
