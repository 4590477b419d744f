#include "bagsplit/jobs/trend/trend.hpp"

#include <algorithm>
#include <set>
#include <stdexcept>

#include "bagsplit/jobs/fast_end.hpp"
#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/jobs/trend/detail/trend_job.hpp"
#include "bagsplit/safety/safety.hpp"

namespace bagsplit::jobs {

namespace detail {

TrendResult TrendJob::run() {
  describe();
  place_in_windows();
  if (own_.empty() || data_.runs.empty()) {
    return std::move(result_);
  }
  if (can_answer()) {
    fit_plain();
    fit_components();
    shrink();
    say_conditions();  // before the verdicts, which name them
    judge();
  } else {
    say_conditions();
  }
  add_notes();
  return std::move(result_);
}

void TrendJob::describe() {
  result_.level = options_.level;
  result_.false_discovery_share = options_.false_discovery_share;
  result_.course = data_.course;
  result_.mark = data_.mark;
  result_.from_mark = data_.from_mark;
  result_.reaction = data_.reaction;
  result_.distance_m = data_.distance_m;
  result_.base_distance_m = data_.base_distance_m;
  result_.slope = options_.slope;
  result_.left_out = data_.left_out;
  result_.runs_left_out = data_.runs_left_out;
  result_.runs_used = data_.runs.size();
  result_.notes = data_.notes;
  result_.model = options_.model;
  const inference::ModelFile defaults = inference::default_model();
  auto& error = result_.model.error;
  error.effort_cv = error.effort_cv ? error.effort_cv : defaults.error.effort_cv;
  error.day_cv = error.day_cv ? error.day_cv : defaults.error.day_cv;
  error.reaction_sd_s = error.reaction_sd_s ? error.reaction_sd_s : defaults.error.reaction_sd_s;
  result_.cautions = {safety::sprint_caution(fast_end_mps(log_, roster_))};
  result_.players.resize(data_.players.size());
  for (std::size_t i = 0; i < data_.players.size(); ++i) {
    PlayerTrend& player = result_.players[i];
    player.player = data_.players[i];
    if (const runs::Player* known = roster_.find(player.player)) {
      player.sex = known->sex;
    }
  }
  if (data_.runs.empty()) {
    if (data_.reaction) {
      result_.notes.push_back("No run started on a signal " +
                              (data_.course.empty() ? "" : "over the course '" + data_.course + "' ") +
                              "has a time at the first move (the mark move): there is no reaction to compare.");
    } else if (data_.mark.empty()) {
      result_.notes.push_back((data_.course.empty() ? "No run" : "No run over the course '" + data_.course + "'") +
                              std::string(" has a time at any mark: there is nothing to compare."));
    } else {
      result_.notes.push_back("No run " + (data_.course.empty() ? "" : "over the course '" + data_.course + "' ") +
                              "has a time at '" + data_.mark + "'" +
                              (data_.from_mark.empty() ? "" : " and at '" + data_.from_mark + "'") +
                              ": there is nothing to compare.");
    }
    for (PlayerTrend& player : result_.players) {
      player.verdict_words = data_.reaction ? "cannot tell: no reaction timed" : "cannot tell: no time at this mark";
    }
  }
}

std::size_t TrendJob::window_of(runs::Date date) const {
  return options_.slope || !spans_[first] ? middle
         : spans_[first]->holds(date)     ? first
         : spans_[last]->holds(date)      ? last
                                          : middle;
}

void TrendJob::place_in_windows() {
  std::vector<runs::Date> dates;
  double total = 0.0;
  for (const TrendRun& run : data_.runs) {
    dates.push_back(run.date);
    total += run.time_s / static_cast<double>(data_.runs.size());
  }
  mean_s_ = total;
  std::sort(dates.begin(), dates.end());
  dates.erase(std::unique(dates.begin(), dates.end()), dates.end());
  dates_ = dates.size();
  if (!dates.empty()) {
    origin_week_ = 0.5 * (week_of(dates.front()) + week_of(dates.back()));
    weeks_ = week_of(dates.back()) - week_of(dates.front());
  }
  if (!options_.slope && dates.size() >= 2) {
    const std::size_t third = std::min((dates.size() + 2) / 3, dates.size() / 2);
    spans_[first] = options_.first.value_or(DateSpan{dates.front(), dates[third - 1]});
    spans_[last] = options_.last.value_or(DateSpan{dates[dates.size() - third], dates.back()});
  } else if (!options_.slope && options_.first && options_.last) {
    spans_[first] = options_.first;
    spans_[last] = options_.last;
  }
  own_.resize(data_.players.size());
  for (std::size_t i = 0; i < data_.runs.size(); ++i) {
    Own& own = own_[data_.runs[i].player];
    const std::size_t w = window_of(data_.runs[i].date);
    own.runs[w].push_back(i);
    own.sessions[w].insert(data_.runs[i].session);
    own.mean_s += data_.runs[i].time_s;
    result_.players[data_.runs[i].player].times.push_back({data_.runs[i].date, data_.runs[i].time_s});
  }
  for (std::size_t i = 0; i < own_.size(); ++i) {
    PlayerTrend& player = result_.players[i];
    player.runs_first = own_[i].runs[first].size();
    player.runs_middle = own_[i].runs[middle].size();
    player.runs_last = own_[i].runs[last].size();
    player.mean_first_s = mean_time(own_[i].runs[first]);
    player.mean_last_s = mean_time(own_[i].runs[last]);
    player.sessions = own_[i].sessions[first].size() + own_[i].sessions[middle].size() + own_[i].sessions[last].size();
    own_[i].mean_s /=
        std::max<double>(1.0, static_cast<double>(player.runs_first + player.runs_middle + player.runs_last));
  }
  if (options_.slope && !dates.empty()) {
    result_.first = summary(middle, {dates.front(), dates.back()});
  } else if (spans_[first]) {
    result_.first = summary(first, *spans_[first]);
    result_.last = summary(last, *spans_[last]);
  }
  find_ages();
}

std::optional<double> TrendJob::mean_time(const std::vector<std::size_t>& runs_of) const {
  double sum = 0.0;
  for (const std::size_t r : runs_of) {
    sum += data_.runs[r].time_s;
  }
  return runs_of.empty() ? std::nullopt : std::optional(sum / static_cast<double>(runs_of.size()));
}

WindowSummary TrendJob::summary(std::size_t window, DateSpan span) const {
  WindowSummary out;
  out.span = span;
  std::set<runs::Date> dates;
  std::set<std::size_t> sessions;
  for (const Own& own : own_) {
    out.players += !own.runs[window].empty();
    out.runs += own.runs[window].size();
    for (const std::size_t i : own.runs[window]) {
      dates.insert(data_.runs[i].date);
      sessions.insert(data_.runs[i].session);
    }
  }
  out.dates = dates.size();
  out.sessions = sessions.size();
  return out;
}

void TrendJob::find_ages() {
  for (std::size_t i = 0; i < own_.size(); ++i) {
    const runs::Player* known = roster_.find(data_.players[i]);
    if (known == nullptr || !known->born) {
      continue;
    }
    const auto mean_age = [&](const std::vector<std::size_t>& runs_of) -> std::optional<double> {
      double sum = 0.0;
      for (const std::size_t r : runs_of) {
        sum += runs::age_years(*known->born, data_.runs[r].date);
      }
      return runs_of.empty() ? std::nullopt : std::optional(sum / static_cast<double>(runs_of.size()));
    };
    PlayerTrend& player = result_.players[i];
    if (!options_.slope) {
      player.age_first_years = mean_age(own_[i].runs[first]);
      player.age_last_years = mean_age(own_[i].runs[last]);
    } else if (!own_[i].runs[middle].empty()) {
      runs::Date from = data_.runs[own_[i].runs[middle].front()].date;
      runs::Date to = from;
      for (const std::size_t r : own_[i].runs[middle]) {
        from = std::min(from, data_.runs[r].date);
        to = std::max(to, data_.runs[r].date);
      }
      player.age_first_years = runs::age_years(*known->born, from);
      player.age_last_years = runs::age_years(*known->born, to);
    }
  }
}

bool TrendJob::can_answer() {
  if (dates_ < 2) {
    result_.notes.push_back("All runs are of one date: a change needs runs on at least two.");
    for (PlayerTrend& player : result_.players) {
      player.verdict_words = "cannot tell: one date only";
    }
    return false;
  }
  bool any = false;
  for (std::size_t i = 0; i < own_.size(); ++i) {
    PlayerTrend& player = result_.players[i];
    if (options_.slope) {
      if (player.sessions == 0) {
        player.verdict_words = "cannot tell: no run that counts";
      } else if (!several_dates(own_[i].runs[middle])) {
        player.verdict_words = "cannot tell: runs on one date only";
      } else {
        any = true;
      }
    } else if (player.runs_first == 0 && player.runs_last == 0) {
      player.verdict_words =
          player.runs_middle == 0 ? "cannot tell: no run that counts" : "cannot tell: runs between the windows only";
    } else if (player.runs_first == 0) {
      player.verdict_words = "cannot tell: no run in the first window";
    } else if (player.runs_last == 0) {
      player.verdict_words = "cannot tell: no run in the last window";
    } else {
      any = true;
    }
  }
  if (!any) {
    result_.notes.push_back(options_.slope ? "No player has runs on two dates: nobody has a change."
                                           : "No player has runs in both windows: nobody has a change.");
  }
  return any;
}

bool TrendJob::several_dates(const std::vector<std::size_t>& runs_of) const {
  return std::any_of(runs_of.begin(), runs_of.end(),
                     [&](std::size_t r) { return data_.runs[r].date != data_.runs[runs_of.front()].date; });
}

}  // namespace detail

TrendResult trend(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                  const norms::Catalogue& norms, const TrendOptions& options) {
  if (!(options.level > 0.0) || !(options.level < 1.0)) {
    throw std::domain_error("trend: level must lie strictly between 0 and 1");
  }
  if (!(options.false_discovery_share > 0.0) || !(options.false_discovery_share < 1.0)) {
    throw std::domain_error("trend: false_discovery_share must lie strictly between 0 and 1");
  }
  if (options.worthwhile_s && !(*options.worthwhile_s > 0.0)) {
    throw std::domain_error("trend: worthwhile_s must be above 0");
  }
  return detail::TrendJob(log, roster, norms, options, detail::trend_data(log, devices, options)).run();
}

}  // namespace bagsplit::jobs
