#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "bagsplit/runs/run.hpp"

/// Times, dates and numbers as people type them. Each reader takes the whole text or nothing; what is refused can be
/// asked for a hint. No locale takes part.
namespace bagsplit::runs {

/// Longest time that is read as one [s]: an hour.
inline constexpr double longest_time_s = 3600.0;

/// Seconds (`3.52`, `.25`, `16`) or minutes and seconds (`1:04.05`; two digits of seconds, below 60).
///
/// @param decimal_comma  also takes `3,52`: for files whose delimiter is not a comma.
/// @return seconds, the double nearest to the decimal typed; nothing for anything else, a sign or more than an hour
/// included.
std::optional<double> parse_time_s(std::string_view text, bool decimal_comma);

/// The earliest first move before a call that is read as one [s]. Common practice, no source.
inline constexpr double earliest_move_s = -5.0;

/// The time of a first move: as parse_time_s, and with a minus down to earliest_move_s, for one before the call.
std::optional<double> parse_move_s(std::string_view text, bool decimal_comma);

/// What may have been meant by a text that parse_time_s refuses; empty when there is nothing worth saying.
std::string time_hint(std::string_view text, bool decimal_comma);

enum class DateOrder : std::uint8_t { iso, dmy, mdy };

/// A date: ISO 8601 `2026-04-11`, or day, month and year (`11/04/2026`, `11.04.26`, also with `-`) when the order says
/// so; two digits of a year are of this century. An ISO date and one whose month is named in English (`11-Apr-26`, `11
/// April 2026`, `April 11, 2026`) are taken under every order. Years 1900 to 2199.
std::optional<Date> parse_date(std::string_view text, DateOrder order);

/// What may have been meant by a text that parse_date refuses; empty when there is nothing worth saying.
std::string date_hint(std::string_view text, DateOrder order);

/// `2026-04-11`.
std::string format_date(Date date);

/// A whole number from `low` to `high`, digits only.
std::optional<unsigned> parse_count(std::string_view text, unsigned low, unsigned high);

/// A decimal number with an optional sign and no exponent; finite.
std::optional<double> parse_decimal(std::string_view text, bool decimal_comma);

/// The shortest text that reads back as the same number; never "-0". For `float` the shortest for a float.
std::string format_number(double value);
std::string format_number(float value);

}  // namespace bagsplit::runs
