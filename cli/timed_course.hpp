#pragma once

#include <optional>
#include <string>
#include <vector>

#include "bagsplit/runs/courses/course.hpp"
#include "options.hpp"

namespace bagsplit::cli {

/// What a sheet or a recorder is for.
struct TimedCourse {
  runs::Course course;
  std::vector<std::string> marks;  ///< columns of times: those named, else the course's own
};

/// @param own    courses beside the built-in ones
/// @param name   of the course
/// @param marks  "first,second", "move,10yd" for a reaction drill; may be empty
/// @param wrong  set where there is no such course, or a mark that it cannot have.
std::optional<TimedCourse> timed_course(const std::vector<runs::Course>& own, const std::string& name,
                                        const std::string& marks, std::string& wrong);

/// --posture, as the run log has the word.
void declare_posture(Options& app, std::string& posture);

}  // namespace bagsplit::cli
