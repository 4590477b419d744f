#include "bagsplit/jobs/trend/season_trend.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>
#include <map>
#include <set>
#include <stdexcept>
#include <tuple>

#include "bagsplit/inference/season/sprint.hpp"
#include "bagsplit/jobs/fast_end.hpp"
#include "bagsplit/jobs/trend/detail/season_data.hpp"
#include "bagsplit/runs/player_order.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/safety/safety.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/icc.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::jobs {

namespace {

using detail::SeasonData;
using season::Shared;
using season::Verdict;

std::size_t at(int index) {
  return static_cast<std::size_t>(index);
}

bool is_mark(const detail::SeasonLevelName& level, const std::string& mark) {
  const auto length_m = runs::parse_length_m(mark);
  return text::equal_ignoring_case(level.mark, mark) || (length_m && std::fabs(*length_m - level.distance_m) < 0.005);
}

/// The mark of the same way, nearer the start.
std::optional<int> nearer_mark(const SeasonData& data, std::size_t of, const std::string& mark) {
  for (std::size_t l = 0; l < data.levels.size(); ++l) {
    if (data.levels[l].way == data.levels[of].way && data.levels[l].distance_m < data.levels[of].distance_m &&
        is_mark(data.levels[l], mark)) {
      return static_cast<int>(l);
    }
  }
  return std::nullopt;
}

/// Of the levels asked for the one with most readings, then the shortest, then the first.
std::optional<int> reference_of(const SeasonData& data, const TrendOptions& options) {
  std::vector<std::size_t> used(data.levels.size(), 0);
  for (const season::Reading& reading : data.season.readings) {
    ++used[at(reading.level)];
  }
  std::optional<std::size_t> best;
  for (std::size_t l = 0; l < data.levels.size(); ++l) {
    const auto& level = data.levels[l];
    const bool asked = (options.course.empty() || text::equal_ignoring_case(level.course, options.course)) &&
                       (options.mark.empty() || is_mark(level, options.mark)) &&
                       (options.from_mark.empty() || nearer_mark(data, l, options.from_mark));
    const auto better = [&](std::size_t than) {
      return used[l] != used[than] ? used[l] > used[than] : level.distance_m < data.levels[than].distance_m;
    };
    if (asked && (!best || better(*best))) {
      best = l;
    }
  }
  return best ? std::optional(static_cast<int>(*best)) : std::nullopt;
}

bool asks_for_the_reaction(const runs::RunLog& log, const TrendOptions& options) {
  return options.from_mark.empty() && (text::equal_ignoring_case(options.mark, "move") ||
                                       (options.mark.empty() && only_moves_are_timed(log, options.course)));
}

class SeasonJob {
 public:
  SeasonJob(const runs::RunLog& log, const runs::Roster& roster, const TrendOptions& options, SeasonData data)
      : log_(log), roster_(roster), options_(options), data_(std::move(data)) {}

  SeasonTrend run(season::Options how) {
    describe();
    const bool ready = choose_reference() && choose_windows();
    count_times();
    add_own_times();
    if (ready) {
      answer(how);
    }
    if (options_.a_week && result_.weeks) {
      give_a_week(*result_.weeks);
    }
    for (SeasonPlayer& player : result_.players) {
      player.verdict = words(player.change ? player.change->verdict : Verdict::not_seen_early_and_late);
    }
    sort_players();
    return std::move(result_);
  }

 private:
  void describe() {
    result_.level = options_.level;
    result_.reaction = asks_for_the_reaction(log_, options_);
    result_.a_week = options_.a_week;
    result_.model = options_.model;
    result_.times_used = data_.season.readings.size();
    result_.runs_used = data_.runs_used;
    result_.runs_left_out = data_.runs_left_out;
    result_.left_out = data_.left_out;
    result_.dates = data_.dates.size();
    result_.cautions = {safety::sprint_caution(fast_end_mps(log_, roster_))};
    std::set<std::string> courses;
    std::set<std::pair<std::string, std::string>> marks;
    for (const auto& level : data_.levels) {
      courses.insert(level.course);
      marks.emplace(level.course, level.mark);
    }
    result_.courses = courses.size();
    result_.marks = marks.size();
    for (const std::string& id : data_.players) {
      SeasonPlayer player;
      player.player = id;
      if (const runs::Player* known = roster_.find(id)) {
        player.sex = known->sex;
      }
      result_.players.push_back(std::move(player));
    }
  }

