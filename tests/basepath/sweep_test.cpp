// Over the whole range of runners: every path is certified, and a finer aim changes little.
#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "bagsplit/basepath/path.hpp"

namespace {

using namespace bagsplit::basepath;

TEST(Sweep, RunnersOfEverySizeGetACertifiedPath) {
  // Identity: the status the solver promises; fixed seed, so red means broken.
  std::mt19937 engine(31);
  const auto between = [&](double low, double high) {
    return low * std::pow(high / low, static_cast<double>(engine()) / 4294967295.0);
  };
  double worst = 0.0;
  for (int k = 0; k < 400; ++k) {
    const double top = between(3.0, 10.0);
    const double tau = top / between(3.0, 10.0);
    const RunnerLimits l{top, tau, between(2.5, 7.0), between(2.0, 5.0)};
    const double base = between(15.24, 27.432);
    PathProblem p;
    p.points = {{0.0, 0.0}, {base, 0.0}, {base, base}, {0.0, base}, {0.0, 0.0}};
    p.points.resize(2U + static_cast<std::size_t>(k) % 3U + 1U);
    p.stop = k % 2 == 0;
    p.limits = l;
    const PathResult usual = best_path(p);
    ASSERT_TRUE(usual.usable()) << k << ' ' << usual.message << ' ' << top << ' ' << tau << ' ' << l.lateral_mps2 << ' '
                                << l.braking_mps2 << ' ' << base << ' ' << usual.certificate.cost_s();
    PathOptions strict;
    strict.aim = 0.0;  // the finest mesh
    const double fine = best_path(p, strict).total_s;
    worst = std::fmax(worst, std::fabs(usual.total_s / fine - 1.0));
    EXPECT_NEAR(usual.total_s / fine, 1.0, 5e-4) << k;
  }
  EXPECT_LT(worst, 5e-4);
}

}  // namespace
