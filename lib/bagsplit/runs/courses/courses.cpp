#include <algorithm>
#include <array>
#include <stdexcept>

#include "bagsplit/runs/courses/course.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::runs {

namespace {

constexpr std::array bag_names{std::string_view("home"), std::string_view("first"), std::string_view("second"),
                               std::string_view("third")};

Bag bag_after(Bag bag, bool reverse) {
  return static_cast<Bag>((static_cast<unsigned>(bag) + (reverse ? 3U : 1U)) % 4U);
}

// Second is centred on its corner, first and third lie inside the square: the gap between near edges is 1.5 bag widths
// short of the base distance beside second, and 1 bag width beside home.
double widths_between(Bag from, Bag to) {
  return from == Bag::second || to == Bag::second ? 1.5 : 1.0;
}

Course built_in(Bag from, Bag to, bool reverse) {
  std::vector<Bag> bags{from};
  do {
    bags.push_back(bag_after(bags.back(), reverse));
  } while (bags.back() != to);
  std::string name =
      from == to ? std::string("circuit") : std::string(bag_name(from)) + "-" + std::string(bag_name(to));
  if (reverse) {
    name += "-reverse";
  }
  const Finish finish = to == Bag::home || to == Bag::first ? Finish::through : Finish::stop;
  return base_path(std::move(name), std::move(bags), reverse, finish);
}

std::vector<Course> make_built_in_courses() {
  Course straight;
  straight.name = "straight";
  std::vector<Course> all{straight};
  constexpr std::array<std::pair<Bag, Bag>, 10> ends{{{Bag::home, Bag::first},
                                                      {Bag::home, Bag::second},
                                                      {Bag::home, Bag::third},
                                                      {Bag::home, Bag::home},
                                                      {Bag::first, Bag::second},
                                                      {Bag::first, Bag::third},
                                                      {Bag::first, Bag::home},
                                                      {Bag::second, Bag::third},
                                                      {Bag::second, Bag::home},
                                                      {Bag::third, Bag::home}}};
  for (const auto& [from, to] : ends) {
    all.push_back(built_in(from, to, false));
    all.push_back(built_in(from, to, true));
  }
  return all;
}

}  // namespace

std::string_view bag_name(Bag bag) {
  return bag_names.at(static_cast<std::size_t>(bag));
}

std::optional<Bag> bag_of_name(std::string_view name) {
  const auto it =
      std::find_if(bag_names.begin(), bag_names.end(), [&](auto n) { return text::equal_ignoring_case(n, name); });
  return it == bag_names.end() ? std::nullopt : std::optional(static_cast<Bag>(it - bag_names.begin()));
}

Course base_path(std::string name, std::vector<Bag> bags, bool reverse, Finish finish, Touch touch) {
  if (bags.size() < 2) {
    throw std::invalid_argument("base_path: bags has " + std::to_string(bags.size()) +
                                " entries, but must have at least 2");
  }
  Course course;
  course.name = std::move(name);
  course.reverse = reverse;
  course.finish = finish;
  course.touch = touch;
  double widths = 0.0;
  for (std::size_t k = 1; k < bags.size(); ++k) {
    if (bags[k] != bag_after(bags[k - 1], reverse)) {
      throw std::invalid_argument("base_path: bags[" + std::to_string(k) + "] is " + std::string(bag_name(bags[k])) +
                                  ", but must be the bag next to " + std::string(bag_name(bags[k - 1])));
    }
    const std::string reached(bag_name(bags[k]));
    if (std::any_of(course.marks.begin(), course.marks.end(), [&](const auto& m) { return m.name == reached; })) {
      throw std::invalid_argument("base_path: bags[" + std::to_string(k) + "] is " + reached +
                                  ", but must not be reached twice");
    }
    widths += widths_between(bags[k - 1], bags[k]);
    const auto bases = static_cast<double>(k);
    course.marks.push_back({reached, bases, 0.0, true, widths});
    std::string key = reached;
    if (k + 1 == bags.size() && finish == Finish::stop) {
      key += "-stop";
    }
    if (k == 1 && bags.front() != Bag::home) {
      key += "-from-rest";
    }
    if (reverse) {
      key += "-reverse";
    }
    course.segments.push_back({std::move(key), bases, widths});
  }
  if (bags.size() == 2 && finish == Finish::through) {
    course.segments.clear();
  }
  course.bags = std::move(bags);
  return course;
}

const std::vector<Course>& builtin_courses() {
  static const std::vector<Course> courses = make_built_in_courses();
  return courses;
}

const Course* find_course(const std::vector<Course>& courses, std::string_view name) {
  const auto it = std::find_if(courses.begin(), courses.end(),
                               [&](const Course& c) { return text::equal_ignoring_case(c.name, name); });
  return it == courses.end() ? nullptr : &*it;
}

double distance_m(const Course& course, const CourseMark& mark, double base_distance_m) {
  if (!mark.is_bag) {
    return mark.distance_m;
  }
  const double widths = course.touch == Touch::edge ? mark.bag_widths : 0.0;
  return mark.bases * base_distance_m - widths * course.bag_width_m;
}

double segment_end_m(const Course& course, const Segment& segment, double base_distance_m) {
  const double widths = course.touch == Touch::edge ? segment.end_bag_widths : 0.0;
  return segment.end_bases * base_distance_m - widths * course.bag_width_m;
}

std::optional<double> course_length_m(const Course& course, double base_distance_m) {
  if (!course.is_base_path()) {
    return course.length_m;
  }
  for (auto mark = course.marks.rbegin(); mark != course.marks.rend(); ++mark) {
    if (mark->is_bag) {
      return distance_m(course, *mark, base_distance_m);
    }
  }
  return std::nullopt;
}

}  // namespace bagsplit::runs
