#pragma once

#include <array>
#include <optional>
#include <span>
#include <string_view>

#include "bagsplit/runs/typed.hpp"

/// The columns of the files people type: the tables the readers find a column's name in, with what the help says of
/// each.
namespace bagsplit::runs {

struct ColumnWords {
  std::string_view name;
  std::string_view what;                         ///< what stands in it, with its unit
  std::span<const std::string_view> words = {};  ///< what it may say, where it is one of some words
  bool required = false;
};

/// Columns of a run log beside those of times; each may stand above the header as a line `# name: value` as well.
std::span<const ColumnWords> log_columns();

/// Columns of a roster.
std::span<const ColumnWords> roster_columns();

/// The key `# dates: ...` above a header.
inline constexpr std::string_view date_order_key = "dates";
inline constexpr std::array<std::string_view, 3> date_order_words{"iso", "dmy", "mdy"};

/// The order of that word, in whatever case; nothing for another.
std::optional<DateOrder> read_date_order(std::string_view text);

}  // namespace bagsplit::runs
