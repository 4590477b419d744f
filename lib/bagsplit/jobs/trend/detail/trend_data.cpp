#include "bagsplit/jobs/trend/detail/trend_data.hpp"

#include <algorithm>
#include <cmath>
#include <set>
#include <tuple>
#include <unordered_map>

#include "bagsplit/runs/log/log_summary.hpp"
#include "bagsplit/runs/player_order.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/runs/words.hpp"
#include "bagsplit/text/number_chars.hpp"
#include "bagsplit/text/text.hpp"
#include "bagsplit/timing/combined_time.hpp"
#include "bagsplit/timing/reading_error.hpp"

namespace bagsplit::jobs {

namespace detail {

namespace {

bool has_move_time(const runs::RunLog& log, const runs::Run& run) {
  const auto readings = log.readings_of(run);
  return std::any_of(readings.begin(), readings.end(), [&](const runs::Reading& reading) {
    const auto splits = log.splits_of(reading);
    return std::any_of(splits.begin(), splits.end(), [](const runs::Split& split) { return split.is_move; });
  });
}

// Runs that differ in this are not comparable: the clock starts or the body begins otherwise.
using Manner = std::tuple<runs::StartKind, runs::Posture, double>;

std::string words_of(const Manner& manner) {
  const auto& [start, posture, beam_m] = manner;
  std::string out = "start " + std::string(runs::word_of(start));
  if (start == runs::StartKind::beam) {
    out += " " + text::plain_fixed(beam_m, 2) + " m";
  }
  return out + ", " + std::string(runs::word_of(posture));
}

const runs::Split* split_at(const runs::RunLog& log, const runs::Reading& reading, const std::string& mark,
                            std::optional<double> distance_m) {
  for (const runs::Split& split : log.splits_of(reading)) {
    const bool same_name = text::equal_ignoring_case(log.name(split.mark), mark);
    const bool same_place = distance_m && !split.is_move && std::fabs(split.distance_m - *distance_m) < 0.005;
    if (same_name || same_place) {
      return &split;
    }
  }
  return nullptr;
}

constexpr const char* move_mark = "move";

struct Candidate {
  std::uint32_t run = 0;
  Manner manner;
  double base_m = 0.0;
};

class Gatherer {
 public:
  Gatherer(const runs::RunLog& log, const timing::DeviceBook& devices, const TrendOptions& options, TrendData& out)
      : log_(log), devices_(devices), options_(options), out_(out) {}

  void gather() {
    choose_course();
    mark_m_ = runs::parse_length_m(out_.mark);
    from_m_ = runs::parse_length_m(out_.from_mark);
    std::vector<Candidate> candidates = candidates_of_course();
    keep_usual(
        candidates, [](const Candidate& c) { return c.manner; },
        [&](const Manner& usual, const std::vector<Manner>& others) {
          std::vector<std::string> words;
          words.reserve(others.size());
          for (const Manner& manner : others) {
            words.push_back(words_of(manner));
          }
          out_.notes.push_back(
              "Runs that start otherwise are not comparable: the clock or the body begins at "
              "another moment. Used: " +
              words_of(usual) + "; left out: " + joined(words) + ".");
        },
        "another_start");
    keep_usual(
        candidates, [](const Candidate& c) { return c.base_m; },
        [&](double usual, const std::vector<double>& others) {
          std::vector<std::string> words;
          words.reserve(others.size());
          for (const double base : others) {
            words.push_back(length_words(base));
          }
          out_.notes.push_back("Bases at different distances are not mixed. Used: " + length_words(usual) +
                               "; left out: " + joined(words) + ".");
        },
        "another_base_distance");
    for (const auto& [reason, count] : left_out_) {
      out_.left_out.push_back({reason, count});
      out_.runs_left_out += count;
    }
    if (!candidates.empty()) {
      out_.signal = std::get<0>(candidates.front().manner) == runs::StartKind::signal && out_.from_mark.empty();
      if (!out_.reaction && log_.courses[log_.runs[candidates.front().run].course].is_base_path()) {
        out_.base_distance_m = candidates.front().base_m;
      }
    }
    std::vector<std::string> names;
    names.reserve(candidates.size());
    for (const Candidate& c : candidates) {
      names.push_back(log_.name(log_.runs[c.run].player));
    }
    for (const std::string& name : absent_players_) {
      names.push_back(name);
    }
    std::sort(names.begin(), names.end(), runs::id_before);
    names.erase(std::unique(names.begin(), names.end()), names.end());
    out_.players = std::move(names);
    for (std::size_t i = 0; i < out_.players.size(); ++i) {
      player_of_.emplace(out_.players[i], i);
    }
    std::set<std::pair<runs::Date, runs::NameId>> sessions;
    for (const Candidate& c : candidates) {
      sessions.emplace(log_.runs[c.run].date, log_.runs[c.run].place);
    }
    out_.sessions.assign(sessions.begin(), sessions.end());
    for (const Candidate& c : candidates) {
      add(c);
    }
    if (!out_.runs.empty()) {
      out_.press_sd_s = std::sqrt(press_variance_ / static_cast<double>(presses_));
      out_.rounding_sd_s = std::sqrt(rounding_variance_ / static_cast<double>(presses_));
    }
  }

