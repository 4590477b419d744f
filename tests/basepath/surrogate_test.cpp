#include "bagsplit/basepath/surrogate.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "bagsplit/basepath/detail/spline_fit.hpp"
#include "bagsplit/basepath/path.hpp"
#include "bagsplit/basepath/straight.hpp"
#include "support/digits.hpp"

namespace {

using namespace bagsplit;
using namespace bagsplit::basepath;

const runs::Course& course(std::string_view name) {
  return *runs::find_course(runs::builtin_courses(), name);
}

double solved_loss(const runs::Course& c, double base_m, const RunnerLimits& l) {
  const PathResult r = best_path(course_problem(c, base_m, l));
  EXPECT_TRUE(r.usable()) << c.name;
  return r.total_s - straight_time_s(l, base_m * static_cast<double>(c.bags.size() - 1));
}

TEST(Surrogate, AgreesWithTheSolverOffItsNodes) {
  // Identity: the table interpolates the solver. Stated error: 10 ms anywhere in the range of runners, 2 ms rms
  // (README).
  const LossTable table = LossTable::built_in();
  std::mt19937 engine(21);
  const auto between = [&](double low, double high) {
    return low * std::pow(high / low, static_cast<double>(engine()) / 4294967295.0);
  };
  double squares = 0.0;
  int count = 0;
  for (int k = 0; k < 16; ++k) {
    const double top = between(3.5, 9.5);
    const double tau = top / between(3.5, 9.0);
    const double lateral = between(2.5, 6.0);
    const double base = between(15.24, 27.432);
    const RunnerLimits l{top, tau, lateral, 0.75 * lateral};
    for (const char* name : {"circuit", "home-second", "home-third", "second-home", "first-home"}) {
      const auto surface = table.course_loss(course(name), base, lateral);
      ASSERT_TRUE(surface);
      const double error = (*surface)(std::log(top), std::log(tau)) - solved_loss(course(name), base, l);
      EXPECT_TRUE(surface->inside(std::log(top), std::log(tau)));
      EXPECT_LT(std::fabs(error), 0.010) << name << ' ' << top << ' ' << tau << ' ' << lateral << ' ' << base;
      squares += error * error;
      ++count;
    }
  }
  EXPECT_LT(std::sqrt(squares / count), 0.002);
}

TEST(Surrogate, LegsSumToTheCourseAndKeysToTheirCourses) {
  // Identity: sums stated in the header.
  const LossTable table = LossTable::built_in();
  const double v = std::log(6.0);
  const double t = std::log(0.95);
  const auto key = [&](std::string_view name) {
    const auto s = table.segment_loss(name, 18.288, 4.0);
    EXPECT_TRUE(s) << name;
    return (*s)(v, t);
  };
  const auto whole = [&](std::string_view name) { return (*table.course_loss(course(name), 18.288, 4.0))(v, t); };
  for (const char* name : {"circuit", "home-second", "home-third", "second-home", "first-home", "circuit-reverse",
                           "home-third-reverse", "second-third", "second-home-reverse"}) {
    double legs = 0.0;
    double keys = 0.0;
    for (std::size_t k = 0; k < course(name).segments.size(); ++k) {
      legs += (*table.leg_loss(course(name), k, 18.288, 4.0))(v, t);
      keys += key(course(name).segments[k].key);
    }
    EXPECT_NEAR(legs, whole(name), 1e-12) << name;
    EXPECT_NEAR(keys, whole(name), 1e-12) << name;
  }
  // Built-in courses whose keys cannot sum exactly, as README.md says: first-third (a key for the first leg of any
  // course from first), and home-first-reverse, whose last bag is run through but shares its key with the rounded one.
  EXPECT_NEAR(key("second-from-rest") + key("third-stop"), whole("first-third"), 0.05);
  EXPECT_NEAR(key("third-reverse") + key("second-reverse") + key("first-reverse"), whole("home-first-reverse"), 0.15);
}

TEST(Surrogate, EveryKeyOfEveryBuiltInCourseIsKnown) {
  // Identity: keys as runs/courses/course.hpp makes them.
  const LossTable table = LossTable::built_in();
  for (const auto& c : runs::builtin_courses()) {
    for (const auto& s : c.segments) {
      const auto surface = table.segment_loss(s.key, 18.288, 4.0);
      ASSERT_TRUE(surface) << c.name << ' ' << s.key;
      EXPECT_GT((*surface)(std::log(6.0), std::log(0.9)), -0.05) << s.key;
      EXPECT_LT((*surface)(std::log(6.0), std::log(0.9)), 3.0) << s.key;
    }
  }
  EXPECT_FALSE(table.segment_loss("fourth", 18.288, 4.0));
  EXPECT_FALSE(table.segment_loss("", 18.288, 4.0));
  EXPECT_FALSE(table.course_loss(course("straight"), 18.288, 4.0));
}

TEST(Surrogate, ReverseKeysAreTheMirrorImage) {
  // Identity: first and third change places.
  const LossTable table = LossTable::built_in();
  const auto value = [&](std::string_view name) { return (*table.segment_loss(name, 20.0, 3.5))(1.8, -0.1); };
  EXPECT_DOUBLE_EQ(value("third-reverse"), value("first"));
  EXPECT_DOUBLE_EQ(value("second-reverse"), value("second"));
  EXPECT_DOUBLE_EQ(value("home-reverse"), value("home"));
  EXPECT_DOUBLE_EQ(value("first-stop-reverse"), value("third-stop"));
  EXPECT_DOUBLE_EQ(value("first-from-rest-reverse"), value("third-from-rest"));
}

TEST(Surrogate, ScalesWithBaseDistanceAndLateralLimit) {
  // Identity: dimensionless numbers alone decide; lengths times a, times times b.
  const LossTable table = LossTable::built_in();
  const double a = 1.4;
  const double b = 1.2;
  const auto one = *table.course_loss(course("circuit"), 18.288, 4.0);
  const auto two = *table.course_loss(course("circuit"), 18.288 * a, 4.0 * a / b / b);
  EXPECT_DIGITS(two(std::log(6.0 * a / b), std::log(0.9 * b)), b * one(std::log(6.0), std::log(0.9)), 11);
}

TEST(Surrogate, OutsideTheTableItStaysAtTheEdge) {
  // Identity: clamping.
  const auto s = *LossTable::built_in().course_loss(course("circuit"), 18.288, 4.0);
  EXPECT_FALSE(s.inside(std::log(0.5), std::log(0.9)));
  EXPECT_EQ(s(std::log(0.01), std::log(0.01)), s(std::log(0.001), std::log(0.001)));
}

TEST(Surrogate, TouchedEdgesAreNearlyAScaledSquare) {
  // Identity: the table stands in the mean distance between edges for the base distance; within 60 ms of the solver.
  runs::Course edge = course("circuit");
  edge.touch = runs::Touch::edge;
  const RunnerLimits l{6.2, 0.9, 4.0, 3.0};
  const PathResult r = best_path(course_problem(edge, 18.288, l));
  const double straight = straight_time_s(l, *runs::course_length_m(edge, 18.288));
  EXPECT_NEAR((*LossTable::built_in().course_loss(edge, 18.288, 4.0))(std::log(6.2), std::log(0.9)),
              r.total_s - straight, 0.06);
}

TEST(Surrogate, TheFileIsWhatBuildWrites) {
  // Identity: nodes of the embedded table are the solver's; round trip of the text.
  const LossTable table = LossTable::built_in();
  EXPECT_EQ(LossTable::from_json(table.to_json()).to_json(), table.to_json());
  EXPECT_EQ(table.certified_share(), 1.0);
  LossTable::Options few;
  few.speed_nodes = few.push_nodes = 5;
  few.lowest_speed = 0.4;
  few.highest_speed = 0.8;
  few.lowest_push = 1.0;
  few.highest_push = 2.0;
  const auto fresh = *LossTable::build(few).course_loss(course("home-second"), 18.288, 4.0);
  const auto kept = *table.course_loss(course("home-second"), 18.288, 4.0);
  const double v = std::log(0.55 * std::sqrt(18.288 * 4.0));
  const double t = v - std::log(1.4 * 4.0);
  EXPECT_NEAR(fresh(v, t), kept(v, t), 0.006);
}

TEST(Surrogate, WhatIsNoTableIsRefused) {
  // Identity: bounds stated in the header.
  EXPECT_THROW(LossTable::from_json("{}"), std::runtime_error);
  EXPECT_THROW(LossTable::from_json("not json"), std::runtime_error);
  LossTable::Options bad;
  bad.speed_nodes = 2;
  EXPECT_THROW(LossTable::build(bad), std::domain_error);
  EXPECT_THROW(LossTable::built_in().course_loss(course("circuit"), -1.0, 4.0), std::domain_error);
}

TEST(SplineFit, ReproducesCubicsExactly) {
  // Identity: a tensor of cubic splines without knots at the second nodes holds every bicubic polynomial.
  const auto f = [](double x, double y) {
    return 1.0 + x - 0.3 * x * x * y + 0.2 * y * y * y + 0.1 * x * x * x * y * y * y;
  };
  std::vector<double> values;
  for (int i = 0; i < 7; ++i) {
    for (int j = 0; j < 6; ++j) {
      values.push_back(f(i, j));
    }
  }
  const auto c = spline_fit::tensor(values, 7, 6);
  // Middle of a cell: weights (1, 23, 23, 1)/48.
  const double w[4] = {1.0 / 48.0, 23.0 / 48.0, 23.0 / 48.0, 1.0 / 48.0};
  for (std::size_t i = 0; i < 6; ++i) {
    for (std::size_t j = 0; j < 5; ++j) {
      double sum = 0.0;
      for (std::size_t a = 0; a < 4; ++a) {
        for (std::size_t b = 0; b < 4; ++b) {
          sum += w[a] * w[b] * c[(i + a) * 8 + j + b];
        }
      }
      EXPECT_NEAR(sum, f(static_cast<double>(i) + 0.5, static_cast<double>(j) + 0.5), 1e-9);
    }
  }
}

}  // namespace
