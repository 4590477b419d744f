#include "bagsplit/jobs/trend/trend.hpp"

#include <algorithm>
#include <map>
#include <set>
#include <tuple>

#include "bagsplit/text/text.hpp"

namespace bagsplit::jobs {

namespace {

bool has_move_time(const runs::RunLog& log, const runs::Run& run) {
  const auto readings = log.readings_of(run);
  return std::any_of(readings.begin(), readings.end(), [&](const runs::Reading& reading) {
    const auto splits = log.splits_of(reading);
    return std::any_of(splits.begin(), splits.end(), [](const runs::Split& split) { return split.is_move; });
  });
}

}  // namespace

bool only_moves_are_timed(const runs::RunLog& log, const std::string& course) {
  const auto known = courses_and_marks(log);
  return has_move_times(log, course) && std::all_of(known.begin(), known.end(), [&](const CourseMarks& each) {
           return each.marks.empty() || (!course.empty() && !text::equal_ignoring_case(each.course, course));
         });
}

bool has_move_times(const runs::RunLog& log, const std::string& course) {
  return std::any_of(log.runs.begin(), log.runs.end(), [&](const runs::Run& run) {
    return (course.empty() || text::equal_ignoring_case(log.courses[run.course].name, course)) &&
           has_move_time(log, run);
  });
}

std::vector<CourseMarks> courses_and_marks(const runs::RunLog& log) {
  struct Use {
    std::size_t comparisons = 0;
    std::size_t times = 0;
    std::set<runs::Date> dates;  // of the player at hand
  };
  std::vector<std::map<runs::NameId, Use>> uses(log.courses.size());
  std::vector<std::size_t> runs_of(log.courses.size(), 0);
  const auto close_player = [&] {
    for (auto& course : uses) {
      for (auto& [mark, use] : course) {
        use.comparisons += use.dates.size() > 1 ? use.dates.size() - 1 : 0;
        use.dates.clear();
      }
    }
  };
  for (std::size_t i = 0; i < log.runs.size(); ++i) {  // ordered by player
    const runs::Run& run = log.runs[i];
    if (i > 0 && run.player != log.runs[i - 1].player) {
      close_player();
    }
    ++runs_of[run.course];
    for (const runs::Reading& reading : log.readings_of(run)) {
      for (const runs::Split& split : log.splits_of(reading)) {
        if (!split.is_move) {
          Use& use = uses[run.course][split.mark];
          ++use.times;
          if (run.flag == runs::Flag::none) {
            use.dates.insert(run.date);
          }
        }
      }
    }
  }
  close_player();
  std::vector<CourseMarks> out;
  for (std::size_t c = 0; c < log.courses.size(); ++c) {
    if (runs_of[c] == 0) {
      continue;
    }
    // Of equally used marks the one farthest along: bags in the order of the course.
    const auto place = [&](runs::NameId id) {
      const auto& all = log.courses[c].marks;
      return std::find_if(all.begin(), all.end(), [&](const runs::CourseMark& m) { return m.name == log.name(id); }) -
             all.begin();
    };
    std::vector<std::tuple<std::size_t, std::size_t, std::ptrdiff_t, runs::NameId>> order;
    for (const auto& [id, use] : uses[c]) {
      order.emplace_back(use.comparisons, use.times, place(id), id);
    }
    std::sort(order.rbegin(), order.rend());
    CourseMarks made{log.courses[c].name, {}, order.empty() ? 0 : std::get<0>(order.front()), runs_of[c]};
    for (const auto& entry : order) {
      made.marks.push_back(log.name(std::get<3>(entry)));
    }
    out.push_back(std::move(made));
  }
  std::stable_sort(out.begin(), out.end(), [](const CourseMarks& a, const CourseMarks& b) {
    return a.comparisons != b.comparisons ? a.comparisons > b.comparisons : a.runs > b.runs;
  });
  return out;
}

}  // namespace bagsplit::jobs
