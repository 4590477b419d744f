#include "night.hpp"

#include <algorithm>
#include <cmath>
#include <set>
#include <stdexcept>
#include <utility>

namespace demo_season {

namespace {

const Timer& timer_of(const Season& season, const std::string& id) {
  const auto it = std::find_if(season.timers.begin(), season.timers.end(), [&](const Timer& t) { return t.id == id; });
  if (it == season.timers.end()) {
    throw std::invalid_argument("night: no timer " + id);
  }
  return *it;
}

std::string quoted(const std::string& text, char delimiter) {
  if (text.find_first_of(std::string("\"\r\n") + delimiter) == std::string::npos) {
    return text;
  }
  std::string out = "\"";
  for (const char c : text) {
    out += c;
    if (c == '"') {
      out += c;
    }
  }
  return out + "\"";
}

}  // namespace

Night::Night(Season& season, NightInfo info)
    : season_(season), info_(std::move(info)), stream_(season_seed, "runs of " + info_.date) {
  truth_.date = info_.date;
  truth_.drills = info_.drills;
  truth_.place = info_.place;
  truth_.surface = info_.surface;
  truth_.surface_factor = info_.surface_factor;
  Stream form(season_seed, "form of " + info_.date);
  for (const Child& child : season_.children) {
    const double day_form = form.normal(0.0, season_.common.day_cv);
    if (std::find(info_.present.begin(), info_.present.end(), child.id) != info_.present.end()) {
      truth_.day_form[child.id] = day_form;
      line_.push_back(&child);
    }
  }
  if (line_.size() != info_.present.size()) {
    throw std::invalid_argument("night: somebody on " + info_.date + " is not in the squad");
  }
  Stream shuffle(season_seed, "line on " + info_.date);
  for (std::size_t i = line_.size(); i > 1; --i) {
    std::swap(line_[i - 1], line_[shuffle.below(i)]);
  }
}

void Night::set(Row& row, std::string_view column, const std::string& value) const {
  const auto it = std::find(info_.columns.begin(), info_.columns.end(), column);
  if (it != info_.columns.end()) {
    row[static_cast<std::size_t>(it - info_.columns.begin())] = value;
    return;
  }
  if (column == "posture" && value == "standing") {
    return;  // what a log means when it says nothing
  }
  const std::string default_line = std::string(column) + ": " + value;
  if (std::find(info_.header.begin(), info_.header.end(), default_line) == info_.header.end()) {
    throw std::logic_error("night: " + info_.date + " has neither column nor default for " + default_line);
  }
}

std::string Night::time_text(double units, bool gate) const {
  const auto whole = static_cast<long long>(units);
  const long long per_second = gate ? 1000 : 100;
  std::string fraction = std::to_string(whole % per_second);
  fraction.insert(0, (gate ? 3U : 2U) - fraction.size(), '0');
  return std::to_string(whole / per_second) + (info_.spreadsheet ? ',' : '.') + fraction;
}

void Night::run(const Drill& drill) {
  for (std::size_t trial = 0; trial < drill.trials; ++trial) {
    for (std::size_t i = 0; i < line_.size(); ++i) {
      if (std::find(drill.without.begin(), drill.without.end(), line_[i]->id) != drill.without.end()) {
        continue;
      }
      run_once(drill, *line_[i], i, drill.first_trial + trial);
    }
  }
}

void Night::run_once(const Drill& drill, const Child& child, std::size_t place_in_line, std::size_t trial) {
  const Common& common = season_.common;
  const auto found = info_.incidents.find({child.id, drill.course, trial});
  const Incident incident = found == info_.incidents.end() ? Incident{} : found->second;

  // What happened. The draws are made in the same order whatever the start, so that one drill does not disturb the
  // next.
  const double effort = stream_.normal(0.0, common.effort_cv);
  const double reaction_s = stream_.normal_within(child.reaction_s, common.reaction_sd_s, 0.14, 0.80);
  const Effort truth{(1.0 + truth_.day_form.at(child.id) + effort) * info_.surface_factor,
                     drill.start == Start::signal ? reaction_s + incident.reaction_change_s : 0.0};
  const double cost_s = (drill.posture == "prone" ? child.prone_cost_s : 0.0) +
                        (drill.start == Start::contact ? child.swing_finish_s : 0.0);
  const SeasonTime when = season_time(info_.date);
  const auto sprint = sprint_on(child, when.share, when.years, common);
  const bool counts = drill.start == Start::signal && incident.timed_to != "none";
  season_.runs.push_back({info_.date, child.id, drill.course, trial, effort, truth.reaction_s, counts, incident.flag});
  ++truth_.runs;
  ++order_;
  if (!incident.flag.empty()) {
    ++truth_.left_out;
  }

  // What the timers saw of it.
  bool first_reading = true;
  for (const Watch& watch : drill.watches) {
    if ((place_in_line + trial) % watch.every != watch.phase || trial >= drill.first_trial + watch.last_trial) {
      continue;
    }
    const bool gate = watch.cue == Cue::gate;
    const auto marks = marks_of(drill.course, watch.marks, child);
    std::array<double, max_marks> true_s{};
    std::array<double, max_marks> read_s{};
    const auto n = marks.size();
    true_times(sprint, marks, drill.start, truth, cost_s, std::span(true_s).first(n));
    bool delayed = false;
    for (std::size_t j = 0; j < n; ++j) {
      delayed = delayed || marks[j].name == incident.delay_from;
      true_s[j] += delayed ? incident.delay_s : 0.0;
    }
    const double bias_s = timer_of(season_, watch.timer).bias_s[static_cast<std::size_t>(watch.cue)].value();
    read_times(marks, std::span(true_s).first(n), bias_s, gate, common, stream_, std::span(read_s).first(n));

    Row row(info_.columns.size());
    set(row, "date", info_.date);
    set(row, "player", child.id);
    set(row, "course", drill.course);
    if (info_.write_trial) {
      set(row, "trial", std::to_string(trial));
    }
    set(row, "timer", watch.timer);
    set(row, "device", gate ? "gate" : "stopwatch");
    set(row, "start", std::string(start_text(drill.start)));
    set(row, "posture", drill.posture);
    if (std::find(info_.columns.begin(), info_.columns.end(), "x-order") != info_.columns.end()) {
      set(row, "x-order", std::to_string(order_));
    }
    const auto missed = info_.missed.find({child.id, drill.course, trial, watch.timer});
    double before = 0.0;
    bool known = incident.timed_to != "none";
    for (std::size_t j = 0; j < n && known; ++j) {
      const double units = std::round(read_s[j] / (gate ? common.gate_resolution_s : common.watch_resolution_s));
      if (units >= 0.0 && (missed == info_.missed.end() || missed->second != marks[j].name)) {
        set(row, marks[j].name, time_text(info_.laps ? units - before : units, gate));
      }
      before = units;
      known = marks[j].name != incident.timed_to;
    }
    if (!incident.flag.empty()) {
      set(row, "flag", incident.flag);
    }
    if (first_reading && !incident.note.empty()) {
      set(row, "note", incident.note);
    }
    first_reading = false;
    rows_.push_back({watch.timer, std::move(row)});
  }
  if (first_reading) {
    throw std::logic_error("night: nobody timed " + child.id + " on " + info_.date);
  }
}

void Night::finish() {
  if (info_.sheet_by_sheet) {
    std::stable_sort(rows_.begin(), rows_.end(), [](const Sheet& a, const Sheet& b) { return a.timer < b.timer; });
  }
  for (const auto& [player, note] : info_.absent) {
    Row row(info_.columns.size());
    set(row, "date", info_.date);
    set(row, "player", player);
    set(row, "course", info_.absent_course);
    set(row, "flag", "absent");
    set(row, "note", note);
    rows_.push_back({"", std::move(row)});
  }
  const std::string end = info_.spreadsheet ? "\r\n" : "\n";
  std::string text = info_.spreadsheet ? "\xEF\xBB\xBF" : "";
  for (const std::string& line : info_.header) {
    text += "# " + line + end;
  }
  const auto add = [&](const Row& row) {
    for (std::size_t c = 0; c < row.size(); ++c) {
      text += (c == 0 ? "" : std::string(1, info_.delimiter)) + quoted(row[c], info_.delimiter);
    }
    text += end;
  };
  add(info_.columns);
  for (const Sheet& sheet : rows_) {
    add(sheet.row);
  }
  truth_.rows = rows_.size();
  truth_.children = line_.size();
  season_.logs[info_.date + ".csv"] = std::move(text);
  season_.nights.push_back(truth_);
}

}  // namespace demo_season
