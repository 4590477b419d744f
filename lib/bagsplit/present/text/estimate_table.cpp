#include "bagsplit/present/text/estimate_table.hpp"

#include <algorithm>

#include "bagsplit/present/profile_quantities.hpp"
#include "bagsplit/text/number_text.hpp"

namespace bagsplit::present {

EstimateTable::EstimateTable(std::vector<text::TextTable::Column> columns, const text::TextOptions& options)
    : columns_(std::move(columns)), options_(options) {}

void EstimateTable::begin_row() {
  rows_.emplace_back();
}

void EstimateTable::text(std::string cell) {
  rows_.back().push_back({std::move(cell), ""});
}

void EstimateTable::estimate(const jobs::Estimate* value, int decimals, bool holds_timer_bias) {
  if (value == nullptr) {
    text(std::string(text::absent));
    return;
  }
  std::string cell = text::fixed(value->median, decimals) + " ";
  cell.append(text::plus_minus(options_)).append(text::fixed((value->hi - value->lo) / 2.0, decimals));
  std::string signs = holds_timer_bias ? "#" : "";
  signs += mostly_prior(*value) ? "*" : "";
  any_estimate_ = true;
  any_timer_ = any_timer_ || holds_timer_bias;
  any_prior_ = any_prior_ || mostly_prior(*value);
  rows_.back().push_back({std::move(cell), std::move(signs)});
}

std::string EstimateTable::str() const {
  std::vector<std::size_t> signs(columns_.size(), 0);
  for (const auto& row : rows_) {
    for (std::size_t j = 0; j < row.size(); ++j) {
      signs[j] = std::max(signs[j], row[j].signs.size());
    }
  }
  text::TextTable table(columns_);
  for (const auto& row : rows_) {
    std::vector<std::string> cells;
    for (std::size_t j = 0; j < row.size(); ++j) {
      cells.push_back(row[j].text + text::padded(row[j].signs, signs[j], text::Align::left));
    }
    table.add_row(std::move(cells));
  }
  return table.str(options_);
}

std::string EstimateTable::legend(double level) const {
  std::string out;
  if (any_estimate_) {
    out += text::paragraph("After " + std::string(text::plus_minus(options_)) + " stands half of the " +
                               text::percent(level) + " interval; the number before it is the median.",
                           options_.width);
  }
  if (any_prior_) {
    out += text::paragraph("mostly what is usual at this age: less than half of it comes from this player's runs.",
                           options_.width, "*  ");
  }
  if (any_timer_) {
    out += text::paragraph("reaction and the timer's own delay, which these runs cannot tell apart.", options_.width,
                           "#  ");
  }
  return out;
}

}  // namespace bagsplit::present
