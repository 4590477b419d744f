#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

#include "bagsplit/text/display.hpp"
#include "bagsplit/text/wording.hpp"

/// Numbers as text, free of any locale: fixed digits for people, the shortest form that reads back the same for
/// machines.
namespace bagsplit::text {

/// What stands in a table where there is no value.
inline constexpr std::string_view absent = "-";

/// With so many digits behind the point, rounded to nearest (ties to even, as the exact binary value has it); never
/// "-0.00".
/// @throws std::domain_error when the value is not finite.
std::string fixed(double value, int decimals);

/// As fixed(), or "-" where there is no value.
std::string fixed(std::optional<double> value, int decimals);

/// As fixed(), with "+" before a value above zero.
std::string signed_fixed(double value, int decimals);

/// The shortest text that reads back as the same number; never "-0".  @throws std::domain_error when it is not finite.
std::string shortest(double value);
/// The same, appended.
void append_shortest(std::string& out, double value);

/// As shortest(), or no text where there is no value: an empty CSV field.
std::string shortest(std::optional<double> value);

/// An age for files and tables [years], to one decimal: beside the date of a run all digits would be the date of birth.
std::optional<double> told_age(std::optional<double> age_years);

/// "90%" for 0.9, "99.5%" for 0.995.
std::string percent(double share);

/// The sign before half an interval: "+-", or the one sign for it.
std::string_view plus_minus(const TextOptions& options);

}  // namespace bagsplit::text
