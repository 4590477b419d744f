#pragma once

#include <bit>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <string_view>

/// Inside the reader: several characters of a text at once, in one 64-bit word. The first character is in the lowest
/// byte, whatever the machine.
namespace bagsplit::text::detail {

/// The byte in each of the eight places.
constexpr std::uint64_t eight_of(char byte) {
  return 0x0101010101010101ULL * static_cast<unsigned char>(byte);
}

/// 0x80 in each byte of `word` that is zero, 0 in all others; exact, unlike the shorter well-known form.
constexpr std::uint64_t zero_bytes(std::uint64_t word) {
  constexpr std::uint64_t low_seven = eight_of(0x7F);
  return ~(((word & low_seven) + low_seven) | word | low_seven);
}

template <typename Word>
Word load(const char* from) {
  Word word = 0;
  if constexpr (std::endian::native == std::endian::little) {
    std::memcpy(&word, from, sizeof word);
  } else {
    for (std::size_t k = 0; k < sizeof word; ++k) {
      word |= static_cast<Word>(static_cast<Word>(static_cast<unsigned char>(from[k])) << (8 * k));
    }
  }
  return word;
}

/// std::bit_cast, which not every standard library has.
template <typename To, typename From>
To bits_as(const From& from) {
  static_assert(sizeof(To) == sizeof(From));
  To to;
  std::memcpy(&to, &from, sizeof to);
  return to;
}

/// A text of one to eight characters, zeros behind it. Reads nothing beyond the text.
inline std::uint64_t load_short(std::string_view text) {
  const std::size_t size = text.size();
  const char* const first = text.data();
  if (size >= 4) {  // two halves, which may overlap
    return load<std::uint32_t>(first) | (std::uint64_t{load<std::uint32_t>(first + size - 4)} << (8 * (size - 4)));
  }
  const auto at = [&](std::size_t k) { return std::uint64_t{static_cast<unsigned char>(first[k])} << (8 * k); };
  return at(0) | at(size / 2) | at(size - 1);
}

/// a == b, without a call for the short texts that cells are.
inline bool same_text(std::string_view a, std::string_view b) {
  if (a.size() != b.size()) {
    return false;
  }
  if (a.size() > 16) {
    return a == b;
  }
  if (a.size() > 8) {
    const std::size_t last = a.size() - 8;
    return load<std::uint64_t>(a.data()) == load<std::uint64_t>(b.data()) &&
           load<std::uint64_t>(a.data() + last) == load<std::uint64_t>(b.data() + last);
  }
  return a.empty() || load_short(a) == load_short(b);
}

}  // namespace bagsplit::text::detail
