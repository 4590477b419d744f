// What readers and the sentences of answers share; not installed.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace bagsplit::runs {

/// How some programs begin a file of UTF-8 text.
inline constexpr std::string_view byte_order_mark = "\xEF\xBB\xBF";

/// At least one character, and all are digits.
bool all_digits(std::string_view text);

/// The text, cut short where it is long (clipped()), between single quotes.
std::string in_quotes(std::string_view text);

/// "a, b and c".
std::string joined(const std::vector<std::string>& words);

}  // namespace bagsplit::runs
