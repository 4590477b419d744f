#include "bagsplit/runs/courses/course.hpp"

#include <gtest/gtest.h>

#include <set>
#include <stdexcept>
#include <string>

#include "bagsplit/runs/units.hpp"
#include "support/digits.hpp"

namespace {

using namespace bagsplit::runs;

std::string keys_of(std::string_view name) {
  const Course* course = find_course(builtin_courses(), name);
  if (course == nullptr) {
    return "no such course";
  }
  std::string keys;
  for (const Segment& segment : course->segments) {
    keys += (keys.empty() ? "" : " ") + segment.key;
  }
  return keys;
}

// Identity: the key is the bag reached, then -stop, -from-rest, -reverse, in this order.
TEST(Courses, SegmentKeysFollowTheRule) {
  EXPECT_EQ(keys_of("straight"), "");
  EXPECT_EQ(keys_of("home-first"), "");
  EXPECT_EQ(keys_of("home-second"), "first second-stop");
  EXPECT_EQ(keys_of("home-third"), "first second third-stop");
  EXPECT_EQ(keys_of("circuit"), "first second third home");
  EXPECT_EQ(keys_of("first-second"), "second-stop-from-rest");
  EXPECT_EQ(keys_of("first-third"), "second-from-rest third-stop");
  EXPECT_EQ(keys_of("first-home"), "second-from-rest third home");
  EXPECT_EQ(keys_of("second-third"), "third-stop-from-rest");
  EXPECT_EQ(keys_of("second-home"), "third-from-rest home");
  EXPECT_EQ(keys_of("third-home"), "");
  EXPECT_EQ(keys_of("home-second-reverse"), "third-reverse second-stop-reverse");
  EXPECT_EQ(keys_of("home-third-reverse"), "third-stop-reverse");
  EXPECT_EQ(keys_of("home-first-reverse"), "third-reverse second-reverse first-reverse");
  EXPECT_EQ(keys_of("circuit-reverse"), "third-reverse second-reverse first-reverse home-reverse");
  EXPECT_EQ(keys_of("second-home-reverse"), "first-from-rest-reverse home-reverse");
  EXPECT_EQ(keys_of("first-third-reverse"), "home-from-rest-reverse third-stop-reverse");
}

// Common practice, no source: home and first are run through, second and third are stopped on.
TEST(Courses, EveryCourseEndsAsItsLastBagIsTimed) {
  for (const Course& course : builtin_courses()) {
    if (course.is_base_path()) {
      const bool through = course.bags.back() == Bag::home || course.bags.back() == Bag::first;
      EXPECT_EQ(course.finish, through ? Finish::through : Finish::stop) << course.name;
    }
  }
}

TEST(Courses, NamesAreDistinctAndEachBasePathHasItsReverse) {
  std::set<std::string> names;
  for (const Course& course : builtin_courses()) {
    EXPECT_TRUE(names.insert(course.name).second) << course.name;
  }
  EXPECT_EQ(names.size(), 21U);
  for (const Course& course : builtin_courses()) {
    if (course.is_base_path() && !course.reverse) {
      EXPECT_TRUE(names.contains(course.name + "-reverse")) << course.name;
    }
  }
}

// Identity: a run and its reverse between the same two bags go once around the diamond together.
TEST(Courses, AForwardAndAReverseRunMakeOneCircuit) {
  for (const Course& course : builtin_courses()) {
    if (course.is_base_path() && !course.reverse && course.name != "circuit") {
      const Course* reverse = find_course(builtin_courses(), course.name + "-reverse");
      ASSERT_NE(reverse, nullptr);
      EXPECT_EQ(course.marks.back().bases + reverse->marks.back().bases, 4.0) << course.name;
    }
  }
}

// Source: old rule 1.06 of the Official Baseball Rules: with 15 in bags on a 90 ft diamond, home to the near edge of
// first is 88 ft 9 in, first to the near edge of second 88 ft 1 1/2 in.
TEST(Courses, EdgeDistancesAreThoseOfTheRuleBook) {
  const Course course = base_path("edges", {Bag::home, Bag::first, Bag::second, Bag::third, Bag::home}, false,
                                  Finish::through, Touch::edge);
  const double base_m = 90.0 * metres_per_foot;
  const auto feet = [&](std::size_t k) { return distance_m(course, course.marks[k], base_m) / metres_per_foot; };
  EXPECT_DIGITS(feet(0), 88.75, 14);
  EXPECT_DIGITS(feet(1) - feet(0), 88.125, 13);
  EXPECT_DIGITS(feet(2) - feet(1), 88.125, 13);
  EXPECT_DIGITS(feet(3) - feet(2), 88.75, 13);
  EXPECT_DIGITS(*course_length_m(course, base_m), distance_m(course, course.marks[3], base_m), 16);
  EXPECT_DIGITS(segment_end_m(course, course.segments[1], base_m), distance_m(course, course.marks[1], base_m), 16);
}

TEST(Courses, APathThatDoesNotFollowTheDiamondIsRefused) {
  EXPECT_THROW(base_path("x", {Bag::home}, false, Finish::stop), std::invalid_argument);
  EXPECT_THROW(base_path("x", {Bag::home, Bag::second}, false, Finish::stop), std::invalid_argument);
  EXPECT_THROW(base_path("x", {Bag::home, Bag::first}, true, Finish::stop), std::invalid_argument);
  EXPECT_THROW(
      base_path("x", {Bag::home, Bag::first, Bag::second, Bag::third, Bag::home, Bag::first}, false, Finish::stop),
      std::invalid_argument);
}

TEST(Courses, NamesAreFoundWithoutRegardToCase) {
  EXPECT_NE(find_course(builtin_courses(), "Circuit"), nullptr);
  EXPECT_EQ(find_course(builtin_courses(), "circui"), nullptr);
  EXPECT_EQ(bag_of_name("Third"), Bag::third);
  EXPECT_FALSE(bag_of_name("fourth"));
}

}  // namespace
