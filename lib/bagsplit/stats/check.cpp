#include "bagsplit/stats/check.hpp"

#include <charconv>
#include <cmath>
#include <stdexcept>
#include <string>

namespace bagsplit::stats::check {

namespace {

std::string text_of(double value) {
  char buffer[40];
  const auto end = std::to_chars(buffer, buffer + sizeof buffer, value).ptr;
  return std::string(buffer, end);
}

}  // namespace

void fail(std::string_view who, std::string_view what, double value, std::string_view bound) {
  throw std::domain_error(std::string(who) + ": " + std::string(what) + " is " + text_of(value) + ", but must be " +
                          std::string(bound));
}

void fail_call(std::string_view who, std::string_view text) {
  throw std::invalid_argument(std::string(who) + ": " + std::string(text));
}

void open_unit(std::string_view who, std::string_view what, double value) {
  if (!(value > 0.0 && value < 1.0)) {
    fail(who, what, value, "between 0 and 1");
  }
}

void positive(std::string_view who, std::string_view what, double value) {
  if (!(value > 0.0 && std::isfinite(value))) {
    fail(who, what, value, "finite and above 0");
  }
}

void not_negative(std::string_view who, std::string_view what, double value) {
  if (!(value >= 0.0 && std::isfinite(value))) {
    fail(who, what, value, "finite and at least 0");
  }
}

void finite(std::string_view who, std::string_view what, double value) {
  if (!std::isfinite(value)) {
    fail(who, what, value, "finite");
  }
}

void all_finite(std::string_view who, std::string_view what, std::span<const double> values) {
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (!std::isfinite(values[i])) {
      fail(who, std::string(what) + "[" + std::to_string(i) + "]", values[i], "finite");
    }
  }
}

void same_size(std::string_view who, std::string_view what_a, std::size_t a, std::string_view what_b, std::size_t b) {
  if (a != b) {
    fail_call(who, std::string(what_a) + " has " + std::to_string(a) + " elements and " + std::string(what_b) +
                       " has " + std::to_string(b) + ", but they must have the same number");
  }
}

}  // namespace bagsplit::stats::check
