// The sprint curve and its inverse, against 50-digit arithmetic, Boost.Math's Lambert W and generated exact sprints.
#include "bagsplit/motion/curve.hpp"

#include <gtest/gtest.h>

#include <boost/math/special_functions/lambert_w.hpp>
#include <boost/multiprecision/cpp_dec_float.hpp>
#include <cmath>
#include <stdexcept>
#include <vector>

#include "support/digits.hpp"

namespace {

using bagsplit::motion::Sprint;

// Computed: Boost.Multiprecision 1.74, Newton's method on u - (1 - exp(-u)) = a with 50 digits.
TEST(SprintCurve, TimeToDistanceKeepsItsDigitsFromTheBranchPointToALongWay) {
  using Big = boost::multiprecision::cpp_dec_float_50;
  double worst = 0.0;
  for (double log_a = -20.0; log_a < 5.0; log_a += 0.01) {
    const double a = std::pow(10.0, log_a);
    const double u = bagsplit::motion::dimensionless_time(a);
    Big exact = u;
    for (int i = 0; i < 8; ++i) {
      const Big e = exp(-exact);
      if (e == 1) {
        break;
      }
      exact -= (exact - 1 + e - Big(a)) / (1 - e);
    }
    worst = std::fmax(worst, std::fabs(static_cast<double>((Big(u) - exact) / exact)));
  }
  EXPECT_LT(worst, 2e-14);
}

// Identity: t(d) = tau (c + W0(-exp(-c))), c = 1 + d/(V tau); computed with Boost.Math 1.74 lambert_w0.
TEST(SprintCurve, AgreesWithTheLambertForm) {
  for (const double v : {4.0, 6.1, 7.5, 10.5}) {
    for (const double tau : {0.5, 0.85, 1.3, 2.0}) {
      for (const double d : {2.0, 5.0, 9.144, 18.288, 27.432, 73.152}) {
        const double c = 1.0 + d / (v * tau);
        const double expected = tau * (c + boost::math::lambert_w0(-std::exp(-c)));
        EXPECT_DIGITS(bagsplit::motion::time_to_distance({v, tau}, d), expected, 12.5);
      }
    }
  }
}

struct ExactSprint {
  const char* key;
  double v, tau, delay_s;
  double time_60ft_s, time_90ft_s;
  double speed_at_10m_mps;
};

// Computed: scipy 1.10.1 special.lambertw, model of Furusawa, Hill & Parkinson (1927); delay is added to the curve's
// time.
const ExactSprint exact_sprints[] = {
    {"child_slow", 5.2, 1.05, 0.35, 4.903184896135135, 6.672837923951806, 4.8737540033322295},
    {"child_mid", 6.1, 1.15, 0.28, 4.395946349180042, 5.918511720226088, 5.505325021460027},
    {"child_fast", 7.0, 1.25, 0.22, 4.022917197835583, 5.3685275667483205, 6.060852863497739},
    {"adult", 9.8, 1.38, 0.15, 3.2501605493112287, 4.258912182541845, 7.6585820142337395},
    {"no_delay", 6.5, 1.2, 0.0, 3.9696325162497113, 5.4070550409486255, 5.756061600281855},
};

TEST(SprintCurve, ReproducesExactSprints) {
  for (const ExactSprint& s : exact_sprints) {
    const Sprint sprint{s.v, s.tau};
    EXPECT_DIGITS(s.delay_s + bagsplit::motion::time_to_distance(sprint, 60 * 0.3048), s.time_60ft_s, 13) << s.key;
    EXPECT_DIGITS(s.delay_s + bagsplit::motion::time_to_distance(sprint, 90 * 0.3048), s.time_90ft_s, 13) << s.key;
    EXPECT_DIGITS(bagsplit::motion::speed_at_time(sprint, bagsplit::motion::time_to_distance(sprint, 10.0)),
                  s.speed_at_10m_mps, 13)
        << s.key;
  }
}

// Computed: series t = s + s^2/(6 tau), s = sqrt(2 x tau / V), child_mid, where a plain Lambert W loses its digits.
TEST(SprintCurve, StartsRightFromTheFirstMicrometre) {
  const Sprint sprint{6.1, 1.15};
  EXPECT_DIGITS(0.28 + bagsplit::motion::time_to_distance(sprint, 1e-6), 0.2806140979497376, 10);
  EXPECT_DIGITS(0.28 + bagsplit::motion::time_to_distance(sprint, 1e-9), 0.2800194178089004, 10);
}

// Computed: closed form x(t), Python 3.11.
TEST(SprintCurve, DistanceAtTimeIsTheForwardModel) {
  const Sprint sprint{6.1, 1.15};
  const double times_s[] = {0.0, 0.2, 1.0, 3.0, 8.0};
  const double expected_m[] = {0.0, 0.10019534046824953, 2.025223198020748, 11.801518104573523, 41.79168111074826};
  for (int i = 0; i < 5; ++i) {
    EXPECT_DIGITS(bagsplit::motion::distance_at_time(sprint, times_s[i]), expected_m[i], 13);
  }
}

// Identity: distance and time are inverse; a beam start is a difference of two times.
TEST(SprintCurve, RoundTripsAndBeamStarts) {
  const Sprint sprint{5.8, 0.9};
  for (double d = 1e-6; d < 150.0; d *= 1.7) {
    const double t = bagsplit::motion::time_to_distance(sprint, d);
    EXPECT_DIGITS(bagsplit::motion::distance_at_time(sprint, t), d, 13);
  }
  EXPECT_DIGITS(bagsplit::motion::time_from_beam(sprint, 0.5, 10.0),
                bagsplit::motion::time_to_distance(sprint, 10.5) - bagsplit::motion::time_to_distance(sprint, 0.5), 15);
  EXPECT_EQ(bagsplit::motion::time_to_distance(sprint, 0.0), 0.0);
}

// Computed: central differences of the time at 20 m for child_mid, scipy 1.10.1 (by V and by tau, here turned to
// logarithms).
TEST(SprintCurve, GradientOfTheTime) {
  const bagsplit::motion::TimeGradient g = bagsplit::motion::time_gradient({6.1, 1.15}, 20.0);
  EXPECT_DIGITS(g.by_log_top_speed_s, -0.5494259956773107 * 6.1, 8);
  EXPECT_DIGITS(g.by_log_time_constant_s, 0.9149622887782981 * 1.15, 8);
  EXPECT_DIGITS(g.time_s, bagsplit::motion::time_to_distance({6.1, 1.15}, 20.0), 15);
}

// Identity: what cannot be is refused, naming who, what, the value and the bound.
TEST(SprintCurve, RefusesWhatCannotBe) {
  EXPECT_THROW((void)bagsplit::motion::time_to_distance({0.0, 1.0}, 1.0), std::domain_error);
  EXPECT_THROW((void)bagsplit::motion::time_to_distance({6.0, std::nan("")}, 1.0), std::domain_error);
  try {
    (void)bagsplit::motion::time_to_distance({6.0, 1.0}, -1.0);
    FAIL();
  } catch (const std::domain_error& e) {
    EXPECT_STREQ(e.what(), "time_to_distance: distance_m is -1, but must be finite and at least 0");
  }
}

}  // namespace
