#include "asked.hpp"

#include <algorithm>
#include <string_view>

#include "bagsplit/jobs/trend/trend.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::cli {

std::string keep_players(const std::vector<std::string>& wanted, jobs::ProfileResult& result) {
  std::vector<jobs::PlayerProfile> kept;
  for (const std::string& id : wanted) {
    const auto found = std::find_if(result.players.begin(), result.players.end(),
                                    [&](const jobs::PlayerProfile& player) { return player.player == id; });
    if (found == result.players.end()) {
      std::vector<std::string_view> known;
      for (const jobs::PlayerProfile& player : result.players) {
        known.push_back(player.player);
      }
      const auto nearest = text::nearest(id, known);
      return "no run of player '" + id + "'" + (nearest ? ". Did you mean '" + std::string(*nearest) + "'?" : "");
    }
    if (std::none_of(kept.begin(), kept.end(),
                     [&](const jobs::PlayerProfile& player) { return player.player == id; })) {
      kept.push_back(*found);
    }
  }
  result.players = std::move(kept);
  result.runs_used = 0;
  result.runs_left_out = 0;
  for (const jobs::PlayerProfile& player : result.players) {
    result.runs_used += player.runs_used;
    result.runs_left_out += player.runs_left_out;
  }
  return {};
}

std::string wrong_comparison(const std::string& course, const std::vector<std::string>& marks_asked,
                             const runs::RunLog& log) {
  const std::vector<jobs::CourseMarks> known = jobs::courses_and_marks(log);
  const auto hint = [](const std::string& name, const std::vector<std::string>& names) {
    const std::vector<std::string_view> views(names.begin(), names.end());
    const auto nearest = text::nearest(name, views);
    return nearest ? ". Did you mean '" + std::string(*nearest) + "'?" : ". There are: " + text::list_of(views, ",");
  };
  if (known.empty()) {
    return {};
  }
  const bool any_course = course.empty() && !marks_asked.front().empty();  // the first course with that mark is taken
  std::vector<std::string> courses;
  std::vector<std::string> marks = known.front().marks;
  for (const jobs::CourseMarks& each : known) {
    courses.push_back(each.course);
    if (text::equal_ignoring_case(each.course, course)) {
      marks = each.marks;
    }
    for (const std::string& mark : each.marks) {
      if (any_course && std::find(marks.begin(), marks.end(), mark) == marks.end()) {
        marks.push_back(mark);
      }
    }
  }
  if (jobs::has_move_times(log, course)) {
    marks.emplace_back("move");
  }
  const auto among = [](const std::string& name, const std::vector<std::string>& names) {
    return std::any_of(names.begin(), names.end(),
                       [&](const std::string& each) { return text::equal_ignoring_case(each, name); });
  };
  if (!course.empty() && !among(course, courses)) {
    return "no run over the course '" + course + "'" + hint(course, courses);
  }
  for (const std::string& mark : marks_asked) {
    if (!mark.empty() && !among(mark, marks) && !runs::parse_length_m(mark)) {
      return "no time at the mark '" + mark + "' on " + (any_course ? "any course" : "that course") + hint(mark, marks);
    }
  }
  return {};
}

}  // namespace bagsplit::cli
