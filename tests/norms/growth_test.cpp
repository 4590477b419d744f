// What growing up alone does, and how far times vary. Source: tables in data/norms, each with its citation.
#include "bagsplit/norms/growth.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace {

using namespace bagsplit::norms;
using bagsplit::runs::Sex;

class Growth : public ::testing::Test {
 protected:
  Catalogue catalogue_ = Catalogue::builtin();
};

// Computed: the rates of data/norms/growth-rates.csv (smoothed from the sources in its header) at 8.5 and 9.5 years,
// -4.2 and -3.7 % for boys, -4.0 and -4.0 % for girls; between them linear, so a year from middle to middle is their
// mean.
TEST_F(Growth, FollowsTheTableOfYearlyRates) {
  const auto boys = expected_change(catalogue_, Sex::male, 8.5, 9.5, 10.0);
  ASSERT_TRUE(boys);
  EXPECT_NEAR(boys->change_pct, 100.0 * (std::sqrt((1.0 - 0.042) * (1.0 - 0.037)) - 1.0), 1e-3);
  EXPECT_NEAR(boys->change_s, 0.1 * boys->change_pct, 1e-12);
  EXPECT_NEAR(boys->sd_s, 0.25, 1e-12);  // 2.5 % of 10 s
  EXPECT_NEAR(expected_change(catalogue_, Sex::female, 8.5, 9.5, 10.0)->change_pct, -4.0, 1e-9);
  // Identity: back again, halves compound, nothing in no time.
  const double half = expected_change(catalogue_, Sex::female, 8.5, 9.0, 1.0)->change_s;
  EXPECT_NEAR((1.0 + half) * (1.0 + half), 0.96, 1e-12);
  EXPECT_NEAR(1.0 + expected_change(catalogue_, Sex::female, 9.0, 8.5, 1.0)->change_s, 1.0 / (1.0 + half), 1e-12);
  EXPECT_EQ(expected_change(catalogue_, Sex::female, 9.0, 9.0, 1.0)->sd_s, 0.0);
}

// Source: Japan Sports Agency, fiscal 2017, boys, 50 m: 11.45 to 8.88 s from 6 to 11 years
// (means 10.62, 10.02, 9.55, 9.15 between), Tønnessen et al. (2015), doi:10.1371/journal.pone.0129014: 60 m, 13 to 16
// years, boys -3.7 -1.3 -2.3 %. The smooth table stays within 0.9 % a year of each.
TEST_F(Growth, IsNearThePublishedRates) {
  const struct {
    double from, rate_pct;
  } boys[] = {{6.0, -7.3},  {7.0, -5.6},  {8.0, -4.7},  {9.0, -3.8},
              {10.0, -4.4}, {13.0, -3.7}, {14.0, -1.3}, {15.0, -2.3}};
  for (const auto& year : boys) {
    EXPECT_NEAR(expected_change(catalogue_, Sex::male, year.from, year.from + 1.0, 1.0)->change_pct, year.rate_pct, 0.9)
        << year.from;
  }
}

// Identity: grown up at 18, nothing is said below 5.
TEST_F(Growth, EndsWithGrowingUp) {
  EXPECT_EQ(expected_change(catalogue_, Sex::male, 20.0, 21.0, 5.0)->change_s, 0.0);
  EXPECT_EQ(expected_change(catalogue_, Sex::male, 20.0, 21.0, 5.0)->sd_s, 0.0);
  EXPECT_NEAR(expected_change(catalogue_, Sex::male, 17.5, 19.0, 5.0)->change_s,
              expected_change(catalogue_, Sex::male, 17.5, 18.0, 5.0)->change_s, 1e-12);
  EXPECT_FALSE(expected_change(catalogue_, Sex::male, 4.5, 5.5, 5.0));
}

TEST_F(Growth, SpreadBetweenChildrenComesFromTheNearestRow) {
  const auto spread = between_children(catalogue_, 50.0, Sex::male, 9.5);
  ASSERT_TRUE(spread);
  // Source: Japan Sports Agency, fiscal 2017, boys "9": SD 0.75 s, CV 7.9 %
  EXPECT_EQ(spread->sd_s, 0.75);
  EXPECT_NEAR(spread->cv, 0.079, 1e-12);
  EXPECT_FALSE(between_children(catalogue_, 40.0, Sex::male, 9.5));
  EXPECT_FALSE(between_children(catalogue_, 20.0, Sex::male, 15.0));
}

TEST_F(Growth, TypicalErrorIsTheLargerForYoungerChildren) {
  // Source: Wannouch et al. (2024): typical error of 10 yd 4.6 % (male), 4.8 % (female)
  EXPECT_NEAR(within_child(catalogue_, 9.144, Sex::male, 14.0).cv, 0.046, 1e-9);
  EXPECT_NEAR(within_child(catalogue_, 9.144, Sex::female, 14.0).cv, 0.048, 1e-9);
  const auto child = within_child(catalogue_, 9.144, Sex::male, 9.0);
  EXPECT_GE(child.cv, 0.046);
  EXPECT_NE(child.source.find("no child under 12"), std::string::npos);
  const double thirty = within_child(catalogue_, 30.0, Sex::male, 14.0).cv;
  EXPECT_GT(thirty, 0.015);
  EXPECT_LT(thirty, 0.035);
}

TEST_F(Growth, AuditoryReactionPassesThroughThePublishedPoints) {
  // Source: Dev Med Child Neurol 26(4):490-494 (1984): 0.465 s at 5, 0.190 s at 15, adult level at 16
  EXPECT_NEAR(auditory_reaction_s(5.0), 0.465, 0.0005);
  EXPECT_NEAR(auditory_reaction_s(15.0), 0.190, 0.0005);
  EXPECT_EQ(auditory_reaction_s(16.0), auditory_reaction_s(40.0));
  EXPECT_EQ(auditory_reaction_s(3.0), auditory_reaction_s(5.0));
}

}  // namespace
