#include <algorithm>
#include <array>
#include <cmath>

#include "bagsplit/text/csv.hpp"
#include "bagsplit/text/number_chars.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::text {

char detect_delimiter(std::string_view header) {
  constexpr std::array candidates{',', ';', '\t'};
  std::array<std::size_t, 3> counts{};
  bool quoted = false;
  for (const char c : header) {
    quoted = quoted != (c == '"');
    for (std::size_t k = 0; !quoted && k < candidates.size(); ++k) {
      counts.at(k) += c == candidates.at(k) ? 1U : 0U;
    }
  }
  return candidates.at(static_cast<std::size_t>(std::max_element(counts.begin(), counts.end()) - counts.begin()));
}

bool names_delimiter(std::string_view line) {
  constexpr std::string_view key = "sep=";
  return equal_ignoring_case(line.substr(0, key.size()), key) &&
         line.find_first_not_of(",;\t ", key.size()) == std::string_view::npos;
}

std::vector<ByteRange> field_ranges(std::string_view record, char delimiter) {
  std::vector<ByteRange> ranges;
  bool quoted = false;
  std::size_t from = 0;
  const auto end_field = [&](std::size_t to) {
    ByteRange range{from, to};
    while (range.begin < range.end &&
           (record[range.begin] == ' ' || (record[range.begin] == '\t' && delimiter != '\t'))) {
      ++range.begin;
    }
    while (range.end > range.begin &&
           (record[range.end - 1] == ' ' || (record[range.end - 1] == '\t' && delimiter != '\t'))) {
      --range.end;
    }
    ranges.push_back(range);
    from = to + 1;
  };
  for (std::size_t k = 0; k < record.size(); ++k) {
    if (record[k] == '"') {
      quoted = !quoted;
    } else if (record[k] == delimiter && !quoted) {
      end_field(k);
    }
  }
  end_field(record.size());
  return ranges;
}

bool is_formula(std::string_view field) {
  field.remove_prefix(std::min(field.find_first_not_of('\''), field.size()));
  if (field.empty() || std::string_view("=+-@\t\r\n").find(field.front()) == std::string_view::npos) {
    return false;
  }
  const std::string_view number = field.front() == '+' ? field.substr(1) : field;
  double value = 0.0;
  const auto [end, error] = read_number(number.data(), number.data() + number.size(), value);
  const bool sign_twice = field.front() == '+' && number.starts_with('-');
  return error != std::errc{} || end != number.data() + number.size() || !std::isfinite(value) || sign_twice;
}

void append_directive(std::string& out, std::string_view key, std::string_view value) {
  if (value.empty()) {
    return;
  }
  bool cut = false;
  constexpr std::string_view delimiters = ",;\t";
  for (std::size_t at = value.find_first_of(delimiters); at != std::string_view::npos;
       at = value.find_first_of(delimiters, at + 1)) {
    const std::size_t next = std::min(value.find_first_not_of(' ', at + 1), value.size());
    cut = cut || is_formula(value.substr(next));
  }
  out += cut ? "\"# " : "# ";
  out.append(key).append(": ").append(value).append(cut ? "\"\n" : "\n");
}

void append_csv_field(std::string& out, std::string_view field, char delimiter) {
  const bool formula = is_formula(field);
  const bool plain =
      field.empty() || (field.front() != ' ' && field.back() != ' ' && field.front() != '\t' && field.back() != '\t' &&
                        field.front() != '#' && field.find_first_of("\"\r\n") == std::string_view::npos &&
                        field.find(delimiter) == std::string_view::npos);
  if (plain) {
    out += formula ? "'" : "";
    out += field;
    return;
  }
  out += formula ? "\"'" : "\"";
  for (const char c : field) {
    out += c;
    if (c == '"') {
      out += '"';
    }
  }
  out += '"';
}

}  // namespace bagsplit::text
