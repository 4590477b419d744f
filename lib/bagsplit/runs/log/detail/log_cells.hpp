#pragma once

#include <functional>
#include <string>
#include <string_view>

#include "bagsplit/runs/log/detail/log_rows.hpp"

/// Inside the reader: what one cell, or one `# key: value` default, means.
namespace bagsplit::runs::detail {

/// What is wrong with a text, to be put at its place by the caller; code empty when nothing is.
struct CellFault {
  std::string_view code;
  std::string message;
  std::string expected;
  std::string hint;
};

/// Reads a cell or default of one of the named fields into `conditions`. `text` is trimmed and not empty.
CellFault read_field(Field field, std::string_view text, RawLog& log, const LogFile& file, Conditions& conditions);

/// What the drill says and no cell or default does.
CellFault apply_drill(RawLog& log, Conditions& conditions);

/// Gives one of the named fields its default again.
void set_default(Field field, const Conditions& defaults, Conditions& conditions);

/// The fault of a text that parse_time_s refused.
CellFault time_fault(std::string_view column, std::string_view text, bool decimal_comma);

/// The suspicion that a base distance calls for, if any.
std::optional<text::Problem> unusual_base_distance(double base_m);

/// The field of that name, or Field::none.
Field field_of_name(std::string_view name);

/// Whether the text says that a run was not finished, and no more.
bool did_not_finish(std::string_view text);
inline constexpr std::string_view which_flag =
    "why was it not finished? Leave the time empty and write fall, obstructed, missed-bag or void as the flag";

}  // namespace bagsplit::runs::detail
