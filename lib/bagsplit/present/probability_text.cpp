#include "bagsplit/present/probability_text.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/stats/ranking.hpp"
#include "bagsplit/text/number_text.hpp"

namespace bagsplit::present {

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
  return at_end(p)         ? "above " + text::fixed(bound, decimals)
         : at_end(1.0 - p) ? "below " + text::fixed(1.0 - bound, decimals)
                           : text::fixed(p, decimals);
}

std::string probability_cell(std::optional<double> p, int decimals, std::optional<std::size_t> draws,
                             std::optional<double> certainty) {
  constexpr std::size_t word = 6;  // "above ", "below "
  if (!p) {
    return std::string(text::absent);
  }
  const std::string words = probability_words(*p, decimals, draws, certainty);
  return words.front() == 'a' ? ">" + words.substr(word) : words.front() == 'b' ? "<" + words.substr(word) : words;
}

}  // namespace bagsplit::present
