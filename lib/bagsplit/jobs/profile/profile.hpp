#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "bagsplit/inference/posterior/posterior.hpp"
#include "bagsplit/inference/prior/model.hpp"
#include "bagsplit/jobs/profile/first_steps.hpp"
#include "bagsplit/jobs/profile/marks.hpp"
#include "bagsplit/jobs/profile/suspected.hpp"
#include "bagsplit/jobs/profile/team_notes.hpp"
#include "bagsplit/norms/catalogue.hpp"
#include "bagsplit/runs/player.hpp"
#include "bagsplit/runs/run.hpp"
#include "bagsplit/timing/device.hpp"

/// The main job: from a run log to each player's reaction, acceleration, top speed, losses, efficiency, percentiles,
/// and what to work on. Values in, values out: reading files and writing text is done elsewhere.
namespace bagsplit::jobs {

using inference::Estimate;

struct ProfileOptions {
  double level = 0.9;               ///< of all intervals, equal-tailed
  std::optional<runs::Date> as_of;  ///< the day that ability is of: later runs are left out; default: the last run
  std::optional<int> window_days;   ///< only runs of so many days up to as_of (or the player's last run)
  inference::ModelFile model;       ///< what it gives overrides age, device and defaults
  bool squad = true;         ///< learn from all players what they share (squad_model.hpp); not where a model gives
                             ///< anything: its numbers are taken as they stand
  unsigned threads = 1;      ///< 0: as many as the machine has; the answer does not depend on it
  bool speed_curve = false;  ///< work out PlayerProfile::speed_curve, for drawing it
};

struct NamedEstimate {
  std::string name;  ///< "prone", "second-stop", "10yd", ...
  Estimate value;
};

/// Speed on a straight, standing, so long after first move.
struct SpeedAt {
  double time_s = 0.0;
  Estimate speed_mps;
};

/// A quantity on a day: its interval's ends and its middle.
struct RangeThen {
  double lo = 0.0, median = 0.0, hi = 0.0;
};

/// A player beside a reference on one of its dates, at its age then. For the coach alone.
struct PlaceThen {
  runs::Date date{};
  RangeThen time_s, percentile;  ///< percentile and z: higher is better; references between their rows
  std::optional<RangeThen> z;    ///< none where an end is at the limit of what the reference may say
};

/// A player's time over a distance beside a published reference.
struct ProfilePercentile {
  std::string quantity;                ///< "20m": the distance compared
  std::string source;                  ///< id of the reference, e.g. "sprint-20m-emotikon"; empty when there is none
  std::string label;                   ///< the reference in words
  std::string why;                     ///< why this one, or why none: one plain sentence
  std::string restriction;             ///< what must be said with it; empty when nothing
  std::optional<Estimate> percentile;  ///< 0-100, higher is better; share_from_data is absent by convention
  double share_at_limit = 0.0;      ///< probability that the percentile is at the limit of what the reference may say
  std::optional<norms::Band> band;  ///< references that allow only words
  std::optional<double> p_faster;   ///< probability of being faster than the reference's middle
  std::optional<Estimate> time_s;   ///< the player's time as that reference would have measured it
  std::optional<Estimate> level_time_s;  ///< the same less what weeks leave open of the day; not told
  std::vector<PlaceThen> over_dates;     ///< where ProfileResult::as_of is set
};

/// A run that would tell most about a quantity that so far is mostly the age-group norm.
struct NextRun {
  std::string quantity;      ///< "top_speed_mps", "reaction_s", "segment_loss_s.second", ...
  std::string run;           ///< in words: "a straight of 30 m, self-started, with marks at 10 m and 30 m"
  double sd_now = 0.0;       ///< posterior SD now, in the quantity's unit
  double sd_expected = 0.0;  ///< expected after one such run
};

/// The best path a course was measured against.
struct BestPathYardstick {
  struct AtLimit {
    double lateral_mps2 = 0.0;
    double loss_mean_s = 0.0;  ///< mean of loss_to_best_path_s, had this been the lateral limit
  };
  std::string course;
  double lateral_mps2 = 0.0, braking_mps2 = 0.0;  ///< limits it was computed with: the same for all players
  Estimate time_s;                                ///< of the best path
  std::vector<AtLimit> loss_at;                   ///< ends of the plausible range
};

struct LeftOut {
  runs::Flag flag = runs::Flag::none;
  std::size_t runs = 0;
};

struct PlayerProfile {
  std::string player;
  std::optional<double> age_years;  ///< on ProfileResult::as_of, else at the last run included
  std::optional<runs::Sex> sex;
  std::size_t runs_used = 0;
  std::size_t readings_used = 0;
  std::size_t runs_left_out = 0;          ///< flagged, outside the window, relay legs, or without a usable time
  std::vector<LeftOut> left_out_by_flag;  ///< flagged runs, by flag
  std::size_t left_out_window = 0;
  std::size_t left_out_relay = 0;
  std::size_t left_out_empty = 0;
  std::optional<runs::Date> first_date, last_date;  ///< span pooled
  std::size_t dates = 0;
  Sprints sprints;  ///< up to ProfileResult::last_evening

