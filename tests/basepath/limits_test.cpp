#include "bagsplit/basepath/limits.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <string>

#include "support/digits.hpp"

namespace {

using namespace bagsplit::basepath;

TEST(Limits, SteadyBendIsTheLateralLimitUpToTopSpeed) {
  // Identity: v^2/R = L while v < V.
  EXPECT_DIGITS(steady_bend_speed_mps(RunnerLimits{9.0, 1.2, 4.0, 3.0}, 10.0), std::sqrt(40.0), 14);
  EXPECT_DIGITS(steady_bend_speed_mps(RunnerLimits{6.0, 1.0, 4.0, 3.0}, 20.0), 6.0, 15);
  EXPECT_DIGITS(steady_bend_speed_mps(PointMassLimit{3.048}, 10.0), std::sqrt(30.48), 14);
}

TEST(Limits, TheSharperMeasuredBendAsksForALimitWithinTheDefaultRange) {
  // Source: Diaz, Alcantara & Grabowski (2024), J Exp Biol 227:jeb246649, abstract: top speed 10.0 +/- 2.4 % below
  // straight on 17.2 m; straight speed 9 m/s assumed.
  const double sharp = 0.9 * 9.0 * 0.9 * 9.0 / 17.2;
  EXPECT_NEAR(sharp, 3.81, 0.01);
  EXPECT_GT(sharp, default_lateral_mps2().low);
  EXPECT_LT(sharp, default_lateral_mps2().high);
  // The default, set for the radii of base running, gives the measured speed there within its standard deviation ...
  const double predicted = steady_bend_speed_mps(RunnerLimits{9.0, 1.2, default_lateral_mps2().value, 3.0}, 17.2);
  EXPECT_NEAR(predicted / 9.0, 0.90, 0.024);
}

TEST(Limits, OnWideBendsTheModelLosesNothingWhereRunnersDo) {
  // Source: Diaz et al. (2024), as above: 4.1 +/- 1.6 % below straight on 36.5 m; Churchill, Salo & Trewartha (2015),
  // Sports Biomech 14:106-121: 9.86 to 9.39 m/s on 37.72 m. A known weakness of one lateral limit for all radii
  // (README).
  const RunnerLimits runner{9.0, 1.2, default_lateral_mps2().value, 3.0};
  EXPECT_DOUBLE_EQ(steady_bend_speed_mps(runner, 36.5), 9.0);
  EXPECT_NEAR(9.39 * 9.39 / 37.72, 2.34, 0.01);
  EXPECT_NEAR(0.959 * 9.0 * 0.959 * 9.0 / 36.5, 2.04, 0.01);
}

TEST(Limits, DefaultsLieWithinTheirOwnRanges) {
  // Identity: a range holds its value.
  for (const auto& d : {default_lateral_mps2(), default_braking_mps2()}) {
    EXPECT_LT(d.low, d.value);
    EXPECT_LT(d.value, d.high);
    EXPECT_FALSE(d.source.empty());
  }
}

TEST(Limits, AbsurdNumbersAreNamedWithTheirBound) {
  // Identity: bounds stated in the header.
  const double nan = std::numeric_limits<double>::quiet_NaN();
  for (const Limits& bad : {Limits{RunnerLimits{0.0, 1.0, 4.0, 3.0}}, Limits{RunnerLimits{6.0, -1.0, 4.0, 3.0}},
                            Limits{RunnerLimits{6.0, 1.0, nan, 3.0}}, Limits{RunnerLimits{6.0, 1.0, 4.0, 1e9}},
                            Limits{RunnerLimits{20.0, 1.0, 4.0, 3.0}}, Limits{PointMassLimit{0.0}}}) {
    EXPECT_THROW(check(bad), std::domain_error);
  }
  try {
    check(RunnerLimits{6.0, 1.0, -2.0, 3.0});
    FAIL();
  } catch (const std::domain_error& error) {
    EXPECT_EQ(std::string(error.what()), "basepath limits: lateral_mps2 is -2, but must be from 0.2 to 100");
  }
  EXPECT_THROW(steady_bend_speed_mps(PointMassLimit{3.0}, 0.0), std::domain_error);
}

}  // namespace
