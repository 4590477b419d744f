#include "bagsplit/text/display.hpp"

#include <gtest/gtest.h>

#include "bagsplit/text/text_width.hpp"

namespace bagsplit::present {
namespace {

// Computed: Python 3.11, unicodedata.east_asian_width and category of each character.
TEST(Display, CountsCellsAndNotBytes) {
  EXPECT_EQ(display_width(""), 0U);
  EXPECT_EQ(display_width("Ada"), 3U);
  EXPECT_EQ(display_width("Zo\xC3\xAB"), 3U);                            // e with diaeresis, one character
  EXPECT_EQ(display_width("Zoe\xCC\x88"), 3U);                           // e and a combining diaeresis
  EXPECT_EQ(display_width("\xE5\xB1\xB1\xE7\x94\xB0"), 4U);              // two wide ideographs
  EXPECT_EQ(display_width("\xEF\xBD\xB1"), 1U);                          // half-width katakana
  EXPECT_EQ(display_width("\xF0\x9F\x8F\x83"), 2U);                      // runner
  EXPECT_EQ(display_width("\xE0\xB9\x81\xE0\xB8\x99\xE0\xB9\x88"), 2U);  // Thai with a tone mark
  EXPECT_EQ(display_width("\xD7\xA9\xD6\xB8"), 1U);                      // Hebrew letter with a point
}

TEST(Display, BytesThatAreNoTextTakeOneCellEach) {
  EXPECT_EQ(display_width("a\xFF"
                          "b"),
            3U);
  EXPECT_EQ(display_width("\xC3"), 1U);
  EXPECT_EQ(display_width("\xE5\xB1"), 2U);
}

TEST(Display, NothingInAFileCanSteerTheTerminal) {
  EXPECT_EQ(printable("a\x1B[31mb"), "a\xEF\xBF\xBD[31mb");
  EXPECT_EQ(one_line("a\tb\n"), "a b\xEF\xBF\xBD");
  EXPECT_EQ(printable("\xC2\x9B"), "\xEF\xBF\xBD");      // control sequence introducer, 8 bit
  EXPECT_EQ(printable("\xE2\x80\xAE"), "\xEF\xBF\xBD");  // right-to-left override
  EXPECT_EQ(printable("Zo\xC3\xAB \xFF"), "Zo\xC3\xAB \xEF\xBF\xBD");
}

TEST(Display, PadsByCells) {
  EXPECT_EQ(padded("Zo\xC3\xAB", 5, Align::left), "Zo\xC3\xAB  ");
  EXPECT_EQ(padded("Zo\xC3\xAB", 5, Align::right), "  Zo\xC3\xAB");
  EXPECT_EQ(padded("longer", 3, Align::right), "longer");
}

TEST(Display, ShortensByCellsAndSaysSo) {
  EXPECT_EQ(shortened("abcdef", 6), "abcdef");
  EXPECT_EQ(shortened("abcdefg", 6), "abc...");
  EXPECT_EQ(shortened("\xE5\xB1\xB1\xE7\x94\xB0\xE5\xB1\xB1", 5), "\xE5\xB1\xB1...");
  EXPECT_EQ(shortened("\xE5\xB1\xB1\xE7\x94\xB0\xE5\xB1\xB1", 4), "...");
  EXPECT_EQ(shortened("abc", 2), "..");
}

// Identity: the words of the lines, in order, are the words of the text.
TEST(Display, WrapsAtBlanks) {
  EXPECT_EQ(wrapped("one two three", 7), (std::vector<std::string>{"one two", "three"}));
  EXPECT_EQ(wrapped("  one\ntwo ", 80), (std::vector<std::string>{"one two"}));
  EXPECT_EQ(wrapped("unbreakable x", 4), (std::vector<std::string>{"unbreakable", "x"}));
  EXPECT_TRUE(wrapped(" ", 10).empty());
  EXPECT_EQ(paragraph("one two three", 16, "  * "), "  * one two\n    three\n");
}

}  // namespace
}  // namespace bagsplit::present
