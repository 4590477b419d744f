#pragma once

#include <cstdint>
#include <functional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/text/csv.hpp"
#include "bagsplit/text/problem.hpp"

/// Inside the reader of gate files: a small CSV table with lines `# key: value` above its header.
namespace bagsplit::gates::detail {

struct TableShape {
  std::string_view what;                  ///< "gate log", for messages
  std::vector<std::string_view> columns;  ///< names known; the first `required` must be there and not empty
  std::size_t required = 1;
  std::vector<std::string_view> keys;  ///< names known
};

/// What a cell or key is refused for; `message` empty when it is taken.
struct Refusal {
  std::string code;
  std::string message;
  std::string expected;
  std::string hint;
};

/// "12.345 s".
std::string seconds_text(std::int64_t ns);

struct TableReader {
  /// A key's value, trimmed.
  std::function<Refusal(std::string_view key, std::string_view value)> key;
  /// A cell that is not empty; `column` counts in TableShape::columns.
  std::function<Refusal(std::size_t column, std::string_view text)> cell;
  /// After the cells of a row without an error.
  std::function<void(const text::CsvRecord& record)> row;
};

/// Reads the table and hands on what stands in it. Columns that begin with `x-` are passed over, lines beginning with
/// `#` above the header that are no key are remarks. Problems: `bad-...` of the callbacks, `unknown-key`,
/// `unknown-column`, `repeated-column`, `missing-column`, `missing-header`, `missing-value`, `field-count`, and the
/// faults of CSV.
void read_table(std::string_view text, std::string_view path, const TableShape& shape, const TableReader& reader,
                text::Problems& problems);

}  // namespace bagsplit::gates::detail
