// Identity: what is no broken number stays text.
#include "cli/number_reader.hpp"

#include <gtest/gtest.h>

namespace {

using bagsplit::test::five_digits;
using bagsplit::test::NumberReader;

TEST(NumberReader, FindsNumbersWithAPointOrAnExponent) {
  NumberReader reader(R"({"a": -4.25, "b": 1e-07})");
  auto piece = reader.next();
  EXPECT_EQ(piece.text, R"({"a": -)");
  EXPECT_EQ(piece.value, 4.25);
  piece = reader.next();
  EXPECT_EQ(piece.text, R"(, "b": )");
  EXPECT_EQ(piece.value, 1e-07);
  EXPECT_FALSE(reader.next().value.has_value());
}

TEST(NumberReader, LeavesDatesVersionsWordsAndWholeNumbersAlone) {
  EXPECT_FALSE(NumberReader("2026-04-11 12:30 v1.2.3 1.2.3 a4.5 4.5m 17 4.").next().value.has_value());
  EXPECT_EQ(NumberReader("It took 4.5.").next().value, 4.5);
}

TEST(NumberReader, RoundsToFiveDigits) {
  EXPECT_EQ(five_digits("x 0.123456789, 3.5, 12, 1.23456789e-12."), "x 0.12346, 3.5, 12, 1.2346e-12.");
  EXPECT_EQ(five_digits("12.0000001"), "12.0");
}

}  // namespace
