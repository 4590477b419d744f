#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

/// Courses: what is run, through which marks, and which base-path segments lie on the way.
namespace bagsplit::runs {

enum class Bag : std::uint8_t { home, first, second, third };

enum class Finish : std::uint8_t {
  through,  ///< runs through the last mark
  stop,     ///< must stop on the last bag
};

enum class Touch : std::uint8_t {
  point,  ///< bags are points, base distance apart
  edge,   ///< the runner touches near edges, so every segment is a little shorter (see distance_m)
};

/// Width of a bag unless the course says otherwise: 15 in. Source: Official Baseball Rules 2.01 before 2023 (18 in
/// since).
inline constexpr double default_bag_width_m = 0.381;

/// A point where a time is read.
struct CourseMark {
  std::string name;         ///< "first", "second", "third", "home", or a distance as typed in the course: "10yd"
  double bases = 0.0;       ///< distance in multiples of the base distance; used when is_bag
  double distance_m = 0.0;  ///< distance from the start [m]; used when not is_bag
  bool is_bag = false;
  double bag_widths = 0.0;  ///< bag widths to take off under Touch::edge; used when is_bag
};

/// One base-path segment (bag to bag) of a course that turns or stops, with the key of its loss L_k.
///
/// The key is the bag reached, then `-stop` (the run ends on the bag), `-from-rest` (first segment of a course that
/// starts at a bag other than home), `-reverse` (run clockwise), in this order.
struct Segment {
  std::string key;              ///< e.g. "first", "second-stop", "third-from-rest", "second-reverse"
  double end_bases = 0.0;       ///< where it ends, in multiples of the base distance from the start of the course
  double end_bag_widths = 0.0;  ///< bag widths to take off under Touch::edge
};

struct Course {
  std::string name;       ///< "circuit", "home-second-reverse", "straight", or user-defined
  std::vector<Bag> bags;  ///< bags in order, start first; empty for a straight course
  bool reverse = false;   ///< run clockwise; from home, by way of third
  Finish finish = Finish::through;
  Touch touch = Touch::point;
  double bag_width_m = default_bag_width_m;  ///< used under Touch::edge only
  std::vector<CourseMark> marks;   ///< marks that belong to the course: its bags in order, then its distances in order
                                   ///< (a log may time others too)
  std::vector<Segment> segments;   ///< segments that have a loss; empty for a straight run-through
  std::optional<double> length_m;  ///< of a straight course of fixed length; none for base paths

  bool is_base_path() const { return !bags.empty(); }
};

/// The built-in courses, in a stable order: straight, home-first, home-second, home-third, circuit, first-second,
/// first-third, first-home, second-third, second-home, third-home, and each base path also with `-reverse`.
/// They end as these runs are timed: home and first are run through, second and third are stopped on.
const std::vector<Course>& builtin_courses();

/// The course of that name, or nullptr. Names are compared without regard to the case of ASCII letters.
const Course* find_course(const std::vector<Course>& courses, std::string_view name);

/// Distance from the start to a mark of the course [m].
///
/// Bags: bases x base distance under Touch::point. Under Touch::edge a segment that touches second is 1.5 bag widths
/// shorter and any other 1 bag width, because first and third lie wholly inside the square while second is centred on
/// its corner.
/// @param base_distance_m  [m], > 0; not used for a mark at a distance of its own.
/// Source: Official Baseball Rules 2.01 (where bags lie); edge arithmetic as in old rule 1.06: 90 ft with 15 in bags
/// gives 88 ft 9 in home to first and 88 ft 1.5 in first to second.
double distance_m(const Course& course, const CourseMark& mark, double base_distance_m);

/// Distance from the start to the end of a segment [m], as above.
double segment_end_m(const Course& course, const Segment& segment, double base_distance_m);

/// Length of the course [m]; nothing for a straight course of no fixed length.
std::optional<double> course_length_m(const Course& course, double base_distance_m);

/// The course around the given bags, start first, each the next one in the direction of running: marks and segments
/// filled in. A straight run-through (two bags, Finish::through) has no segment.
/// @throws std::invalid_argument when there are fewer than two bags, when one does not follow the other, or when a bag
/// other
///   than the start is reached twice.
Course base_path(std::string name, std::vector<Bag> bags, bool reverse, Finish finish, Touch touch = Touch::point);

/// Bag name as used in mark columns ("home", "first", "second", "third").
std::string_view bag_name(Bag bag);

/// The bag of that name, or nothing.
std::optional<Bag> bag_of_name(std::string_view name);

}  // namespace bagsplit::runs
