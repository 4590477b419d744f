#include "bagsplit/text/number_text.hpp"

#include <gtest/gtest.h>

#include <charconv>
#include <cmath>
#include <cstdint>
#include <limits>

#include "bagsplit/present/probability_text.hpp"

namespace bagsplit::present {
namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr double not_a_number = std::numeric_limits<double>::quiet_NaN();

// Source: IEEE 754-2019, correctly rounded decimal conversion; 2.675 and 1.005 lie below their decimal text, 0.125 is
// exact and goes to even.
TEST(NumberText, FixedRoundsTheExactBinaryValue) {
  EXPECT_EQ(text::fixed(2.675, 2), "2.67");
  EXPECT_EQ(text::fixed(1.005, 2), "1.00");
  EXPECT_EQ(text::fixed(0.125, 2), "0.12");
  EXPECT_EQ(text::fixed(0.375, 2), "0.38");
  EXPECT_EQ(text::fixed(4.05, 2), "4.05");
  EXPECT_EQ(text::fixed(1e15, 0), "1000000000000000");
}

// Identity: minus zero is zero.
TEST(NumberText, NothingRoundsToMinusZero) {
  EXPECT_EQ(text::fixed(-0.004, 2), "0.00");
  EXPECT_EQ(text::fixed(-0.0, 2), "0.00");
  EXPECT_EQ(text::fixed(-0.4, 0), "0");
  EXPECT_EQ(text::fixed(-0.006, 2), "-0.01");
  EXPECT_EQ(text::shortest(-0.0), "0");
  EXPECT_EQ(text::signed_fixed(-0.001, 2), "0.00");
  EXPECT_EQ(text::signed_fixed(0.001, 2), "0.00");
  EXPECT_EQ(text::signed_fixed(0.25, 2), "+0.25");
  EXPECT_EQ(text::signed_fixed(-0.25, 2), "-0.25");
}

TEST(NumberText, AbsentIsADashForPeopleAndNothingForMachines) {
  EXPECT_EQ(text::fixed(std::optional<double>(), 2), "-");
  EXPECT_EQ(text::shortest(std::optional<double>()), "");
  EXPECT_EQ(text::fixed(std::optional<double>(1.5), 2), "1.50");
}

TEST(NumberText, WhatIsNotFiniteIsABugAndNeverText) {
  for (const double value : {infinity, -infinity, not_a_number}) {
    EXPECT_THROW(text::fixed(value, 2), std::domain_error);
    EXPECT_THROW(text::shortest(value), std::domain_error);
  }
}

// Identity: reading back what was written gives the same bits, for doubles of any exponent.
TEST(NumberText, ShortestReadsBackTheSame) {
  std::uint64_t state = 20260411;
  for (int i = 0; i < 2000; ++i) {
    state = state * 6364136223846793005ULL + 1442695040888963407ULL;
    const double value = std::ldexp(static_cast<double>(state >> 11U), static_cast<int>(state % 1800) - 900);
    const std::string text = text::shortest(value);
    double back = 0.0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), back);
    ASSERT_EQ(error, std::errc{});
    ASSERT_EQ(end, text.data() + text.size());
    ASSERT_EQ(back, value) << text;
  }
}

TEST(NumberText, CountsAndPercentages) {
  EXPECT_EQ(text::counted(0, "run"), "0 runs");
  EXPECT_EQ(text::counted(1, "run"), "1 run");
  EXPECT_EQ(text::counted(12, "run"), "12 runs");
  EXPECT_EQ(text::counted(2, "child", "children"), "2 children");
  EXPECT_EQ(text::percent(0.9), "90%");
  EXPECT_EQ(text::percent(0.995), "99.5%");
  EXPECT_EQ(text::percent(0.57), "57%");  // 100 * 0.57 is 56.99999999999999
}

// Computed: no draw of 4,000 without an event shows that its probability lies below 3 / 4000 (95% confidence), 0.99925.
TEST(NumberText, AProbabilityIsNeverACertainty) {
  EXPECT_EQ(probability_words(1.0, 3, 4000), "above 0.999");
  EXPECT_EQ(probability_words(0.9996, 3, 4000), "above 0.999");
  EXPECT_EQ(probability_words(0.9985, 3, 4000), "0.999");
  EXPECT_EQ(probability_words(0.0, 3, 4000), "below 0.001");
  EXPECT_EQ(probability_words(1.0, 3, 400), "above 0.992");
  EXPECT_EQ(probability_words(0.0, 3, 400), "below 0.008");
  EXPECT_EQ(probability_words(1.0, 2), "above 0.99");
  EXPECT_EQ(probability_words(0.002, 2), "below 0.01");
  EXPECT_EQ(probability_words(0.87, 2, 4000), "0.87");
  EXPECT_EQ(probability_cell(1.0, 2, 40000), ">0.99");
  EXPECT_EQ(probability_cell(0.0, 3, 4000), "<0.001");
  EXPECT_EQ(probability_cell(std::nullopt, 3, 4000), "-");
}

// Identity: beside "undecided below 0.95" what is below 0.95 does not read 0.95.
TEST(NumberText, AProbabilityStandsOnItsSideOfABound) {
  EXPECT_EQ(probability_words(0.947, 2, 4000, 0.95), "0.947");
  EXPECT_EQ(probability_words(0.9497, 2, 4000, 0.95), "0.9497");
  EXPECT_EQ(probability_words(0.9497, 3, 4000, 0.95), "0.9497");
  EXPECT_EQ(probability_words(0.95, 2, 4000, 0.95), "0.95");
  EXPECT_EQ(probability_words(0.953, 2, 4000, 0.95), "0.95");
  EXPECT_EQ(probability_words(0.0527, 2, 4000, 0.95), "0.053");
  EXPECT_EQ(probability_words(0.047, 2, 4000, 0.95), "0.05");
}

}  // namespace
}  // namespace bagsplit::present
