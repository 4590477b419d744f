#include "bagsplit/runs/log/detail/directive.hpp"

#include <algorithm>

#include "bagsplit/text/text.hpp"

namespace bagsplit::runs::detail {

namespace {

bool is_word(std::string_view text) {
  return !text.empty() && std::all_of(text.begin(), text.end(), [](char c) {
    return (text::ascii_lower(c) >= 'a' && text::ascii_lower(c) <= 'z') || text::is_digit(c) || c == '-' || c == '_';
  });
}

}  // namespace

Directive split_directive(std::string_view line) {
  Directive out;
  std::size_t begin = line.find('#');
  if (begin == std::string_view::npos) {
    return out;
  }
  // Spreadsheets pad such a line with delimiters, and may put quotes around it.
  std::size_t end = line.size();
  while (end > begin &&
         (line[end - 1] == ',' || line[end - 1] == ';' || line[end - 1] == '\t' || line[end - 1] == ' ')) {
    --end;
  }
  if (begin > 0 && line[begin - 1] == '"' && end > begin && line[end - 1] == '"') {
    --end;
  }
  ++begin;
  const auto skip_blanks = [&](std::size_t at) {
    while (at < end && (line[at] == ' ' || line[at] == '\t')) {
      ++at;
    }
    return at;
  };
  begin = skip_blanks(begin);
  std::size_t key_end = begin;
  while (key_end < end && is_word(line.substr(key_end, 1))) {
    ++key_end;
  }
  out.key = {begin, key_end};
  const std::size_t colon = skip_blanks(key_end);
  if (key_end > begin && colon < end && line[colon] == ':') {
    out.is_directive = true;
    out.value = {skip_blanks(colon + 1), end};
    out.value.begin = std::min(out.value.begin, end);
    while (out.value.end > out.value.begin && (line[out.value.end - 1] == ' ' || line[out.value.end - 1] == '\t')) {
      --out.value.end;
    }
  }
  return out;
}

}  // namespace bagsplit::runs::detail
