// The words and the rule of "surely".
#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "bagsplit/inference/season/verdict.hpp"
#include "bagsplit/stats/random.hpp"

namespace {

using namespace bagsplit::season;

Verdict alone(double p_faster, double p_slower, double p_as_growth = 0.0, bool seen = true) {
  const std::vector<Judged> children{{p_faster, p_slower, p_as_growth, seen}};
  return verdicts(children)[0];
}

// Identity: the bounds of the words, as the header states them.
TEST(Verdict, FollowsItsBounds) {
  EXPECT_EQ(alone(0.96, 0.0), Verdict::surely_faster);
  EXPECT_EQ(alone(0.94, 0.0), Verdict::probably_faster);  // alone, 0.06 is more than 1 in 20
  EXPECT_EQ(alone(0.01, 0.75), Verdict::probably_slower);
  EXPECT_EQ(alone(0.74, 0.1), Verdict::leaning_faster);
  EXPECT_EQ(alone(0.1, 0.5), Verdict::leaning_slower);
  EXPECT_EQ(alone(0.04, 0.02, 0.92), Verdict::as_growth_says);
  EXPECT_EQ(alone(0.30, 0.10, 0.55), Verdict::no_sign);
}

// Identity: of a set whose mean 1 - p is 0.05 every child from 0.90 on is sure; one more would be too many.
TEST(Verdict, SurelyHoldsForTheSetAsAWhole) {
  const std::vector<Judged> children{{0.99, 0.0}, {0.0, 0.98}, {0.91, 0.0}, {0.90, 0.0}};
  const auto got = verdicts(children);  // means of 1 - p: 0.01, 0.015, 0.04, 0.055
  EXPECT_EQ(got[0], Verdict::surely_faster);
  EXPECT_EQ(got[1], Verdict::surely_slower);
  EXPECT_EQ(got[2], Verdict::surely_faster);
  EXPECT_EQ(got[3], Verdict::probably_faster);
}

// Identity: many sure ones do not make one of 0.85 sure.
TEST(Verdict, SurelyHasAFloor) {
  std::vector<Judged> children(20, {0.999, 0.0});
  children.push_back({0.85, 0.0});
  EXPECT_EQ(verdicts(children).back(), Verdict::probably_faster);
}

// Common practice, no source: a word needs both ends of the season, unless it is sure.
TEST(Verdict, SaysWhereAChildWasNotSeenEarlyAndLate) {
  EXPECT_EQ(alone(0.80, 0.0, 0.0, false), Verdict::not_seen_early_and_late);
  EXPECT_EQ(alone(0.99, 0.0, 0.0, false), Verdict::surely_faster);
  EXPECT_TRUE(verdicts({}).empty());
  EXPECT_EQ(words(Verdict::as_growth_says), "as growth says");
}

// Computed: by simulation here: estimates drawn about the change that is said to be told, judged by the Bayes factor of
// the rule written out as two normal densities. Identity: the information is the inverse of the change.
TEST(Verdict, TheLeastChangeToldIsToldAsOftenAsSaid) {
  bagsplit::stats::RandomStream random(20261201);
  for (const double information : {200.0, 2000.0}) {
    constexpr double share = 0.25, size = 0.14;
    const double change = detectable_change(information, share, size, 1.0);
    EXPECT_NEAR(information_to_tell(change, share, size, 1.0) / information, 1.0, 1e-6);
    const double var = 1.0 / information;
    int told = 0;
    constexpr int draws = 4000;
    for (int i = 0; i < draws; ++i) {
      const double y = change + std::sqrt(var) * random.normal();
      const double with = std::exp(-0.5 * y * y / (var + size * size)) / std::sqrt(var + size * size);
      const double without = std::exp(-0.5 * y * y / var) / std::sqrt(var);
      told += share * with / (share * with + (1.0 - share) * without) >= 0.75 ? 1 : 0;
    }
    EXPECT_NEAR(static_cast<double>(told) / draws, 0.8, 0.03) << information;
  }
}

}  // namespace
