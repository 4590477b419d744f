#include "cli/case_file.hpp"

#include <algorithm>
#include <sstream>
#include <stdexcept>

namespace bagsplit::test {

namespace {

constexpr std::string_view mark = "--- ";

[[noreturn]] void refuse(std::size_t line, const std::string& why) {
  throw std::runtime_error(std::to_string(line) + ": " + why);
}

int hex_digit(char c) {
  constexpr std::string_view digits = "0123456789abcdef";
  const auto at = digits.find(c);
  return at == std::string_view::npos ? -1 : static_cast<int>(at);
}

std::string unescaped(std::string_view text, std::size_t line) {
  std::string plain;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] != '\\') {
      plain += text[i];
      continue;
    }
    const char next = ++i < text.size() ? text[i] : '\0';
    switch (next) {
      case '\n':
        break;  // a backslash at the end of a line: no line end
      case '\\':
        plain += '\\';
        break;
      case 'n':
        plain += '\n';
        break;
      case 'r':
        plain += '\r';
        break;
      case 't':
        plain += '\t';
        break;
      case 'x': {
        const int high = i + 2 < text.size() ? hex_digit(text[i + 1]) : -1;
        const int low = i + 2 < text.size() ? hex_digit(text[i + 2]) : -1;
        if (high < 0 || low < 0) {
          refuse(line, "\\x wants two digits 0-9 a-f");
        }
        plain += static_cast<char>(16 * high + low);
        i += 2;
        break;
      }
      default:
        refuse(line, "unknown escape (known: \\\\ \\n \\r \\t \\xHH and \\ at the end of a line)");
    }
  }
  return plain;
}

bool needs_escapes(std::string_view text) {
  if (text.empty()) {
    return false;
  }
  return text.back() != '\n' || text.starts_with(mark) || text.find("\n--- ") != std::string_view::npos ||
         std::any_of(text.begin(), text.end(), [](char c) { return (c >= 0 && c < ' ' && c != '\n') || c == '\x7f'; });
}

std::string escaped(std::string_view text) {
  constexpr std::string_view digits = "0123456789abcdef";
  std::string out;
  bool line_start = true;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (c == '\\') {
      out += "\\\\";
    } else if (c == '\r') {
      out += "\\r";
    } else if (c == '\t') {
      out += "\\t";
    } else if ((c >= 0 && c < ' ' && c != '\n') || c == '\x7f' || (line_start && text.substr(i).starts_with(mark))) {
      const auto byte = static_cast<unsigned char>(c);
      out += "\\x";
      out += digits[byte / 16];
      out += digits[byte % 16];
    } else {
      out += c;
    }
    line_start = c == '\n';
  }
  return text.ends_with('\n') ? out : out + "\\\n";
}

/// Reads the words of a `---` line; the body follows later.
Section read_heading(std::string_view heading, std::size_t line, bool& with_escapes) {
  std::istringstream words{std::string(heading.substr(mark.size()))};
  Section section{};
  section.line = line;
  words >> section.kind;
  const bool named = section.kind == "file" || section.kind == "output" || section.kind == "exit";
  const bool expects = section.kind == "stdout" || section.kind == "stderr" || section.kind == "output";
  if (!named && !expects && section.kind != "run" && section.kind != "stdin") {
    refuse(line, "unknown section '" + section.kind + "' (known: file, run, stdin, stdout, stderr, output, exit)");
  }
  if (named && !(words >> section.name)) {
    refuse(line, section.kind + " wants " + (section.kind == "exit" ? "a number" : "a name"));
  }
  for (std::string word; words >> word;) {
    if (word == "escaped" && section.kind != "run" && section.kind != "exit") {
      with_escapes = true;
    } else if (expects && section.mode.empty() &&
               (word == "contains" || word == "lacks" || word == "any" || word == "near")) {
      section.mode = word;
    } else {
      refuse(line, "'" + word + "' means nothing after '" + section.kind + "'");
    }
  }
  if (section.kind == "exit" && section.name.find_first_not_of("0123456789") != std::string::npos) {
    refuse(line, "exit wants a number");
  }
  return section;
}

}  // namespace

CaseFile parse_case(std::string_view text) {
  CaseFile file;
  bool with_escapes = false;
  std::size_t number = 0;
  const auto close = [&] {
    if (!file.sections.empty() && with_escapes) {
      auto& section = file.sections.back();
      section.body = unescaped(section.body, section.line);
    }
    with_escapes = false;
  };
  while (!text.empty()) {
    const auto length = std::min(text.find('\n'), text.size() - 1) + 1;
    const auto line = text.substr(0, length);
    text.remove_prefix(length);
    ++number;
    if (line.starts_with(mark)) {
      close();
      file.sections.push_back(read_heading(line, number, with_escapes));
    } else if (!file.sections.empty()) {
      file.sections.back().body += line;
    } else if (line.starts_with('#') || line == "\n") {
      file.comment += line;
    } else {
      refuse(number, "text before the first section must be a comment");
    }
  }
  close();
  if (!file.comment.starts_with("# ")) {
    refuse(1, "the first line says what the case shows: # ...");
  }
  if (std::none_of(file.sections.begin(), file.sections.end(), [](const auto& s) { return s.kind == "run"; })) {
    refuse(number, "nothing is run");
  }
  bool seen_run = false;
  for (const auto& section : file.sections) {
    seen_run = seen_run || section.kind == "run";
    if (!seen_run && section.kind != "file") {
      refuse(section.line, section.kind + " comes after the run it belongs to");
    }
    if ((section.kind == "exit" || section.mode == "any") && !section.body.empty()) {
      refuse(section.line + 1, "nothing may follow this section's heading");
    }
  }
  return file;
}

std::string write_case(const CaseFile& file) {
  std::string text = file.comment;
  for (const auto& section : file.sections) {
    text.append(mark).append(section.kind);
    for (const auto& word : {section.name, section.mode}) {
      if (!word.empty()) {
        text.append(" ").append(word);
      }
    }
    const bool with_escapes = section.kind != "run" && needs_escapes(section.body);
    text.append(with_escapes ? " escaped\n" : "\n");
    text.append(with_escapes ? escaped(section.body) : section.body);
  }
  return text;
}

}  // namespace bagsplit::test