  bool choose_reference() {
    if (data_.season.readings.empty()) {
      result_.notes.emplace_back(
          result_.reaction ? "No run started on a signal has a time at the first move (the mark move): there is no "
                             "reaction to compare."
                           : "No run has a time at any mark: there is nothing to compare.");
      return false;
    }
    reference_ = reference_of(data_, options_);
    std::vector<double> moving;
    if (reference_) {
      const auto level = data_.levels[at(*reference_)];
      result_.course = result_.reaction && options_.course.empty() ? "" : level.course;
      result_.mark = level.mark;
      data_.season.reference_level = reference_;
      result_.distance_m = result_.reaction ? std::nullopt : std::optional(level.distance_m);
      if (!options_.from_mark.empty()) {
        from_ = nearer_mark(data_, at(*reference_), options_.from_mark);
        result_.from_mark = data_.levels[at(*from_)].mark;
        data_.season.reference_level = detail::add_segment(data_, *from_, *reference_);
        result_.distance_m = data_.levels.back().distance_m;
      }
      for (const auto& row : data_.season.moving_time_s) {
        if (row[at(*data_.season.reference_level)] > 0.0) {
          moving.push_back(row[at(*data_.season.reference_level)]);
        }
      }
    }
    if (moving.empty()) {
      result_.notes.push_back("No run " +
                              (options_.course.empty() ? "" : "over the course '" + options_.course + "' ") +
                              "has a time at " + (options_.mark.empty() ? "a mark" : "'" + options_.mark + "'") +
                              (options_.from_mark.empty() ? "" : " and before it at '" + options_.from_mark + "'") +
                              ": there is nothing to compare.");
      return false;
    }
    std::sort(moving.begin(), moving.end());
    result_.moving_time_s = 0.5 * (moving[(moving.size() - 1) / 2] + moving[moving.size() / 2]);
    return true;
  }

  // Windows: as given, else the thirds of the season model.
  bool choose_windows() {
    const std::size_t n = data_.dates.size();
    if (n < 2) {
      result_.notes.emplace_back("All runs are of one date: a change needs runs on at least two.");
      return false;
    }
    const std::size_t third = n <= 3 ? 1 : (n + 2) / 3;
    const auto span_early = options_.first.value_or(DateSpan{data_.dates.front(), data_.dates[third - 1]});
    const auto span_late = options_.last.value_or(DateSpan{data_.dates[n - third], data_.dates.back()});
    for (std::size_t d = 0; d < n; ++d) {
      if (span_early.holds(data_.dates[d])) {
        early_.push_back(static_cast<int>(d));
      } else if (span_late.holds(data_.dates[d])) {
        late_.push_back(static_cast<int>(d));
      }
    }
    result_.early = summary(early_, span_early);
    result_.late = summary(late_, span_late);
    for (const auto& [window, name] : {std::pair{&early_, "first"}, std::pair{&late_, "last"}}) {
      if (window->empty()) {
        result_.notes.push_back(std::string("No run in the ") + name + " window: there is nothing to compare.");
      }
    }
    if (early_.empty() || late_.empty()) {
      return false;
    }
    constexpr double days_a_week = 7.0;
    result_.weeks = (middle_of(late_) - middle_of(early_)) / days_a_week;
    return true;
  }

  double middle_of(const std::vector<int>& window) const {
    double sum = 0.0;
    for (const int date : window) {
      sum += data_.season.days[at(date)];
    }
    return sum / static_cast<double>(window.size());
  }

  // What a page draws: each run's time at the reference, its watches' mean.
  void add_own_times() {
    if (!reference_) {
      return;
    }
    std::map<std::tuple<int, int, int>, double> before;  // at the nearer mark, by child, run and watch
    for (const season::Reading& reading : data_.season.readings) {
      if (from_ && reading.level == *from_) {
        before[{reading.child, reading.run, reading.press}] = reading.time_s;
      }
    }
    int run = -1;
    std::size_t watches = 0;
    for (const season::Reading& reading : data_.season.readings) {
      const auto start = before.find({reading.child, reading.run, reading.press});
      if ((reading.level != *reference_ && !result_.reaction) || (from_ && start == before.end())) {
        continue;
      }
      const double time_s = reading.time_s - (from_ ? start->second : 0.0);
      std::vector<TrendTime>& times = result_.players[at(reading.child)].times;
      if (reading.run == run) {
        ++watches;
        times.back().time_s += (time_s - times.back().time_s) / static_cast<double>(watches);
      } else {
        run = reading.run;
        watches = 1;
        times.push_back({data_.dates[at(reading.date)], time_s});
      }
    }
    for (SeasonPlayer& player : result_.players) {
      std::set<runs::Date> dates;
      for (const TrendTime& time : player.times) {
        dates.insert(time.date);
      }
      player.evenings = dates.size();
      player.mean_early_s = mean_of(player.times, early_);
      player.mean_late_s = mean_of(player.times, late_);
    }
  }

