#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// Run logs that are only ever added to. The column `x-entry` numbers the rows; a later row may replace or undo an
/// earlier one: `3`, `8 replaces 3`, `9 undoes 8`. Reading a run log resolves them; the log read has no such column.
namespace bagsplit::runs {

inline constexpr std::string_view entry_column = "x-entry";
/// When a run was typed in: 17:42:08 on the recorder's clock; a correction keeps it. It tells merged logs which of a
/// child's runs in succession one recorder missed.
inline constexpr std::string_view clock_column = "x-at";

struct EntryMark {
  enum class What : std::uint8_t { fresh, replaces, undoes };
  unsigned number = 0;  ///< from 1, rising
  What what = What::fresh;
  unsigned of = 0;  ///< the entry replaced or undone
};

/// Reads `3`, `8 replaces 3` or `9 undoes 8`; nothing for other text, or where the entry named is not an earlier one.
std::optional<EntryMark> parse_entry(std::string_view text);

std::string entry_text(const EntryMark& mark);

/// Which entries stand: those neither replaced nor undone. Undoing a correction brings back what it had replaced; an
/// undoing row itself never stands.
/// @param marks  in the order of the file.
std::vector<bool> standing_entries(std::span<const EntryMark> marks);

}  // namespace bagsplit::runs
