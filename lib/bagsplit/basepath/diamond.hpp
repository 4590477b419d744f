#pragma once

#include <optional>
#include <string>
#include <vector>

#include "bagsplit/runs/courses/course.hpp"

/// Where the bags lie, for every base distance.
///
/// Home is the origin (the rear point of the plate, where the foul lines meet), first lies on the x axis, third on the
/// y axis. Measuring points are base distance apart. First and third lie wholly inside the square, with a corner on
/// their measuring point; second is centred on its own. Source: Official Baseball Rules 2.01.
namespace bagsplit::basepath {

struct Point {
  double x_m = 0.0, y_m = 0.0;
};

struct Diamond {
  double base_distance_m;                          ///< > 0
  double bag_width_m = runs::default_bag_width_m;  ///< > 0, below half the base distance
};

/// @throws std::domain_error naming what is not finite or out of range.
void check(const Diamond& diamond);

/// Measuring point of a bag.
Point measuring_point(const Diamond& diamond, runs::Bag bag);

/// The corner of a bag that is nearest to the middle of the diamond: what a runner who rounds it can touch. Home is a
/// point.
Point inside_corner(const Diamond& diamond, runs::Bag bag);

/// The points a runner passes on a course.
///
/// Touch::point: the measuring points. Touch::edge: bags that are rounded are touched at their inside corner, the start
/// and the end at the near edge on the base line, so that a single segment is as long as runs::distance_m says.
/// @param bags  start first, at least two, each next to the one before (either direction).
/// @throws std::invalid_argument when they are not.
std::vector<Point> touch_points(const Diamond& diamond, const std::vector<runs::Bag>& bags, runs::Touch touch);

/// Home to second, first to third: base distance times the square root of 2.
double home_second_m(double base_distance_m);

/// A base distance in use. Lengths as printed in feet, converted once (1 ft = 0.3048 m).
struct Preset {
  std::string play, age;  ///< "softball, girls"; which league says so stands in `source`
  double base_distance_ft = 0.0;
  double base_distance_m = 0.0;
  double home_second_m = 0.0;
  std::string home_second_printed;   ///< as the source prints it; may be empty
  std::optional<double> pitching_m;  ///< rear point of home to the front of the pitcher's plate
  std::optional<double> bag_width_m;
  std::string evidence;  ///< `rule` (rule text), `league` (league's page), `secondary`, `practice`
  std::string source;    ///< who says so
  std::string note;
};

/// Base distances of leagues (data/courses/diamonds.json). League rules come first: treat them as a start for a number
/// the user sets. Parsed anew on each call.
/// @throws std::runtime_error when the embedded file is not as its schema says (a fault of the build).
std::vector<Preset> presets();

}  // namespace bagsplit::basepath
