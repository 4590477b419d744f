#include "bagsplit/jobs/trend/detail/season_data.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <tuple>

#include "bagsplit/inference/prior/prior.hpp"
#include "bagsplit/inference/season/sprint.hpp"
#include "bagsplit/runs/log/log_summary.hpp"
#include "bagsplit/runs/player_order.hpp"
#include "bagsplit/timing/reading_error.hpp"

namespace bagsplit::jobs::detail {

namespace {

// Lost at a bag that is turned [s]. No source, ours: it moves the response of a course to a change by 1-2 %.
constexpr double turn_s = 0.3;
constexpr double default_reaction_sd_s = 0.05;
constexpr double worth_of_reaction_s = 0.02;                              // no source, ours
constexpr double usual_top_speed_mps = 5.5, usual_time_constant_s = 1.1;  // as course_response() has them

double median_of(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  return 0.5 * (values[(values.size() - 1) / 2] + values[values.size() / 2]);
}

// The error of a reading by its device and timer, what the model file gives in place of theirs.
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

// A time at the first move reads reaction + b + lag: the bias of both together, what is not known of it shared out as
// before, the lag a timer's own.
void count_the_move(timing::ReadingError& error, const inference::ModelFile::Error& given) {
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

class SeasonGatherer {
 public:
  SeasonGatherer(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                 const inference::ModelFile& model, bool moves)
      : log_(log), roster_(roster), devices_(devices), model_(model), moves_(moves) {}

  SeasonData gather(const season::Options& how) {
    const std::vector<std::uint32_t> kept = sort_out();
    list_players();
    list_dates(kept);
    for (const std::uint32_t run : kept) {
      add_run(log_.runs[run]);
    }
    out_.season.grounds = std::max(1, static_cast<int>(out_.grounds.size()));
    find_moving_times(how);
    return std::move(out_);
  }

 private:
  // The clock or the body begins at another moment: a level of its own.
  using LevelKey = std::tuple<std::uint16_t, long, long, runs::StartKind, runs::Posture, double>;

  struct Known {
    timing::ReadingError error;
    int timer = 0, device = 0;
  };

  bool counts(const runs::Reading& reading, const runs::Split& split) const {
    return split.is_move == moves_ && (!moves_ || reading.start == runs::StartKind::signal);
  }

  template <typename Wanted>
  bool has(const runs::Run& run, const Wanted& wanted) const {
    const auto readings = log_.readings_of(run);
    return std::any_of(readings.begin(), readings.end(), [&](const runs::Reading& reading) {
      const auto splits = log_.splits_of(reading);
      return std::any_of(splits.begin(), splits.end(),
                         [&](const runs::Split& split) { return wanted(reading, split); });
    });
  }

  bool has_time(const runs::Run& run) const {
    return has(run, [&](const runs::Reading& reading, const runs::Split& split) { return counts(reading, split); });
  }

  std::vector<std::uint32_t> sort_out() {
    std::vector<std::uint32_t> kept;
    std::map<std::string, std::size_t> left_out;
    for (std::uint32_t i = 0; i < log_.runs.size(); ++i) {
      const runs::Run& run = log_.runs[i];
      if (run.flag != runs::Flag::none) {
        ++left_out[std::string(runs::flag_name(run.flag))];
      } else if (run.leg != 0 || run.team != runs::no_name) {
        ++left_out["relay_leg"];
      } else if (run.in_heat) {
        ++left_out["heat"];
      } else if (!has_time(run)) {
        ++left_out[moves_ && has(run, [](const auto&, const runs::Split& split) { return split.is_move; })
                       ? "no_signal"
                       : "no_time_at_mark"];
      } else {
        kept.push_back(i);
      }
    }
    for (const auto& [reason, count] : left_out) {
      out_.left_out.push_back({reason, count});
      out_.runs_left_out += count;
    }
    out_.runs_used = kept.size();
    return kept;
  }

  void list_players() {
    std::set<runs::NameId> ids;
    for (const runs::Run& run : log_.runs) {
      ids.insert(run.player);
    }
    for (const runs::NameId id : ids) {
      out_.players.push_back(log_.name(id));
    }
    std::sort(out_.players.begin(), out_.players.end(), runs::id_before);
    out_.players.erase(std::unique(out_.players.begin(), out_.players.end()), out_.players.end());
    for (const runs::NameId id : ids) {
      const auto at = std::lower_bound(out_.players.begin(), out_.players.end(), log_.name(id), runs::id_before);
      child_of_[id] = static_cast<int>(at - out_.players.begin());
    }
  }

  void list_dates(const std::vector<std::uint32_t>& kept) {
    for (const std::uint32_t run : kept) {
      out_.dates.push_back(log_.runs[run].date);
    }
    std::sort(out_.dates.begin(), out_.dates.end());
    out_.dates.erase(std::unique(out_.dates.begin(), out_.dates.end()), out_.dates.end());
    for (const runs::Date date : out_.dates) {
      out_.season.days.push_back(static_cast<double>(date.time_since_epoch().count()));
    }
    for (const std::string& id : out_.players) {
      season::Child child;
      if (const runs::Player* known = roster_.find(id)) {
        child.sex = !known->sex                        ? season::Sex::unknown
                    : *known->sex == runs::Sex::female ? season::Sex::female
                                                       : season::Sex::male;
        if (known->born && !out_.dates.empty() && *known->born < out_.dates.front()) {
          child.age_yr = runs::age_years(*known->born, out_.dates.front());
        }
        if (moves_ && child.age_yr && !out_.dates.empty()) {
          const auto reaction_at = [&](double age) { return inference::sprint_prior(age, known->sex).reaction_s.mean; };
          child.growth_per_yr = reaction_at(*child.age_yr + 0.5) - reaction_at(*child.age_yr - 0.5);
        }
        child.height_m = known->height_m;
        child.mass_kg = known->mass_kg;
      }
      if (moves_ && !child.growth_per_yr) {
        child.growth_per_yr = 0.0;
      }
      out_.season.children.push_back(child);
    }
  }

  static int index_of(std::vector<std::string>& names, const std::string& name) {
    const auto at = std::find(names.begin(), names.end(), name);
    if (at != names.end()) {
      return static_cast<int>(at - names.begin());
    }
    names.push_back(name);
    return static_cast<int>(names.size()) - 1;
  }

  const Known& known_of(const runs::Reading& reading) {
    const auto key = std::tuple(reading.device, reading.start, reading.timer, reading.signal);
    if (const auto it = known_.find(key); it != known_.end()) {
      return it->second;
    }
    const timing::DeviceProfile& profile = devices_.default_for(reading.device);
    const std::string& timer = log_.name(reading.timer);
    Known made;
    made.error = error_of(profile, reading.start, timer, model_.error, reading.signal);
    if (moves_) {
      count_the_move(made.error, model_.error);
    }
    made.error.split_sd_s = std::max({made.error.split_sd_s, timing::rounding_sd_s(profile.resolution_s), 1e-4});
    const std::string kind = profile.name + ", " + std::string(timing::start_timing_name(made.error.timing));
    const auto devices = out_.devices.size();
    made.device = index_of(out_.devices, kind);
    if (out_.devices.size() > devices) {
      out_.season.devices.push_back({made.error.bias_shared_sd_s});
    }
    made.timer = static_cast<int>(out_.timers.size());
    out_.timers.push_back((timer.empty() ? "not named" : timer) + ", " + kind);
    out_.season.timers.push_back({made.error.bias_timer_sd_s});
    return known_.emplace(key, made).first->second;
  }

  int level_of(const runs::Run& run, const runs::Reading& reading, const runs::Split& split) {
    const runs::Course& course = log_.courses[run.course];
    const double base_m = course.is_base_path() ? run.base_distance_m : 0.0;
    const auto mm = [](double metres) { return std::lround(1000.0 * metres); };
    const LevelKey key{run.course,    mm(split.distance_m), mm(base_m),
                       reading.start, run.posture,          reading.beam_distance_m};
    const auto [at, fresh] = level_of_.emplace(key, static_cast<int>(out_.levels.size()));
    if (fresh) {
      const double bags = course.is_base_path() && base_m > 0.0 ? split.distance_m / base_m : 0.0;
      season::Level level;
      level.distance_m = split.distance_m;
      level.turns_s = turn_s * std::max(0.0, std::ceil(bags - 0.05) - 1.0);
      level.loop = course.bags.size() > 2 && course.bags.front() == course.bags.back() && bags > 3.9;
      if (!moves_) {
        level.response = season::course_response(std::max(split.distance_m, 1.0), level.turns_s);
      }
      out_.season.levels.push_back(level);
      const auto way = std::tuple(run.course, mm(base_m), reading.start, run.posture, reading.beam_distance_m);
      out_.levels.push_back({course.name, log_.name(split.mark), split.distance_m,
                             way_of_.emplace(way, static_cast<int>(way_of_.size())).first->second});
      signal_.push_back(reading.start == runs::StartKind::signal);
    }
    return at->second;
  }

  // A wind is given along the first stretch: around a bag it is not along the run any more.
  static bool lies_along(const runs::Course& course, const runs::Run& run, double distance_m) {
    return !course.is_base_path() || distance_m <= 1.01 * run.base_distance_m;
  }

  void add_run(const runs::Run& run) {
    const int date =
        static_cast<int>(std::lower_bound(out_.dates.begin(), out_.dates.end(), run.date) - out_.dates.begin());
    // A reaction knows no ground.
    const std::string ground = run.surface == runs::no_name || moves_ ? "not given" : log_.name(run.surface);
    const int ground_index = index_of(out_.grounds, ground);
    ++run_;
    int press = 0;
    for (const runs::Reading& reading : log_.readings_of(run)) {
      ++press;
      if (reading.flag != runs::Flag::none) {
        continue;
      }
      const Known& known = known_of(reading);
      for (const runs::Split& split : log_.splits_of(reading)) {
        const double time_s = split.time_s - known.error.bias_mean_s;
        if (!counts(reading, split) || !(time_s > 0.0) || (!moves_ && !(split.distance_m > 0.0))) {
          continue;
        }
        season::Reading made;
        made.child = child_of_.at(run.player);
        made.date = date;
        made.level = level_of(run, reading, split);
        made.run = run_;
        made.press = press;
        made.timer = known.timer;
        made.device = known.device;
        made.ground = ground_index;
        made.time_s = time_s;
        made.mark_sd_s = known.error.split_sd_s;
        made.start_sd_s = known.error.start_sd_s;
        const bool reacts = reading.start == runs::StartKind::signal || reading.start == runs::StartKind::contact;
        made.reaction_sd_s = reacts && !moves_ ? model_.error.reaction_sd_s.value_or(default_reaction_sd_s) : 0.0;
        if (!moves_ && std::fabs(run.wind_mps) <= 20.0F &&
            lies_along(log_.courses[run.course], run, split.distance_m)) {
          made.wind_mps = run.wind_mps;
        }
        out_.season.readings.push_back(made);
        out_.source.push_back(static_cast<std::uint32_t>(&reading - log_.readings.data()));
        out_.split.push_back(static_cast<std::uint32_t>(&split - log_.splits.data()));
      }
    }
  }

  void find_moving_times(const season::Options& how) {
    const std::size_t levels = out_.levels.size();
    std::vector<std::vector<std::vector<double>>> times(out_.players.size(), std::vector<std::vector<double>>(levels));
    for (const season::Reading& reading : out_.season.readings) {
      times[static_cast<std::size_t>(reading.child)][static_cast<std::size_t>(reading.level)].push_back(reading.time_s);
    }
    for (auto& of_child : times) {
      std::vector<double> row(levels, 0.0);
      for (std::size_t l = 0; l < levels; ++l) {
        if (!of_child[l].empty()) {
          const double still_s = signal_[l] ? how.reaction_s : 0.0;
          row[l] = moves_ ? 1.0 : std::max(median_of(std::move(of_child[l])) - still_s, how.least_moving_time_s);
        }
      }
      out_.season.moving_time_s.push_back(std::move(row));
    }
  }

  const runs::RunLog& log_;
  const runs::Roster& roster_;
  const timing::DeviceBook& devices_;
  const inference::ModelFile& model_;
  const bool moves_;
  SeasonData out_;
  std::map<runs::NameId, int> child_of_;
  std::map<LevelKey, int> level_of_;
  std::map<std::tuple<std::uint16_t, long, runs::StartKind, runs::Posture, double>, int> way_of_;
  std::map<std::tuple<runs::Device, runs::StartKind, runs::NameId, runs::Signal>, Known> known_;
  std::vector<bool> signal_;
  int run_ = 0;
};

}  // namespace

SeasonData season_data(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                       const inference::ModelFile& model, bool moves, season::Options& how) {
  const auto& error = model.error;
  const auto given = [](const std::optional<double>& value, double usual) {
    return value && *value > 0.0 ? *value : usual;
  };
  if (moves) {
    how.effort_median = given(error.reaction_sd_s, default_reaction_sd_s);
    how.worth = worth_of_reaction_s;
  } else {
    how.effort_median = given(error.effort_cv, how.effort_median);
    how.form_median = given(error.day_cv, how.form_median);
  }
  return SeasonGatherer(log, roster, devices, model, moves).gather(how);
}

int add_segment(SeasonData& data, int from, int to) {
  const auto near = static_cast<std::size_t>(from), far = static_cast<std::size_t>(to);
  season::Season& season = data.season;
  const season::Level& a = season.levels[near];
  const season::Level& b = season.levels[far];
  const auto moving_s = [](const season::Level& level) {
    return level.turns_s + season::moving_time_s(level.distance_m, usual_top_speed_mps, usual_time_constant_s);
  };
  const double near_s = moving_s(a), far_s = moving_s(b);
  const auto share = [&](double of_far, double of_near) {
    return (far_s * of_far - near_s * of_near) / (far_s - near_s);
  };
  season::Level made{.distance_m = b.distance_m - a.distance_m};
  made.response = {share(b.response.top_speed, a.response.top_speed),
                   share(b.response.first_acceleration, a.response.first_acceleration)};
  for (auto& row : season.moving_time_s) {
    const double between_s = row[near] > 0.0 && row[far] > 0.0 ? row[far] - row[near] : 0.0;
    row.push_back(std::max(between_s, 0.0));
  }
  season.levels.push_back(made);
  data.levels.push_back({data.levels[far].course, data.levels[far].mark, made.distance_m, data.levels[far].way});
  return static_cast<int>(season.levels.size()) - 1;
}

}  // namespace bagsplit::jobs::detail
