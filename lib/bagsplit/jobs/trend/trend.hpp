#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "bagsplit/inference/prior/model.hpp"
#include "bagsplit/norms/catalogue.hpp"
#include "bagsplit/runs/player.hpp"
#include "bagsplit/runs/run.hpp"
#include "bagsplit/timing/device.hpp"

/// Change across weeks at one mark alone (all of them at once: season_trend.hpp): between two windows, a week, between
/// two marks, of the reaction; a child's own times, and how many more runs would settle the rest.
/// Definitions and formulas: README.md in this folder.
namespace bagsplit::jobs {

struct DateSpan {
  runs::Date from{}, to{};  ///< both included
  bool holds(runs::Date date) const { return from <= date && date <= to; }
};

struct TrendOptions {
  std::string course;  ///< as in the log; empty: the one with most to compare
  /// "first", "20m"; empty: the one with most to compare on it. "move", counted from the start, is the reaction: runs
  /// started on a signal with a time at the first move, over all courses where none is named.
  std::string mark;
  std::string from_mark;          ///< the time between two marks instead of from the start; empty: from the start
  std::optional<DateSpan> first;  ///< windows; none: first and last third of the dates, rounded up
  std::optional<DateSpan> last;
  bool slope = false;                  ///< change a week over all dates, instead of between windows
  std::optional<double> worthwhile_s;  ///< smallest worthwhile change [s] (slope: a week), > 0; none: 0.2 SD
  double level = 0.9;                  ///< of all intervals
  double false_discovery_share = 0.1;  ///< of the verdicts "faster" and "slower", at most
  inference::ModelFile model;          ///< errors it gives replace the built-in ones where the data tell nothing
};

/// A change, last minus first: negative is faster. Slopes are seconds a week.
struct Change {
  double estimate = 0.0;
  double se = 0.0;
  double df = 0.0;  ///< infinite where the error was given
  double lo = 0.0;
  double hi = 0.0;
};

enum class TrendVerdict : std::uint8_t { faster, slower, no_meaningful_change, cannot_tell };

/// What stands in the way where the verdict is cannot_tell.
enum class TrendObstacle : std::uint8_t {
  none,           ///< or no change to judge at all
  few_runs,       ///< some more runs would do: more_runs
  timer,          ///< different people timed at different dates
  device,         ///< watches, gates or ways of starting changed with the dates
  ground,         ///< the surface changed with the dates
  many_compared,  ///< clear by itself, not among so many players compared at once
  scatter,        ///< too small beside the scatter of runs and days
};

/// More runs than these are asked of no child.
inline constexpr std::size_t most_more_runs = 12;

/// One run that entered: watches combined, known biases taken off.
struct TrendTime {
  runs::Date date{};
  double time_s = 0.0;
};

struct PlayerTrend {
  std::string player;
  std::optional<runs::Sex> sex;
  std::optional<double> age_first_years, age_last_years;       ///< at the mean date of the runs of each window
  std::size_t runs_first = 0, runs_middle = 0, runs_last = 0;  ///< slope: all in runs_middle
  std::size_t sessions = 0;
  std::vector<TrendTime> times;                     ///< in the order of the log
  std::optional<double> mean_first_s, mean_last_s;  ///< of the times in each window; none for a slope
  std::optional<Change> change_s;                   ///< plain: these evenings, this player's own times
  std::optional<Change> shrunken_change_s;          ///< what is believed of the ability
  std::optional<double> expected_growth_s;
  std::optional<double> expected_growth_sd_s;  ///< what is not known of it; in beyond_growth_s
  std::string growth_source;                   ///< or why there is none
  std::optional<Change> beyond_growth_s;
  std::optional<double> p_worthwhile;      ///< P(faster by the smallest worthwhile change or more)
  std::optional<double> p_slower;          ///< P(slower by as much or more)
  std::optional<double> p_value, q_value;  ///< of the plain change; adjusted over the squad
  TrendVerdict verdict = TrendVerdict::cannot_tell;
  TrendObstacle obstacle = TrendObstacle::none;
  std::optional<std::size_t>
      more_runs;  ///< that would settle it, about: at most most_more_runs, in the last window (slope: on further dates)
  std::string verdict_words;
  std::string help;  ///< what would help where it cannot be told; the same sentence for all with the same obstacle, but
                     ///< for growth
};

struct VarianceComponents {  // s^2; none where the data cannot tell it
  std::optional<double> player, session, player_session, residual;
};

enum class ConditionStatus : std::uint8_t {
  same,        ///< the same throughout
  adjusted,    ///< differs, and is told from change
  confounded,  ///< goes with time: what it does cannot be told from change
};

struct ConditionEffect {
  std::string level;
  std::size_t runs = 0;
  std::optional<double> effect_s, se_s;  ///< against the reference level; none where it cannot be told
};

struct TrendCondition {
  std::string condition;  ///< "surface", "device", "timer"
  ConditionStatus status = ConditionStatus::same;
  std::string words;
  std::vector<ConditionEffect> effects;
};

struct TrendLeftOut {
  std::string reason;  ///< a flag ("fall"), relay_leg, another_start, another_base_distance, no_time_at_mark
  std::size_t runs = 0;
};

struct WindowSummary {
  DateSpan span;
  std::size_t dates = 0, sessions = 0, runs = 0, players = 0;
};

struct TrendResult {
  std::vector<PlayerTrend> players;  ///< ordered by id
  VarianceComponents variance;
  double level = 0.9;
  double false_discovery_share = 0.1;
  std::string course, mark, from_mark;  ///< course: empty for the reaction over all courses
  bool reaction = false;                ///< the time at the first move is compared
  std::optional<double> distance_m;
  std::optional<double> base_distance_m;
  bool slope = false;
  std::optional<WindowSummary> first, last;  ///< slope: first holds all
  std::optional<double> worthwhile_s;
  std::string worthwhile_source;
  std::optional<Change> squad_change_s;        ///< mean over the players who have one
  double residual_sd_s = 0.0, day_sd_s = 0.0;  ///< pooled error of the plain changes
  double error_df = 0.0;
  bool day_sd_given = false, residual_sd_given = false;  ///< from the model: the data could not tell
  /// Half the interval within which one run on another evening lies around a player's usual time when nothing has
  /// changed.
  std::optional<double> one_run_noise_s;
  std::optional<double> shared_sd_s;  ///< of what an evening does to all alike, in a change
  std::vector<TrendCondition> conditions;
  std::vector<TrendLeftOut> left_out;
  std::size_t runs_used = 0, runs_left_out = 0;
  std::vector<std::string> notes, cautions;
  inference::ModelFile model;
};

/// @param roster  build_index() called.  @throws std::domain_error for a level or share outside (0, 1).
/// Nothing to answer with (no run of that course and mark, one date) gives players without a change and a note.
/// Cost: 6,000 runs of 1,000 players 0.2 s.
TrendResult trend(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                  const norms::Catalogue& norms, const TrendOptions& options);

/// The courses run and, for each, its timed marks; those first that have most to compare: players' dates beyond their
/// first one. For choosing and for hints.
struct CourseMarks {
  std::string course;
  std::vector<std::string> marks;
  std::size_t comparisons = 0;  ///< at the first of the marks
  std::size_t runs = 0;
};
std::vector<CourseMarks> courses_and_marks(const runs::RunLog& log);

/// Whether some run over this course (empty: over any) has a time at the first move.
bool has_move_times(const runs::RunLog& log, const std::string& course);

}  // namespace bagsplit::jobs
