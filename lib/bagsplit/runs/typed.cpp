#include "bagsplit/runs/typed.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstdint>

#include "bagsplit/runs/text.hpp"

namespace bagsplit::runs {

namespace {

using std::chrono::day;
using std::chrono::month;
using std::chrono::year;
using std::chrono::year_month_day;

constexpr std::array<double, 19> powers_of_ten{1e0, 1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8, 1e9,
                                               1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18};

constexpr std::array month_names{"January", "February", "March",     "April",   "May",      "June",
                                 "July",    "August",   "September", "October", "November", "December"};

bool all_digits(std::string_view text) { return !text.empty() && std::all_of(text.begin(), text.end(), is_digit); }

// Unsigned decimal. Up to 15 digits in all, the quotient of two doubles that hold their integers exactly is the double nearest
// to the decimal; longer ones (a program's output) go the slow way.
std::optional<double> parse_unsigned(std::string_view text, bool decimal_comma, std::uint64_t minutes = 0) {
  std::uint64_t digits = 0;
  std::size_t count = 0;
  std::size_t point = std::string_view::npos;
  for (std::size_t k = 0; k < text.size(); ++k) {
    const char c = text[k];
    if (is_digit(c)) {
      if (++count <= 15) {
        digits = digits * 10 + static_cast<std::uint64_t>(c - '0');
      }
    } else if ((c == '.' || (decimal_comma && c == ',')) && point == std::string_view::npos && k + 1 < text.size()) {
      point = k;
    } else {
      return std::nullopt;
    }
  }
  if (count == 0) {
    return std::nullopt;
  }
  const std::size_t decimals = point == std::string_view::npos ? 0 : text.size() - point - 1;
  if (count <= 15 && (minutes == 0 || decimals <= 9)) {
    const double scale = powers_of_ten[decimals];
    return (static_cast<double>(digits) + static_cast<double>(minutes * 60) * scale) / scale;
  }
  std::string copy(text.substr(0, 400));
  if (point != std::string_view::npos && point < copy.size()) {
    copy[point] = '.';
  }
  double value = 0.0;
  const auto [end, error] = std::from_chars(copy.data(), copy.data() + copy.size(), value);
  if (error != std::errc{} || end != copy.data() + copy.size() || !std::isfinite(value)) {
    return std::nullopt;
  }
  return value + static_cast<double>(minutes * 60);
}

std::optional<Date> date_of(int y, unsigned m, unsigned d) {
  const year_month_day date{year{y}, month{m}, day{d}};
  if (y < 1900 || y > 2199 || !date.ok()) {
    return std::nullopt;
  }
  return Date{date};
}

struct DateParts {
  std::array<std::string_view, 3> text;
  std::array<unsigned, 3> number{};
};

// Three groups of at most four digits with one separator between them.
std::optional<DateParts> split_date(std::string_view text, std::string_view separators) {
  DateParts parts;
  for (std::size_t k = 0; k < 3; ++k) {
    const std::size_t end = k < 2 ? text.find_first_of(separators) : text.size();
    if (end == std::string_view::npos) {
      return std::nullopt;
    }
    parts.text[k] = text.substr(0, end);
    const auto number = parse_count(parts.text[k], 0, 9999);
    if (!number) {
      return std::nullopt;
    }
    parts.number[k] = *number;
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return parts;
}

std::string day_in_words(unsigned m, unsigned d) { return std::to_string(d) + " " + month_names.at(m - 1); }

bool replaced_reads(std::string_view text, std::string_view typed, char meant, bool decimal_comma) {
  std::string copy(text);
  for (char& c : copy) {
    if (typed.find(c) != std::string_view::npos) {
      c = meant;
    }
  }
  return copy != text && parse_time_s(copy, decimal_comma).has_value();
}

}  // namespace

std::optional<double> parse_time_s(std::string_view text, bool decimal_comma) {
  std::uint64_t minutes = 0;
  if (const std::size_t colon = text.find(':'); colon != std::string_view::npos) {
    const auto count = parse_count(text.substr(0, colon), 0, 60);
    text.remove_prefix(colon + 1);
    const bool two_digits = text.size() >= 2 && is_digit(text[0]) && is_digit(text[1]) && text[0] < '6' &&
                            (text.size() == 2 || !is_digit(text[2]));
    if (!count || !two_digits) {
      return std::nullopt;
    }
    minutes = *count;
  }
  const auto seconds = parse_unsigned(text, decimal_comma, minutes);
  return seconds && *seconds <= longest_time_s ? seconds : std::nullopt;
}

std::string time_hint(std::string_view text, bool decimal_comma) {
  if (text.size() > 60) {
    return {};
  }
  if (replaced_reads(text, "oO", '0', decimal_comma)) {
    return "a letter o stands where a zero may be meant";
  }
  if (replaced_reads(text, "lI|", '1', decimal_comma)) {
    return "a letter stands where a one may be meant";
  }
  if (!decimal_comma && replaced_reads(text, ",", '.', false)) {
    return "a decimal comma is read only in files separated by semicolons or tabs: write a point";
  }
  if (replaced_reads(text, ";'", '.', decimal_comma) || replaced_reads(text, "-_ ", '.', decimal_comma)) {
    return "a decimal point may be meant between the digits";
  }
  if (const std::size_t first = text.find('.'); first != std::string_view::npos && text.find(':') == std::string_view::npos) {
    const std::size_t second = text.find('.', first + 1);
    if (second != std::string_view::npos) {
      std::string minutes(text);
      minutes[first] = ':';
      if (first + 2 == second) {
        minutes.insert(first + 1, "0");
      }
      const std::string seconds = std::string(text.substr(0, second)) + std::string(text.substr(second + 1));
      if (parse_time_s(minutes, decimal_comma)) {
        return "two decimal points: if minutes are meant write " + minutes + ", if not perhaps " + seconds;
      }
      return "two decimal points: only one may stand";
    }
  }
  if (text.find(',') != std::string_view::npos && text.find('.') != std::string_view::npos) {
    return "both a comma and a point: only one decimal mark may stand";
  }
  const std::size_t colon = text.find(':');
  if (colon != std::string_view::npos && text.find(':', colon + 1) != std::string_view::npos) {
    return "hours, minutes and seconds, as a spreadsheet may write them: format the column as text and type it again";
  }
  if (colon != std::string_view::npos) {
    const std::string_view rest = text.substr(colon + 1);
    if (rest.size() >= 2 && is_digit(rest[0]) && is_digit(rest[1]) && rest[0] >= '6') {
      return "seconds after the colon must be below 60";
    }
    return "two digits of seconds stand after the colon, as in 1:04.05";
  }
  if (!text.empty() && (text.front() == '-' || text.front() == '+') && parse_time_s(text.substr(1), decimal_comma)) {
    return "a time has no sign";
  }
  std::size_t digits = 0;
  while (digits < text.size() && (is_digit(text[digits]) || text[digits] == '.')) {
    ++digits;
  }
  const std::string unit = lower(trim(text.substr(digits)));
  if (digits > 0 && (unit == "s" || unit == "sec" || unit == "secs" || unit == "seconds" || unit == "\"")) {
    return "leave out the unit: times are in seconds";
  }
  const std::string word = lower(text);
  if (word == "dnf" || word == "dns" || word == "x" || word == "-" || word == "--" || word == "n/a" || word == "na" ||
      word == "dq" || word == "nt") {
    return "leave a missing time empty, and say why in the column 'flag' (fall, absent, void, ...)";
  }
  if (parse_decimal(text, decimal_comma).value_or(0.0) > longest_time_s) {
    return "more than an hour: is a decimal point missing?";
  }
  return {};
}

std::optional<Date> parse_date(std::string_view text, DateOrder order) {
  // The common case without searching.
  if (text.size() == 10 && text[4] == '-' && text[7] == '-' && all_digits(text.substr(0, 4)) &&
      all_digits(text.substr(5, 2)) && all_digits(text.substr(8, 2))) {
    const auto number = [&](std::size_t at, std::size_t size) {
      unsigned value = 0;
      for (const char c : text.substr(at, size)) {
        value = value * 10 + static_cast<unsigned>(c - '0');
      }
      return value;
    };
    return date_of(static_cast<int>(number(0, 4)), number(5, 2), number(8, 2));
  }
  if (order == DateOrder::iso) {
    return std::nullopt;
  }
  const auto parts = split_date(text, "/.-");
  if (!parts || parts->text[2].size() != 4 || parts->text[0].size() > 2 || parts->text[1].size() > 2) {
    return std::nullopt;
  }
  const auto [a, b, y] = parts->number;
  return order == DateOrder::dmy ? date_of(static_cast<int>(y), b, a) : date_of(static_cast<int>(y), a, b);
}

std::string date_hint(std::string_view text, DateOrder order) {
  if (text.size() > 40) {
    return {};
  }
  if (text.size() > 10 && (text[10] == 'T' || text[10] == ' ') && parse_date(text.substr(0, 10), order)) {
    return "leave out the time of day: " + std::string(text.substr(0, 10));
  }
  std::string zeros(text);
  for (char& c : zeros) {
    c = c == 'o' || c == 'O' ? '0' : c == 'l' || c == 'I' ? '1' : c;
  }
  if (zeros != text && parse_date(zeros, order)) {
    return "a letter stands where a digit may be meant: " + zeros;
  }
  const auto parts = split_date(text, "/.-");
  if (!parts) {
    if (text.size() == 8 && all_digits(text)) {
      const std::string dashed =
          std::string(text.substr(0, 4)) + "-" + std::string(text.substr(4, 2)) + "-" + std::string(text.substr(6));
      return parse_date(dashed, DateOrder::iso) ? "write " + dashed : std::string();
    }
    return {};
  }
  const auto [a, b, c] = parts->number;
  if (parts->text[0].size() == 4) {
    if (const auto date = date_of(static_cast<int>(a), b, c)) {
      return "write " + format_date(*date);
    }
    if (b < 1 || b > 12) {
      return "there is no month " + std::to_string(b);
    }
    if (a < 1900 || a > 2199) {
      return "the year must lie between 1900 and 2199";
    }
    return "there is no " + day_in_words(b, c) + " in " + std::to_string(a);
  }
  if (parts->text[2].size() == 2) {
    return "write the year with four digits, and first: 20" + std::string(parts->text[2]) + "-mm-dd";
  }
  const int y = static_cast<int>(c);
  const bool as_dmy = date_of(y, b, a).has_value();
  const bool as_mdy = date_of(y, a, b).has_value();
  if (order != DateOrder::iso) {
    const bool other = order == DateOrder::dmy ? as_mdy : as_dmy;
    return other ? std::string("it would be a date under '# dates: ") + (order == DateOrder::dmy ? "mdy'" : "dmy'")
                 : std::string();
  }
  if (as_dmy && as_mdy && a != b) {
    return "write " + format_date(*date_of(y, b, a)) + " or " + format_date(*date_of(y, a, b)) +
           "; or put '# dates: dmy' (" + day_in_words(b, a) + ") or '# dates: mdy' (" + day_in_words(a, b) +
           ") before the header";
  }
  if (as_dmy || as_mdy) {
    return "write " + format_date(as_dmy ? *date_of(y, b, a) : *date_of(y, a, b)) + ", or put '# dates: " +
           (as_dmy ? "dmy" : "mdy") + "' before the header";
  }
  return {};
}

std::string format_date(Date date) {
  const year_month_day parts{date};
  const auto padded = [](unsigned value, std::size_t width) {
    std::string digits = std::to_string(value);
    return std::string(width - std::min(width, digits.size()), '0') + digits;
  };
  return padded(static_cast<unsigned>(static_cast<int>(parts.year())), 4) + "-" +
         padded(static_cast<unsigned>(parts.month()), 2) + "-" + padded(static_cast<unsigned>(parts.day()), 2);
}

std::optional<unsigned> parse_count(std::string_view text, unsigned low, unsigned high) {
  if (!all_digits(text) || text.size() > 9) {
    return std::nullopt;
  }
  unsigned value = 0;
  for (const char c : text) {
    value = value * 10 + static_cast<unsigned>(c - '0');
  }
  return value >= low && value <= high ? std::optional(value) : std::nullopt;
}

std::optional<double> parse_decimal(std::string_view text, bool decimal_comma) {
  const bool negative = !text.empty() && text.front() == '-';
  if (negative || (!text.empty() && text.front() == '+')) {
    text.remove_prefix(1);
  }
  const auto value = parse_unsigned(text, decimal_comma);
  return value && negative ? std::optional(0.0 - *value) : value;
}

std::string format_number(double value) {
  std::array<char, 400> buffer{};  // fixed notation: parse_time_s takes no exponent
  const auto [end, error] =
      std::to_chars(buffer.data(), buffer.data() + buffer.size(), value == 0.0 ? 0.0 : value, std::chars_format::fixed);
  return error == std::errc{} ? std::string(buffer.data(), end) : std::string();
}

std::string format_number(float value) {
  std::array<char, 400> buffer{};  // fixed notation: parse_time_s takes no exponent
  const auto [end, error] =
      std::to_chars(buffer.data(), buffer.data() + buffer.size(), value == 0.0F ? 0.0F : value, std::chars_format::fixed);
  return error == std::errc{} ? std::string(buffer.data(), end) : std::string();
}

}  // namespace bagsplit::runs
