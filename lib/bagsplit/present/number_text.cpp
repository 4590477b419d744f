#include "bagsplit/present/number_text.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <stdexcept>

#include "bagsplit/runs/wording.hpp"
#include "bagsplit/stats/ranking.hpp"

namespace bagsplit::present {

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
  std::array<char, 400> buffer{};  // the largest double has 309 digits before the point
  const auto [end, error] = std::to_chars(buffer.data(), buffer.data() + buffer.size(), value, std::chars_format::fixed,
                                          std::clamp(decimals, 0, 20));
  std::string text(buffer.data(), error == std::errc{} ? end : buffer.data());
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
  const auto [end, error] = std::to_chars(buffer.data(), buffer.data() + buffer.size(), value == 0.0 ? 0.0 : value);
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

std::string counted(std::size_t count, std::string_view noun, std::string_view plural) {
  return runs::counted(count, noun, plural);
}

std::string percent(double share) {
  std::string text = fixed(100.0 * share, 6);
  text.erase(text.find_last_not_of('0') + 1);
  if (text.ends_with('.')) {
    text.pop_back();
  }
  return text + "%";
}

std::string probability_words(double p, int decimals, std::optional<std::size_t> draws,
                              std::optional<double> certainty) {
  constexpr int most_decimals = 6;
  constexpr double same = 1e-12;
  double scale = std::pow(10.0, decimals);
  const auto on_its_side = [&](double value, double bound) {
    return (std::round(value * scale) / scale >= bound - same) == (value >= bound);
  };
  while (certainty && decimals < most_decimals && !(on_its_side(p, *certainty) && on_its_side(1.0 - p, *certainty))) {
    scale = std::pow(10.0, ++decimals);
  }
  const double most = draws && *draws > 0 ? stats::shown_by_draws(1.0, *draws) : 1.0;
  const auto at_end = [&](double value) { return value >= most - same || std::round(value * scale) >= scale; };
  const double bound = std::floor(std::min(most, 1.0 - 1.0 / scale) * scale + 1e-9) / scale;
  return at_end(p)         ? "above " + fixed(bound, decimals)
         : at_end(1.0 - p) ? "below " + fixed(1.0 - bound, decimals)
                           : fixed(p, decimals);
}

std::string probability_cell(std::optional<double> p, int decimals, std::optional<std::size_t> draws,
                             std::optional<double> certainty) {
  constexpr std::size_t word = 6;  // "above ", "below "
  if (!p) {
    return std::string(absent);
  }
  const std::string words = probability_words(*p, decimals, draws, certainty);
  return words.front() == 'a' ? ">" + words.substr(word) : words.front() == 'b' ? "<" + words.substr(word) : words;
}

std::string_view plus_minus(const TextOptions& options) {
  return options.unicode ? "\xC2\xB1" : "+-";
}

}  // namespace bagsplit::present
