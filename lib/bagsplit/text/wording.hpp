// What readers and the sentences of answers share; not installed.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace bagsplit::text {

/// How some programs begin a file of UTF-8 text.
inline constexpr std::string_view byte_order_mark = "\xEF\xBB\xBF";

/// At least one character, and all are digits.
bool all_digits(std::string_view text);

/// The text, cut short where it is long (clipped()), between single quotes.
std::string in_quotes(std::string_view text);

/// "1 run", "3 runs"; with a plural of its own "2 switches".
std::string counted(std::size_t count, std::string_view noun, std::string_view plural = "");

/// "a, b and c".
std::string joined(const std::vector<std::string>& words);

}  // namespace bagsplit::text
