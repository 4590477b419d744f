#include "bagsplit/text/display.hpp"

#include <gtest/gtest.h>

#include "bagsplit/text/text_width.hpp"

namespace bagsplit::present {
namespace {

// Computed: Python 3.11, unicodedata.east_asian_width and category of each character.
TEST(Display, CountsCellsAndNotBytes) {
  EXPECT_EQ(text::display_width(""), 0U);
  EXPECT_EQ(text::display_width("Ada"), 3U);
  EXPECT_EQ(text::display_width("Zo\xC3\xAB"), 3U);                            // e with diaeresis, one character
  EXPECT_EQ(text::display_width("Zoe\xCC\x88"), 3U);                           // e and a combining diaeresis
  EXPECT_EQ(text::display_width("\xE5\xB1\xB1\xE7\x94\xB0"), 4U);              // two wide ideographs
  EXPECT_EQ(text::display_width("\xEF\xBD\xB1"), 1U);                          // half-width katakana
  EXPECT_EQ(text::display_width("\xF0\x9F\x8F\x83"), 2U);                      // runner
  EXPECT_EQ(text::display_width("\xE0\xB9\x81\xE0\xB8\x99\xE0\xB9\x88"), 2U);  // Thai with a tone mark
  EXPECT_EQ(text::display_width("\xD7\xA9\xD6\xB8"), 1U);                      // Hebrew letter with a point
}

TEST(Display, BytesThatAreNoTextTakeOneCellEach) {
  EXPECT_EQ(text::display_width("a\xFF"
                                "b"),
            3U);
  EXPECT_EQ(text::display_width("\xC3"), 1U);
  EXPECT_EQ(text::display_width("\xE5\xB1"), 2U);
}

TEST(Display, NothingInAFileCanSteerTheTerminal) {
  EXPECT_EQ(text::printable("a\x1B[31mb"), "a\xEF\xBF\xBD[31mb");
  EXPECT_EQ(text::one_line("a\tb\n"), "a b\xEF\xBF\xBD");
  EXPECT_EQ(text::printable("\xC2\x9B"), "\xEF\xBF\xBD");      // control sequence introducer, 8 bit
  EXPECT_EQ(text::printable("\xE2\x80\xAE"), "\xEF\xBF\xBD");  // right-to-left override
  EXPECT_EQ(text::printable("Zo\xC3\xAB \xFF"), "Zo\xC3\xAB \xEF\xBF\xBD");
}

TEST(Display, PadsByCells) {
  EXPECT_EQ(text::padded("Zo\xC3\xAB", 5, text::Align::left), "Zo\xC3\xAB  ");
  EXPECT_EQ(text::padded("Zo\xC3\xAB", 5, text::Align::right), "  Zo\xC3\xAB");
  EXPECT_EQ(text::padded("longer", 3, text::Align::right), "longer");
}

TEST(Display, ShortensByCellsAndSaysSo) {
  EXPECT_EQ(text::shortened("abcdef", 6), "abcdef");
  EXPECT_EQ(text::shortened("abcdefg", 6), "abc...");
  EXPECT_EQ(text::shortened("\xE5\xB1\xB1\xE7\x94\xB0\xE5\xB1\xB1", 5), "\xE5\xB1\xB1...");
  EXPECT_EQ(text::shortened("\xE5\xB1\xB1\xE7\x94\xB0\xE5\xB1\xB1", 4), "...");
  EXPECT_EQ(text::shortened("abc", 2), "..");
}

// Identity: the words of the lines, in order, are the words of the text.
TEST(Display, WrapsAtBlanks) {
  EXPECT_EQ(text::wrapped("one two three", 7), (std::vector<std::string>{"one two", "three"}));
  EXPECT_EQ(text::wrapped("  one\ntwo ", 80), (std::vector<std::string>{"one two"}));
  EXPECT_EQ(text::wrapped("unbreakable x", 4), (std::vector<std::string>{"unbreakable", "x"}));
  EXPECT_TRUE(text::wrapped(" ", 10).empty());
  EXPECT_EQ(text::paragraph("one two three", 16, "  * "), "  * one two\n    three\n");
}

}  // namespace
}  // namespace bagsplit::present
