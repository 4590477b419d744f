// What readers of typed numbers share; not installed.
#pragma once

#include <string>
#include <string_view>

#include "bagsplit/text/text.hpp"

namespace bagsplit::text {

/// The text with a point for its decimal comma: `18,29 m` becomes `18.29 m`. Unchanged where a second mark stands in
/// it, or no digit on either side of the comma.
inline std::string with_decimal_point(std::string_view text) {
  std::string out(text);
  const std::size_t comma = text.find(',');
  const bool between_digits = comma != std::string_view::npos && comma > 0 && comma + 1 < text.size() &&
                              is_digit(text[comma - 1]) && is_digit(text[comma + 1]);
  if (between_digits && text.find_first_of(".,", comma + 1) == std::string_view::npos &&
      text.substr(0, comma).find('.') == std::string_view::npos) {
    out[comma] = '.';
  }
  return out;
}

}  // namespace bagsplit::text
