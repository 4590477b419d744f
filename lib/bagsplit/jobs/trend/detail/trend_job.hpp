// The steps of a trend, one after the other, with what they share. Not installed.
#pragma once

#include <array>
#include <cstddef>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "bagsplit/jobs/trend/detail/trend_data.hpp"
#include "bagsplit/jobs/trend/trend.hpp"
#include "bagsplit/stats/detail/elementary.hpp"
#include "bagsplit/stats/group_contrasts.hpp"
#include "bagsplit/stats/hierarchical_means.hpp"
#include "bagsplit/stats/mixed_model.hpp"

namespace bagsplit::jobs::detail {

// Windows, as indices. A slope has all its runs in the middle.
inline constexpr std::size_t first = 0, middle = 1, last = 2;

using stats::square;

inline double week_of(runs::Date date) {
  constexpr double days_per_week = 7.0;
  return static_cast<double>(date.time_since_epoch().count()) / days_per_week;
}

// What one player has.
struct Own {
  std::array<std::vector<std::size_t>, 3> runs;   // by window, into TrendData::runs
  std::array<std::set<std::size_t>, 3> sessions;  // by window
  double mean_s = 0.0;                            // of all runs
};

class TrendJob {
 public:
  TrendJob(const runs::RunLog& log, const runs::Roster& roster, const norms::Catalogue& norms,
           const TrendOptions& options, TrendData data)
      : log_(log), roster_(roster), norms_(norms), options_(options), data_(std::move(data)) {}

  TrendResult run();

 private:
  // What it is about.
  void describe();

  std::size_t window_of(runs::Date date) const;

  void place_in_windows();

  std::optional<double> mean_time(const std::vector<std::size_t>& runs_of) const;

  WindowSummary summary(std::size_t window, DateSpan span) const;

  // Age at the mean date of the runs of each window; for a slope at the first and last date of the player.
  void find_ages();

  // Whether anybody has a change; says what is missing, for the squad and for each player.
  bool can_answer();

  bool several_dates(const std::vector<std::size_t>& runs_of) const;

  // Plain changes.
  void fit_plain();

  static Change change_of(const stats::TEstimate& t) { return {t.estimate, t.se, t.df, t.interval.lo, t.interval.hi}; }

  std::vector<bool> shared_sessions() const;

  // Shared columns: sessions, surfaces, timers, devices.
  void add_shared(stats::GroupContrastSpec& spec);

  // How the shares of timers or devices differ between the windows (slope: with the weeks), as a combination of
  // columns.
  std::vector<stats::SharedEntry> unlike(int from, std::size_t count,
                                         std::vector<stats::SharedEntry> TrendRun::*which) const;

  // Growth.
  void add_growth(std::size_t i);

  // Variance components, SD between players:
  // time less condition effects ~ window (or week) + (1 | player) + (1 | session) + (1 | player:session).
  void fit_components();

  // SD between players with age taken out, where ages are known and differ.
  void between_players(stats::MixedModelSpec& spec, const stats::MixedModelOptions& options);

  // SD between children of one age as far as the squad does not tell it.
  double usual_between_s() const;

  // Shrunken changes.
  void shrink();

  // What evenings do to everybody alike, in a player's change.
  double shared_variance(const Own& own) const;

  void judge();

  // What must be said.
  std::string surface_name(runs::NameId id) const { return id == runs::no_name ? "not given" : log_.name(id); }

  std::optional<stats::SharedEstimate> shared_at(int column) const;

  // Whether runs on this surface take part in a change at all.
  bool matters(runs::NameId surface) const;

  void say_conditions();

  void add_bias_condition(const std::string& name, const std::vector<BiasColumn>& columns, int from,
                          std::size_t direction, const std::string& when_confounded);

  double typical_se() const;

  void say_winds();

  void add_notes();

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
  int first_timer_ = 0, first_device_ = 0;
  stats::GroupContrastFit plain_;
  std::optional<double> between_sd_s_;
  std::string between_words_;
  std::vector<std::optional<stats::MixtureOfNormals>> posterior_;
};

}  // namespace bagsplit::jobs::detail
