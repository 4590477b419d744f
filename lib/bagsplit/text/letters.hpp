// Inside the reader: characters that an eye cannot tell apart; not installed.
#pragma once

#include <string>
#include <string_view>

namespace bagsplit::text {

/// Whether the text holds a blank other than space and tab (a no-break space and its kind) or a character that shows
/// nothing (spaces and joiners of no width, soft hyphens, marks of direction, byte-order marks).
bool has_unseen(std::string_view text);

/// The text with a space for each such blank, and without what shows nothing.
std::string without_unseen(std::string_view text);

/// The text in small letters, each letter with an accent as the letter and the accent's own character behind it.
///
/// Full-width forms become the plain ones. Covers the Latin letters from U+00C0 to U+017F and the Romanian ones with a
/// comma below. Source: The Unicode Standard 15.0 (2022), canonical decompositions. Other letters, and the order of two
/// accents on one letter, stay as they are.
std::string folded(std::string_view text);

}  // namespace bagsplit::text
