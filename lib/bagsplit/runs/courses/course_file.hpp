#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/runs/courses/course.hpp"
#include "bagsplit/runs/courses/drill.hpp"
#include "bagsplit/text/problem.hpp"

/// User-defined courses and drills: JSON after data/schemas/course.schema.json.
///
///     {"schema": "bagsplit.courses/1",
///      "courses": [
///        {"name": "gap-run", "bags": ["home", "first", "second"], "finish": "through", "marks": ["30ft"]},
///        {"name": "dash", "length": "30 yd", "marks": ["10yd", "20yd", "30yd"]}],
///      "drills": [
///        {"name": "dash-from-prone", "course": "dash", "posture": "prone", "signal": "mine", "runs_each": 3}]}
namespace bagsplit::runs {

/// Reads user-defined courses.
///
/// A base path has `bags`, each next to the one before (clockwise with `"reverse": true`); a straight has none, and may
/// have a `length`. `finish` is `through` or `stop`; left out, home, first and a straight are run through, second and
/// third stopped on. `touch` is `point` or `edge`, with `bag_width_m` for the latter. `marks` are distances between
/// which the course is timed, beside the bags: where times are laps, a missing time at one of these leaves the later
/// ones unknown.
///
/// @param known  courses whose names may not be used again, usually builtin_courses().
/// @return the courses without errors, in file order; problems go to `problems` (codes `bad-course`, `repeated-course`,
/// and those of
///   json_text.hpp), with line and column.
std::vector<Course> read_courses(std::string_view text, std::string_view path, const std::vector<Course>& known,
                                 text::Problems& problems);

struct OwnCourses {
  std::vector<Course> courses;
  std::vector<Drill> drills;
};

/// The same with the drills of the file, each over a course of the file or a known one. A file may hold drills alone.
/// @param known  courses and drills whose names may not be used again.
OwnCourses read_course_file(std::string_view text, std::string_view path, const OwnCourses& known,
                            text::Problems& problems);

}  // namespace bagsplit::runs
