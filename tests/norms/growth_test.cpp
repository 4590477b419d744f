// How far times vary. Source: tables in data/norms, each with its citation.
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
