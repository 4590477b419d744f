#include "bagsplit/text/text.hpp"

#include <algorithm>
#include <cstdint>
#include <cstring>
#include <vector>

namespace bagsplit::text {

namespace {

constexpr std::uint64_t high_bits = 0x8080808080808080ULL;

// Length of the well-formed sequence at `p`, or 0. Unicode 15, table 3-7: no overlong forms, no surrogates, none above
// U+10FFFF.
std::size_t sequence_length(const unsigned char* p, const unsigned char* end) {
  const unsigned lead = *p;
  const auto is_tail = [&](std::ptrdiff_t k, unsigned lowest = 0x80, unsigned highest = 0xBF) {
    return end - p > k && p[k] >= lowest && p[k] <= highest;
  };
  if (lead < 0x80) {
    return 1;
  }
  if (lead >= 0xC2 && lead <= 0xDF) {
    return is_tail(1) ? 2 : 0;
  }
  if (lead >= 0xE0 && lead <= 0xEF) {
    const unsigned lowest = lead == 0xE0 ? 0xA0 : 0x80;
    const unsigned highest = lead == 0xED ? 0x9F : 0xBF;
    return is_tail(1, lowest, highest) && is_tail(2) ? 3 : 0;
  }
  if (lead >= 0xF0 && lead <= 0xF4) {
    const unsigned lowest = lead == 0xF0 ? 0x90 : 0x80;
    const unsigned highest = lead == 0xF4 ? 0x8F : 0xBF;
    return is_tail(1, lowest, highest) && is_tail(2) && is_tail(3) ? 4 : 0;
  }
  return 0;
}

}  // namespace

std::string lower(std::string_view text) {
  std::string out(text);
  std::transform(out.begin(), out.end(), out.begin(), ascii_lower);
  return out;
}

bool equal_ignoring_case(std::string_view a, std::string_view b) {
  return a.size() == b.size() &&
         std::equal(a.begin(), a.end(), b.begin(), [](char x, char y) { return ascii_lower(x) == ascii_lower(y); });
}

std::string_view trim(std::string_view text) {
  const auto is_space = [](char c) { return c == ' ' || c == '\t'; };
  while (!text.empty() && is_space(text.front())) {
    text.remove_prefix(1);
  }
  while (!text.empty() && is_space(text.back())) {
    text.remove_suffix(1);
  }
  return text;
}

std::size_t first_invalid_utf8(std::string_view text) {
  const auto* const begin = reinterpret_cast<const unsigned char*>(text.data());
  const auto* const end = begin + text.size();
  const auto* p = begin;
  while (p < end) {
    while (end - p >= 8) {
      std::uint64_t word = 0;
      std::memcpy(&word, p, sizeof word);
      if ((word & high_bits) != 0) {
        break;
      }
      p += 8;
    }
    if (p >= end) {
      break;
    }
    const std::size_t length = sequence_length(p, end);
    if (length == 0) {
      return static_cast<std::size_t>(p - begin);
    }
    p += length;
  }
  return std::string_view::npos;
}

std::size_t count_characters(std::string_view text) {
  const auto* p = reinterpret_cast<const unsigned char*>(text.data());
  const auto* const end = p + text.size();
  std::size_t count = 0;
  while (p < end) {
    p += std::max<std::size_t>(1, sequence_length(p, end));
    ++count;
  }
  return count;
}

std::string clipped(std::string_view text, std::size_t bytes) {
  if (text.size() <= bytes) {
    return std::string(text);
  }
  std::size_t cut = bytes;
  while (cut > 0 && (static_cast<unsigned char>(text[cut]) & 0xC0U) == 0x80U) {
    --cut;
  }
  return std::string(text.substr(0, cut)) + "...";
}

std::size_t edit_distance(std::string_view a, std::string_view b) {
  // Three rows are enough: the one before last is for swapped neighbours.
  std::vector<std::size_t> before(b.size() + 1);
  std::vector<std::size_t> above(b.size() + 1);
  std::vector<std::size_t> row(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) {
    above[j] = j;
  }
  for (std::size_t i = 1; i <= a.size(); ++i) {
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const char x = ascii_lower(a[i - 1]);
      const char y = ascii_lower(b[j - 1]);
      row[j] = std::min({above[j] + 1, row[j - 1] + 1, above[j - 1] + (x == y ? 0U : 1U)});
      if (i > 1 && j > 1 && x == ascii_lower(b[j - 2]) && y == ascii_lower(a[i - 2])) {
        row[j] = std::min(row[j], before[j - 2] + 1);
      }
    }
    std::swap(before, above);
    std::swap(above, row);
  }
  return above[b.size()];
}

std::optional<std::string_view> nearest(std::string_view text, std::span<const std::string_view> candidates) {
  constexpr std::size_t longest = 64;  // what was typed is not a known word if it is longer than this
  if (text.size() > longest) {
    return std::nullopt;
  }
  std::optional<std::string_view> best;
  std::size_t fewest = 0;
  for (const std::string_view candidate : candidates) {
    const std::size_t edits = edit_distance(text, candidate);
    if (edits <= std::max<std::size_t>(1, std::max(text.size(), candidate.size()) / 3) && (!best || edits < fewest)) {
      best = candidate;
      fewest = edits;
    }
  }
  return best;
}

std::string list_of(std::span<const std::string_view> words, std::string_view last) {
  std::string out;
  for (std::size_t k = 0; k < words.size(); ++k) {
    if (k > 0) {
      const bool is_last = k + 1 == words.size() && last != ",";
      out += is_last ? " " + std::string(last) + " " : ", ";
    }
    out += words[k];
  }
  return out;
}

}  // namespace bagsplit::text
