#include "bagsplit/basepath/diamond.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "bagsplit/runs/units.hpp"
#include "support/digits.hpp"

namespace {

using namespace bagsplit;
using basepath::Diamond;
using runs::Bag;

constexpr double ft = runs::metres_per_foot;

double gap(const basepath::Point& a, const basepath::Point& b) {
  return std::hypot(a.x_m - b.x_m, a.y_m - b.y_m);
}

TEST(Diamond, NinetyFeetFromHomeToSecondIsAsTheRuleBookPrintsIt) {
  // Source: Official Baseball Rules 2.01: 127 feet 3 3/8 inches from home to second, printed to 1/8 in.
  EXPECT_NEAR(basepath::home_second_m(90.0 * ft), (127.0 + 3.375 / 12.0) * ft, ft / 12.0 / 8.0);
  // Source: Little League field dimensions: 84 ft 10 1/4 in for a 60 ft square.
  EXPECT_NEAR(basepath::home_second_m(60.0 * ft), (84.0 + 10.25 / 12.0) * ft, ft / 12.0 / 8.0);
}

TEST(Diamond, EdgesAreAsInOldRule106) {
  // Source: Official Baseball Rules, old rule 1.06: with 15 in bags 90 ft apart, 88 ft 9 in home to near edge of first
  // and 88 ft 1 1/2 in first to near edge of second.
  const Diamond d{90.0 * ft, 15.0 / 12.0 * ft};
  const auto first = basepath::touch_points(d, {Bag::home, Bag::first}, runs::Touch::edge);
  EXPECT_DIGITS(gap(first[0], first[1]), 88.75 * ft, 12);
  const auto second = basepath::touch_points(d, {Bag::first, Bag::second}, runs::Touch::edge);
  EXPECT_DIGITS(gap(second[0], second[1]), 88.125 * ft, 12);
}

TEST(Diamond, EdgesOfOneSegmentAreAsLongAsTheCourseSaysInBothDirections) {
  // Identity: touch_points and runs::distance_m describe the same ground.
  for (const bool reverse : {false, true}) {
    for (const Bag from : {Bag::home, Bag::first, Bag::second, Bag::third}) {
      const auto to = static_cast<Bag>((static_cast<unsigned>(from) + (reverse ? 3U : 1U)) % 4U);
      const auto course = runs::base_path("x", {from, to}, reverse, runs::Finish::stop, runs::Touch::edge);
      const Diamond d{18.288, course.bag_width_m};
      const auto points = basepath::touch_points(d, {from, to}, runs::Touch::edge);
      EXPECT_NEAR(gap(points[0], points[1]), *runs::course_length_m(course, 18.288), 1e-12);
    }
  }
}

TEST(Diamond, BagsLieInsideTheSquareAndSecondIsCentred) {
  // Source: Official Baseball Rules 2.01: first and third are entirely within the infield, second is centred on its
  // point.
  const Diamond d{20.0, 0.4};
  const auto first = basepath::inside_corner(d, Bag::first);
  const auto second = basepath::inside_corner(d, Bag::second);
  const auto third = basepath::inside_corner(d, Bag::third);
  EXPECT_DOUBLE_EQ(first.x_m, 19.6);
  EXPECT_DOUBLE_EQ(first.y_m, 0.4);
  EXPECT_DOUBLE_EQ(second.x_m, 19.8);
  EXPECT_DOUBLE_EQ(second.y_m, 19.8);
  // Identity: third is first mirrored in the line from home to second.
  EXPECT_DOUBLE_EQ(third.x_m, first.y_m);
  EXPECT_DOUBLE_EQ(third.y_m, first.x_m);
}

TEST(Diamond, PresetsAgreeWithWhatTheirSourcesPrint) {
  // Source: each preset's own (data/courses/diamonds.json): home to second as printed, to the inch.
  const auto presets = basepath::presets();
  ASSERT_GE(presets.size(), 30U);
  int printed = 0;
  for (const auto& p : presets) {
    EXPECT_GT(p.base_distance_ft, 40.0) << p.play;
    EXPECT_LE(p.base_distance_ft, 90.0) << p.play;
    EXPECT_DIGITS(p.base_distance_m, p.base_distance_ft * 0.3048, 14);
    EXPECT_FALSE(p.source.empty()) << p.play;
    EXPECT_FALSE(p.evidence.empty());
    if (!p.home_second_printed.empty()) {
      int feet = 0;
      int inches = 0;
      ASSERT_EQ(std::sscanf(p.home_second_printed.c_str(), "%d ft %d", &feet, &inches),
                p.home_second_printed.find("in") == std::string::npos ? 1 : 2);
      EXPECT_NEAR(p.home_second_m, (feet + inches / 12.0) * ft, ft / 12.0 * 1.01) << p.play << ' ' << p.age;
      ++printed;
    }
  }
  EXPECT_GE(printed, 5);
}

// Identity: whose rule a distance is stands in `source`, and nowhere else.
TEST(Diamond, LeaguesAreNamedAsSourcesOnly) {
  for (const auto& p : basepath::presets()) {
    for (const char* name : {"League", "PONY", "MLB", "Babe Ruth", "Ripken", "USA"}) {
      EXPECT_EQ((p.play + p.age + p.note + p.evidence).find(name), std::string::npos) << p.play << ' ' << name;
    }
  }
}

TEST(Diamond, WhatIsNoDiamondIsRefused) {
  // Identity: bounds stated in the header.
  EXPECT_THROW(basepath::check(Diamond{0.0}), std::domain_error);
  EXPECT_THROW(basepath::check(Diamond{std::numeric_limits<double>::quiet_NaN()}), std::domain_error);
  EXPECT_THROW(basepath::check(Diamond{18.0, 10.0}), std::domain_error);
  EXPECT_THROW(basepath::touch_points(Diamond{18.0}, {Bag::home}, runs::Touch::point), std::invalid_argument);
  EXPECT_THROW(basepath::touch_points(Diamond{18.0}, {Bag::home, Bag::second}, runs::Touch::point),
               std::invalid_argument);
  EXPECT_THROW(basepath::home_second_m(-1.0), std::domain_error);
}

}  // namespace
