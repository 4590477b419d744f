#pragma once

#include <string_view>
#include <vector>

#include "bagsplit/runs/log/detail/log_rows.hpp"

/// Inside the reader: the header line.
namespace bagsplit::runs::detail {

inline constexpr std::string_view header_example = "a header line such as date,player,course,trial,first,second,flag";

struct HeaderFound {
  bool usable = false;      ///< the line is a header of a run log
  bool rows_usable = true;  ///< nothing that every row needs is missing
};

/// Reads the column names of a header, the reader's last record, into the file.
/// @param given  fields with a default above the header.
HeaderFound read_header(RawLog& log, LogFile& file, const text::CsvReader& reader, const text::CsvRecord& header,
                        const std::vector<Field>& given, const ReadOptions& options);

}  // namespace bagsplit::runs::detail
