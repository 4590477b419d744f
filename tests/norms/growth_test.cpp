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

TEST_F(Growth, FiftyMetresFollowsTheJapaneseMeans) {
  const auto change = expected_change(catalogue_, 50.0, Sex::male, 8.8, 9.8, 10.5);
  ASSERT_TRUE(change);
  // Source: Japan Sports Agency, fiscal 2017, boys: 10.02 s at 8, 9.55 s at 9
  EXPECT_NEAR(change->change_pct, 100.0 * (9.55 / 10.02 - 1.0), 1e-9);
  EXPECT_NEAR(change->change_s, 10.5 * (9.55 / 10.02 - 1.0), 1e-9);
  // Identity: over the border of two years of the survey
  const auto girls = expected_change(catalogue_, 50.0, Sex::female, 11.8, 12.8, 9.0);
  ASSERT_TRUE(girls);
  // Source: fiscal 2017, girls "11" 9.12 s; fiscal 2015, girls "12" 9.02 s
  EXPECT_NEAR(girls->change_pct, 100.0 * (9.02 / 9.12 - 1.0), 1e-9);
}

TEST_F(Growth, ThirtyMetresUsesTheReviewBetween12And16) {
  const auto change = expected_change(catalogue_, 30.0, Sex::male, 13.0, 14.0, 5.0);
  ASSERT_TRUE(change);
  // Source: PLoS ONE 19(1):e0296181 (2024): boys 3.6 % a year over 30 m, 12-16 y
  EXPECT_NEAR(change->change_pct, -3.6, 1e-9);
  // Identity: half a year compounds
  EXPECT_NEAR(expected_change(catalogue_, 30.0, Sex::female, 13.0, 13.5, 5.0)->change_pct,
              100.0 * (std::sqrt(1.0 - 0.019) - 1.0), 1e-9);
  EXPECT_FALSE(expected_change(catalogue_, 30.0, Sex::male, 10.0, 11.0, 5.0));
  EXPECT_FALSE(expected_change(catalogue_, 5.0, Sex::male, 13.0, 14.0, 1.5));
}

TEST_F(Growth, TwentyMetresIsHeldForOneYearOfAgeOnly) {
  const auto change = expected_change(catalogue_, 20.0, Sex::male, 8.125, 8.875, 4.4);
  ASSERT_TRUE(change);
  // Source: Fuehner et al. (2021) data, medians 4.4051 and 4.3226 s of the two bins
  EXPECT_NEAR(change->change_pct, 100.0 * (4.3226 / 4.4051 - 1.0), 1e-9);
  EXPECT_FALSE(expected_change(catalogue_, 20.0, Sex::male, 8.5, 9.5, 4.4));
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
