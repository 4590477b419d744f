#pragma once

#include <algorithm>
#include <string>
#include <string_view>
#include <vector>

/// Telling people where two texts part.
namespace bagsplit::test {

/// The text split at line ends; a last line without one counts.
inline std::vector<std::string_view> split_lines(std::string_view text) {
  std::vector<std::string_view> lines;
  while (!text.empty()) {
    const auto end = std::min(text.find('\n'), text.size());
    lines.push_back(text.substr(0, end));
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return lines;
}

/// The text with each line set in, so that it stands out in a message.
inline std::string indented(std::string_view text) {
  std::string out;
  for (const auto line : split_lines(text)) {
    out.append("    | ").append(line).append("\n");
  }
  return out;
}

/// " at line n", both lines there, then all that came out.
inline std::string first_difference(std::string_view expected, std::string_view got) {
  const auto wanted = split_lines(expected);
  const auto came = split_lines(got);
  std::size_t i = 0;
  while (i < wanted.size() && i < came.size() && wanted[i] == came[i]) {
    ++i;
  }
  const auto show = [i](const auto& lines) { return i < lines.size() ? std::string(lines[i]) : "(the end)"; };
  std::string text = " at its line " + std::to_string(i + 1);
  if (i == wanted.size() && i == came.size()) {
    text += ": the last line end only";
  }
  text += "\n    expected: " + show(wanted) + "\n    came out: " + show(came) + "\n    all that came out:\n";
  return text + indented(got);
}

}  // namespace bagsplit::test
