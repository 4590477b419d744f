#include "bagsplit/text/text.hpp"

#include <gtest/gtest.h>

#include <array>
#include <string>

namespace {

namespace text = bagsplit::text;

// Source: The Unicode Standard 15.0, table 3-7 (well-formed UTF-8 byte sequences): first and last of each row, and one
// step outside it.
TEST(Text, WellFormedUtf8IsThatOfTheUnicodeTable) {
  for (const char* good :
       {"", "plain", "\xC2\x80", "\xDF\xBF", "\xE0\xA0\x80", "\xED\x9F\xBF", "\xEE\x80\x80", "\xEF\xBF\xBF",
        "\xF0\x90\x80\x80", "\xF4\x8F\xBF\xBF", "Zo\xC3\xAB ran well and truly past second"}) {
    EXPECT_EQ(text::first_invalid_utf8(good), std::string_view::npos) << good;
  }
  for (const char* bad : {"\x80", "\xC1\xBF", "\xC2", "\xE0\x9F\xBF", "\xED\xA0\x80", "\xEF\xBF", "\xF0\x8F\xBF\xBF",
                          "\xF4\x90\x80\x80", "\xF5\x80\x80\x80", "\xFF"}) {
    EXPECT_EQ(text::first_invalid_utf8(std::string("0123456789") + bad), 10U);
  }
}

// Identity: a code point is one character, whatever its bytes.
TEST(Text, CharactersAreCountedNotBytes) {
  EXPECT_EQ(text::count_characters(""), 0U);
  EXPECT_EQ(text::count_characters("abc"), 3U);
  EXPECT_EQ(text::count_characters("Zo\xC3\xAB"), 3U);
  EXPECT_EQ(text::count_characters("\xF0\x9F\x98\x80!"), 2U);
  EXPECT_EQ(text::count_characters("\xFFx"), 2U);
}

// Source: Damerau (1964), Communications of the ACM 7(3), 171-176: insertion, deletion, replacement, swap of
// neighbours.
TEST(Text, EditDistanceCountsTheFourKindsOfTypingError) {
  EXPECT_EQ(text::edit_distance("first", "first"), 0U);
  EXPECT_EQ(text::edit_distance("first", "fist"), 1U);
  EXPECT_EQ(text::edit_distance("first", "firsst"), 1U);
  EXPECT_EQ(text::edit_distance("first", "forst"), 1U);
  EXPECT_EQ(text::edit_distance("first", "frist"), 1U);
  EXPECT_EQ(text::edit_distance("kitten", "sitting"), 3U);
  EXPECT_EQ(text::edit_distance("", "home"), 4U);
  EXPECT_EQ(text::edit_distance("Home", "hOME"), 0U);
}

TEST(Text, TheNearestWordIsNamedOnlyWhenItIsNear) {
  constexpr std::array words{std::string_view("first"), std::string_view("second"), std::string_view("third")};
  EXPECT_EQ(text::nearest("frist", words), "first");
  EXPECT_EQ(text::nearest("thrid", words), "third");
  EXPECT_FALSE(text::nearest("temperature", words));
  EXPECT_FALSE(text::nearest(std::string(100000, 'f'), words));
}

TEST(Text, ClippingKeepsCharactersWhole) {
  EXPECT_EQ(text::clipped("abc", 3), "abc");
  EXPECT_EQ(text::clipped("abcd", 3), "abc...");
  EXPECT_EQ(text::clipped("ab\xC3\xAB"
                          "d",
                          3),
            "ab...");
}

}  // namespace
