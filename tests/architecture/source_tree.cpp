#include "architecture/source_tree.hpp"

#include <algorithm>
#include <fstream>
#include <sstream>
#include <stdexcept>

namespace bagsplit::test {

namespace {

std::string read_file(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  if (!in) {
    throw std::runtime_error("cannot read " + path.string());
  }
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

/// Copies `count` characters to one part and as many blanks (line ends kept) to the other.
void give(std::string_view& rest, std::size_t count, std::string& to, std::string& blank) {
  count = std::min(count, rest.size());
  for (const char c : rest.substr(0, count)) {
    to += c;
    blank += c == '\n' ? '\n' : ' ';
  }
  rest.remove_prefix(count);
}

/// Length of the string or character literal that `rest` begins with; `quote` is its first quote's place.
std::size_t literal_length(std::string_view rest, std::size_t quote) {
  if (quote > 0 && rest[quote - 1] == 'R') {  // R"delimiter( ... )delimiter"
    const auto open = rest.find('(', quote);
    const std::string close = ")" + std::string(rest.substr(quote + 1, open - quote - 1)) + "\"";
    const auto end = rest.find(close, open);
    return end == std::string_view::npos ? rest.size() : end + close.size();
  }
  for (auto i = quote + 1; i < rest.size(); ++i) {
    if (rest[i] == '\\') {
      ++i;
    } else if (rest[i] == rest[quote] || rest[i] == '\n') {
      return i + 1;
    }
  }
  return rest.size();
}

bool is_word(char c) {
  return c == '_' || (c >= '0' && c <= '9') || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

}  // namespace

std::ostream& operator<<(std::ostream& out, const Finding& finding) {
  return out << finding.path << ':' << finding.line << ": " << finding.message;
}

std::string listed(const std::vector<Finding>& findings) {
  std::ostringstream out;
  for (const auto& finding : findings) {
    out << '\n' << finding;
  }
  return out.str();
}

std::vector<SourceFile> read_tree(const std::filesystem::path& root, std::string_view folder) {
  std::vector<SourceFile> files;
  const auto top = root / folder;
  if (std::filesystem::is_regular_file(top)) {
    files.push_back({std::string(folder), read_file(top)});
    return files;
  }
  if (!std::filesystem::is_directory(top)) {
    return files;
  }
  for (const auto& entry : std::filesystem::recursive_directory_iterator(top)) {
    const auto path = entry.path().lexically_relative(root).generic_string();
    if (entry.is_regular_file() && !path.starts_with("build/") && !path.starts_with(".git/")) {
      files.push_back({path, read_file(entry.path())});
    }
  }
  std::sort(files.begin(), files.end(), [](const auto& a, const auto& b) { return a.path < b.path; });
  return files;
}

std::vector<std::string_view> lines_of(std::string_view text) {
  std::vector<std::string_view> lines;
  while (!text.empty()) {
    const auto end = std::min(text.find('\n'), text.size());
    lines.push_back(text.substr(0, end));
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return lines;
}

CodeAndComments take_apart(std::string_view rest) {
  CodeAndComments parts;
  char before = ' ';
  while (!rest.empty()) {
    if (rest.starts_with("//")) {
      give(rest, std::min(rest.find('\n'), rest.size()), parts.comments, parts.code);
    } else if (rest.starts_with("/*")) {
      const auto end = rest.find("*/", 2);
      give(rest, end == std::string_view::npos ? rest.size() : end + 2, parts.comments, parts.code);
    } else if (rest.starts_with("#include")) {  // its quotes are no literal
      give(rest, std::min(rest.find('\n'), rest.size()), parts.code, parts.comments);
    } else if (rest.front() == '"' || rest.starts_with("R\"") || (rest.front() == '\'' && !is_word(before))) {
      // After a word a single quote separates digits (1'000) rather than opening a character.
      const std::size_t quote = rest.front() == 'R' ? 1 : 0;
      const auto length = literal_length(rest, quote);
      give(rest, quote + 1, parts.code, parts.comments);
      std::string ignored;
      for (const char c : rest.substr(0, length - quote - 1)) {
        parts.code += c == '\n' ? '\n' : ' ';
        parts.comments += c == '\n' ? '\n' : ' ';
      }
      rest.remove_prefix(length - quote - 1);
      before = '"';
      continue;
    } else {
      before = rest.front();
      give(rest, 1, parts.code, parts.comments);
      continue;
    }
    before = ' ';
  }
  return parts;
}

bool ends_with_any(std::string_view path, std::initializer_list<std::string_view> endings) {
  return std::any_of(endings.begin(), endings.end(), [&](auto ending) { return path.ends_with(ending); });
}

}  // namespace bagsplit::test