  std::optional<double> mean_of(const std::vector<TrendTime>& times, const std::vector<int>& window) const {
    double sum = 0.0, count = 0.0;
    for (const TrendTime& time : times) {
      const auto date = std::lower_bound(data_.dates.begin(), data_.dates.end(), time.date) - data_.dates.begin();
      if (holds(window, static_cast<int>(date))) {
        sum += time.time_s;
        count += 1.0;
      }
    }
    return count > 0.0 ? std::optional(sum / count) : std::nullopt;
  }

  void give_a_week(double weeks) {
    const auto divide = [weeks](auto&... values) { ((values /= weeks), ...); };
    divide(result_.common_move_s.mean, result_.common_move_s.sd);
    for (auto* const value : {&result_.smallest_detectable_s, &result_.worthwhile_s}) {
      if (*value) {
        divide(**value);
      }
    }
    for (SeasonPlayer& player : result_.players) {
      if (player.change) {
        season::Change& c = *player.change;
        divide(c.change_s, c.interval_s.lo, c.interval_s.hi, c.growth_s.mean, c.growth_s.sd, c.beyond_growth_s.mean,
               c.beyond_growth_s.sd, c.beyond_growth_interval_s.lo, c.beyond_growth_interval_s.hi, c.conditions_s);
      }
    }
  }

  static bool holds(const std::vector<int>& window, int date) {
    return std::binary_search(window.begin(), window.end(), date);
  }

  WindowSummary summary(const std::vector<int>& window, DateSpan span) const {
    WindowSummary out{.span = span, .dates = window.size()};
    std::set<int> runs_in, players;
    for (const season::Reading& reading : data_.season.readings) {
      if (holds(window, reading.date)) {
        runs_in.insert(reading.run);
        players.insert(reading.child);
      }
    }
    out.runs = runs_in.size();
    out.players = players.size();
    return out;
  }

  void count_times() {
    std::vector<std::pair<int, int>> dates(data_.players.size(), {std::numeric_limits<int>::max(), -1});
    for (const season::Reading& reading : data_.season.readings) {
      SeasonPlayer& player = result_.players[at(reading.child)];
      ++(holds(early_, reading.date)  ? player.times_early
         : holds(late_, reading.date) ? player.times_late
                                      : player.times_between);
      auto& [from, to] = dates[at(reading.child)];
      from = std::min(from, reading.date);
      to = std::max(to, reading.date);
    }
    std::size_t unknown = 0, timed = 0;
    for (std::size_t i = 0; i < dates.size(); ++i) {
      if (dates[i].second < 0) {
        continue;
      }
      ++timed;
      const runs::Player* known = roster_.find(data_.players[i]);
      if (known == nullptr || !known->born) {
        ++unknown;
        continue;
      }
      result_.players[i].age_first_years = runs::age_years(*known->born, data_.dates[at(dates[i].first)]);
      result_.players[i].age_last_years = runs::age_years(*known->born, data_.dates[at(dates[i].second)]);
    }
    if (unknown > 0 && !result_.reaction) {
      result_.notes.push_back(text::counted(unknown, "player") +
                              " without a date of birth: taken to grow as an eleven-year-old does, with more doubt.");
    }
    if (timed == 1) {
      result_.notes.emplace_back(
          "One player only: what an evening did to everybody cannot be told from what this child did.");
    }
  }

