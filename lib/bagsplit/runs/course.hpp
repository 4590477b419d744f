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

/// A point where a time is read.
struct CourseMark {
  std::string name;           ///< "first", "second", "third", "home", or a distance as typed in the course: "10yd"
  double bases = 0.0;         ///< distance in multiples of the base distance; used when is_bag
  double distance_m = 0.0;    ///< distance from the start [m]; used when not is_bag
  bool is_bag = false;
};

/// One base-path segment (bag to bag) of a course that turns or stops, with the key of its loss L_k.
struct Segment {
  std::string key;     ///< e.g. "first", "second-stop", "third-from-rest", "second-reverse" (DESIGN 3, 4.2)
  double end_bases;    ///< where it ends, in multiples of the base distance from the start of the course
};

struct Course {
  std::string name;                   ///< "circuit", "home-second-reverse", "straight", or user-defined
  std::vector<Bag> bags;              ///< bags in order, start first; empty for a straight course
  bool reverse = false;               ///< run by way of third
  Finish finish = Finish::through;
  std::vector<CourseMark> marks;      ///< marks that belong to the course, in order (a log may time others too)
  std::vector<Segment> segments;      ///< segments that have a loss; empty for a straight run-through
  std::optional<double> length_m;     ///< of a straight course of fixed length; none for base paths

  bool is_base_path() const { return !bags.empty(); }
};

/// The built-in courses, in a stable order: straight, home-first, home-second, home-third, circuit, first-second,
/// first-third, second-third, second-home, third-home, and each base path also with `-reverse`.
const std::vector<Course>& builtin_courses();

/// Bag name as used in mark columns ("home", "first", "second", "third").
std::string_view bag_name(Bag bag);

}  // namespace bagsplit::runs
