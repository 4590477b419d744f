#include "bagsplit/text/letters.hpp"

#include <algorithm>
#include <array>

#include "bagsplit/text/text.hpp"

namespace bagsplit::text {

namespace {

// White space of more than one byte (Unicode 15, property White_Space), and what has no width.
constexpr std::array<std::string_view, 15> blanks{"\u00A0", "\u2000", "\u2001", "\u2002", "\u2003",
                                                  "\u2004", "\u2005", "\u2006", "\u2007", "\u2008",
                                                  "\u2009", "\u200A", "\u202F", "\u205F", "\u3000"};
constexpr std::array<std::string_view, 17> nothings{"\u00AD", "\u200B", "\u200C", "\u200D", "\u200E", "\u200F",
                                                    "\u202A", "\u202B", "\u202C", "\u202D", "\u202E", "\u2060",
                                                    "\u2066", "\u2067", "\u2068", "\u2069", "\uFEFF"};

struct Accent {
  std::string_view mark;
  std::string_view letters;  // of two bytes each
  std::string_view bases;    // of one
};
constexpr std::array<Accent, 14> accents{{
    {"\u0300", "ÀÈÌÒÙàèìòù", "AEIOUaeiou"},
    {"\u0301", "ÁÉÍÓÚÝáéíóúýĆćĹĺŃńŔŕŚśŹź", "AEIOUYaeiouyCcLlNnRrSsZz"},
    {"\u0302", "ÂÊÎÔÛâêîôûĈĉĜĝĤĥĴĵŜŝŴŵŶŷ", "AEIOUaeiouCcGgHhJjSsWwYy"},
    {"\u0303", "ÃÑÕãñõĨĩŨũ", "ANOanoIiUu"},
    {"\u0304", "ĀāĒēĪīŌōŪū", "AaEeIiOoUu"},
    {"\u0306", "ĂăĔĕĞğĬĭŎŏŬŭ", "AaEeGgIiOoUu"},
    {"\u0307", "ĊċĖėĠġİŻż", "CcEeGgIZz"},
    {"\u0308", "ÄËÏÖÜäëïöüÿŸ", "AEIOUaeiouyY"},
    {"\u030A", "ÅåŮů", "AaUu"},
    {"\u030B", "ŐőŰű", "OoUu"},
    {"\u030C", "ČčĎďĚěĽľŇňŘřŠšŤťŽž", "CcDdEeLlNnRrSsTtZz"},
    {"\u0326", "ȘșȚț", "SsTt"},
    {"\u0327", "ÇçĢģĶķĻļŅņŖŗŞşŢţ", "CcGgKkLlNnRrSsTt"},
    {"\u0328", "ĄąĘęĮįŲų", "AaEeIiUu"},
}};
// Large and small letters of two bytes that are no letter with an accent.
constexpr std::string_view large_and_small = "ÆæÐðØøÞþĐđĦħŁłŊŋŒœŦŧ";

// Bytes of the first character; the text is UTF-8.
std::size_t first_length(std::string_view text) {
  const auto lead = static_cast<unsigned char>(text.front());
  const std::size_t length = lead < 0xC0 ? 1U : lead < 0xE0 ? 2U : lead < 0xF0 ? 3U : 4U;
  return std::min(length, text.size());
}

// The place of a letter of two bytes among such letters; npos where it is none of them.
std::size_t place_in(std::string_view letters, std::string_view letter) {
  for (std::size_t k = 0; k < letters.size() && letter.size() == 2; k += 2) {
    if (letters.substr(k, 2) == letter) {
      return k / 2;
    }
  }
  return std::string_view::npos;
}

// The ASCII character of which this is the full-width form (U+FF01 to U+FF5E); 0 where it is none.
char of_full_width(std::string_view letter) {
  if (letter.size() != 3 || letter[0] != '\xEF' || (letter[1] != '\xBC' && letter[1] != '\xBD')) {
    return 0;
  }
  const int at = (static_cast<unsigned char>(letter[2]) & 0x3F) + (letter[1] == '\xBD' ? 0x40 : 0);
  return at >= 1 && at <= 0x5E ? static_cast<char>(0x20 + at) : '\0';
}

void append_folded(std::string& out, std::string_view letter) {
  if (const char narrow = of_full_width(letter); narrow != 0) {
    out += ascii_lower(narrow);
    return;
  }
  for (const Accent& accent : accents) {
    if (const std::size_t at = place_in(accent.letters, letter); at != std::string_view::npos) {
      out += ascii_lower(accent.bases[at]);
      out += accent.mark;
      return;
    }
  }
  const std::size_t at = place_in(large_and_small, letter);
  out += at == std::string_view::npos ? letter : large_and_small.substr(2 * (at | 1U), 2);
}

template <typename Words>
bool is_one_of(const Words& words, std::string_view word) {
  return std::find(words.begin(), words.end(), word) != words.end();
}

}  // namespace

bool has_unseen(std::string_view text) {
  const bool ascii = std::all_of(text.begin(), text.end(), [](char c) { return static_cast<unsigned char>(c) < 0x80; });
  return !ascii && without_unseen(text) != text;
}

std::string without_unseen(std::string_view text) {
  std::string out;
  for (; !text.empty(); text.remove_prefix(first_length(text))) {
    const std::string_view letter = text.substr(0, first_length(text));
    if (is_one_of(blanks, letter)) {
      out += ' ';
    } else if (!is_one_of(nothings, letter)) {
      out += letter;
    }
  }
  return out;
}

std::string folded(std::string_view text) {
  std::string out;
  for (; !text.empty(); text.remove_prefix(first_length(text))) {
    const std::string_view letter = text.substr(0, first_length(text));
    if (letter.size() == 1) {
      out += ascii_lower(letter.front());
    } else {
      append_folded(out, letter);
    }
  }
  return out;
}

}  // namespace bagsplit::text
