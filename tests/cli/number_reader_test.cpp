// Identity: what is no number stays text.
#include "cli/number_reader.hpp"

#include <gtest/gtest.h>

namespace {

using bagsplit::test::five_digits;
using bagsplit::test::near;
using bagsplit::test::NumberReader;

TEST(NumberReader, FindsNumbers) {
  NumberReader reader(R"({"a": -4.25, "b": 1e-07, "c": 3})");
  auto piece = reader.next();
  EXPECT_EQ(piece.text, R"({"a": -)");
  EXPECT_EQ(piece.value, 4.25);
  piece = reader.next();
  EXPECT_EQ(piece.text, R"(, "b": )");
  EXPECT_EQ(piece.value, 1e-07);
  EXPECT_FALSE(piece.is_whole());
  EXPECT_TRUE(reader.next().is_whole());
  EXPECT_FALSE(reader.next().value.has_value());
}

TEST(NumberReader, LeavesTimesOfDayVersionsAndWordsAlone) {
  EXPECT_FALSE(NumberReader("12:30 v1.2.3 1.2.3 a4.5 4.5m").next().value.has_value());
  EXPECT_EQ(NumberReader("It took 4.5.").next().value, 4.5);
}

TEST(NumberReader, BrokenNumbersMayDifferALittleWholeOnesAndWordsMayNot) {
  EXPECT_TRUE(near("x 1.0001 of 3", "x 1.0005 of 3"));
  EXPECT_TRUE(near("25", "24.9999999"));
  EXPECT_FALSE(near("x 1.0001 of 3", "x 1.0025 of 3"));
  EXPECT_FALSE(near("2026-04-11", "2026-04-12"));
  EXPECT_FALSE(near("2000 draws", "2001 draws"));
  EXPECT_FALSE(near("a 1.5", "b 1.5"));
  EXPECT_FALSE(near("1.5", "1.5, 1.5"));
}

TEST(NumberReader, RoundsToFiveDigits) {
  EXPECT_EQ(five_digits("x 0.123456789, 3.5, 1234567, 1.23456789e-12."), "x 0.12346, 3.5, 1234567, 1.2346e-12.");
}

}  // namespace
