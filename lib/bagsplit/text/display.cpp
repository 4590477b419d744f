#include "bagsplit/text/display.hpp"

#include <algorithm>

#include "bagsplit/text/text_width.hpp"

namespace bagsplit::text {

std::string one_line(std::string_view text) {
  std::string out = printable(text);
  std::replace(out.begin(), out.end(), '\t', ' ');
  return out;
}

std::string padded(std::string_view text, std::size_t cells, Align align) {
  const std::size_t taken = display_width(text);
  const std::string blanks(cells > taken ? cells - taken : 0, ' ');
  return align == Align::left ? std::string(text) + blanks : blanks + std::string(text);
}

std::string shortened(std::string_view text, std::size_t cells) {
  if (display_width(text) <= cells) {
    return std::string(text);
  }
  const std::size_t dots = std::min<std::size_t>(3, cells);
  std::size_t room = cells - dots;
  std::string out;
  while (!text.empty()) {
    const CodePoint character = first_code_point(text);
    const std::size_t taken = display_width(text.substr(0, character.bytes));
    if (taken > room) {
      break;
    }
    room -= taken;
    out += text.substr(0, character.bytes);
    text.remove_prefix(character.bytes);
  }
  return out.append(dots, '.');
}

std::vector<std::string> wrapped(std::string_view text, std::size_t cells) {
  std::vector<std::string> lines;
  std::string line;
  std::size_t taken = 0;
  while (true) {
    text.remove_prefix(std::min(text.find_first_not_of(" \n"), text.size()));
    if (text.empty()) {
      break;
    }
    const std::string_view word = text.substr(0, text.find_first_of(" \n"));
    text.remove_prefix(word.size());
    const std::size_t word_cells = display_width(word);
    if (!line.empty() && taken + 1 + word_cells > cells) {
      lines.push_back(std::move(line));
      line.clear();
      taken = 0;
    }
    if (!line.empty()) {
      line += ' ';
      ++taken;
    }
    line += word;
    taken += word_cells;
  }
  if (!line.empty()) {
    lines.push_back(std::move(line));
  }
  return lines;
}

std::string paragraph(std::string_view text, std::size_t width, std::string_view first) {
  const std::size_t indent = display_width(first);
  std::string out;
  for (const std::string& line : wrapped(one_line(text), width > indent + 10 ? width - indent : 10)) {
    out += out.empty() ? std::string(first) : std::string(indent, ' ');
    out += line;
    out += '\n';
  }
  return out;
}

std::string listed(const std::vector<std::string>& texts, std::size_t width) {
  std::string out;
  for (const std::string& text : texts) {
    out += paragraph(text, width, "- ");
  }
  return out;
}

std::string heading(std::string_view text, const TextOptions& options) {
  const std::size_t cells = std::min(display_width(text), options.width);
  std::string rule;
  for (std::size_t i = 0; i < cells; ++i) {
    rule += options.unicode ? "\xE2\x95\x90" : "=";
  }
  const std::string shown = options.colour ? "\x1B[1m" + std::string(text) + "\x1B[0m" : std::string(text);
  return shown + "\n" + rule + "\n";
}

}  // namespace bagsplit::text
