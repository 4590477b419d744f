#include "bagsplit/runs/typed.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>

#include "bagsplit/text/number_chars.hpp"
#include "bagsplit/text/text.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::runs {

namespace {

constexpr std::array<double, 16> powers_of_ten{1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                               1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};

// Unsigned decimal. Up to 15 digits in all, the quotient of two doubles that hold their integers exactly is the double
// nearest to the decimal; longer ones (a program's output) go the slow way.
std::optional<double> parse_unsigned(std::string_view text, bool decimal_comma, std::uint64_t minutes = 0) {
  std::uint64_t digits = 0;
  std::size_t count = 0;
  std::size_t point = std::string_view::npos;
  for (std::size_t k = 0; k < text.size(); ++k) {
    const char c = text[k];
    if (text::is_digit(c)) {
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
  const auto [end, error] = text::read_number(copy.data(), copy.data() + copy.size(), value);
  if (error != std::errc{} || end != copy.data() + copy.size() || !std::isfinite(value)) {
    return std::nullopt;
  }
  return value + static_cast<double>(minutes * 60);
}

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
    const bool two_digits = text.size() >= 2 && text::is_digit(text[0]) && text::is_digit(text[1]) && text[0] < '6' &&
                            (text.size() == 2 || !text::is_digit(text[2]));
    if (!count || !two_digits) {
      return std::nullopt;
    }
    minutes = *count;
  }
  const auto seconds = parse_unsigned(text, decimal_comma, minutes);
  return seconds && *seconds <= longest_time_s ? seconds : std::nullopt;
}

std::optional<double> parse_move_s(std::string_view text, bool decimal_comma) {
  const bool early = text.starts_with('-');
  const auto time = parse_time_s(text.substr(early ? 1 : 0), decimal_comma);
  if (!time || !early) {
    return time;
  }
  return *time <= -earliest_move_s ? std::optional(0.0 - *time) : std::nullopt;
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
  if (const std::size_t first = text.find('.');
      first != std::string_view::npos && text.find(':') == std::string_view::npos) {
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
    if (rest.size() >= 2 && text::is_digit(rest[0]) && text::is_digit(rest[1]) && rest[0] >= '6') {
      return "seconds after the colon must be below 60";
    }
    return "two digits of seconds stand after the colon, as in 1:04.05";
  }
  if (!text.empty() && (text.front() == '-' || text.front() == '+') && parse_time_s(text.substr(1), decimal_comma)) {
    return "a time has no sign";
  }
  if (text.starts_with("\u2212") && parse_time_s(text.substr(3), decimal_comma)) {
    return "a minus as it is printed: write -";
  }
  std::size_t digits = 0;
  while (digits < text.size() && (text::is_digit(text[digits]) || text[digits] == '.')) {
    ++digits;
  }
  const std::string unit = text::lower(text::trim(text.substr(digits)));
  if (digits > 0 && (unit == "s" || unit == "sec" || unit == "secs" || unit == "seconds" || unit == "\"")) {
    return "leave out the unit: times are in seconds";
  }
  if (digits > 0 && (unit == "'" || unit == "\u2019" || unit == "\u2032")) {
    return "leave out the mark behind it: times are in seconds, or in minutes and seconds as in 1:04.05";
  }
  const std::string word = text::lower(text);
  if (word == "dnf" || word == "dns" || word == "x" || word == "-" || word == "--" || word == "n/a" || word == "na" ||
      word == "dq" || word == "nt") {
    return "leave a missing time empty, and say why in the column 'flag' (fall, absent, void, ...)";
  }
  if (parse_decimal(text, decimal_comma).value_or(0.0) > longest_time_s) {
    return "more than an hour: is a decimal point missing?";
  }
  return {};
}

std::optional<unsigned> parse_count(std::string_view text, unsigned low, unsigned high) {
  if (!text::all_digits(text) || text.size() > 9) {
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
      text::write_shortest_fixed(buffer.data(), buffer.data() + buffer.size(), value == 0.0 ? 0.0 : value);
  return error == std::errc{} ? std::string(buffer.data(), end) : std::string();
}

std::string format_number(float value) {
  std::array<char, 400> buffer{};  // fixed notation: parse_time_s takes no exponent
  const auto [end, error] =
      text::write_shortest_fixed(buffer.data(), buffer.data() + buffer.size(), value == 0.0F ? 0.0F : value);
  return error == std::errc{} ? std::string(buffer.data(), end) : std::string();
}

}  // namespace bagsplit::runs
