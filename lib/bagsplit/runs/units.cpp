#include "bagsplit/runs/units.hpp"

#include <array>
#include <cmath>
#include <utility>

#include "bagsplit/text/decimal_comma.hpp"
#include "bagsplit/text/number_chars.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::runs {

namespace {

// A number and what stands after it, blanks between them left out.
struct Measure {
  double value;
  std::string_view unit;
};

std::optional<Measure> split_measure(std::string_view text) {
  double value = 0.0;
  const char* const end = text.data() + text.size();
  const auto [stop, error] = text::read_number(text.data(), end, value);
  if (error != std::errc{} || !std::isfinite(value)) {
    return std::nullopt;
  }
  std::string_view unit(stop, static_cast<std::size_t>(end - stop));
  while (!unit.empty() && unit.front() == ' ') {
    unit.remove_prefix(1);
  }
  return Measure{value, unit};
}

}  // namespace

std::optional<double> parse_length_m(std::string_view text) {
  const std::string with_point = text::with_decimal_point(text);
  const auto measure = split_measure(with_point);
  if (!measure || measure->value < 0.0) {
    return std::nullopt;
  }
  const auto& [value, unit] = *measure;
  constexpr std::array<std::pair<std::string_view, double>, 15> units{{{"m", 1.0},
                                                                       {"metre", 1.0},
                                                                       {"metres", 1.0},
                                                                       {"meter", 1.0},
                                                                       {"meters", 1.0},
                                                                       {"ft", metres_per_foot},
                                                                       {"foot", metres_per_foot},
                                                                       {"feet", metres_per_foot},
                                                                       {"'", metres_per_foot},
                                                                       {"\u2019", metres_per_foot},
                                                                       {"\u2032", metres_per_foot},
                                                                       {"yd", metres_per_yard},
                                                                       {"yds", metres_per_yard},
                                                                       {"yard", metres_per_yard},
                                                                       {"yards", metres_per_yard}}};
  for (const auto& [word, metres] : units) {
    if (text::equal_ignoring_case(unit, word)) {
      return value * metres;
    }
  }
  return std::nullopt;
}

std::optional<double> parse_speed_mps(std::string_view text) {
  const auto measure = split_measure(text);
  if (!measure) {
    return std::nullopt;
  }
  const auto& [value, unit] = *measure;
  if (unit.empty() || unit == "m/s") {
    return value;
  }
  if (unit == "ft/s") {
    return value * metres_per_foot;
  }
  if (unit == "mph") {
    return value * metres_per_mile / seconds_per_hour;
  }
  if (unit == "km/h") {
    return value * 1000.0 / seconds_per_hour;
  }
  return std::nullopt;
}

std::optional<double> parse_acceleration_mps2(std::string_view text) {
  const auto measure = split_measure(text);
  if (!measure) {
    return std::nullopt;
  }
  const auto& [value, unit] = *measure;
  if (unit.empty() || unit == "m/s2") {
    return value;
  }
  if (unit == "ft/s2") {
    return value * metres_per_foot;
  }
  return std::nullopt;
}

}  // namespace bagsplit::runs
