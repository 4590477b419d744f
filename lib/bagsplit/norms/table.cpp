#include "bagsplit/norms/table.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "bagsplit/text/number_chars.hpp"

namespace bagsplit::norms {

namespace {

std::string_view trimmed(std::string_view text) {
  const auto blank = [](char c) { return c == ' ' || c == '\t' || c == '\r'; };
  while (!text.empty() && blank(text.front())) {
    text.remove_prefix(1);
  }
  while (!text.empty() && blank(text.back())) {
    text.remove_suffix(1);
  }
  return text;
}

std::vector<std::string> cells_of(std::string_view line) {
  std::vector<std::string> cells;
  while (true) {
    const auto comma = line.find(',');
    cells.emplace_back(trimmed(line.substr(0, comma)));
    if (comma == std::string_view::npos) {
      return cells;
    }
    line.remove_prefix(comma + 1);
  }
}

bool absent(std::string_view text) {
  return text.empty() || text == "NA";
}

std::optional<double> number(std::string_view text) {
  double value = 0.0;
  const auto [end, error] = text::read_number(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size() || !std::isfinite(value)) {
    return std::nullopt;
  }
  return value;
}

class Reader {
 public:
  Reader(Table& table, text::Problems& problems) : table_(table), problems_(problems) {}

  void report(std::size_t line, std::string code, std::string message, std::string read, std::string expected,
              std::string_view source_line) {
    problems_.push_back({.severity = text::Severity::error,
                         .code = std::move(code),
                         .path = table_.name,
                         .line = line,
                         .column = 0,
                         .length = 0,
                         .message = std::move(message),
                         .read = std::move(read),
                         .expected = std::move(expected),
                         .hint = {},
                         .source_line = std::string(source_line)});
  }

  // The cell of a column, read as a number; absent where the column or the cell is. False on a cell that is no number.
  bool read(const std::vector<std::string>& cells, std::string_view name, std::optional<double>& out) {
    const auto at = column(table_, name);
    if (!at || absent(cells[*at])) {
      return true;
    }
    out = number(cells[*at]);
    if (!out) {
      bad_ = {std::string(name), cells[*at]};
    }
    return out.has_value();
  }

  bool understand(const std::vector<std::string>& cells, Row& row) {
    if (const auto at = column(table_, "sex")) {
      const std::string& word = cells[*at];
      constexpr std::array<std::string_view, 4> both = {"all", "MF", "", "NA"};
      if (word == "F" || word == "f") {
        row.sex = runs::Sex::female;
      } else if (word == "M" || word == "m") {
        row.sex = runs::Sex::male;
      } else if (std::find(both.begin(), both.end(), word) == both.end()) {
        bad_ = {"sex", word};
        return false;
      }
    }
    if (const auto at = column(table_, "statistic")) {
      row.statistic = cells[*at];
    }
    for (const auto* name : {"source", "task"}) {
      if (const auto at = column(table_, name)) {
        row.group = cells[*at];
      }
    }
    return read(cells, "age_lo_years", row.age_lo_yr) && read(cells, "age_from_years", row.age_lo_yr) &&
           read(cells, "age_hi_years", row.age_hi_yr) && read(cells, "age_to_years", row.age_hi_yr) &&
           read(cells, "n", row.n) && read(cells, "distance_m", row.distance_m) && read(cells, "value_s", row.value) &&
           read(cells, "value", row.value);
  }

  const std::pair<std::string, std::string>& bad() const { return bad_; }

 private:
  Table& table_;
  text::Problems& problems_;
  std::pair<std::string, std::string> bad_;
};

}  // namespace

std::optional<std::size_t> column(const Table& table, std::string_view name) {
  const auto it = std::find(table.columns.begin(), table.columns.end(), name);
  if (it == table.columns.end()) {
    return std::nullopt;
  }
  return static_cast<std::size_t>(it - table.columns.begin());
}

std::optional<double> cell_number(const Table& table, std::size_t row, std::string_view column_name) {
  const auto at = column(table, column_name);
  if (!at || absent(table.cells.at(row)[*at])) {
    return std::nullopt;
  }
  return number(table.cells[row][*at]);
}

Table parse_table(std::string_view text, std::string_view name, text::Problems& problems) {
  Table table;
  table.name = std::string(name);
  Reader reader(table, problems);
  std::size_t line_number = 0;
  while (!text.empty()) {
    const auto end = text.find('\n');
    const std::string_view line = trimmed(text.substr(0, end));
    text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
    ++line_number;
    if (line.empty()) {
      continue;
    }
    if (line.front() == '#') {
      table.header.emplace_back(line.size() > 1 && line[1] == ' ' ? line.substr(2) : line.substr(1));
      continue;
    }
    if (table.columns.empty()) {
      table.columns = cells_of(line);
      continue;
    }
    auto cells = cells_of(line);
    if (cells.size() != table.columns.size()) {
      reader.report(line_number, "wrong-cell-count", "this row has another number of cells than the line of names",
                    std::to_string(cells.size()), std::to_string(table.columns.size()), line);
      continue;
    }
    Row row;
    if (!reader.understand(cells, row)) {
      reader.report(line_number, "bad-norm-cell", "'" + reader.bad().first + "' cannot be understood",
                    reader.bad().second, reader.bad().first == "sex" ? "F, M, all or empty" : "a number, NA or empty",
                    line);
      continue;
    }
    table.cells.push_back(std::move(cells));
    table.rows.push_back(std::move(row));
  }
  if (table.columns.empty()) {
    reader.report(0, "empty-norm-table", "there is no line of column names", "", "a line of names, then rows", "");
  }
  return table;
}

}  // namespace bagsplit::norms
