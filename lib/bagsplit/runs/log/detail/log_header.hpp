#pragma once

#include "bagsplit/runs/log/detail/log_rows.hpp"

/// Inside the reader: what stands above the rows.
namespace bagsplit::runs::detail {

/// What the lines above the rows say. `usable` is false when the rows cannot be read at all.
struct Preamble {
  Conditions defaults;
  bool usable = false;       ///< there is a header that can be split into columns
  bool rows_usable = true;   ///< nothing that every row needs is missing
  std::vector<Field> given;  ///< fields with a default
};

/// Reads `# key: value` lines and the header; columns, delimiter and date order go to the file. Leaves the reader at
/// the first row.
Preamble read_preamble(RawLog& log, LogFile& file, text::CsvReader& reader, const ReadOptions& options);

}  // namespace bagsplit::runs::detail
