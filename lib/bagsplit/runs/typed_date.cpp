#include <algorithm>
#include <array>

#include "bagsplit/runs/log/file_columns.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/text.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::runs {

namespace {

using std::chrono::day;
using std::chrono::month;
using std::chrono::year;
using std::chrono::year_month_day;

constexpr std::array month_names{"January", "February", "March",     "April",   "May",      "June",
                                 "July",    "August",   "September", "October", "November", "December"};

constexpr Date spreadsheet_day_0{year{1899} / std::chrono::December / 30};

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

// "April", "apr".
std::optional<unsigned> month_of_name(std::string_view text) {
  for (unsigned k = 0; k < month_names.size(); ++k) {
    const std::string_view name = month_names[k];
    if (text::equal_ignoring_case(text, name) || text::equal_ignoring_case(text, name.substr(0, 3))) {
      return k + 1;
    }
  }
  return std::nullopt;
}

// The year of two or four digits; two are of this century.
std::optional<int> full_year(std::string_view text) {
  const auto number = text.size() == 2 || text.size() == 4 ? parse_count(text, 0, 9999) : std::nullopt;
  return number ? std::optional(static_cast<int>(*number) + (text.size() == 2 ? 2000 : 0)) : std::nullopt;
}

// Day, name of the month and year, which no order can mistake: `11-Apr-26`, `11 April 2026`, `April 11, 2026`.
struct NamedDate {
  unsigned day = 0, month = 0;
  std::optional<int> year;  // nothing: none stands there
};

// The month first: only with a day and four digits of the year, for `Apr-26` may be either.
std::optional<NamedDate> split_month_first(std::string_view text) {
  const std::size_t first = text.find_first_of(" .");
  const std::size_t day_at = std::min(text.find_first_not_of(" .", first), text.size());
  const std::size_t day_end = std::min(text.find_first_of(", ", day_at), text.size());
  const std::size_t year_at = std::min(text.find_first_not_of(", ", day_end), text.size());
  const auto m = month_of_name(text.substr(0, first));
  const auto d = parse_count(text.substr(day_at, day_end - day_at), 1, 31);
  const std::string_view year = text.substr(year_at);
  const auto y = year.size() == 4 ? full_year(year) : std::nullopt;
  return m && d && y ? std::optional(NamedDate{*d, *m, y}) : std::nullopt;
}

std::optional<NamedDate> split_named_date(std::string_view text) {
  constexpr std::string_view separators = "-/. ";
  if (const auto month_first = split_month_first(text)) {
    return month_first;
  }
  const std::size_t first = text.find_first_of(separators);
  if (first == std::string_view::npos || first > 2) {
    return std::nullopt;
  }
  const std::string_view rest = text.substr(first + 1);
  const std::size_t second = std::min(rest.find_first_of(separators), rest.size());
  const auto d = parse_count(text.substr(0, first), 1, 31);
  const auto m = month_of_name(rest.substr(0, second));
  if (!d || !m) {
    return std::nullopt;
  }
  if (second == rest.size()) {
    return NamedDate{*d, *m, {}};
  }
  const auto y = full_year(rest.substr(second + 1));
  return y ? std::optional(NamedDate{*d, *m, y}) : std::nullopt;
}

std::string day_in_words(unsigned m, unsigned d) {
  return std::to_string(d) + " " + month_names.at(m - 1);
}

}  // namespace

std::optional<Date> parse_date(std::string_view text, DateOrder order) {
  // The common case without searching.
  if (text.size() == 10 && text[4] == '-' && text[7] == '-') {
    const auto digit = [&](std::size_t at) { return static_cast<unsigned>(text[at]) - '0'; };
    unsigned highest = 0;  // what is no digit is far above 9
    for (const std::size_t at : {0U, 1U, 2U, 3U, 5U, 6U, 8U, 9U}) {
      highest = std::max(highest, digit(at));
    }
    if (highest <= 9) {
      return date_of(static_cast<int>(digit(0) * 1000 + digit(1) * 100 + digit(2) * 10 + digit(3)),
                     digit(5) * 10 + digit(6), digit(8) * 10 + digit(9));
    }
  }
  if (const auto named = split_named_date(text); named && named->year) {
    return date_of(*named->year, named->month, named->day);
  }
  if (order == DateOrder::iso) {
    return std::nullopt;
  }
  const auto parts = split_date(text, "/.-");
  const auto y = parts ? full_year(parts->text[2]) : std::nullopt;
  if (!y || parts->text[0].size() > 2 || parts->text[1].size() > 2) {
    return std::nullopt;
  }
  const auto [a, b, last] = parts->number;
  return order == DateOrder::dmy ? date_of(*y, b, a) : date_of(*y, a, b);
}

std::optional<DateOrder> read_date_order(std::string_view text) {
  for (std::size_t k = 0; k < date_order_words.size(); ++k) {
    if (text::equal_ignoring_case(text, date_order_words[k])) {
      return static_cast<DateOrder>(k);
    }
  }
  return std::nullopt;
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
  if (const auto named = split_named_date(text)) {
    return !named->year
               ? "the year is missing: " + std::string(text) + " of which year?"
               : "there is no " + day_in_words(named->month, named->day) + " in " + std::to_string(*named->year);
  }
  const auto parts = split_date(text, "/.-");
  if (!parts) {
    // 1954 to 2064 in days since 1899-12-30, as most spreadsheets count.
    if (const auto days = parse_count(text.substr(0, text.find('.')), 20'000, 60'000)) {
      return "a spreadsheet's number of the day, most often " +
             format_date(spreadsheet_day_0 + std::chrono::days{*days}) + ": format the column as dates";
    }
    if (text.size() == 8 && text::all_digits(text)) {
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
  const auto year_typed = full_year(parts->text[2]);
  if (!year_typed || (parts->text[2].size() == 2 && text.find('-') != std::string_view::npos)) {
    return parts->text[2].size() != 2
               ? std::string()
               : "write the year with four digits, and first: 20" + std::string(parts->text[2]) + "-mm-dd";
  }
  const int y = *year_typed;
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
    return "write " + format_date(as_dmy ? *date_of(y, b, a) : *date_of(y, a, b)) +
           ", or put '# dates: " + (as_dmy ? "dmy" : "mdy") + "' before the header";
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

}  // namespace bagsplit::runs
