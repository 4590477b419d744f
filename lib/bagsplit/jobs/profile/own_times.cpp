#include "bagsplit/jobs/profile/own_times.hpp"

#include <algorithm>

#include "bagsplit/inference/reading/assemble.hpp"
#include "bagsplit/jobs/profile/detail/profile_job.hpp"

namespace bagsplit::jobs {

namespace {

void add_lap(const runs::RunLog& log, const runs::Run& run, const runs::Reading& reading, OwnRecord& record) {
  OwnLap lap;
  lap.date = run.date;
  for (const runs::Split& split : log.splits_of(reading)) {
    const std::string& mark = log.name(split.mark);
    double* const place = mark == "first"    ? &lap.first_s
                          : mark == "second" ? &lap.second_s
                          : mark == "third"  ? &lap.third_s
                          : mark == "home"   ? &lap.home_s
                                             : nullptr;
    if (place != nullptr) {
      *place = split.time_s;
    }
  }
  const bool whole = lap.first_s > 0.0 && lap.second_s > 0.0 && lap.third_s > 0.0 && lap.home_s > 0.0;
  if (whole && (!record.best_lap || lap.home_s < record.best_lap->home_s)) {
    record.best_lap = lap;
  }
}

}  // namespace

OwnRecord own_record(const runs::RunLog& log, std::span<const std::uint32_t> used) {
  OwnRecord out;
  for (const std::uint32_t index : used) {
    const runs::Run& run = log.runs[index];
    const auto readings = log.readings_of(run);
    const auto reading = std::find_if(readings.begin(), readings.end(), [](const runs::Reading& one) {
      return one.split_count > 0 && one.flag == runs::Flag::none;
    });
    if (reading == readings.end() || log.splits_of(*reading).back().is_move) {
      continue;
    }
    const runs::Split& last = log.splits_of(*reading).back();
    const std::string& course = log.courses[run.course].name;
    const std::string& mark = log.name(last.mark);
    auto found = std::find_if(out.times.begin(), out.times.end(), [&](const OwnTimes& one) {
      return one.course == course && one.mark == mark && one.posture == run.posture && one.start == reading->start &&
             one.base_distance_m == run.base_distance_m;
    });
    if (found == out.times.end()) {
      out.times.push_back({.course = course,
                           .mark = mark,
                           .posture = run.posture,
                           .start = reading->start,
                           .base_distance_m = run.base_distance_m,
                           .best_s = 0.0,
                           .usual_s = 0.0,
                           .last_s = 0.0,
                           .runs = {}});
      found = std::prev(out.times.end());
    }
    found->runs.push_back({run.date, last.time_s});
    if (course == "circuit") {
      add_lap(log, run, *reading, out);
    }
  }
  for (OwnTimes& one : out.times) {
    std::vector<double> sorted;
    const OwnRun* last = &one.runs.front();
    for (const OwnRun& run : one.runs) {
      sorted.push_back(run.time_s);
      last = run.date >= last->date ? &run : last;
    }
    std::sort(sorted.begin(), sorted.end());
    const std::size_t n = sorted.size();
    one.best_s = sorted.front();
    one.usual_s = n % 2 == 1 ? sorted[n / 2] : 0.5 * (sorted[n / 2 - 1] + sorted[n / 2]);
    one.last_s = last->time_s;
  }
  std::stable_sort(out.times.begin(), out.times.end(),
                   [](const OwnTimes& a, const OwnTimes& b) { return a.runs.size() > b.runs.size(); });
  return out;
}

std::vector<OwnRecord> own_records(const runs::RunLog& log, const ProfileResult& profile,
                                   std::optional<runs::Date> as_of, std::optional<int> window_days) {
  const RunsByPlayer by_player(log);
  std::vector<OwnRecord> out;
  for (const PlayerProfile& player : profile.players) {
    out.emplace_back();
    for (std::size_t k = 0; k < by_player.players.size(); ++k) {
      if (log.names[by_player.players[k]] == player.player) {
        out.back() = own_record(log, inference::select_runs(log, by_player.runs[k], as_of, window_days).used);
      }
    }
  }
  return out;
}

}  // namespace bagsplit::jobs
