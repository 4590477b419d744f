#include "bagsplit/stats/mixture_of_normals.hpp"

#include <gtest/gtest.h>

#include <stdexcept>
#include <vector>

#include "bagsplit/stats/distributions.hpp"

namespace bagsplit::stats {
namespace {

// Identity: moments of a mixture; one part is the normal itself; a part with SD 0 is a step; quantile and below are
// each other's inverse.
TEST(MixtureOfNormals, MomentsBelowAndQuantile) {
  const std::vector<double> weights{0.25, 0.75};
  const MixtureOfNormals two(weights, {-1.0, 3.0}, {0.5, 2.0});
  EXPECT_DOUBLE_EQ(two.mean(), 2.0);
  EXPECT_NEAR(two.sd() * two.sd(), 0.25 * (0.25 + 9.0) + 0.75 * (4.0 + 1.0), 1e-12);
  for (const double p : {0.001, 0.05, 0.3, 0.5, 0.9, 0.999}) {
    EXPECT_NEAR(two.below(two.quantile(p)), p, 1e-8) << p;
  }
  const std::vector<double> whole{1.0};
  const MixtureOfNormals one(whole, {2.0}, {3.0});
  EXPECT_NEAR(one.quantile(0.95), 2.0 + 3.0 * normal_quantile(0.95), 1e-8);
  const MixtureOfNormals spike(weights, {0.0, 1.0}, {0.0, 1.0});
  EXPECT_NEAR(spike.below(0.0) - spike.below(-1e-9), 0.25, 1e-6);
  EXPECT_THROW(one.quantile(1.0), std::domain_error);
}

}  // namespace
}  // namespace bagsplit::stats
