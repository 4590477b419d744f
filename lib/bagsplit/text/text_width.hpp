#pragma once

#include <cstddef>
#include <string>
#include <string_view>

/// How wide a text is on a terminal, and how to make a stranger's text safe to show there.
namespace bagsplit::text {

/// Terminal cells a code point takes: 0 for combining marks and joiners, 2 for wide East Asian characters and emoji,
/// else 1. Source: Unicode 15 East Asian Width (UAX 11: W and F) and general categories Mn, Me, Cf, in ranges that may
/// include unassigned neighbours.
int cell_width(char32_t code_point);

/// Terminal cells a text takes; control characters count as shown by printable(). Tabs count as one: expand them first.
std::size_t display_width(std::string_view utf8);

/// The text with everything that could move the cursor, recolour the terminal or turn the direction of writing replaced
/// by U+FFFD: control characters but tab, bidirectional controls, bytes that are not UTF-8. Line ends are replaced by
/// U+FFFD, too.
std::string printable(std::string_view utf8);

/// The code point at the start of the text and its length in bytes; U+FFFD and 1 where the bytes are not UTF-8. The
/// text is not empty.
struct CodePoint {
  char32_t value = 0xFFFD;
  std::size_t bytes = 1;
};
CodePoint first_code_point(std::string_view utf8);

}  // namespace bagsplit::text
