#pragma once

#include <array>
#include <bit>
#include <cstddef>
#include <cstdint>
#include <iterator>
#include <limits>
#include <string_view>

#include "bagsplit/text/eight_bytes.hpp"

/// Inside the reader: the short way for the numbers that nearly all cells hold.
namespace bagsplit::text::detail {

inline constexpr std::array small_powers_of_ten{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7};

/// Reads digits with at most one point among them, eight characters at most, without a loop; for anything else, NaN:
/// ask the reader that takes all forms (typed.hpp). Where both read a text they agree in the last bit.
inline double plain_number(std::string_view text, bool decimal_comma) {
  constexpr double refused = std::numeric_limits<double>::quiet_NaN();
  constexpr std::size_t most = std::size(small_powers_of_ten);
  constexpr std::uint64_t zeros = eight_of('0');
  if (text.empty() || text.size() > most) {
    return refused;
  }
  // The last character into the last byte, zeros before the first.
  const std::size_t unused_bits = 8 * (most - text.size());
  std::uint64_t word = load_short(text) << unused_bits;
  word |= unused_bits == 0 ? 0 : zeros >> (64 - unused_bits);
  std::uint64_t points = zero_bytes(word ^ eight_of('.'));
  if (points == 0 && decimal_comma) {
    points = zero_bytes(word ^ eight_of(','));
  }
  std::size_t decimals = 0;
  if (points != 0) {
    const auto at = static_cast<std::size_t>(std::countr_zero(points)) / 8;
    decimals = most - 1 - at;
    if (decimals == 0) {
      return refused;
    }
    // What stands before the point moves into its place.
    const std::uint64_t behind = ~std::uint64_t{0} << (8 * at + 8);
    word = (word & behind) | ((word << 8U) & ~behind) | std::uint64_t{'0'};
  }
  // Each byte has 3 in its upper half, and no carry into it from 6 more.
  constexpr std::uint64_t upper = eight_of(static_cast<char>(0xF0));
  if ((word & upper) != zeros || ((word + eight_of(6)) & upper) != zeros) {
    return refused;
  }
  // Pairs of digits, then all four pairs: the first digit is in the lowest byte.
  word -= zeros;
  word = word * 10 + (word >> 8U);
  constexpr std::uint64_t pairs = 0x000000FF000000FFULL;
  word = (word & pairs) * (100 + (1'000'000ULL << 32U)) + ((word >> 16U) & pairs) * (1 + (10'000ULL << 32U));
  // The quotient of two integers that doubles hold exactly is the double nearest to the decimal.
  return static_cast<double>(static_cast<std::int64_t>(word >> 32U)) / small_powers_of_ten[decimals];
}

}  // namespace bagsplit::text::detail
