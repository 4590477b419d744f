#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/runs/player.hpp"
#include "bagsplit/text/problem.hpp"

/// A published table as text: `#` lines that say who measured whom and how, a line of column names, rows.
/// The parser takes text, never a path: where the text comes from is the caller's business.
namespace bagsplit::norms {

struct Row {
  std::optional<runs::Sex> sex;     ///< none: both, or not stated
  std::optional<double> age_lo_yr;  ///< age_lo <= age < age_hi; none where not stated
  std::optional<double> age_hi_yr;
  std::optional<double> n;           ///< sample size; none where the text read gave none
  std::optional<double> distance_m;  ///< of a running table
  std::string statistic;             ///< "mean", "sd", "p25", "L", ... or a named statistic explained in the header
  std::string group;                 ///< "source" or "task" column where there is one
  std::optional<double> value;       ///< in the table's unit: seconds unless the header says otherwise
};

struct Table {
  std::string name;                             ///< as given by the caller, e.g. "norms/sprint-50m-japan-fy2017.csv"
  std::vector<std::string> header;              ///< the `#` lines without `# `
  std::vector<std::string> columns;             ///< names in file order
  std::vector<std::vector<std::string>> cells;  ///< rows x columns, verbatim
  std::vector<Row> rows;                        ///< the same rows in the same order, understood
};

/// Reads a norm table. Unknown sex words, numbers that are not numbers, and rows with a wrong number of cells are
/// problems, and the row is left out. Cells hold no commas and no quotes.
Table parse_table(std::string_view text, std::string_view name, text::Problems& problems);

/// Index of a column, or nothing.
std::optional<std::size_t> column(const Table& table, std::string_view name);

/// A cell as a number; nothing where the column or the cell is absent. @param row  index into `cells`, checked.
std::optional<double> cell_number(const Table& table, std::size_t row, std::string_view column_name);

}  // namespace bagsplit::norms
