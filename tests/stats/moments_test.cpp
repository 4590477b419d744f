#include "bagsplit/stats/moments.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <stdexcept>
#include <vector>

#include "bagsplit/stats/random.hpp"
#include "bagsplit/stats/univariate.hpp"
#include "support/digits.hpp"

namespace bagsplit::stats {
namespace {

// Identity: however a sample is cut and in whatever order the parts come together, mean and variance are those of the
// whole.
TEST(Moments, ShardsMergeToTheWholeInAnyOrder) {
  RandomStream random(20261128);
  std::vector<double> values(100'000);
  for (double& value : values) {
    value = 4.2e6 + 0.3 * random.normal();
  }
  std::vector<Moments> shards;
  for (std::size_t at = 0; at < values.size();) {
    const std::size_t size = std::min(values.size() - at, std::size_t{1} + random.below(900));
    shards.push_back(Moments::of(std::span(values).subspan(at, size)));
    at += size;
  }
  for (int turn = 0; turn < 3; ++turn) {
    for (std::size_t i = shards.size(); i > 1; --i) {
      std::swap(shards[i - 1], shards[random.below(i)]);
    }
    Moments all;
    for (const Moments& shard : shards) {
      all.merge(shard);
    }
    EXPECT_EQ(all.count, values.size());
    EXPECT_DIGITS(all.mean, mean(values).value(), 14);
    EXPECT_DIGITS(all.variance().value(), variance(values).value(),
                  7);  // 0.3 at 4.2e6: eight digits are left of each deviation
  }
}

// Identity: the mean of shards' pairs (3, 5) and (4) is that of 3, 4, 5; variance 1.
TEST(Moments, AnEmptyShardChangesNothingAndOneValueHasNoVariance) {
  const double pair[] = {3.0, 5.0};
  const double one[] = {4.0};
  Moments sum = Moments::of(pair);
  sum.merge(Moments{});
  sum.merge(Moments::of(one));
  EXPECT_EQ(sum.count, 3U);
  EXPECT_EQ(sum.mean, 4.0);
  EXPECT_EQ(sum.variance(), 1.0);
  EXPECT_FALSE(Moments::of(one).variance());
  const double wrong[] = {1.0, std::numeric_limits<double>::quiet_NaN()};
  EXPECT_THROW(Moments::of(wrong), std::domain_error);
}

}  // namespace
}  // namespace bagsplit::stats
