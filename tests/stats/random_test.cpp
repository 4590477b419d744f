#include "bagsplit/stats/random.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <stdexcept>
#include <vector>

#include "bagsplit/stats/distributions.hpp"

namespace {

using bagsplit::stats::for_each_index;
using bagsplit::stats::RandomStream;

// Identity: the same seed and index give the same numbers, another index others.
TEST(Random, StreamsRepeatAndDiffer) {
  RandomStream a(1, 5), b(1, 5), c(1, 6), d(2, 5);
  const auto first = a.bits();
  EXPECT_EQ(first, b.bits());
  EXPECT_NE(first, c.bits());
  EXPECT_NE(first, d.bits());
}

// Source: ISO C++ standard, [rand.predef]: the 10000th output of a default std::mt19937_64 is 9981545732273789042, so
// the engine underneath is the same everywhere.
TEST(Random, TheEngineIsTheOneOfTheStandard) {
  std::mt19937_64 engine;
  engine.discard(9999);
  EXPECT_EQ(engine(), 9981545732273789042ULL);
}

// Identity: chi-square of 20 equal bins of 200,000 uniform draws, and of whole numbers below 7; both must stay below
// the 1 - 1e-6 quantile (the seeds are fixed, so the tests repeat).
TEST(Random, UniformDrawsAreUniform) {
  RandomStream random(11);
  std::vector<double> bins(20, 0.0), small(7, 0.0);
  for (int i = 0; i < 200'000; ++i) {
    const double u = random.uniform();
    ASSERT_TRUE(u >= 0.0 && u < 1.0);
    bins[static_cast<std::size_t>(u * 20.0)] += 1.0;
    small[random.below(7)] += 1.0;
  }
  const auto chi2 = [](const std::vector<double>& counts) {
    const double expected = std::accumulate(counts.begin(), counts.end(), 0.0) / static_cast<double>(counts.size());
    double total = 0.0;
    for (const double c : counts) total += (c - expected) * (c - expected) / expected;
    return total;
  };
  EXPECT_LT(chi2(bins), bagsplit::stats::chi_square_quantile(1 - 1e-6, 19));
  EXPECT_LT(chi2(small), bagsplit::stats::chi_square_quantile(1 - 1e-6, 6));
}

// Identity: moments of the normal (0, 1, 0, 3) within five standard errors of 100,000 draws.
TEST(Random, NormalMoments) {
  RandomStream random(12);
  const double n = 100'000;
  double m1 = 0, m2 = 0, m3 = 0, m4 = 0;
  for (int i = 0; i < 100'000; ++i) {
    const double z = random.normal();
    m1 += z / n;
    m2 += z * z / n;
    m3 += z * z * z / n;
    m4 += z * z * z * z / n;
  }
  const double s = 5.0 / std::sqrt(n);
  EXPECT_NEAR(m1, 0.0, s);
  EXPECT_NEAR(m2, 1.0, s * std::sqrt(2.0));
  EXPECT_NEAR(m3, 0.0, s * std::sqrt(15.0));
  EXPECT_NEAR(m4, 3.0, s * std::sqrt(96.0));
}

// Identity: every index once, whatever the number of threads; the first exception by index comes through.
TEST(Random, EveryIndexOnce) {
  for (const unsigned threads : {0u, 1u, 3u, 50u}) {
    std::vector<int> seen(37, 0);
    for_each_index(seen.size(), threads, [&](std::size_t i) { ++seen[i]; });
    EXPECT_EQ(std::count(seen.begin(), seen.end(), 1), 37) << threads;
  }
  for_each_index(0, 4, [](std::size_t) { FAIL(); });
  EXPECT_THROW(for_each_index(10, 4,
                              [](std::size_t i) {
                                if (i == 3) throw std::runtime_error("3");
                              }),
               std::runtime_error);
  RandomStream random(1);
  EXPECT_THROW(random.below(0), std::domain_error);
  EXPECT_EQ(random.below(1), 0u);
}

}  // namespace
