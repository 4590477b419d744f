#include "bagsplit/runs/typed.hpp"

#include <gtest/gtest.h>

#include <cstdlib>
#include <random>
#include <string>

namespace {

using namespace bagsplit::runs;

// Identity: what a person reads off a watch.
TEST(TypedTimes, SecondsAndMinutesAreRead) {
  EXPECT_EQ(parse_time_s("3.52", false), 3.52);
  EXPECT_EQ(parse_time_s("3,52", true), 3.52);
  EXPECT_EQ(parse_time_s("16", false), 16.0);
  EXPECT_EQ(parse_time_s(".25", false), 0.25);
  EXPECT_EQ(parse_time_s("0", false), 0.0);
  EXPECT_EQ(parse_time_s("1:04.05", false), 64.05);
  EXPECT_EQ(parse_time_s("0:04.05", false), 4.05);
  EXPECT_EQ(parse_time_s("1:04", false), 64.0);
  EXPECT_EQ(parse_time_s("1:04,5", true), 64.5);
  EXPECT_EQ(parse_time_s("60:00", false), 3600.0);
}

TEST(TypedTimes, AnythingElseIsRefused) {
  for (const char* text : {"",         " ",   ".",      "3.",    "3..5", "4.05.3", "4:5",   "4:60",
                           "4:005",    ":04", "1:2:03", "-1",    "+1",   "3,52",   "1e1",   "0x1p3",
                           "inf",      "nan", "1e999",  "4.05s", "4.o5", "3601",   "61:00", "99999999999999999999",
                           "1:04.05.1"}) {
    EXPECT_FALSE(parse_time_s(text, false)) << text;
  }
  EXPECT_FALSE(parse_time_s("3,5,2", true));
  EXPECT_FALSE(parse_time_s("3.5,2", true));
}

// Computed: glibc strtod in the C locale, which rounds correctly.
TEST(TypedTimes, TheDoubleNearestToTheDecimalIsTaken) {
  std::mt19937_64 random(1);
  for (int round = 0; round < 20000; ++round) {
    std::string text = std::to_string(random() % 3600) + ".";
    for (std::size_t n = 1 + random() % 20; n > 0; --n) {
      text += static_cast<char>('0' + random() % 10);
    }
    ASSERT_EQ(parse_time_s(text, false), std::strtod(text.c_str(), nullptr)) << text;
  }
}

// Common practice, no source: hints name what was probably meant.
TEST(TypedTimes, HintsPointAtTheTypingError) {
  EXPECT_EQ(time_hint("4:o5", false), "a letter o stands where a zero may be meant");
  EXPECT_EQ(time_hint("4.l5", false), "a letter stands where a one may be meant");
  EXPECT_EQ(time_hint("4,05", false),
            "a decimal comma is read only in files separated by semicolons or tabs: write a point");
  EXPECT_EQ(time_hint("4.05.3", false), "two decimal points: if minutes are meant write 4:05.3, if not perhaps 4.053");
  EXPECT_EQ(time_hint("1.04.05", false),
            "two decimal points: if minutes are meant write 1:04.05, if not perhaps 1.0405");
  EXPECT_EQ(time_hint("1.234,5", true), "both a comma and a point: only one decimal mark may stand");
  EXPECT_EQ(time_hint("00:04:05", false),
            "hours, minutes and seconds, as a spreadsheet may write them: format the column as text and type it again");
  EXPECT_EQ(time_hint("1:75.0", false), "seconds after the colon must be below 60");
  EXPECT_EQ(time_hint("4.05s", false), "leave out the unit: times are in seconds");
  EXPECT_EQ(time_hint("DNF", false),
            "leave a missing time empty, and say why in the column 'flag' (fall, absent, void, ...)");
  EXPECT_EQ(time_hint("-4.05", false), "a time has no sign");
  EXPECT_EQ(time_hint("4 05", false), "a decimal point may be meant between the digits");
  EXPECT_EQ(time_hint("40500", false), "more than an hour: is a decimal point missing?");
  EXPECT_EQ(time_hint("what", false), "");
}

std::string read(std::string_view text, DateOrder order) {
  const auto date = parse_date(text, order);
  return date ? format_date(*date) : "none";
}

// Source: ISO 8601-1:2019, calendar dates in extended format; leap years by the Gregorian rule.
TEST(TypedDates, IsoDatesAndNamedOrdersAreRead) {
  EXPECT_EQ(read("2026-04-11", DateOrder::iso), "2026-04-11");
  EXPECT_EQ(read("2024-02-29", DateOrder::iso), "2024-02-29");
  EXPECT_EQ(read("2000-02-29", DateOrder::iso), "2000-02-29");
  EXPECT_EQ(read("2100-02-29", DateOrder::iso), "none");
  EXPECT_EQ(read("2026-02-30", DateOrder::iso), "none");
  EXPECT_EQ(read("0000-13-40", DateOrder::iso), "none");
  EXPECT_EQ(read("1899-12-31", DateOrder::iso), "none");
  EXPECT_EQ(read("2026-4-11", DateOrder::iso), "none");
  EXPECT_EQ(read("11/04/2026", DateOrder::iso), "none");
  EXPECT_EQ(read("11/04/2026", DateOrder::dmy), "2026-04-11");
  EXPECT_EQ(read("11.4.2026", DateOrder::dmy), "2026-04-11");
  EXPECT_EQ(read("4-11-2026", DateOrder::mdy), "2026-04-11");
  EXPECT_EQ(read("2026-04-11", DateOrder::mdy), "2026-04-11");
  EXPECT_EQ(read("31/04/2026", DateOrder::dmy), "none");
  // Common practice, no source: two digits of a year are of this century, a month by name stands in no order.
  EXPECT_EQ(read("11/04/26", DateOrder::dmy), "2026-04-11");
  EXPECT_EQ(read("11.04.26", DateOrder::mdy), "2026-11-04");
  EXPECT_EQ(read("11.04.26", DateOrder::iso), "none");
  EXPECT_EQ(read("11.04.126", DateOrder::dmy), "none");
  for (const char* text : {"11-Apr-26", "11-Apr-2026", "11 april 2026", "11.APR.26"}) {
    for (const DateOrder order : {DateOrder::iso, DateOrder::dmy, DateOrder::mdy}) {
      EXPECT_EQ(read(text, order), "2026-04-11") << text;
    }
  }
  for (const char* text : {"31-Apr-26", "11-Apr", "11-Apx-26", "11-Apr-126", "2026-Apr-11", "-Apr-26"}) {
    EXPECT_EQ(read(text, DateOrder::dmy), "none") << text;
  }
}

// Common practice, no source: hints name what was probably meant.
TEST(TypedDates, HintsTellTheOrdersApart) {
  EXPECT_EQ(date_hint("11/04/2026", DateOrder::iso),
            "write 2026-04-11 or 2026-11-04; or put '# dates: dmy' (11 April) or '# dates: mdy' (4 November) before "
            "the header");
  EXPECT_EQ(date_hint("25/04/2026", DateOrder::iso), "write 2026-04-25, or put '# dates: dmy' before the header");
  EXPECT_EQ(date_hint("04/25/2026", DateOrder::iso), "write 2026-04-25, or put '# dates: mdy' before the header");
  EXPECT_EQ(date_hint("04/25/2026", DateOrder::dmy), "it would be a date under '# dates: mdy'");
  EXPECT_EQ(date_hint("2026/4/11", DateOrder::iso), "write 2026-04-11");
  EXPECT_EQ(date_hint("20260411", DateOrder::iso), "write 2026-04-11");
  EXPECT_EQ(date_hint("2026-04-11T18:30", DateOrder::iso), "leave out the time of day: 2026-04-11");
  EXPECT_EQ(date_hint("2026-02-30", DateOrder::iso), "there is no 30 February in 2026");
  EXPECT_EQ(date_hint("2026-13-40", DateOrder::iso), "there is no month 13");
  EXPECT_EQ(date_hint("2o26-04-11", DateOrder::iso), "a letter stands where a digit may be meant: 2026-04-11");
  EXPECT_EQ(date_hint("11/04/26", DateOrder::iso),
            "write 2026-04-11 or 2026-11-04; or put '# dates: dmy' (11 April) or '# dates: mdy' (4 November) before "
            "the header");
  EXPECT_EQ(date_hint("26-04-11", DateOrder::iso), "write the year with four digits, and first: 2011-mm-dd");
  EXPECT_EQ(date_hint("11-Apr", DateOrder::iso), "the year is missing: 11-Apr of which year?");
  EXPECT_EQ(date_hint("31-Apr-26", DateOrder::iso), "there is no 31 April in 2026");
  EXPECT_EQ(date_hint("Tuesday", DateOrder::iso), "");
}

// Identity: a number written and read again is the same.
// Identity: 46123 days after 1899-12-30.
TEST(TypedDates, AMonthMayComeFirstAndADayNumberIsTold) {
  for (const char* text : {"April 11, 2026", "Apr 11 2026", "apr. 11, 2026", "April 11,2026"}) {
    const auto date = parse_date(text, DateOrder::iso);
    ASSERT_TRUE(date) << text;
    EXPECT_EQ(format_date(*date), "2026-04-11") << text;
  }
  for (const char* text : {"Apr-26", "April 2026", "April 11", "April 31, 2026", "Apr 11 26", "46123"}) {
    EXPECT_FALSE(parse_date(text, DateOrder::iso)) << text;
  }
  EXPECT_NE(date_hint("46123", DateOrder::iso).find("2026-04-11"), std::string::npos);
  EXPECT_NE(date_hint("46123.0", DateOrder::mdy).find("2026-04-11"), std::string::npos);
}

// Identity: a first move may have a minus, a time may not.
TEST(TypedTimes, AFirstMoveMayComeBeforeTheCall) {
  EXPECT_EQ(parse_move_s("-0.2", false), -0.2);
  EXPECT_EQ(parse_move_s("-0,2", true), -0.2);
  EXPECT_EQ(parse_move_s("0.2", false), 0.2);
  EXPECT_FALSE(parse_move_s("-5.01", false));
  EXPECT_FALSE(parse_move_s("--1", false));
  EXPECT_FALSE(parse_time_s("-0.2", false));
  EXPECT_EQ(time_hint("60'", false).substr(0, 18), "leave out the mark");
  EXPECT_EQ(time_hint("\u22120.2", false), "a minus as it is printed: write -");
}

TEST(TypedNumbers, WrittenNumbersReadBack) {
  std::mt19937_64 random(2);
  std::uniform_real_distribution<double> draw(0.0, 100.0);
  for (int round = 0; round < 10000; ++round) {
    const double value = draw(random) * (round % 2 == 0 ? 1e-6 : 1.0);
    ASSERT_EQ(parse_decimal(format_number(value), false), value);
    const auto small = static_cast<float>(value);
    ASSERT_EQ(static_cast<float>(*parse_decimal(format_number(small), false)), small);
  }
  EXPECT_EQ(format_number(-0.0), "0");
  EXPECT_EQ(format_number(18.288F), "18.288");
  EXPECT_EQ(parse_decimal("-1,5", true), -1.5);
  EXPECT_FALSE(parse_decimal("1e5", false));
  EXPECT_FALSE(parse_count("0", 1, 9));
  EXPECT_FALSE(parse_count("99999999999", 0, 4000000000U));
}

}  // namespace
