// What must hold whatever the runner: symmetry, scaling, tighter limits, derivatives.
#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "bagsplit/basepath/path.hpp"
#include "support/digits.hpp"

namespace {

using namespace bagsplit;
using namespace bagsplit::basepath;

PathProblem square(std::size_t legs, bool stop, double base_m, const Limits& limits) {
  PathProblem p;
  p.points = {{0.0, 0.0}, {base_m, 0.0}, {base_m, base_m}, {0.0, base_m}, {0.0, 0.0}};
  p.points.resize(legs + 1);
  p.stop = stop;
  p.limits = limits;
  return p;
}

// Runners between a small child and a professional, reproducible on any machine: raw draws only.
class Draw {
 public:
  explicit Draw(unsigned seed) : engine_(seed) {}
  double between(double low, double high) {
    return low * std::pow(high / low, static_cast<double>(engine_()) / 4294967295.0);
  }
  RunnerLimits runner() {
    const double top = between(3.5, 9.5);
    return {top, top / between(4.0, 9.0), between(2.5, 7.0), between(2.2, 5.0)};
  }

 private:
  std::mt19937 engine_;
};

TEST(PathProperties, ClockwiseIsTheMirrorImage) {
  // Identity: mirrored in the line from home to second, a course is its reverse.
  Draw draw(11);
  for (int k = 0; k < 6; ++k) {
    const RunnerLimits l = draw.runner();
    for (const char* name : {"circuit", "home-second", "first-third"}) {
      const auto* forward = runs::find_course(runs::builtin_courses(), name);
      const auto* backward = runs::find_course(runs::builtin_courses(), std::string(name) + "-reverse");
      ASSERT_TRUE(forward && backward);
      const PathResult a = best_path(course_problem(*forward, 18.288, l));
      const PathResult b = best_path(course_problem(*backward, 18.288, l));
      ASSERT_TRUE(a.usable() && b.usable()) << name << ' ' << a.certificate.cost_s() << ' ' << b.certificate.cost_s();
      EXPECT_NEAR(b.total_s / a.total_s, 1.0, 1e-6) << name;
      for (std::size_t i = 0; i < a.swings.size(); ++i) {
        EXPECT_NEAR(a.swings[i].widest_m, b.swings[i].widest_m, 0.02) << name;
      }
    }
  }
}

TEST(PathProperties, TimesScaleInAllUnits) {
  // Identity: lengths times a, times times b leave the dimensionless problem as it is: D a, V a/b, tau b, L and B
  // a/b^2.
  Draw draw(12);
  for (int k = 0; k < 6; ++k) {
    const RunnerLimits l{draw.between(4.0, 7.0), draw.between(0.7, 1.2), draw.between(3.0, 6.0),
                         draw.between(2.5, 4.0)};
    const double a = 1.3;
    const double b = 1.1;
    const RunnerLimits scaled{l.top_speed_mps * a / b, l.time_constant_s * b, l.lateral_mps2 * a / b / b,
                              l.braking_mps2 * a / b / b};
    const double one = best_path(square(4, false, 18.288, l)).total_s;
    EXPECT_NEAR(best_path(square(4, false, 18.288 * a, scaled)).total_s / (one * b), 1.0, 1e-9);
  }
}

TEST(PathProperties, TimeNeverImprovesWhenALimitTightens) {
  // Identity: fewer motions are allowed. Within what the mesh resolves: 1e-4 of the total.
  Draw draw(13);
  for (int k = 0; k < 10; ++k) {
    const RunnerLimits l = draw.runner();
    const std::size_t legs = 2U + static_cast<std::size_t>(k) % 3U;
    const bool stop = k % 2 == 1;
    const PathResult base = best_path(square(legs, stop, 18.288, l));
    ASSERT_TRUE(base.usable()) << k;
    const double slack = 1e-4 * base.total_s;
    RunnerLimits t = l;
    t.top_speed_mps *= 0.95;
    t.time_constant_s *= 0.95;  // the first push stays, so only the top speed tightens
    EXPECT_GT(best_path(square(legs, stop, 18.288, t)).total_s, base.total_s - slack) << k;
    t = l;
    t.time_constant_s *= 1.05;
    EXPECT_GT(best_path(square(legs, stop, 18.288, t)).total_s, base.total_s - slack) << k;
    t = l;
    t.lateral_mps2 *= 0.95;
    EXPECT_GT(best_path(square(legs, stop, 18.288, t)).total_s, base.total_s - slack) << k;
    t = l;
    t.braking_mps2 *= 0.95;
    EXPECT_GT(best_path(square(legs, stop, 18.288, t)).total_s, base.total_s - slack) << k;
    PathProblem narrow = square(legs, stop, 18.288, l);
    narrow.max_outside_m = 1.5;
    const PathResult n = best_path(narrow);
    if (n.usable()) {
      EXPECT_GT(n.total_s, base.total_s - slack) << k;
    }
    EXPECT_GT(best_path(square(legs, true, 18.288, l)).total_s, best_path(square(legs, false, 18.288, l)).total_s) << k;
  }
}

TEST(PathProperties, SensitivitiesAreTheDerivatives) {
  // Identity: central differences of the total.
  Draw draw(14);
  for (int k = 0; k < 4; ++k) {
    const RunnerLimits l{draw.between(5.0, 8.0), draw.between(0.9, 1.3), draw.between(2.6, 4.0),
                         draw.between(2.5, 4.0)};
    const bool stop = k % 2 == 1;
    const PathResult r = best_path(square(3, stop, 18.288, l));
    ASSERT_TRUE(r.usable());
    const auto slope = [&](double RunnerLimits::*member) {
      RunnerLimits low = l;
      RunnerLimits high = l;
      const double step = 0.01 * l.*member;
      low.*member -= step;
      high.*member += step;
      return (best_path(square(3, stop, 18.288, high)).total_s - best_path(square(3, stop, 18.288, low)).total_s) /
             (2.0 * step);
    };
    EXPECT_NEAR(r.sensitivity.top_speed, slope(&RunnerLimits::top_speed_mps),
                0.02 * std::fabs(r.sensitivity.top_speed) + 2e-3);
    EXPECT_NEAR(r.sensitivity.time_constant, slope(&RunnerLimits::time_constant_s),
                0.02 * std::fabs(r.sensitivity.time_constant) + 2e-3);
    EXPECT_NEAR(r.sensitivity.lateral, slope(&RunnerLimits::lateral_mps2),
                0.02 * std::fabs(r.sensitivity.lateral) + 2e-3);
    EXPECT_NEAR(r.sensitivity.braking, slope(&RunnerLimits::braking_mps2),
                0.02 * std::fabs(r.sensitivity.braking) + 4e-3);
  }
}

TEST(PathProperties, WithAmpleGripTheCircuitTendsToFourStraightSides) {
  // Identity: L -> infinity lets the runner turn on the spot, so the time tends to the straight sprint's.
  const RunnerLimits l{6.0, 0.9, 100.0, 50.0};
  const PathResult r = best_path(square(4, false, 18.288, l));
  EXPECT_GT(r.total_s, r.straight_s);
  EXPECT_LT(r.total_s, 1.03 * r.straight_s);
}

TEST(PathProperties, TwoCallsAgreeToTheLastBit) {
  // Identity: no state, no chance.
  const RunnerLimits l{6.0, 0.9, 4.0, 3.0};
  EXPECT_EQ(best_path(square(4, false, 18.288, l)).total_s, best_path(square(4, false, 18.288, l)).total_s);
}

}  // namespace
