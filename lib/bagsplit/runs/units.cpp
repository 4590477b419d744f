#include "bagsplit/runs/units.hpp"

#include <charconv>
#include <cmath>

namespace bagsplit::runs {

std::optional<double> parse_length_m(std::string_view text) {
  double value = 0.0;
  const char* const end = text.data() + text.size();
  const auto [stop, error] = std::from_chars(text.data(), end, value);
  if (error != std::errc{} || !std::isfinite(value) || value < 0.0) {
    return std::nullopt;
  }
  std::string_view unit(stop, static_cast<std::size_t>(end - stop));
  while (!unit.empty() && unit.front() == ' ') {
    unit.remove_prefix(1);
  }
  if (unit == "m") {
    return value;
  }
  if (unit == "ft") {
    return value * metres_per_foot;
  }
  if (unit == "yd") {
    return value * metres_per_yard;
  }
  return std::nullopt;
}

}  // namespace bagsplit::runs
