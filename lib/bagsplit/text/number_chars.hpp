#pragma once

#include <charconv>
#include <string>
#include <system_error>

/// std::to_chars and std::from_chars for numbers with a point, also where the standard library has them for whole
/// numbers only: the same digits, from the C library in whatever locale.
namespace bagsplit::text {

/// As std::from_chars, but for "inf" and "nan", which are no numbers here.
std::from_chars_result read_number(const char* first, const char* last, double& value);

/// As std::to_chars: the shortest text that reads back as the same number.
std::to_chars_result write_shortest(char* first, char* last, double value);
/// The same without an exponent.
std::to_chars_result write_shortest_fixed(char* first, char* last, double value);
std::to_chars_result write_shortest_fixed(char* first, char* last, float value);
/// With so many decimals, rounded to nearest (ties to even, as the exact binary value has it); "-0.00" where it is.
std::to_chars_result write_fixed(char* first, char* last, double value, int decimals);
/// The same with one digit before the point and an exponent.
std::to_chars_result write_scientific(char* first, char* last, double value, int decimals);

/// As write_fixed(), for finite values.
std::string plain_fixed(double value, int decimals);

/// What the above do where the standard library has only std::to_chars for whole numbers; named for the tests, which
/// hold it against the library that has both.
namespace detail {
std::from_chars_result read_number_by_c(const char* first, const char* last, double& value);
std::to_chars_result write_shortest_by_c(char* first, char* last, double value);
std::to_chars_result write_shortest_fixed_by_c(char* first, char* last, double value);
std::to_chars_result write_shortest_fixed_by_c(char* first, char* last, float value);
std::to_chars_result write_fixed_by_c(char* first, char* last, double value, int decimals);
std::to_chars_result write_scientific_by_c(char* first, char* last, double value, int decimals);
}  // namespace detail

}  // namespace bagsplit::text
