#pragma once

#include <cstddef>
#include <optional>
#include <string>

/// Probabilities as text.
namespace bagsplit::present {

/// A probability for a sentence, never as a certainty: "0.87", "above 0.99", "below 0.01".
/// @param draws  what it was counted from; so many cannot show more than 1 - 3 / draws, none: computed, not drawn.
/// @param certainty  a bound it is judged by: digits are added until it stands on its side of that and of 1 - that.
std::string probability_words(double p, int decimals, std::optional<std::size_t> draws = {},
                              std::optional<double> certainty = {});
/// The same for a table: ">0.99", "<0.01", or "-" where there is no value.
std::string probability_cell(std::optional<double> p, int decimals, std::optional<std::size_t> draws = {},
                             std::optional<double> certainty = {});

}  // namespace bagsplit::present