 private:
  static std::string length_words(double metres) {
    const double feet = metres / runs::metres_per_foot;
    return std::fabs(feet - std::round(feet)) < 0.01 ? text::plain_fixed(feet, 0) + " ft"
                                                     : text::plain_fixed(metres, 2) + " m";
  }

  void choose_course() {
    out_.course = options_.course;
    out_.mark = options_.mark;
    out_.from_mark = options_.from_mark;
    const auto known = courses_and_marks(log_);
    // The reaction: asked for, or the only thing timed.
    const bool moves_only = out_.mark.empty() && only_moves_are_timed(log_, out_.course);
    if (out_.from_mark.empty() && (moves_only || text::equal_ignoring_case(out_.mark, move_mark))) {
      out_.reaction = true;
      out_.mark = move_mark;
      for (const CourseMarks& each : known) {
        out_.course = text::equal_ignoring_case(each.course, out_.course) ? each.course : out_.course;
      }
      return;
    }
    if (out_.course.empty()) {
      for (const CourseMarks& each : known) {  // the first one that has the mark
        const auto length_m = runs::parse_length_m(out_.mark);
        const bool has = out_.mark.empty() || std::any_of(each.marks.begin(), each.marks.end(), [&](const auto& mark) {
                           const auto here_m = runs::parse_length_m(mark);
                           return text::equal_ignoring_case(mark, out_.mark) ||
                                  (length_m && here_m && std::fabs(*here_m - *length_m) < 0.005);
                         });
        if (out_.course.empty() && has) {
          out_.course = each.course;
        }
      }
    }
    for (const CourseMarks& each : known) {
      if (text::equal_ignoring_case(each.course, out_.course)) {
        out_.course = each.course;
        if (out_.mark.empty() && !each.marks.empty()) {
          out_.mark = each.marks.front();
        }
      }
    }
  }

  bool has_time(const runs::Reading& reading) const {
    return split_at(log_, reading, out_.mark, mark_m_) != nullptr &&
           (out_.from_mark.empty() || split_at(log_, reading, out_.from_mark, from_m_) != nullptr);
  }

