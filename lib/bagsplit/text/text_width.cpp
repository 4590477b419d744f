#include "bagsplit/text/text_width.hpp"

#include <algorithm>
#include <array>
#include <span>

namespace bagsplit::text {

namespace {

struct Range {
  char32_t first;
  char32_t last;
};

constexpr std::array zero_width{
    Range{0x0300, 0x036F},  Range{0x0483, 0x0489}, Range{0x0591, 0x05BD}, Range{0x05BF, 0x05BF},
    Range{0x05C1, 0x05C2},  Range{0x05C4, 0x05C5}, Range{0x05C7, 0x05C7}, Range{0x0610, 0x061A},
    Range{0x064B, 0x065F},  Range{0x0670, 0x0670}, Range{0x06D6, 0x06DC}, Range{0x06DF, 0x06E4},
    Range{0x06E7, 0x06E8},  Range{0x06EA, 0x06ED}, Range{0x0900, 0x0902}, Range{0x093A, 0x093A},
    Range{0x093C, 0x093C},  Range{0x0941, 0x0948}, Range{0x094D, 0x094D}, Range{0x0E31, 0x0E31},
    Range{0x0E34, 0x0E3A},  Range{0x0E47, 0x0E4E}, Range{0x1AB0, 0x1ACE}, Range{0x1DC0, 0x1DFF},
    Range{0x200B, 0x200F},  Range{0x202A, 0x202E}, Range{0x2060, 0x206F}, Range{0x20D0, 0x20F0},
    Range{0xFE00, 0xFE0F},  Range{0xFE20, 0xFE2F}, Range{0xFEFF, 0xFEFF}, Range{0x1F3FB, 0x1F3FF},
    Range{0xE0000, 0xE01EF}};

constexpr std::array double_width{
    Range{0x1100, 0x115F},   Range{0x231A, 0x231B},   Range{0x2329, 0x232A},   Range{0x23E9, 0x23EC},
    Range{0x23F0, 0x23F0},   Range{0x23F3, 0x23F3},   Range{0x25FD, 0x25FE},   Range{0x2614, 0x2615},
    Range{0x2648, 0x2653},   Range{0x267F, 0x267F},   Range{0x2693, 0x2693},   Range{0x26A1, 0x26A1},
    Range{0x26AA, 0x26AB},   Range{0x26BD, 0x26BE},   Range{0x26C4, 0x26C5},   Range{0x26CE, 0x26CE},
    Range{0x26D4, 0x26D4},   Range{0x26EA, 0x26EA},   Range{0x26F2, 0x26F3},   Range{0x26F5, 0x26F5},
    Range{0x26FA, 0x26FA},   Range{0x26FD, 0x26FD},   Range{0x2705, 0x2705},   Range{0x270A, 0x270B},
    Range{0x2728, 0x2728},   Range{0x274C, 0x274C},   Range{0x274E, 0x274E},   Range{0x2753, 0x2755},
    Range{0x2757, 0x2757},   Range{0x2795, 0x2797},   Range{0x27B0, 0x27B0},   Range{0x27BF, 0x27BF},
    Range{0x2B1B, 0x2B1C},   Range{0x2B50, 0x2B50},   Range{0x2B55, 0x2B55},   Range{0x2E80, 0x303E},
    Range{0x3041, 0x33FF},   Range{0x3400, 0x4DBF},   Range{0x4E00, 0x9FFF},   Range{0xA000, 0xA4CF},
    Range{0xA960, 0xA97F},   Range{0xAC00, 0xD7A3},   Range{0xF900, 0xFAFF},   Range{0xFE10, 0xFE19},
    Range{0xFE30, 0xFE6F},   Range{0xFF01, 0xFF60},   Range{0xFFE0, 0xFFE6},   Range{0x16FE0, 0x18DFF},
    Range{0x1AFF0, 0x1B2FF}, Range{0x1F004, 0x1F004}, Range{0x1F0CF, 0x1F0CF}, Range{0x1F18E, 0x1F18E},
    Range{0x1F191, 0x1F19A}, Range{0x1F200, 0x1F320}, Range{0x1F32D, 0x1F335}, Range{0x1F337, 0x1F37C},
    Range{0x1F37E, 0x1F393}, Range{0x1F3A0, 0x1F3CA}, Range{0x1F3CF, 0x1F3D3}, Range{0x1F3E0, 0x1F3F0},
    Range{0x1F3F4, 0x1F3F4}, Range{0x1F3F8, 0x1F43E}, Range{0x1F440, 0x1F440}, Range{0x1F442, 0x1F4FC},
    Range{0x1F4FF, 0x1F53D}, Range{0x1F54B, 0x1F54E}, Range{0x1F550, 0x1F567}, Range{0x1F57A, 0x1F57A},
    Range{0x1F595, 0x1F596}, Range{0x1F5A4, 0x1F5A4}, Range{0x1F5FB, 0x1F64F}, Range{0x1F680, 0x1F6C5},
    Range{0x1F6CC, 0x1F6CC}, Range{0x1F6D0, 0x1F6D2}, Range{0x1F6D5, 0x1F6D7}, Range{0x1F6DC, 0x1F6DF},
    Range{0x1F6EB, 0x1F6EC}, Range{0x1F6F4, 0x1F6FC}, Range{0x1F7E0, 0x1F7EB}, Range{0x1F7F0, 0x1F7F0},
    Range{0x1F90C, 0x1F93A}, Range{0x1F93C, 0x1F945}, Range{0x1F947, 0x1F9FF}, Range{0x1FA70, 0x1FAFF},
    Range{0x20000, 0x2FFFD}, Range{0x30000, 0x3FFFD}};

bool contains(std::span<const Range> ranges, char32_t c) {
  const auto at =
      std::upper_bound(ranges.begin(), ranges.end(), c, [](char32_t x, const Range& r) { return x < r.first; });
  return at != ranges.begin() && c <= std::prev(at)->last;
}

bool is_unsafe(char32_t c) {
  const bool control = (c < 0x20 && c != U'\t') || (c >= 0x7F && c < 0xA0) || c == 0x2028 || c == 0x2029;
  const bool turns =
      c == 0x061C || c == 0x200E || c == 0x200F || (c >= 0x202A && c <= 0x202E) || (c >= 0x2066 && c <= 0x2069);
  return control || turns;
}

}  // namespace

CodePoint first_code_point(std::string_view utf8) {
  const auto byte = [&](std::size_t k) { return static_cast<unsigned char>(utf8[k]); };
  const unsigned lead = byte(0);
  if (lead < 0x80) {
    return {static_cast<char32_t>(lead), 1};
  }
  const std::size_t length = lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : 2;
  if (lead < 0xC2 || lead > 0xF4 || utf8.size() < length) {
    return {};
  }
  char32_t value = lead & (length == 4 ? 0x07U : length == 3 ? 0x0FU : 0x1FU);
  for (std::size_t k = 1; k < length; ++k) {
    if ((byte(k) & 0xC0U) != 0x80U) {
      return {};
    }
    value = (value << 6U) | (byte(k) & 0x3FU);
  }
  const bool overlong = (length == 3 && value < 0x800) || (length == 4 && value < 0x10000);
  const bool surrogate = value >= 0xD800 && value <= 0xDFFF;
  return overlong || surrogate || value > 0x10FFFF ? CodePoint{} : CodePoint{value, length};
}

int cell_width(char32_t code_point) {
  if (code_point < 0x300) {
    return 1;
  }
  return contains(zero_width, code_point) ? 0 : contains(double_width, code_point) ? 2 : 1;
}

std::size_t display_width(std::string_view utf8) {
  std::size_t width = 0;
  while (!utf8.empty()) {
    const CodePoint c = first_code_point(utf8);
    width += is_unsafe(c.value) ? 1U : static_cast<std::size_t>(cell_width(c.value));
    utf8.remove_prefix(c.bytes);
  }
  return width;
}

std::string printable(std::string_view utf8) {
  constexpr std::string_view replacement = "\xEF\xBF\xBD";
  std::string out;
  out.reserve(utf8.size());
  while (!utf8.empty()) {
    const CodePoint c = first_code_point(utf8);
    const bool invalid = c.value == 0xFFFD && c.bytes == 1;
    out += invalid || is_unsafe(c.value) ? replacement : utf8.substr(0, c.bytes);
    utf8.remove_prefix(c.bytes);
  }
  return out;
}

}  // namespace bagsplit::text
