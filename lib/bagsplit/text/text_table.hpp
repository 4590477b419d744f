#pragma once

#include <string>
#include <vector>

#include "bagsplit/text/display.hpp"

namespace bagsplit::text {

/// A table for people: heading, unit, a rule, rows; columns aligned by display cells.
///
/// A table wider than the page is broken into blocks one under the other, each beginning with the key columns, so that
/// nothing is lost. A column marked `wraps` (at most one, the last) takes what room is left, several lines a row.
class TextTable {
 public:
  struct Column {
    std::string heading;
    std::string unit = {};  ///< below the heading; empty: no unit
    Align align = Align::right;
    bool wraps = false;
  };

  /// @param key_columns  columns repeated in each block, >= 0.
  explicit TextTable(std::vector<Column> columns, std::size_t key_columns = 1);

  /// @throws std::invalid_argument when there are not as many cells as columns. Cells are made printable here.
  void add_row(std::vector<std::string> cells);

  bool empty() const { return rows_.empty(); }
  std::size_t size() const { return rows_.size(); }

  /// The table with a line end after each line; no blanks at line ends.
  /// @param indent  blanks before each line; part of the width.
  std::string str(const TextOptions& options, std::size_t indent = 0) const;

 private:
  std::string block(const std::vector<std::size_t>& shown, const std::vector<std::size_t>& cells,
                    const TextOptions& options, std::size_t indent) const;

  std::vector<Column> columns_;
  std::size_t key_columns_;
  std::vector<std::vector<std::string>> rows_;
};

}  // namespace bagsplit::text