  std::vector<Candidate> candidates_of_course() {
    std::vector<Candidate> out;
    for (std::uint32_t i = 0; i < log_.runs.size(); ++i) {
      const runs::Run& run = log_.runs[i];
      if (out_.reaction && out_.course.empty()
              ? !has_move_time(log_, run)
              : !text::equal_ignoring_case(log_.courses[run.course].name, out_.course)) {
        continue;
      }
      if (run.flag != runs::Flag::none) {
        leave_out(run, std::string(runs::flag_name(run.flag)));
      } else if (run.leg != 0 || run.team != runs::no_name) {
        leave_out(run, "relay_leg");
      } else if (run.in_heat) {
        leave_out(run, "heat");
      } else {
        const auto readings = log_.readings_of(run);
        const auto timed = std::find_if(readings.begin(), readings.end(),
                                        [&](const runs::Reading& reading) { return has_time(reading); });
        if (timed == readings.end()) {
          leave_out(run, "no_time_at_mark");
        } else if (out_.reaction && timed->start != runs::StartKind::signal) {
          leave_out(run, "no_signal");
        } else {
          const double base_m = !out_.reaction && log_.courses[run.course].is_base_path() ? run.base_distance_m : 0.0;
          out.push_back({i, {timed->start, run.posture, timed->beam_distance_m}, base_m});
        }
      }
    }
    return out;
  }

  void leave_out(const runs::Run& run, const std::string& reason) {
    ++left_out_[reason];
    absent_players_.insert(log_.name(run.player));
  }

  // Keeps the runs with the most used value of something; of equally used ones the smaller.
  template <typename Key, typename Say>
  void keep_usual(std::vector<Candidate>& candidates, const Key& key, const Say& say, const std::string& reason) {
    std::map<decltype(key(candidates.front())), std::size_t> counts;
    for (const Candidate& c : candidates) {
      ++counts[key(c)];
    }
    if (counts.size() < 2) {
      return;
    }
    auto usual = counts.begin();
    for (auto it = counts.begin(); it != counts.end(); ++it) {
      usual = it->second > usual->second ? it : usual;
    }
    std::vector<decltype(key(candidates.front()))> others;
    for (const auto& [value, count] : counts) {
      if (value != usual->first) {
        others.push_back(value);
      }
    }
    say(usual->first, others);
    std::erase_if(candidates, [&](const Candidate& c) {
      const bool other = key(c) != usual->first;
      if (other) {
        leave_out(log_.runs[c.run], reason);
      }
      return other;
    });
  }

  // The error of one reading of this time: for a lap the start does not matter, and the mark's press counts twice.
  struct Known {
    timing::ReadingError error;
    std::size_t group = 0;
    int timer = -1;  // columns; -1 where nothing is unknown
    int device = -1;
  };
  // A time at the first move reads reaction + b + lag: the bias of both together, what is not known of it shared out as
  // before, the lag a timer's own.
  static void count_the_move(timing::ReadingError& error, const inference::ModelFile::Error& given) {
    if (given.bias_s) {
      error.bias_mean_s += given.move_lag_s.value_or(0.0);
      return;
    }
    const double shared = error.bias_shared_sd_s * error.bias_shared_sd_s;
    const double own = error.bias_timer_sd_s * error.bias_timer_sd_s + error.move_lag_sd_s * error.move_lag_sd_s;
    const double together = std::max(0.0, shared + own + 2.0 * error.bias_move_covariance_s2);
    const double part = shared + own > 0.0 ? together / (shared + own) : 0.0;
    error.bias_mean_s += error.move_lag_mean_s;
    error.bias_shared_sd_s = std::sqrt(part * shared);
    error.bias_timer_sd_s = std::sqrt(part * own);
  }