  void answer(season::Options how) {
    how.interval_level = options_.level;
    if (options_.worthwhile_s) {
      how.worth = *options_.worthwhile_s * (options_.a_week ? *result_.weeks : 1.0) / result_.moving_time_s;
    }
    result_.worthwhile_s = how.worth * result_.moving_time_s;
    const season::Fit fit = season::fit_season(data_.season, how);
    std::vector<season::Change> changes = fit.changes(early_, late_);
    std::vector<std::string> elsewhere;
    for (std::size_t i = 0; i < changes.size(); ++i) {
      SeasonPlayer& player = result_.players[i];
      if (player.times_early + player.times_between + player.times_late > 0) {
        player.change = std::move(changes[i]);
        if (!(data_.season.moving_time_s[i][at(*data_.season.reference_level)] > 0.0)) {
          elsewhere.push_back(player.player);
        }
      }
    }
    if (!elsewhere.empty() && !result_.reaction) {
      result_.notes.push_back("No time at " + result_.mark + " over " + result_.course +
                              ", started as most were there, of " + text::joined(elsewhere) +
                              ": those seconds are of what these children ran.");
    }
    const double moving_s = result_.moving_time_s;
    result_.squad = fit.squad();
    const season::Estimate move = fit.common_move(early_, late_);
    result_.common_move_s = {moving_s * move.mean, moving_s * move.sd};
    if (const auto least = fit.squad().smallest_detectable) {
      result_.smallest_detectable_s = moving_s * *least;
    }
    doubt_what_hangs(fit, how);
    say_noise(fit.squad().scales);
    say_conditions(fit, how);
    say_suspects(fit);
  }

  // What would be surely said but for a reading that may be wrong, though it counts nearly in full, is not sure: it
  // must stay likely without that reading, and sure were slips five times as common.
  void doubt_what_hangs(const season::Fit& fit, const season::Options& how) {
    constexpr double may_be_wrong = 0.05, counts_little = 0.5, least_without = 0.8, sure_p = 0.9, commoner = 5.0;
    const auto is_sure = [](const SeasonPlayer& player) {
      return player.change &&
             (player.change->verdict == Verdict::surely_faster || player.change->verdict == Verdict::surely_slower);
    };
    std::vector<season::SuspectedReading> doubtful = fit.suspected(may_be_wrong);
    std::erase_if(doubtful, [&](const season::SuspectedReading& one) {
      return one.p >= counts_little || !is_sure(result_.players[at(data_.season.readings[at(one.reading)].child)]);
    });
    if (doubtful.empty()) {
      return;
    }
    season::Season without = data_.season;
    for (auto one = doubtful.rbegin(); one != doubtful.rend(); ++one) {
      without.readings.erase(without.readings.begin() + one->reading);
    }
    season::Options often = how;
    often.slips.rate *= commoner;
    const auto left_out = season::fit_season(std::move(without), how).changes(early_, late_);
    const auto more_slips = season::fit_season(data_.season, often).changes(early_, late_);
    for (const season::SuspectedReading& one : doubtful) {
      const std::size_t child = at(data_.season.readings[at(one.reading)].child);
      SeasonPlayer& player = result_.players[child];
      if (!is_sure(player)) {
        continue;
      }
      const bool faster = player.change->verdict == Verdict::surely_faster;
      const auto p_of = [&](const season::Change& change) { return faster ? change.p_faster : change.p_slower; };
      if (p_of(left_out[child]) < least_without || p_of(more_slips[child]) < sure_p) {
        player.change->verdict = faster ? Verdict::probably_faster : Verdict::probably_slower;
        const runs::Reading& row = log_.readings[data_.source[at(one.reading)]];
        result_.notes.push_back("Player " + player.player + " would be surely " + (faster ? "faster" : "slower") +
                                ", but that hangs on " +
                                (row.file < log_.files.size() ? log_.files[row.file] + " " : "") + "line " +
                                std::to_string(row.line) + ": one more run settles it.");
      }
    }
  }

  // Of a run on another evening: its watch, effort, reaction, the form of the day and the evening.
  void say_noise(const season::Scales& scales) {
    double sum = 0.0, count = 0.0;
    for (const season::Reading& reading : data_.season.readings) {
      if (reading.level == *reference_) {
        const auto square = [](double x) { return x * x; };
        sum += from_ ? 2.0 * square(reading.mark_sd_s)
                     : square(reading.mark_sd_s) + square(reading.start_sd_s) + square(reading.reaction_sd_s);
        count += 1.0;
      }
    }
    const double runner_s = result_.moving_time_s * std::hypot(scales.effort_sd, scales.form_sd);
    const double evening_s = result_.moving_time_s * scales.evening_sd;
    result_.typical_error_s = std::sqrt(runner_s * runner_s + sum / count);
    result_.retest_difference_s = stats::minimal_detectable_change(*result_.typical_error_s);
    result_.one_run_noise_s =
        stats::normal_quantile(0.5 + 0.5 * options_.level) * std::hypot(*result_.typical_error_s, evening_s);
  }

