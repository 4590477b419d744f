#pragma once

#include <optional>
#include <string>
#include <vector>

#include "bagsplit/runs/courses/course_file.hpp"
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

/// --drill, by name.
void declare_drill(Options& app, std::string& drill);

/// What a drill says beside its name, as typed in its place: what is given already stays.
struct DrillFields {
  std::string& course;
  std::string& marks;
  std::string& posture;
  std::string& start;
  std::string& signal;
};

/// Fills in from the drill of that name; an empty name fills in nothing.
/// @return the drill, where one is named.   @param wrong  set where there is none of that name, or the course is named
/// as well.
std::optional<runs::Drill> fill_from_drill(const runs::OwnCourses& own, const std::string& name, DrillFields fields,
                                           std::string& wrong);

/// --signal, as the run log has the words.
void declare_signal(Options& app, std::string& signal);

/// --posture, as the run log has the word.
void declare_posture(Options& app, std::string& posture);

}  // namespace bagsplit::cli