  inference::PosteriorStatus status = inference::PosteriorStatus::converged;
  std::optional<Estimate> top_speed_mps, time_constant_s, max_acceleration_mps2;
  std::optional<OwnFirstAcceleration> own_first_acceleration;  ///< with the squad's model
  std::optional<Estimate> reaction_s;
  bool reaction_holds_timer_bias = false;     ///< no gate, `move` or `self` evidence: "reaction plus timer bias"
  std::vector<NamedEstimate> posture_cost_s;  ///< by posture run, in a fixed order
  std::vector<NamedEstimate> segment_loss_s;  ///< by segment key, circuit first
  std::vector<NamedEstimate>
      predicted_time_s;  ///< straight, standing, from first move: 5yd 10yd 20yd 10m 20m 30m home-first
  std::vector<NamedEstimate> course_time_s;  ///< base-path courses run: moving time from first move, losses included
  std::vector<SpeedAt> speed_curve;          ///< 0.25 to 6 s, ascending; with ProfileOptions::speed_curve
  /// Mean time to expect of this player on the last date, as that date's timer and device read it: "first@home-first".
  /// Only with the squad's model.
  std::vector<NamedEstimate> session_time_s;
  std::vector<NamedEstimate> straight_efficiency_by_course;  ///< straight time of the same length / moving time
  std::optional<Estimate> straight_efficiency;               ///< of the circuit, or else of the longest course run; 0-1
  std::optional<Estimate> path_efficiency;                   ///< best path / moving time, of the same course
  std::optional<Estimate> loss_to_best_path_s;               ///< moving time - best path
  std::vector<NamedEstimate> loss_to_best_path_by_segment_s;  ///< its parts, in the order of the course
  std::optional<BestPathYardstick> best_path;
  std::optional<double> base_distance_m;                                 ///< the one most used
  std::optional<Estimate> max_force_n, max_power_w, max_power_w_per_kg;  ///< horizontal; need mass and height
  std::vector<ProfilePercentile> percentiles;
  std::vector<NextRun> next_runs;  ///< for quantities with a share from data below one half
  /// Times that do not fit the others: of 4 in 5 or more, and of 1 in 2 or more.
  std::vector<SuspectedReading> suspected_readings, maybe_readings;
  std::optional<double> probability_all_readings_fit;  ///< none: every reading counts in full
  /// Rows that what would be said to be sure hangs on: one that may be wrong, or the only one that tells it.
  std::vector<HangsOn> hangs_on;
  Marks marks;                     ///< at the places of marked_quantities
  std::vector<WorkOn> work_on;     ///< what is surely there, most time to win first; may be empty
  bool start_in_doubt = false;     ///< whose a run is, or how it started: nothing is said of it
  std::vector<std::string> notes;  ///< what the data cannot tell, and why

  // What it was computed from, so that it can be computed again.
  inference::Normal prior_log_top_speed, prior_log_time_constant, prior_reaction_s;
  inference::Normal prior_log_first_acceleration, prior_late_slowing_per_s;
  double prior_log_first_acceleration_level_sd = 0.0;  ///< doubt that all children share
  double prior_late_slowing_level_sd_per_s = 0.0;
  std::vector<std::pair<std::string, inference::Normal>> prior_posture_cost_s, prior_segment_loss_s, prior_bias_s;
  std::string prior_source;
};

/// What the squad shares, as far as its runs tell. Estimates without share_from_data.
struct SquadSummary {
  std::size_t players = 0;         ///< with runs
  std::size_t players_fitted = 0;  ///< a seeded draw of them in a large log
  std::uint64_t seed = 0;
  bool converged = true;
  double slip_rate = 0.0;     ///< of wrong numbers, of all marks
  bool ages_unknown = false;  ///< of most; then the offsets are those of players without an age, against all ages
  Estimate effort_cv, day_cv, reaction_sd_s, press_factor;
  Estimate top_speed_offset, time_constant_offset;  ///< as shares: -0.05 is 5% slower than the norms
  FirstSteps first_steps;
  struct Shared {
    /// "reaction", "loss", "posture", "swing", "bias", "mark-lag", "move-lag"; "late-slowing", "run-order",
    /// "first-run", "beam-place"
    std::string kind;
    std::string name;
    inference::Normal prior;
    Estimate value;          ///< of a bias or lag itself; of all others the offset from what is usual
    std::string unit = "s";  ///< "1/s", "share" of the time, "m"
  };
  std::vector<Shared> shared;
};

struct ProfileResult {
  double level = 0.9;
  inference::ModelFile model;         ///< complete error parameters in use, and what the user fixed
  std::optional<SquadSummary> squad;  ///< with ProfileOptions::squad
  /// Where dates span more than four weeks: the day that speed, acceleration, times and percentiles are of, by the
  /// season model. Reaction, getting up and losses are means over all dates.
  std::optional<runs::Date> as_of;
  std::vector<PlayerProfile> players;  ///< in order of player id: numbers by value, then words
  std::vector<std::string> notes;      ///< about the whole, e.g. who timed, what cannot be told apart
  std::vector<std::string> cautions;   ///< where a drill or a result calls for them
  /// Whole rows and drills in doubt: swapped runs, wrong bibs, wrong postures. As PlayerProfile::suspected_readings.
  std::vector<SuspectedReading> suspected_rows, maybe_rows;
  std::size_t runs_used = 0, runs_left_out = 0;
  std::size_t dates = 0;                   ///< with a run that was used
  std::optional<runs::Date> last_evening;  ///< the last date of the log, up to as_of
  std::optional<BothWays> both_ways;       ///< of the team
};

/// @param log      every row without an error.   @param roster  build_index() called; players not in it have no age or
/// sex.
/// @param devices  profiles by device and timer.
/// Cost: about 0.2 ms a player; memory for one player's runs a thread.
ProfileResult profile(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                      const norms::Catalogue& norms, const ProfileOptions& options);

}  // namespace bagsplit::jobs
