#include "bagsplit/coach/trend.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numeric>
#include <set>
#include <stdexcept>

#include "bagsplit/coach/profile.hpp"
#include "bagsplit/coach/trend_data.hpp"
#include "bagsplit/coach/trend_verdict.hpp"
#include "bagsplit/norms/growth.hpp"
#include "bagsplit/sprint/curve.hpp"
#include "bagsplit/sprint/prior.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/hierarchical_means.hpp"
#include "bagsplit/stats/mixed_model.hpp"

namespace bagsplit::coach {

namespace {

using detail::counted;
using detail::digits;
using detail::joined;
using detail::TrendData;
using detail::TrendRun;

constexpr std::size_t least_day_df = 5;    // below, the form of the day comes from the model
constexpr double prior_spread = 0.05;      // scale of the half-normal prior of true changes' SD, a share of the time
constexpr double well_known_df = 200.0;    // an error known so well is taken as known
constexpr double worthwhile_share = 0.2;   // of the SD between players
constexpr double usual_between_cv = 0.08;  // between children of one age, where the squad cannot tell
constexpr double matters_share = 0.3;      // ... and matters when it is this large beside a player's own error
constexpr double told_share = 0.7;         // an unknown bias counts as told when its SD falls to this share
constexpr double days_per_week = 7.0;
constexpr std::size_t first = 0, middle = 1, last = 2;

double square(double x) {
  return x * x;
}

double week_of(runs::Date date) {
  return static_cast<double>(date.time_since_epoch().count()) / days_per_week;
}

// What one player has.
struct Own {
  std::array<std::vector<std::size_t>, 3> runs;   // by window, into TrendData::runs
  std::array<std::set<std::size_t>, 3> sessions;  // by window
  double mean_s = 0.0;                            // of all runs
};

class Job {
 public:
  Job(const runs::RunLog& log, const runs::Roster& roster, const norms::Catalogue& norms, const TrendOptions& options,
      TrendData data)
      : log_(log), roster_(roster), norms_(norms), options_(options), data_(std::move(data)) {}

  TrendResult run() {
    describe();
    place_in_windows();
    if (own_.empty() || data_.runs.empty()) {
      return std::move(result_);
    }
    if (can_answer()) {
      fit_plain();
      fit_components();
      shrink();
      judge();
    }
    say_conditions();
    add_notes();
    return std::move(result_);
  }

 private:
  // --- what it is about -----------------------------------------------------------------------------------------
  void describe() {
    result_.level = options_.level;
    result_.false_discovery_share = options_.false_discovery_share;
    result_.course = data_.course;
    result_.mark = data_.mark;
    result_.from_mark = data_.from_mark;
    result_.distance_m = data_.distance_m;
    result_.base_distance_m = data_.base_distance_m;
    result_.slope = options_.slope;
    result_.left_out = data_.left_out;
    result_.runs_left_out = data_.runs_left_out;
    result_.runs_used = data_.runs.size();
    result_.notes = data_.notes;
    result_.model = options_.model;
    const sprint::ModelFile defaults = default_model();
    auto& error = result_.model.error;
    error.effort_cv = error.effort_cv ? error.effort_cv : defaults.error.effort_cv;
    error.day_cv = error.day_cv ? error.day_cv : defaults.error.day_cv;
    error.reaction_sd_s = error.reaction_sd_s ? error.reaction_sd_s : defaults.error.reaction_sd_s;
    result_.cautions = {
        "More runs mean more sprinting: warm up, rest between runs, a long run-out behind the mark, and stop when a "
        "child hurts. League rules come first."};
    result_.players.resize(data_.players.size());
    for (std::size_t i = 0; i < data_.players.size(); ++i) {
      PlayerTrend& player = result_.players[i];
      player.player = data_.players[i];
      if (const runs::Player* known = roster_.find(player.player)) {
        player.sex = known->sex;
      }
    }
    if (data_.runs.empty()) {
      result_.notes.push_back("No run over the course '" + data_.course + "' has a time at '" + data_.mark + "'" +
                              (data_.from_mark.empty() ? "" : " and at '" + data_.from_mark + "'") +
                              ": there is nothing to compare.");
      for (PlayerTrend& player : result_.players) {
        player.verdict_words = "cannot tell: no time at this mark";
      }
    }
  }

