#pragma once

#include <string>
#include <vector>

#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/text/display.hpp"
#include "bagsplit/text/text_table.hpp"

namespace bagsplit::present {

/// A table of estimates as "6.12 +-0.31*": median, half the interval, and signs that the legend explains. The signs
/// take room only in columns that have any, so that the decimal points align. The first column is the key.
class EstimateTable {
 public:
  EstimateTable(std::vector<text::TextTable::Column> columns, const text::TextOptions& options);

  // The cells of a row, from left to right.
  void begin_row();
  void text(std::string cell);
  /// @param value  nullptr: absent.   @param holds_timer_bias  marked "#".
  void estimate(const jobs::Estimate* value, int decimals, bool holds_timer_bias = false);

  bool empty() const { return rows_.empty(); }
  std::string str() const;
  /// What stands after the sign, and what the signs mean, those that occur.
  std::string legend(double level) const;

 private:
  struct Cell {
    std::string text, signs;
  };
  std::vector<text::TextTable::Column> columns_;
  text::TextOptions options_;
  std::vector<std::vector<Cell>> rows_;
  bool any_estimate_ = false;
  bool any_prior_ = false;  // at least one value is mostly the age group's norm
  bool any_timer_ = false;  // at least one reaction holds the timer's bias
};

}  // namespace bagsplit::present
