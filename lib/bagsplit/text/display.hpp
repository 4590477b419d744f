#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

/// Laying out text by the cells a terminal gives it (text_width.hpp), not by bytes.
namespace bagsplit::text {

/// How text for people is laid out.
struct TextOptions {
  std::size_t width = 80;  ///< cells a line may take; tables are broken into blocks to fit. At least 40 is used
  bool unicode = false;    ///< may use signs beyond ASCII for bars, dots and plus-minus
  bool colour = false;     ///< may use colour; the meaning is always there without it
};

/// The text fit for one line of a table: as printable(), tabs as blanks.
std::string one_line(std::string_view text);

enum class Align { left, right };

/// The text padded with blanks to so many cells; unchanged when it already takes more.
std::string padded(std::string_view text, std::size_t cells, Align align);

/// The text cut to at most so many cells, its last ones "..." where something was cut. @param cells >= 1.
std::string shortened(std::string_view text, std::size_t cells);

/// The text broken at blanks into lines of at most so many cells; a longer word stands alone, whole. No line for no
/// text.
std::vector<std::string> wrapped(std::string_view text, std::size_t cells);

/// One paragraph with its line ends: `first` before its first line, as many blanks before the others. The text is made
/// printable here.
std::string paragraph(std::string_view text, std::size_t width, std::string_view first = "");

/// A heading with a line under it.
std::string heading(std::string_view text, const TextOptions& options);

/// Each text a paragraph behind a dash.
std::string listed(const std::vector<std::string>& texts, std::size_t width);

}  // namespace bagsplit::text
