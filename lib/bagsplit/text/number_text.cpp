#include "bagsplit/text/number_text.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <stdexcept>

#include "bagsplit/text/number_chars.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::text {

namespace {

void require_finite(const char* who, double value) {
  if (!std::isfinite(value)) {
    throw std::domain_error(std::string(who) + ": value is " + (std::isnan(value) ? "nan" : "infinite") +
                            ", but must be finite; what is absent is an empty optional");
  }
}

}  // namespace

std::string fixed(double value, int decimals) {
  require_finite("fixed", value);
  std::string text = plain_fixed(value, std::clamp(decimals, 0, 20));
  if (text.starts_with('-') && text.find_first_of("123456789") == std::string::npos) {
    text.erase(0, 1);
  }
  return text;
}

std::string fixed(std::optional<double> value, int decimals) {
  return value ? fixed(*value, decimals) : std::string(absent);
}

std::string signed_fixed(double value, int decimals) {
  std::string text = fixed(value, decimals);
  const bool is_zero = text.find_first_of("123456789") == std::string::npos;
  return is_zero || text.starts_with('-') ? text : "+" + text;
}

void append_shortest(std::string& out, double value) {
  require_finite("shortest", value);
  std::array<char, 32> buffer;  // the longest double takes 24
  const auto [end, error] = write_shortest(buffer.data(), buffer.data() + buffer.size(), value == 0.0 ? 0.0 : value);
  out.append(buffer.data(), error == std::errc{} ? end : buffer.data());
}

std::string shortest(double value) {
  std::string text;
  append_shortest(text, value);
  return text;
}

std::string shortest(std::optional<double> value) {
  return value ? shortest(*value) : std::string();
}

std::optional<double> told_age(std::optional<double> age_years) {
  return age_years ? std::optional(std::round(*age_years * 10.0) / 10.0) : std::nullopt;
}

std::string percent(double share) {
  std::string text = fixed(100.0 * share, 6);
  text.erase(text.find_last_not_of('0') + 1);
  if (text.ends_with('.')) {
    text.pop_back();
  }
  return text + "%";
}

std::string_view plus_minus(const TextOptions& options) {
  return options.unicode ? "\xC2\xB1" : "+-";
}

}  // namespace bagsplit::text
