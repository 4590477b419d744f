#include "bagsplit/text/number_chars.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <limits>
#include <string_view>
#include <type_traits>
#include <version>

namespace bagsplit::text {

namespace {

constexpr std::string_view number_characters = "+-0123456789e";

// What the C library writes, with a point wherever the locale has another sign.
std::string by_c(const char* form, int decimals, double value) {
  std::array<char, 1200> buffer{};  // 309 digits before the point, and none asks for more than some hundred behind it
  const int size = std::snprintf(buffer.data(), buffer.size(), form, decimals, value);
  std::string text(buffer.data(), std::min(static_cast<std::size_t>(std::max(size, 0)), buffer.size() - 1));
  if (const std::size_t at = text.find_first_not_of(number_characters); at != std::string::npos) {
    text.replace(at, text.find_first_of(number_characters, at) - at, ".");
  }
  return text;
}

// The number a text stands for that has a point and nothing before or behind it; rounded to the nearest.
template <typename Real>
Real number_of(std::string text) {
  if (const std::size_t at = text.find('.'); at != std::string::npos) {
    std::array<char, 16> half{};
    std::snprintf(half.data(), half.size(), "%.1f", 0.5);
    const std::string_view written = half.data();
    text.replace(at, 1, written.substr(1, written.size() - 2));
  }
  if constexpr (std::is_same_v<Real, float>) {
    return std::strtof(text.c_str(), nullptr);
  } else {
    return std::strtod(text.c_str(), nullptr);
  }
}

std::to_chars_result put(std::string_view text, char* first, char* last) {
  if (static_cast<std::size_t>(last - first) < text.size()) {
    return {last, std::errc::value_too_large};
  }
  std::memcpy(first, text.data(), text.size());
  return {first + text.size(), std::errc{}};
}

// Digits d1 d2 ... of +-d1.d2d3... x 10^exponent.
struct Digits {
  bool negative;
  std::string digits;
  int exponent;
};

Digits digits_of(const std::string& scientific) {
  const std::size_t e = scientific.find('e');
  Digits out{scientific.starts_with('-'), "", std::atoi(scientific.c_str() + e + 1)};
  for (const char c : std::string_view(scientific).substr(0, e)) {
    if (c >= '0' && c <= '9') {
      out.digits += c;
    }
  }
  return out;
}

std::string in_scientific(const Digits& number) {
  std::string text = (number.negative ? "-" : "") + number.digits.substr(0, 1);
  if (number.digits.size() > 1) {
    text += "." + number.digits.substr(1);
  }
  const std::string exponent = std::to_string(std::abs(number.exponent));
  return text + (number.exponent < 0 ? "e-" : "e+") + (exponent.size() < 2 ? "0" : "") + exponent;
}

// The next number of as many digits, away from zero.
Digits one_up(Digits number) {
  std::size_t k = number.digits.size();
  while (k > 0 && number.digits[k - 1] == '9') {
    number.digits[--k] = '0';
  }
  if (k > 0) {
    ++number.digits[k - 1];
  } else {
    number.digits.insert(0, "1").pop_back();
    ++number.exponent;
  }
  return number;
}

// The fewest digits that read back as the same number; of these the nearest to it. A number that so many digits as any
// decimal keeps (digits10) tell has no shorter name but these without zeros at the end; subnormal ones keep fewer.
// Below a power of two the next number is half as far as above it: there the nearest may fail to read back where the
// next one up does.
template <typename Real>
Digits shortest_digits(Real value) {
  using Limits = std::numeric_limits<Real>;
  const auto with = [&](int count) { return digits_of(by_c("%.*e", count - 1, static_cast<double>(value))); };
  for (int count = std::isnormal(value) ? Limits::digits10 : 1; count < Limits::max_digits10; ++count) {
    const Digits nearest = with(count);
    for (Digits tried : {nearest, one_up(nearest)}) {
      if (number_of<Real>(in_scientific(tried)) == value) {
        tried.digits.erase(std::max<std::size_t>(tried.digits.find_last_not_of('0') + 1, 1));
        return tried;
      }
    }
  }
  return with(Limits::max_digits10);
}

template <typename Real>
std::string in_fixed(const Digits& number, Real value) {
  const int behind = static_cast<int>(number.digits.size()) - 1 - number.exponent;
  if (behind <= 0) {
    return by_c("%.*f", 0, static_cast<double>(value));  // a whole number: all of its digits
  }
  std::string text = number.digits;
  if (number.exponent < 0) {
    text.insert(0, static_cast<std::size_t>(-number.exponent), '0');
  }
  text.insert(text.size() - static_cast<std::size_t>(behind), ".");
  return (number.negative ? "-" : "") + text;
}

// How much of a text is a number: an optional minus, digits with at most one point, an optional exponent.
std::size_t length_of_number(std::string_view text) {
  const auto digits_from = [&](std::size_t at) {
    return std::min(text.find_first_not_of("0123456789", at), text.size()) - at;
  };
  std::size_t at = text.starts_with('-') ? 1 : 0;
  const std::size_t whole = digits_from(at);
  at += whole;
  std::size_t decimals = 0;
  if (at < text.size() && text[at] == '.') {
    decimals = digits_from(at + 1);
    at += whole + decimals > 0 ? 1 + decimals : 0;
  }
  if (whole + decimals == 0) {
    return 0;
  }
  if (at < text.size() && (text[at] == 'e' || text[at] == 'E')) {
    const bool has_sign = at + 1 < text.size() && (text[at + 1] == '+' || text[at + 1] == '-');
    const std::size_t first = at + (has_sign ? 2 : 1);
    if (first < text.size() && digits_from(first) > 0) {
      at = first + digits_from(first);
    }
  }
  return at;
}

}  // namespace

namespace detail {

std::from_chars_result read_number_by_c(const char* first, const char* last, double& value) {
  const std::string_view all(first, static_cast<std::size_t>(last - first));
  const std::size_t size = length_of_number(all);
  if (size == 0) {
    return {first, std::errc::invalid_argument};
  }
  const double read = number_of<double>(std::string(all.substr(0, size)));
  const std::string_view mantissa = all.substr(0, std::min(all.find_first_of("eE"), size));
  const bool vanished = read == 0.0 && mantissa.find_first_of("123456789") != std::string_view::npos;
  if (!std::isfinite(read) || vanished) {
    return {first + size, std::errc::result_out_of_range};
  }
  value = read;
  return {first + size, std::errc{}};
}

std::to_chars_result write_shortest_by_c(char* first, char* last, double value) {
  const Digits digits = shortest_digits(value);
  const std::string scientific = in_scientific(digits);
  // 21 characters at most are weighed: a longer fixed form is never the shorter one.
  const std::string fixed = std::abs(digits.exponent) < 30 ? in_fixed(digits, value) : std::string(40, '0');
  return put(fixed.size() <= scientific.size() ? fixed : scientific, first, last);
}

std::to_chars_result write_shortest_fixed_by_c(char* first, char* last, double value) {
  return put(in_fixed(shortest_digits(value), value), first, last);
}

std::to_chars_result write_shortest_fixed_by_c(char* first, char* last, float value) {
  return put(in_fixed(shortest_digits(value), value), first, last);
}

std::to_chars_result write_fixed_by_c(char* first, char* last, double value, int decimals) {
  return put(by_c("%.*f", decimals, value), first, last);
}

std::to_chars_result write_scientific_by_c(char* first, char* last, double value, int decimals) {
  return put(by_c("%.*e", decimals, value), first, last);
}

}  // namespace detail

#ifdef __cpp_lib_to_chars

std::from_chars_result read_number(const char* first, const char* last, double& value) {
  return std::from_chars(first, last, value);
}

std::to_chars_result write_shortest(char* first, char* last, double value) {
  return std::to_chars(first, last, value);
}

std::to_chars_result write_shortest_fixed(char* first, char* last, double value) {
  return std::to_chars(first, last, value, std::chars_format::fixed);
}

std::to_chars_result write_shortest_fixed(char* first, char* last, float value) {
  return std::to_chars(first, last, value, std::chars_format::fixed);
}

std::to_chars_result write_fixed(char* first, char* last, double value, int decimals) {
  return std::to_chars(first, last, value, std::chars_format::fixed, decimals);
}

std::to_chars_result write_scientific(char* first, char* last, double value, int decimals) {
  return std::to_chars(first, last, value, std::chars_format::scientific, decimals);
}

#else

std::from_chars_result read_number(const char* first, const char* last, double& value) {
  return detail::read_number_by_c(first, last, value);
}

std::to_chars_result write_shortest(char* first, char* last, double value) {
  return detail::write_shortest_by_c(first, last, value);
}

std::to_chars_result write_shortest_fixed(char* first, char* last, double value) {
  return detail::write_shortest_fixed_by_c(first, last, value);
}

std::to_chars_result write_shortest_fixed(char* first, char* last, float value) {
  return detail::write_shortest_fixed_by_c(first, last, value);
}

std::to_chars_result write_fixed(char* first, char* last, double value, int decimals) {
  return detail::write_fixed_by_c(first, last, value, decimals);
}

std::to_chars_result write_scientific(char* first, char* last, double value, int decimals) {
  return detail::write_scientific_by_c(first, last, value, decimals);
}

#endif

std::string plain_fixed(double value, int decimals) {
  std::array<char, 400> buffer{};  // the largest double has 309 digits before the point
  const auto [end, error] = write_fixed(buffer.data(), buffer.data() + buffer.size(), value, decimals);
  return {buffer.data(), error == std::errc{} ? end : buffer.data()};
}

}  // namespace bagsplit::text
