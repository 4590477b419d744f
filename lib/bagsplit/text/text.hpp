#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <string_view>

/// Small tools for reading what people type. ASCII rules only; no locale takes part.
namespace bagsplit::text {

constexpr char ascii_lower(char c) {
  return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
}
constexpr bool is_digit(char c) {
  return c >= '0' && c <= '9';
}

std::string lower(std::string_view text);
bool equal_ignoring_case(std::string_view a, std::string_view b);

/// The text without spaces and tabs at either end; a view of the same characters.
std::string_view trim(std::string_view text);

/// Byte offset of the first byte that is not part of well-formed UTF-8 (Unicode 15, table 3-7), or npos. ASCII text
/// passes at several GB/s.
std::size_t first_invalid_utf8(std::string_view text);

/// Characters (code points) in a text, as an editor counts columns. A byte that is not UTF-8 counts as one.
std::size_t count_characters(std::string_view text);

/// The text cut to at most `bytes` bytes at a character's boundary, ending in "..." where something was cut.
std::string clipped(std::string_view text, std::size_t bytes = 80);

/// Insertions, deletions, replacements and swaps of neighbours that turn one text into the other, without regard to
/// case.
std::size_t edit_distance(std::string_view a, std::string_view b);

/// The candidate nearest to a text by edit_distance, the earlier one on a tie; nothing when even that one is too far to
/// be what was meant (more than a third of the longer text, and more than one edit).
std::optional<std::string_view> nearest(std::string_view text, std::span<const std::string_view> candidates);

/// "a, b or c"; with last "," just "a, b, c".
std::string list_of(std::span<const std::string_view> words, std::string_view last = "or");

}  // namespace bagsplit::text