  // What each reading holds of one kind of condition, in seconds of a run over the reference course.
  template <typename Effect>
  double explained(const Effect& effect) const {
    double sum[2] = {0.0, 0.0};
    std::size_t count[2] = {0, 0};
    for (const season::Reading& reading : data_.season.readings) {
      const bool late = holds(late_, reading.date);
      if (late || holds(early_, reading.date)) {
        sum[late ? 1 : 0] += effect(reading);
        ++count[late ? 1 : 0];
      }
    }
    return count[0] == 0 || count[1] == 0
               ? 0.0
               : sum[1] / static_cast<double>(count[1]) - sum[0] / static_cast<double>(count[0]);
  }

  void add_condition(const season::Fit& fit, Shared kind, const std::string& name,
                     const std::vector<std::string>& names, int season::Reading::*which, double scale_s) {
    if (names.size() < 2) {
      return;
    }
    std::vector<std::size_t> used(names.size(), 0);
    for (const season::Reading& reading : data_.season.readings) {
      ++used[at(reading.*which)];
    }
    SeasonCondition out;
    out.kind = name;
    std::vector<double> effect(names.size());
    for (std::size_t k = 0; k < names.size(); ++k) {
      effect[k] = scale_s * fit.shared(kind, static_cast<int>(k)).value.mean;
    }
    out.explains_s = explained([&](const season::Reading& reading) { return effect[at(reading.*which)]; });
    if (kind != Shared::evening) {
      const auto most = static_cast<int>(std::max_element(used.begin(), used.end()) - used.begin());
      for (std::size_t k = 0; k < names.size(); ++k) {
        SeasonLevel level{.name = names[k], .times = used[k]};
        if (static_cast<int>(k) != most) {
          const season::Estimate other = fit.difference(kind, most, static_cast<int>(k));
          level.effect_s = scale_s * other.mean;
          level.sd_s = std::fabs(scale_s) * other.sd;
        }
        out.levels.push_back(level);
      }
    }
    result_.conditions.push_back(std::move(out));
  }

  void say_conditions(const season::Fit& fit, const season::Options& how) {
    const double moving_s = result_.moving_time_s;
    add_condition(fit, Shared::ground, "ground", data_.grounds, &season::Reading::ground, moving_s);
    add_condition(fit, Shared::timer, "timer", data_.timers, &season::Reading::timer, 1.0);
    add_condition(fit, Shared::device, "device", data_.devices, &season::Reading::device, 1.0);
    add_condition(fit, Shared::evening, "evening", std::vector<std::string>(data_.dates.size()), &season::Reading::date,
                  moving_s);
    const auto& readings = data_.season.readings;
    if (std::any_of(readings.begin(), readings.end(),
                    [](const auto& reading) { return reading.wind_mps.has_value(); })) {
      const double drag = season::drag_per_m(how.typical_height_m, how.typical_mass_kg, how.drag_scale);
      const double factor = 1.0 + fit.squad().wind_factor.value.mean;
      const double explains_s = explained([&](const season::Reading& reading) {
        const season::Level& level = data_.season.levels[at(reading.level)];
        const double own_s = data_.season.moving_time_s[at(reading.child)][at(reading.level)];
        constexpr double top_speed_mps = 5.5, time_constant_s = 1.1;
        return reading.wind_mps ? factor * moving_s / own_s *
                                      season::wind_change_s(*reading.wind_mps, level.distance_m, top_speed_mps,
                                                            time_constant_s, drag, level.loop)
                                : 0.0;
      });
      result_.conditions.push_back({"wind", explains_s, {}});
    }
  }

  SuspectedReading at_row(std::size_t reading, std::string kind, double p) const {
    const runs::Reading& source = log_.readings[data_.source[reading]];
    SuspectedReading out;
    out.file = source.file < log_.files.size() ? log_.files[source.file] : std::string();
    out.line = source.line;
    out.player = data_.players[at(data_.season.readings[reading].child)];
    out.kind = std::move(kind);
    out.probability = p;
    return out;
  }

