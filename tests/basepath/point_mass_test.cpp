// The published case: a point mass with |a| <= r round a square, and what was recomputed for it.
#include <gtest/gtest.h>

#include <cmath>

#include "bagsplit/basepath/path.hpp"
#include "support/digits.hpp"

namespace {

using namespace bagsplit::basepath;

constexpr double ft = 0.3048;

PathProblem round_the_bases(std::size_t legs, bool stop, double base_m = 90.0 * ft, double r = 10.0 * ft) {
  PathProblem p;
  p.points = {{0.0, 0.0}, {base_m, 0.0}, {base_m, base_m}, {0.0, base_m}, {0.0, 0.0}};
  p.points.resize(legs + 1);
  p.stop = stop;
  p.limits = PointMassLimit{r};
  return p;
}

TEST(PointMass, CircuitTakesThePublishedTime) {
  const PathResult r = best_path(round_the_bases(4, false));
  ASSERT_TRUE(r.usable()) << r.message;
  // Source: Carozza, Johnson & Morgan (2010), Math Intelligencer 32(1):10-15, p. 10: 52.7/sqrt(r) (r in ft/s2), 16.7 s;
  // it is about 0.5 % above the optimum.
  EXPECT_NEAR(r.total_s * std::sqrt(10.0), 52.7, 0.527);
  EXPECT_NEAR(r.total_s, 16.7, 0.17);
  EXPECT_LT(r.total_s * std::sqrt(10.0), 52.7);
  // Source: same, p. 10 and the authors' page: starts about 25 degrees right of the line; about 42 ft/s at home; 25 %
  // less than with full stops (22.24 s).
  EXPECT_NEAR(r.passages.front().heading_deg, -25.0, 0.5);
  EXPECT_NEAR(r.passages.back().speed_mps / ft, 42.0, 1.0);
  EXPECT_NEAR(100.0 * (1.0 - r.total_s / 22.2426), 25.0, 1.0);
}

TEST(PointMass, CircuitIsTheRecomputedOptimum) {
  const PathResult r = best_path(round_the_bases(4, false));
  // Computed: scipy 1.10.1, point_mass_path.py, indirect (Pontryagin's conditions to 1e-14): 52.42787962282512/sqrt(r).
  EXPECT_NEAR(r.total_s * std::sqrt(10.0) / 52.42787962282512, 1.0, 1e-6);
  const double legs[4] = {5.0327599588091445, 4.057055192300469, 4.408239078971565, 3.0810970200445063};
  const double speeds[4] = {22.505529648782595, 26.809970857771, 21.64338291917385, 41.38494844373152};
  const double headings[4] = {39.44688943619297, 132.8319363021459, -120.95322330052794, -74.3959987076403};
  const double outside[4] = {13.278364956943694, 19.010599208148562, 22.189040279407706, 8.57470578408591};
  for (std::size_t k = 0; k < 4; ++k) {
    EXPECT_NEAR(r.leg_s[k] / legs[k], 1.0, 1e-5) << k;
    EXPECT_NEAR(r.passages[k + 1].speed_mps / ft / speeds[k], 1.0, 1e-4) << k;
    EXPECT_NEAR(r.passages[k + 1].heading_deg, headings[k], 0.01) << k;
    EXPECT_NEAR(r.swings[k].widest_m / ft / outside[k], 1.0, 1e-3) << k;
  }
  EXPECT_NEAR(r.passages.front().heading_deg, -24.871256403763933, 0.02);
  EXPECT_NEAR(r.length_m / ft / 392.01975306466306, 1.0, 1e-5);
}

TEST(PointMass, DoublesAndTriplesAreAsRecomputed) {
  struct Case {
    std::size_t legs;
    bool stop;
    double total, first_leg, angle;
  };
  // Computed: scipy 1.10.1, point_mass_path.py, direct with 24 pieces a leg: upper bounds, printed to 0.01 s; going
  // from 16 to 24 pieces changed the doubles by 0.003 s. Its start angle is that of its first piece, a mean over a
  // sixth of a second or so: 0.3 to 0.4 degrees short of the first instant's (24.5 against 24.87 for the circuit).
  for (const Case& c : {Case{2, false, 8.77, 5.41, 27.6}, Case{2, true, 10.43, 5.21, 26.7},
                        Case{3, false, 12.55, 4.82, 21.9}, Case{3, true, 14.29, 4.89, 22.9}}) {
    const PathResult r = best_path(round_the_bases(c.legs, c.stop));
    ASSERT_TRUE(r.usable()) << c.legs << c.stop;
    EXPECT_NEAR(r.total_s, c.total, 0.008) << c.legs << c.stop;
    EXPECT_LT(r.total_s, c.total + 0.005);
    EXPECT_NEAR(r.leg_s[0], c.first_leg, 0.02) << c.legs << c.stop;
    EXPECT_NEAR(-r.passages.front().heading_deg, c.angle + 0.33, 0.1) << c.legs << c.stop;
  }
}

TEST(PointMass, ADoubleThatStopsIsItsOwnMirrorImageInTime) {
  // Identity: reversed in time and mirrored, the path from rest at home to rest at second is itself.
  const PathResult r = best_path(round_the_bases(2, true));
  EXPECT_NEAR(r.leg_s[0], r.leg_s[1], 1e-5 * r.total_s);
  EXPECT_NEAR(r.passages[1].heading_deg, 45.0, 0.01);
}

TEST(PointMass, TimesScaleAsTheRootOfDistanceOverLimit) {
  // Identity: T ~ sqrt(D/r), lengths ~ D, angles unchanged.
  const PathResult a = best_path(round_the_bases(4, false, 10.0, 1.0));
  for (const double base : {15.24, 27.432}) {
    for (const double limit : {0.5, 3.048, 40.0}) {
      const PathResult b = best_path(round_the_bases(4, false, base, limit));
      const double scale = std::sqrt(base / 10.0 / limit);
      EXPECT_DIGITS(b.total_s, a.total_s * scale, 9);
      EXPECT_DIGITS(b.length_m, a.length_m * base / 10.0, 7);
      EXPECT_NEAR(b.passages[2].heading_deg, a.passages[2].heading_deg, 1e-4);
    }
  }
}

TEST(PointMass, TheTimeOfTheRecordAsksForTheRecomputedLimit) {
  // Computed: scipy 1.10.1, point_mass_path.py: 13.3 s (Swanson 1932) at 15.53893697634372 ft/s2.
  EXPECT_NEAR(best_path(round_the_bases(4, false, 90.0 * ft, 15.53893697634372 * ft)).total_s, 13.3, 1e-4);
}

TEST(PointMass, TheCertificateIsSmallAndTheSensitivityThatOfAPower) {
  const PathResult r = best_path(round_the_bases(4, false));
  EXPECT_LT(r.certificate.cost_s(), 5e-4 * r.total_s);
  EXPECT_LT(r.certificate.hamiltonian_drift, 1e-3);
  EXPECT_LT(r.certificate.largest_miss_m, 1e-3);
  // Identity: T ~ r^(-1/2), so dT/dr = -T/(2 r).
  EXPECT_NEAR(r.sensitivity.acceleration / (-0.5 * r.total_s / 3.048), 1.0, 1e-4);
}

}  // namespace
