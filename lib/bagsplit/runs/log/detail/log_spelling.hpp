#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/runs/log/detail/log_rows.hpp"

/// Inside the reader: one child or timer under several spellings.
namespace bagsplit::runs::detail {

/// Two words with the same bare_word.
struct TwoSpellings {
  NameId first = no_name;  ///< as met first
  NameId other = no_name;
  std::size_t first_count = 0;  ///< rows of each
  std::size_t other_count = 0;
  std::uint32_t row = 0;  ///< the first row of `other`
};

/// How often each of the log's words stands on its rows, as what `word_of` gives of a row, and where first.
struct WordUse {
  std::size_t count = 0;
  std::uint32_t row = 0;
};

/// Each later spelling beside the first of its kind, in the order of the rows. Work is done for each different word.
/// @param uses  by NameId; of count 0: not used
std::vector<TwoSpellings> two_spellings(const NameTable& names, const std::vector<WordUse>& uses);

/// The word as one may mean it however it is typed: in small letters, accents stored one way, without `#`, without
/// blanks but between digits, without zeros before a number's first digit, and a whole number without `.0` or exponent.
std::string bare_word(std::string_view word);

/// What an eye does not see of the difference between two spellings; empty where it sees it.
std::string unseen_difference(std::string_view a, std::string_view b);

/// The suspicion of an id such as `1.23E+05`, which is how a spreadsheet shows a long number, if it is one.
std::optional<text::Problem> doubt_rounded_id(std::string_view id);

}  // namespace bagsplit::runs::detail