  void say_suspects(const season::Fit& fit) {
    const auto& readings = data_.season.readings;
    std::vector<double> all_fit(data_.players.size(), 1.0);
    for (const season::SuspectedEvening& one : fit.suspected_evenings(0.0)) {
      all_fit[at(one.child)] *= 1.0 - one.p;
      if (one.p < maybe_suspected) {
        continue;
      }
      const auto found = std::find_if(readings.begin(), readings.end(), [&](const season::Reading& reading) {
        return reading.child == one.child && reading.date == one.date;
      });
      const auto first = static_cast<std::size_t>(found - readings.begin());
      SuspectedReading reading = at_row(first, "bib", one.p);
      reading.read_s = reading.expected_s = typed_time(first, data_.levels[at(found->level)]);
      result_.suspects.push_back({std::move(reading),
                                  "all times of this evening are off together, as with a bib of somebody else",
                                  data_.dates[at(one.date)]});
    }
    for (const season::SuspectedReading& one : fit.suspected(0.0)) {
      const season::Reading& source = readings[at(one.reading)];
      all_fit[at(source.child)] *= 1.0 - one.p;
      if (one.p < maybe_suspected) {
        continue;
      }
      const auto& level = data_.levels[at(source.level)];
      const runs::Reading& row = log_.readings[data_.source[at(one.reading)]];
      SuspectedReading reading = at_row(at(one.reading), row.split_count == 1 ? "time" : "mark", one.p);
      reading.column = level.mark;
      const double typed_s = typed_time(at(one.reading), level);
      reading.read_s = typed_s;
      reading.size_s = one.size_s;
      reading.expected_s = typed_s - one.size_s;
      reading.expected_sd_s = one.size_sd_s;
      result_.suspects.push_back({std::move(reading),
                                  level.course + " at " + level.mark + ", " + text::fixed(typed_s, 2) + " s",
                                  data_.dates[at(source.date)]});
    }
    for (SeasonPlayer& player : result_.players) {
      const auto known = std::find(data_.players.begin(), data_.players.end(), player.player);
      if (known != data_.players.end() && player.change) {
        player.probability_all_readings_fit = all_fit[static_cast<std::size_t>(known - data_.players.begin())];
      }
    }
  }

  // As it stands in the log, what the watch is known to read too much included.
  double typed_time(std::size_t reading, const detail::SeasonLevelName& level) const {
    for (const runs::Split& split : log_.splits_of(log_.readings[data_.source[reading]])) {
      if (log_.name(split.mark) == level.mark) {
        return split.time_s;
      }
    }
    return data_.season.readings[reading].time_s;
  }

  void sort_players() {
    const auto rank = [](const SeasonPlayer& player) {
      const Verdict verdict = player.change ? player.change->verdict : Verdict::not_seen_early_and_late;
      return verdict == Verdict::surely_faster || verdict == Verdict::surely_slower       ? 0
             : verdict == Verdict::probably_faster || verdict == Verdict::probably_slower ? 1
             : verdict == Verdict::leaning_faster || verdict == Verdict::leaning_slower   ? 2
             : verdict == Verdict::as_growth_says                                         ? 3
             : verdict == Verdict::no_sign                                                ? 4
                                                                                          : 5;
    };
    const auto sure = [&](const SeasonPlayer& player) {
      return !player.change      ? 0.0
             : rank(player) == 3 ? player.change->p_as_growth
                                 : std::max(player.change->p_faster, player.change->p_slower);
    };
    std::stable_sort(result_.players.begin(), result_.players.end(), [&](const auto& a, const auto& b) {
      return rank(a) != rank(b) ? rank(a) < rank(b) : sure(a) > sure(b);
    });
  }

  const runs::RunLog& log_;
  const runs::Roster& roster_;
  const TrendOptions& options_;
  SeasonData data_;
  SeasonTrend result_;
  std::vector<int> early_, late_;
  std::optional<int> reference_, from_;  // where the times asked for end, and where they begin but for the start
};

}  // namespace

SeasonTrend season_trend(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                         const TrendOptions& options) {
  if (!(options.level > 0.0 && options.level < 1.0)) {
    throw std::domain_error("trend: the level of intervals must be between 0 and 1");
  }
  if (options.worthwhile_s && !(*options.worthwhile_s > 0.0)) {
    throw std::domain_error("trend: worthwhile_s must be above 0");
  }
  season::Options how;
  if (asks_for_the_reaction(log, options)) {
    how.sizes = {0.04, 0.08, 0.15};  // s: a press scatters as widely as a child's reaction may change
  }
  how.threads = 0;  // the same bits for any number
  SeasonData data = detail::season_data(log, roster, devices, options.model, asks_for_the_reaction(log, options), how);
  return SeasonJob(log, roster, options, std::move(data)).run(how);
}

}  // namespace bagsplit::jobs
