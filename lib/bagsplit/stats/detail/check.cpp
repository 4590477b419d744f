#include "bagsplit/stats/detail/check.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <limits>
#include <stdexcept>
#include <string>
#include <version>

namespace bagsplit::stats::check {

namespace {

std::string text_of(double value) {
#ifdef __cpp_lib_to_chars
  char buffer[40];
  const auto end = std::to_chars(buffer, buffer + sizeof buffer, value).ptr;
  return std::string(buffer, end);
#else
  return std::to_string(value);  // some digits fewer, in a message about a wrong call
#endif
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

std::vector<double> differences(std::string_view who, std::span<const double> x, std::span<const double> y) {
  same_size(who, "the first", x.size(), "the second", y.size());
  all_finite(who, "the first", x);
  all_finite(who, "the second", y);
  std::vector<double> d(x.size());
  double largest = 0.0;
  for (std::size_t i = 0; i < d.size(); ++i) {
    d[i] = x[i] - y[i];
    largest = std::max({largest, std::fabs(x[i]), std::fabs(y[i])});
  }
  const double rounding = 2.0 * std::numeric_limits<double>::epsilon() * largest;
  if (std::all_of(d.begin(), d.end(), [&](double v) { return std::fabs(v - d[0]) <= rounding; })) {
    std::fill(d.begin(), d.end(), d.empty() ? 0.0 : d[0]);
  }
  return d;
}

}  // namespace bagsplit::stats::check