  const Known& known_of(const runs::Reading& reading) {
    const auto key = std::tuple(reading.device, reading.start, reading.timer, reading.signal);
    if (const auto it = known_.find(key); it != known_.end()) {
      return it->second;
    }
    const timing::DeviceProfile& profile = devices_.default_for(reading.device);
    const std::string& timer = log_.name(reading.timer);
    Known made;
    const inference::ModelFile::Error& given = options_.model.error;
    made.error = error_of(profile, reading.start, timer, given, reading.signal);
    if (out_.reaction) {
      count_the_move(made.error, given);
    }
    if (!out_.from_mark.empty()) {
      made.error.split_sd_s *= std::sqrt(2.0);
      made.error.start_sd_s = made.error.bias_mean_s = 0.0;
      made.error.bias_shared_sd_s = made.error.bias_timer_sd_s = 0.0;
    }
    if (!(made.error.start_sd_s > 0.0) && !(made.error.split_sd_s > 0.0)) {
      made.error.split_sd_s = std::max(1e-4, timing::rounding_sd_s(profile.resolution_s));
    }
    const std::string kind = profile.name + ", " + std::string(timing::start_timing_name(made.error.timing));
    const auto class_key = std::tuple(kind, made.error.bias_shared_sd_s);
    const auto [group, fresh] = groups_.emplace(class_key, groups_.size());
    made.group = group->second;
    if (fresh) {
      device_column_.push_back(-1);
      if (made.error.bias_shared_sd_s > 0.0) {
        device_column_.back() = static_cast<int>(out_.devices.size());
        out_.devices.push_back({kind, made.error.bias_shared_sd_s, 0});
      }
    }
    made.device = device_column_[made.group];
    if (made.error.bias_timer_sd_s > 0.0) {
      made.timer = static_cast<int>(out_.timers.size());
      out_.timers.push_back({(timer.empty() ? "not named" : timer) + ", " + kind, made.error.bias_timer_sd_s, 0});
    }
    return known_.emplace(key, made).first->second;
  }

  void add(const Candidate& candidate) {
    const runs::Run& run = log_.runs[candidate.run];
    std::vector<timing::WatchTime> watches;
    std::vector<Known> known;
    for (const runs::Reading& reading : log_.readings_of(run)) {
      if (reading.start != std::get<0>(candidate.manner) || !has_time(reading)) {
        continue;
      }
      double time_s = split_at(log_, reading, out_.mark, mark_m_)->time_s;
      if (!out_.from_mark.empty()) {
        time_s -= split_at(log_, reading, out_.from_mark, from_m_)->time_s;
      }
      if (!out_.distance_m && !out_.reaction) {
        if (!out_.from_mark.empty()) {
          out_.from_m = split_at(log_, reading, out_.from_mark, from_m_)->distance_m;
        }
        out_.distance_m = split_at(log_, reading, out_.mark, mark_m_)->distance_m - out_.from_m;
      }
      const Known& k = known_of(reading);
      const double step = devices_.default_for(reading.device).resolution_s;
      press_variance_ += k.error.start_sd_s * k.error.start_sd_s + k.error.split_sd_s * k.error.split_sd_s;
      rounding_variance_ += step * step / 12.0;
      ++presses_;
      watches.push_back({time_s, k.error, k.group});
      known.push_back(k);
    }
    const timing::CombinedTime combined = timing::combine_watches(watches);
    TrendRun made;
    made.player = player_of_.at(log_.name(run.player));
    made.session = static_cast<std::size_t>(
        std::lower_bound(out_.sessions.begin(), out_.sessions.end(), std::pair(run.date, run.place)) -
        out_.sessions.begin());
    made.date = run.date;
    made.time_s = combined.time_s;
    made.surface = run.surface;
    made.wind_mps = run.wind_mps;
    for (std::size_t r = 0; r < watches.size(); ++r) {
      const double share = combined.weights[r];
      if (known[r].timer >= 0) {
        made.timers.push_back({known[r].timer, share});
        ++out_.timers[static_cast<std::size_t>(known[r].timer)].runs;
      }
      if (known[r].device >= 0) {
        made.devices.push_back({known[r].device, share});
        ++out_.devices[static_cast<std::size_t>(known[r].device)].runs;
      }
    }
    add_overlaps(watches, known);
    out_.runs.push_back(std::move(made));
  }

