#include "bagsplit/runs/log/log_summary.hpp"

#include <algorithm>
#include <array>
#include <utility>

namespace bagsplit::runs {

namespace {

template <typename Value>
std::size_t count_different(std::vector<Value> values) {
  std::sort(values.begin(), values.end());
  return static_cast<std::size_t>(std::unique(values.begin(), values.end()) - values.begin());
}

constexpr std::array all_flags{Flag::false_start, Flag::fall,     Flag::missed_bag,
                               Flag::obstructed,  Flag::void_run, Flag::absent};

}  // namespace

std::string_view flag_name(Flag flag) {
  switch (flag) {
    case Flag::none:
      return "";
    case Flag::false_start:
      return "false-start";
    case Flag::fall:
      return "fall";
    case Flag::missed_bag:
      return "missed-bag";
    case Flag::obstructed:
      return "obstructed";
    case Flag::void_run:
      return "void";
    case Flag::absent:
      return "absent";
  }
  return "";
}

LogSummary summarise(const RunLog& log) {
  LogSummary summary;
  summary.files = log.files.size();
  summary.rows = log.rows_read;
  summary.runs = log.runs.size();
  summary.readings = log.readings.size();
  summary.times = log.splits.size();

  std::vector<NameId> players;
  std::vector<Date> dates;
  std::vector<std::pair<Date, NameId>> sessions;
  std::vector<std::vector<NameId>> by_course(log.courses.size());
  for (const Run& run : log.runs) {
    players.push_back(run.player);
    dates.push_back(run.date);
    sessions.emplace_back(run.date, run.place);
    by_course[run.course].push_back(run.player);
  }
  summary.players = count_different(players);
  summary.sessions = count_different(sessions);
  summary.dates = count_different(dates);
  if (!dates.empty()) {
    const auto [first, last] = std::minmax_element(dates.begin(), dates.end());
    summary.first_date = *first;
    summary.last_date = *last;
  }
  for (std::size_t c = 0; c < by_course.size(); ++c) {
    if (!by_course[c].empty()) {
      summary.courses.push_back({log.courses[c].name, by_course[c].size(), count_different(by_course[c])});
    }
  }
  for (const Flag flag : all_flags) {
    const auto flagged =
        std::count_if(log.runs.begin(), log.runs.end(), [&](const Run& run) { return run.flag == flag; });
    if (flagged > 0) {
      summary.flags.push_back({std::string(flag_name(flag)), static_cast<std::size_t>(flagged)});
    }
  }

  std::vector<std::size_t> by_timer(log.names.size() + 1, 0);
  std::vector<NameId> met;
  for (const Reading& reading : log.readings) {
    summary.suspicious_readings += reading.suspicious ? 1U : 0U;
    std::size_t& count = by_timer[reading.timer == no_name ? log.names.size() : reading.timer];
    if (count == 0) {
      met.push_back(reading.timer);
    }
    ++count;
  }
  for (const NameId timer : met) {
    summary.timers.push_back({log.name(timer), by_timer[timer == no_name ? log.names.size() : timer]});
  }
  return summary;
}

}  // namespace bagsplit::runs