  std::size_t window_of(runs::Date date) const {
    return options_.slope || !spans_[first] ? middle
           : spans_[first]->holds(date)     ? first
           : spans_[last]->holds(date)      ? last
                                            : middle;
  }

  void place_in_windows() {
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
    }
    for (std::size_t i = 0; i < own_.size(); ++i) {
      PlayerTrend& player = result_.players[i];
      player.runs_first = own_[i].runs[first].size();
      player.runs_middle = own_[i].runs[middle].size();
      player.runs_last = own_[i].runs[last].size();
      player.sessions =
          own_[i].sessions[first].size() + own_[i].sessions[middle].size() + own_[i].sessions[last].size();
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

  WindowSummary summary(std::size_t window, DateSpan span) const {
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

  // Age at the mean date of the runs of each window; for a slope at the first and last date of the player.
  void find_ages() {
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

  // Whether anybody has a change; says what is missing, for the squad and for each player.
  bool can_answer() {
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

  bool several_dates(const std::vector<std::size_t>& runs_of) const {
    return std::any_of(runs_of.begin(), runs_of.end(),
                       [&](std::size_t r) { return data_.runs[r].date != data_.runs[runs_of.front()].date; });
  }

  // --- plain changes ----------------------------------------------------------------------------------------------
  void fit_plain() {
    const std::size_t n = data_.runs.size();
    stats::GroupContrastSpec spec;
    std::map<std::pair<std::size_t, std::size_t>, int> blocks;
    spec.own = Eigen::MatrixXd::Zero(static_cast<Eigen::Index>(n), options_.slope ? 2 : 3);
    for (std::size_t i = 0; i < n; ++i) {
      const TrendRun& run = data_.runs[i];
      const auto row = static_cast<Eigen::Index>(i);
      spec.response.push_back(run.time_s);
      spec.group.push_back(static_cast<int>(run.player));
      spec.block.push_back(
          blocks.emplace(std::pair(run.player, run.session), static_cast<int>(blocks.size())).first->second);
      if (options_.slope) {
        spec.own(row, 0) = 1.0;
        spec.own(row, 1) = week_of(run.date) - origin_week_;
      } else {
        spec.own(row, static_cast<Eigen::Index>(window_of(run.date))) = 1.0;
      }
    }
    block_ = spec.block;
    spec.contrast =
        options_.slope ? Eigen::VectorXd(Eigen::Vector2d(0.0, 1.0)) : Eigen::VectorXd(Eigen::Vector3d(-1.0, 0.0, 1.0));
    add_shared(spec);
    stats::GroupContrastOptions options;
    options.level = options_.level;
    options.least_residual_sd = data_.rounding_sd_s;
    const auto& error = result_.model.error;
    const double moving_s =
        std::max(0.0, mean_s_ - (data_.signal ? sprint::sprint_prior({}, {}).reaction_s.mean : 0.0));
    const double day_sd = *error.day_cv * moving_s;
    options.residual_sd =
        std::hypot(*error.effort_cv * moving_s, data_.signal ? *error.reaction_sd_s : 0.0, data_.press_sd_s);
    plain_ = stats::fit_group_contrasts(spec, options);
    if (plain_.residual_given || (plain_.within_df > 0 && plain_.between_df < least_day_df)) {
      options.block_sd = day_sd;
      plain_ = stats::fit_group_contrasts(spec, options);
      result_.day_sd_given = true;
    }
    result_.residual_sd_given = plain_.residual_given;
    result_.residual_sd_s = plain_.residual_sd;
    result_.day_sd_s = plain_.block_sd;
    result_.error_df = plain_.residual_df;
    if (!usable(plain_.status)) {
      result_.notes.push_back("The changes could not be computed: " + plain_.message + ".");
      return;
    }
    if (plain_.mean) {
      result_.squad_change_s = change_of(*plain_.mean);
    }
    for (std::size_t i = 0; i < own_.size() && i < plain_.contrasts.size(); ++i) {
      if (const auto& c = plain_.contrasts[i]) {
        PlayerTrend& player = result_.players[i];
        player.change_s = change_of(*c);
        player.p_value = c->p_two_sided;
        add_growth(i);
      }
    }
  }

  static Change change_of(const stats::TEstimate& t) { return {t.estimate, t.se, t.df, t.interval.lo, t.interval.hi}; }

  // Shared columns: sessions, surfaces, timers, devices.
  void add_shared(stats::GroupContrastSpec& spec) {
    const int sessions = static_cast<int>(data_.sessions.size());
    std::map<runs::NameId, std::size_t> surfaces;
    for (const TrendRun& run : data_.runs) {
      ++surfaces[run.surface];
    }
    runs::NameId usual = runs::no_name;
    std::size_t most = 0;
    for (const auto& [surface, count] : surfaces) {
      if (count > most) {
        most = count;
        usual = surface;
      }
    }
    surface_column_.clear();
    int next = sessions;
    for (const auto& [surface, count] : surfaces) {
      surface_column_[surface] = surface == usual ? -1 : next++;
      surface_runs_[surface] = count;
    }
    const bool several_timers = data_.timers.size() > 1;
    const bool several_devices = data_.devices.size() > 1;
    first_timer_ = next;
    next += several_timers ? static_cast<int>(data_.timers.size()) : 0;
    first_device_ = next;
    next += several_devices ? static_cast<int>(data_.devices.size()) : 0;
    spec.shared_columns = next;
    spec.balanced = sessions;
    for (const TrendRun& run : data_.runs) {
      std::vector<stats::SharedEntry> row{{static_cast<int>(run.session), 1.0}};
      if (surface_column_.at(run.surface) >= 0) {
        row.push_back({surface_column_.at(run.surface), 1.0});
      }
      for (const stats::SharedEntry& timer : run.timers) {
        if (several_timers) {
          row.push_back({first_timer_ + timer.column, timer.value});
        }
      }
      for (const stats::SharedEntry& device : run.devices) {
        if (several_devices) {
          row.push_back({first_device_ + device.column, device.value});
        }
      }
      spec.shared.push_back(std::move(row));
    }
    const auto column_of = [&](int column) -> int {  // of the overlaps' numbering; -1 where there is no such column
      const int timers = static_cast<int>(data_.timers.size());
      return column < timers ? (several_timers ? first_timer_ + column : -1)
                             : (several_devices ? first_device_ + column - timers : -1);
    };
    for (std::size_t t = 0; several_timers && t < data_.timers.size(); ++t) {
      spec.knowledge.push_back({{{first_timer_ + static_cast<int>(t), 1.0}}, 0.0, data_.timers[t].sd_s});
    }
    for (std::size_t d = 0; several_devices && d < data_.devices.size(); ++d) {
      spec.knowledge.push_back({{{first_device_ + static_cast<int>(d), 1.0}}, 0.0, data_.devices[d].sd_s});
    }
    for (const stats::SharedKnowledge& overlap : data_.overlaps) {
      stats::SharedKnowledge row{{}, overlap.value, overlap.sd};
      for (const stats::SharedEntry& entry : overlap.row) {
        if (const int column = column_of(entry.column); column >= 0) {
          row.row.push_back({column, entry.value});
        }
      }
      if (!row.row.empty()) {
        spec.knowledge.push_back(std::move(row));
      }
    }
    spec.directions = {unlike(first_timer_, several_timers ? data_.timers.size() : 0, &TrendRun::timers),
                       unlike(first_device_, several_devices ? data_.devices.size() : 0, &TrendRun::devices)};
  }

  // How the shares of timers or devices differ between the windows (slope: with the weeks), as a combination of
  // columns.
  std::vector<stats::SharedEntry> unlike(int from, std::size_t count,
                                         std::vector<stats::SharedEntry> TrendRun::*which) const {
    std::vector<double> difference(count, 0.0);
    std::array<double, 3> runs_in{};
    double sum_of_squares = 0.0;
    for (const TrendRun& run : data_.runs) {
      runs_in.at(window_of(run.date)) += 1.0;
      sum_of_squares += square(week_of(run.date) - origin_week_);
    }
    for (const TrendRun& run : data_.runs) {
      const std::size_t w = window_of(run.date);
      double weight = 0.0;
      if (options_.slope) {
        weight = (week_of(run.date) - origin_week_) / std::max(1e-9, sum_of_squares);
      } else if (w != middle && runs_in.at(w) > 0.0) {
        weight = (w == last ? 1.0 : -1.0) / runs_in.at(w);
      }
      for (const stats::SharedEntry& entry : run.*which) {
        if (count > 0) {
          difference[static_cast<std::size_t>(entry.column)] += weight * entry.value;
        }
      }
    }
    std::vector<stats::SharedEntry> out;
    for (std::size_t j = 0; j < count; ++j) {
      if (std::fabs(difference[j]) > 1e-9) {
        out.push_back({from + static_cast<int>(j), difference[j]});
      }
    }
    return out;
  }

  // --- growth -------------------------------------------------------------------------------------------------------
  void add_growth(std::size_t i) {
    PlayerTrend& player = result_.players[i];
    if (!player.sex || !player.age_first_years || !player.age_last_years) {
      player.growth_source = "no birth date or sex in the roster";
      return;
    }
    if (!data_.distance_m || *data_.distance_m <= 0.0) {
      player.growth_source = "no distance";
      return;
    }
    const double from = *player.age_first_years;
    const double to = *player.age_last_years;
    const double years = to - from;
    std::optional<double> growth;
    if (data_.from_mark.empty()) {
      if (const auto known = norms::expected_change(norms_, *data_.distance_m, *player.sex, from, to, own_[i].mean_s)) {
        growth = known->change_s;
        player.growth_source = known->source;
      }
    }
    if (!growth && from >= 6.0) {
      // What the norms' speed, acceleration and reaction by age and sex make of a straight of this length, as a share
      // of the player's own time.
      const auto usual = [&](double age) {
        const sprint::SprintPrior prior = sprint::sprint_prior(age, player.sex);
        const sprint::Sprint s{std::exp(prior.log_top_speed.mean), std::exp(prior.log_time_constant.mean)};
        return sprint::time_to_distance(s, *data_.distance_m) + (data_.signal ? prior.reaction_s.mean : 0.0);
      };
      growth = own_[i].mean_s * (usual(to) / usual(from) - 1.0);
      player.growth_source = "speed and reaction by age and sex, as the priors of the model have them";
    }
    if (!growth) {
      player.growth_source = "no norm below 6 years";
      return;
    }
    if (options_.slope) {
      growth = years > 0.0 ? *growth / (years * 365.25 / days_per_week) : 0.0;
    }
    player.expected_growth_s = *growth;
    Change beyond = *player.change_s;
    beyond.estimate -= *growth;
    beyond.lo -= *growth;
    beyond.hi -= *growth;
    player.beyond_growth_s = beyond;
  }

  // --- variance components, between-player SD -----------------------------------------------------------------------
  // time less condition effects ~ window (or week) + (1 | player) + (1 | session) + (1 | player:session).
  void fit_components() {
    if (!usable(plain_.status)) {
      return;
    }
    const std::size_t n = data_.runs.size();
    stats::MixedModelSpec spec;
    spec.response.resize(static_cast<Eigen::Index>(n));
    std::vector<int> player, session;
    std::set<std::size_t> windows;
    for (const TrendRun& run : data_.runs) {
      windows.insert(window_of(run.date));
    }
    const std::vector<std::size_t> used(windows.begin(), windows.end());
    spec.fixed = Eigen::MatrixXd::Zero(static_cast<Eigen::Index>(n),
                                       static_cast<Eigen::Index>(options_.slope ? 2 : used.size()));
    for (std::size_t i = 0; i < n; ++i) {
      const TrendRun& run = data_.runs[i];
      const auto row = static_cast<Eigen::Index>(i);
      double time_s = run.time_s;
      const auto take_off = [&](int column, double share) {
        if (column >= 0 && plain_.shared[static_cast<std::size_t>(column)]) {
          time_s -= share * plain_.shared[static_cast<std::size_t>(column)]->estimate;
        }
      };
      take_off(surface_column_.at(run.surface), 1.0);
      for (const stats::SharedEntry& timer : run.timers) {
        take_off(data_.timers.size() > 1 ? first_timer_ + timer.column : -1, timer.value);
      }
      for (const stats::SharedEntry& device : run.devices) {
        take_off(data_.devices.size() > 1 ? first_device_ + device.column : -1, device.value);
      }
      spec.response[row] = time_s;
      player.push_back(static_cast<int>(run.player));
      session.push_back(static_cast<int>(run.session));
      if (options_.slope) {
        spec.fixed(row, 0) = 1.0;
        spec.fixed(row, 1) = week_of(run.date) - origin_week_;
      } else {
        spec.fixed(row, std::find(used.begin(), used.end(), window_of(run.date)) - used.begin()) = 1.0;
      }
    }
    std::vector<stats::RandomTerm> terms;
    const std::size_t fixed = static_cast<std::size_t>(spec.fixed.cols());
    if (std::set<int>(player.begin(), player.end()).size() > 1) {
      terms.push_back({"player", player});
    }
    if (data_.sessions.size() > fixed) {
      terms.push_back({"session", session});
    }
    const auto blocks = static_cast<std::size_t>(*std::max_element(block_.begin(), block_.end())) + 1;
    if (blocks < n && blocks > data_.players.size()) {
      terms.push_back({"player_session", block_});
    }
    stats::MixedModelOptions options;
    options.degrees_of_freedom = options.predictions = false;
    stats::MixedModelFit fit;
    for (;;) {  // a term that cannot be told is given up, the last one first
      spec.random = terms;
      fit = stats::fit_mixed_model(spec, options);
      if (usable(fit.status) || terms.empty()) {
        break;
      }
      terms.pop_back();
    }
    if (!usable(fit.status)) {
      return;
    }
    result_.variance.residual = square(fit.residual_sd);
    const auto read = [&](const stats::MixedModelFit& from, const std::string& name) -> std::optional<double> {
      for (const stats::RandomTermFit& term : from.random) {
        if (term.name == name) {
          return term.covariance(0, 0);
        }
      }
      return std::nullopt;
    };
    result_.variance.player = read(fit, "player");
    result_.variance.session = read(fit, "session");
    result_.variance.player_session = read(fit, "player_session");
    between_players(spec, options, fit);
  }

  // SD between players with age taken out, where ages are known and differ.
  void between_players(stats::MixedModelSpec& spec, const stats::MixedModelOptions& options,
                       const stats::MixedModelFit& without) {
    if (!result_.variance.player) {
      return;
    }
    between_sd_s_ = std::sqrt(*result_.variance.player);
    between_words_ = "between players";
    std::vector<std::optional<double>> ages(own_.size());
    std::size_t known = 0;
    double sum = 0.0;
    for (std::size_t i = 0; i < own_.size(); ++i) {
      const PlayerTrend& player = result_.players[i];
      ages[i] = player.age_first_years ? player.age_first_years : player.age_last_years;
      known += ages[i].has_value();
      sum += ages[i].value_or(0.0);
    }
    if (known < 5) {
      return;
    }
    const double mean = sum / static_cast<double>(known);
    bool missing = false;
    bool differ = false;
    for (const auto& age : ages) {
      missing = missing || !age;
      differ = differ || (age && std::fabs(*age - mean) > 0.25);
    }
    if (!differ) {
      return;
    }
    const Eigen::Index p = spec.fixed.cols();
    spec.fixed.conservativeResize(Eigen::NoChange, p + 1 + (missing ? 1 : 0));
    bool any_missing = false;
    for (std::size_t i = 0; i < data_.runs.size(); ++i) {
      const auto row = static_cast<Eigen::Index>(i);
      const auto& age = ages[data_.runs[i].player];
      spec.fixed(row, p) = age ? *age - mean : 0.0;
      if (missing) {
        spec.fixed(row, p + 1) = age ? 0.0 : 1.0;
        any_missing = any_missing || !age;
      }
    }
    if (missing && !any_missing) {
      spec.fixed.conservativeResize(Eigen::NoChange, p + 1);
    }
    const auto fit = stats::fit_mixed_model(spec, options);
    if (usable(fit.status) && !fit.random.empty() && fit.random[0].name == "player") {
      between_sd_s_ = fit.random[0].sd[0];
      between_words_ = "between players, age taken out";
    }
    static_cast<void>(without);
  }

  // --- shrunken changes
  // -----------------------------------------------------------------------------------------------
  void shrink() {
    const double unit = options_.slope ? std::max(1.0, weeks_) : 1.0;
    std::vector<double> y, v, df;
    std::vector<std::size_t> who;
    for (std::size_t i = 0; i < own_.size(); ++i) {
      if (const auto& change = result_.players[i].change_s) {
        y.push_back(change->estimate);
        v.push_back(square(std::max(1e-9, change->se)));
        df.push_back(change->df);
        who.push_back(i);
      }
    }
    posterior_.assign(own_.size(), std::nullopt);
    if (y.empty()) {
      return;
    }
    // The error is itself estimated, one for all: its scale is integrated out unless it is well known.
    std::nth_element(df.begin(), df.begin() + static_cast<std::ptrdiff_t>(df.size() / 2), df.end());
    const double usual_df = df[df.size() / 2];
    const auto h = stats::hierarchical_means(y, v, prior_spread * mean_s_ / unit,
                                             usual_df < well_known_df ? std::optional(usual_df) : std::nullopt);
    double shared_sum = 0.0;
    for (std::size_t k = 0; k < who.size(); ++k) {
      const double shared_sd = std::sqrt(shared_variance(own_[who[k]]));
      shared_sum += shared_sd / static_cast<double>(who.size());
      const stats::MixtureOfNormals theta = h->theta[k].widened(shared_sd);
      const double tail = 0.5 - 0.5 * options_.level;
      result_.players[who[k]].shrunken_change_s = Change{theta.mean(), theta.sd(), result_.players[who[k]].change_s->df,
                                                         theta.quantile(tail), theta.quantile(1.0 - tail)};
      posterior_[who[k]] = theta;
    }
    if (result_.variance.session) {
      result_.shared_sd_s = shared_sum;
    }
  }

  // What evenings do to everybody alike, in a player's change.
  double shared_variance(const Own& own) const {
    if (!result_.variance.session) {
      return 0.0;
    }
    if (!options_.slope) {
      return *result_.variance.session * (1.0 / static_cast<double>(own.sessions[first].size()) +
                                          1.0 / static_cast<double>(own.sessions[last].size()));
    }
    double mean = 0.0;
    double squares = 0.0;
    for (const std::size_t s : own.sessions[middle]) {
      mean += week_of(data_.sessions[s].first) / static_cast<double>(own.sessions[middle].size());
    }
    for (const std::size_t s : own.sessions[middle]) {
      squares += square(week_of(data_.sessions[s].first) - mean);
    }
    return squares > 0.0 ? *result_.variance.session / squares : 0.0;
  }

  void judge() {
    if (options_.worthwhile_s) {
      result_.worthwhile_s = *options_.worthwhile_s;
      result_.worthwhile_source = "as given";
    } else {
      const double unit = options_.slope ? std::max(1.0, weeks_) : 1.0;
      const bool told = between_sd_s_ && *between_sd_s_ > 0.0;
      const double sd = told ? *between_sd_s_ : usual_between_cv * mean_s_;
      result_.worthwhile_s = worthwhile_share * sd / unit;
      result_.worthwhile_source =
          "0.2 of the SD " + (told ? between_words_ + ", " + digits(sd, 3) + " s"
                                   : "usual between children of one age, 8% of the time (this squad cannot tell it)");
      if (options_.slope) {
        result_.worthwhile_source += ", over the " + digits(unit, 0) + " weeks of these runs";
      }
    }
    // How many runs a player usually has in a session: more runs would come like that.
    std::vector<double> per_session;
    std::map<int, std::size_t> sizes;
    for (const int block : block_) {
      ++sizes[block];
    }
    for (const auto& [block, size] : sizes) {
      per_session.push_back(static_cast<double>(size));
    }
    std::nth_element(per_session.begin(), per_session.begin() + static_cast<std::ptrdiff_t>(per_session.size() / 2),
                     per_session.end());
    const double usual = per_session[per_session.size() / 2];
    const double day = square(plain_.block_sd);
    const double residual = square(plain_.residual_sd);
    std::vector<detail::RunsSoFar> so_far(own_.size());
    for (std::size_t i = 0; i < own_.size(); ++i) {
      const auto variance = [&](std::size_t w) {
        return own_[i].runs[w].empty() ? 0.0
                                       : day / static_cast<double>(own_[i].sessions[w].size()) +
                                             residual / static_cast<double>(own_[i].runs[w].size());
      };
      so_far[i].slope = options_.slope;
      so_far[i].runs = own_[i].runs[middle].size();
      so_far[i].per_run = usual * day + residual;
      so_far[i].variance_first = variance(first);
      so_far[i].variance_last = options_.slope
                                    ? (result_.players[i].change_s ? square(result_.players[i].change_s->se) : 0.0)
                                    : variance(last);
    }
    detail::judge(result_.players, posterior_, so_far, *result_.worthwhile_s, options_.level,
                  options_.false_discovery_share);
  }

  // --- what must be said
  // ------------------------------------------------------------------------------------------------
  std::string surface_name(runs::NameId id) const { return id == runs::no_name ? "not given" : log_.name(id); }

  std::optional<stats::SharedEstimate> shared_at(int column) const {
    return column >= 0 && static_cast<std::size_t>(column) < plain_.shared.size()
               ? plain_.shared[static_cast<std::size_t>(column)]
               : std::nullopt;
  }

  // Whether runs on this surface take part in a change at all.
  bool matters(runs::NameId surface) const {
    return std::any_of(data_.runs.begin(), data_.runs.end(), [&](const TrendRun& run) {
      return run.surface == surface && (options_.slope || window_of(run.date) != middle);
    });
  }

  void say_conditions() {
    TrendCondition surface{.condition = "surface", .status = ConditionStatus::same, .words = "", .effects = {}};
    std::map<runs::NameId, std::size_t> counts;
    for (const TrendRun& run : data_.runs) {
      ++counts[run.surface];
    }
    std::vector<std::string> confounded;
    for (const auto& [id, count] : counts) {
      ConditionEffect effect{surface_name(id), count, std::nullopt, std::nullopt};
      const auto column = surface_column_.find(id);
      if (counts.size() > 1 && column != surface_column_.end()) {
        if (column->second < 0) {
          effect.effect_s = effect.se_s = 0.0;
        } else if (const auto told = shared_at(column->second)) {
          effect.effect_s = told->estimate;
          effect.se_s = told->se;
        } else if (usable(plain_.status) && matters(id)) {
          confounded.push_back(effect.level);
        }
      }
      surface.effects.push_back(std::move(effect));
    }
    if (counts.size() > 1) {
      surface.status = confounded.empty() ? ConditionStatus::adjusted : ConditionStatus::confounded;
      const auto taking_part =
          std::count_if(counts.begin(), counts.end(), [&](const auto& c) { return matters(c.first); });
      surface.words = taking_part < 2 ? "other surfaces only between the windows, where they do not matter"
                      : confounded.empty()
                          ? "surfaces differ; their difference is taken out"
                          : "runs on '" + joined(confounded) +
                                "' go with the date: what the ground does cannot be told from what the players do";
    }
    result_.conditions.push_back(std::move(surface));
    add_bias_condition(
        "device", data_.devices, first_device_, 1,
        "devices or ways of starting the clock differ between dates, and hardly anything tells them apart");
    add_bias_condition("timer", data_.timers, first_timer_, 0,
                       "different people timed at different dates, and hardly anything tells their habits apart");
    for (const TrendCondition& condition : result_.conditions) {
      if (condition.status == ConditionStatus::confounded) {
        std::string words = condition.words;
        words[0] = static_cast<char>(words[0] - 'a' + 'A');
        result_.notes.push_back(words + ".");
      }
    }
  }

  void add_bias_condition(const std::string& name, const std::vector<detail::BiasColumn>& columns, int from,
                          std::size_t direction, const std::string& when_confounded) {
    TrendCondition out{.condition = name, .status = ConditionStatus::same, .words = "", .effects = {}};
    for (std::size_t j = 0; j < columns.size(); ++j) {
      const auto told = columns.size() > 1 ? shared_at(from + static_cast<int>(j)) : std::nullopt;
      out.effects.push_back({columns[j].name, columns[j].runs, told ? std::optional(told->estimate) : std::nullopt,
                             told ? std::optional(told->se) : std::nullopt});
    }
    if (columns.size() > 1 && direction < plain_.directions.size()) {
      out.status = ConditionStatus::adjusted;
      const auto& told = plain_.directions[direction];
      const auto& known = plain_.direction_known_sd[direction];
      // Worth a word only where it matters beside a player's own error.
      if (told && known && told->se > told_share * *known && told->se > matters_share * typical_se()) {
        out.status = ConditionStatus::confounded;
        out.words = when_confounded + ": every change may be off by the same " +
                    digits(told->se, options_.slope ? 4 : 2) + (options_.slope ? " s a week" : " s") +
                    " (SD), which is in the intervals";
      } else {
        out.words = name == "timer" ? "timers differ; their habits are taken out as far as known"
                                    : "devices differ; their difference is taken out as far as known";
      }
    }
    result_.conditions.push_back(std::move(out));
  }

  double typical_se() const {
    double sum = 0.0;
    std::size_t count = 0;
    for (const PlayerTrend& player : result_.players) {
      if (player.change_s) {
        sum += player.change_s->se;
        ++count;
      }
    }
    return count > 0 ? sum / static_cast<double>(count) : 0.0;
  }

  void add_notes() {
    if (!usable(plain_.status)) {
      return;
    }
    const auto changed = static_cast<std::size_t>(std::count_if(
        result_.players.begin(), result_.players.end(), [](const PlayerTrend& p) { return p.change_s.has_value(); }));
    if (result_.residual_sd_given) {
      result_.notes.push_back(
          "Nobody ran twice under the same conditions, so the scatter of a run is taken from the model (" +
          digits(result_.residual_sd_s, 3) + " s): with two runs a player and date it would be this squad's own.");
    } else if (result_.day_sd_given) {
      result_.notes.push_back(
          "Too few evenings to tell a player's form of the day from change: it is taken from the model (" +
          digits(result_.day_sd_s, 3) + " s). Two evenings or more in each window would tell it.");
    }
    const bool one_evening =
        !options_.slope && result_.first && result_.last && result_.first->sessions == 1 && result_.last->sessions == 1;
    if (one_evening) {
      result_.notes.push_back(
          "One evening in each window: whatever was the same for all on it (wind, ground, how the watch was held) "
          "counts as change.");
    } else if (!result_.variance.session && changed > 0) {
      result_.notes.push_back("What an evening does to everybody alike cannot be told from change here.");
    }
    if (!result_.residual_sd_given && result_.residual_sd_s <= 1.0001 * data_.rounding_sd_s) {
      result_.notes.push_back(
          "The times of each player hardly differ: rounding hides their scatter, so that of rounding is used (" +
          digits(data_.rounding_sd_s, 4) + " s).");
    }
    if (changed == 1) {
      result_.notes.push_back(
          "One player only: nothing can be borrowed from a squad, so the shrunken change is the plain one.");
    }
    bool no_growth = false;
    for (const PlayerTrend& player : result_.players) {
      no_growth = no_growth || (player.change_s && !player.expected_growth_s);
    }
    if (no_growth) {
      result_.notes.push_back("No growth is taken off where the roster has no birth date or sex.");
    }
  }

  const runs::RunLog& log_;
  const runs::Roster& roster_;
  const norms::Catalogue& norms_;
  const TrendOptions& options_;
  TrendData data_;
  TrendResult result_;
  std::vector<Own> own_;
  std::array<std::optional<DateSpan>, 3> spans_;
  std::size_t dates_ = 0;
  double origin_week_ = 0.0, weeks_ = 0.0, mean_s_ = 0.0;
  std::vector<int> block_;
  std::map<runs::NameId, int> surface_column_;
  std::map<runs::NameId, std::size_t> surface_runs_;
  int first_timer_ = 0, first_device_ = 0;
  stats::GroupContrastFit plain_;
  std::optional<double> between_sd_s_;
  std::string between_words_;
  std::vector<std::optional<stats::MixtureOfNormals>> posterior_;
};

}  // namespace

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
  return Job(log, roster, norms, options, detail::trend_data(log, devices, options)).run();
}

}  // namespace bagsplit::coach