  // Each watch against the mean of those before it: independent pieces of knowledge of the timers' differences.
  void add_overlaps(const std::vector<timing::WatchTime>& watches, const std::vector<Known>& known) {
    for (std::size_t r = 1; r < watches.size(); ++r) {
      stats::SharedKnowledge row;
      double mean_variance = 0.0;
      const double part = 1.0 / static_cast<double>(r);
      const auto press = [&](std::size_t i) {
        const timing::ReadingError& e = watches[i].error;
        return e.start_sd_s * e.start_sd_s + e.split_sd_s * e.split_sd_s;
      };
      row.value = watches[r].time_s - watches[r].error.bias_mean_s;
      for (std::size_t i = 0; i < r; ++i) {
        row.value -= part * (watches[i].time_s - watches[i].error.bias_mean_s);
        mean_variance += part * part * press(i);
        enter(row, known[i], -part);
      }
      enter(row, known[r], 1.0);
      row.sd = std::sqrt(press(r) + mean_variance);
      std::erase_if(row.row, [](const stats::SharedEntry& entry) { return std::fabs(entry.value) < 1e-12; });
      if (!row.row.empty()) {
        out_.overlaps.push_back(std::move(row));
      }
    }
  }
  // Devices' columns come after the timers', whose number is not known yet: told apart by sign, -1 - column.
  static void enter(stats::SharedKnowledge& row, const Known& known, double weight) {
    for (const int column : {known.timer, known.device >= 0 ? -1 - known.device - 1 : -1}) {
      if (column == -1) {
        continue;
      }
      const auto at = std::find_if(row.row.begin(), row.row.end(),
                                   [&](const stats::SharedEntry& entry) { return entry.column == column; });
      if (at == row.row.end()) {
        row.row.push_back({column, weight});
      } else {
        at->value += weight;
      }
    }
  }

  const runs::RunLog& log_;
  const timing::DeviceBook& devices_;
  const TrendOptions& options_;
  TrendData& out_;
  std::optional<double> mark_m_, from_m_;
  std::map<std::string, std::size_t> left_out_;
  std::set<std::string> absent_players_;  // seen only in what is left out
  std::unordered_map<std::string, std::size_t> player_of_;
  std::map<std::tuple<runs::Device, runs::StartKind, runs::NameId, runs::Signal>, Known> known_;
  std::map<std::tuple<std::string, double>, std::size_t> groups_;
  std::vector<int> device_column_;
  double press_variance_ = 0.0;
  double rounding_variance_ = 0.0;
  std::size_t presses_ = 0;
};

}  // namespace

timing::ReadingError error_of(const timing::DeviceProfile& profile, runs::StartKind start, const std::string& timer,
                              const inference::ModelFile::Error& given, runs::Signal signal) {
  timing::ReadingError error = timing::reading_error(profile, start, timer, signal);
  error.start_sd_s = given.start_sd_s.value_or(error.start_sd_s);
  error.split_sd_s = given.split_sd_s.value_or(error.split_sd_s);
  if (given.bias_s) {
    error.bias_mean_s = *given.bias_s;
    error.bias_shared_sd_s = error.bias_timer_sd_s = 0.0;
  }
  return error;
}

bool only_moves_are_timed(const runs::RunLog& log, const std::string& course) {
  const auto known = courses_and_marks(log);
  return has_move_times(log, course) && std::all_of(known.begin(), known.end(), [&](const CourseMarks& each) {
           return each.marks.empty() || (!course.empty() && !text::equal_ignoring_case(each.course, course));
         });
}

TrendData trend_data(const runs::RunLog& log, const timing::DeviceBook& devices, const TrendOptions& options) {
  TrendData out;
  Gatherer(log, devices, options, out).gather();
  // Now that the number of timers is known: devices' columns after them.
  for (stats::SharedKnowledge& row : out.overlaps) {
    for (stats::SharedEntry& entry : row.row) {
      if (entry.column < 0) {
        entry.column = static_cast<int>(out.timers.size()) + (-entry.column - 2);
      }
    }
  }
  return out;
}

}  // namespace detail

bool has_move_times(const runs::RunLog& log, const std::string& course) {
  return std::any_of(log.runs.begin(), log.runs.end(), [&](const runs::Run& run) {
    return (course.empty() || text::equal_ignoring_case(log.courses[run.course].name, course)) &&
           detail::has_move_time(log, run);
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
