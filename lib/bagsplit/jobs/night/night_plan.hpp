#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "bagsplit/inference/squad/squad.hpp"
#include "bagsplit/runs/courses/course.hpp"
#include "bagsplit/runs/courses/drill.hpp"
#include "bagsplit/runs/player.hpp"
#include "bagsplit/timing/device.hpp"

/// Before the night: which mix of drills would tell most, and how many runs a precision takes.
namespace bagsplit::jobs {

/// What a night may be asked to tell.
enum class Wanted : std::uint8_t { reaction, time_constant, top_speed, acceleration, home_first, losses };
inline constexpr std::array all_wanted{Wanted::reaction,     Wanted::time_constant, Wanted::top_speed,
                                       Wanted::acceleration, Wanted::home_first,    Wanted::losses};
/// "reaction", "time-constant", ...; and back, nothing for an unknown word.
std::string wanted_name(Wanted wanted);
std::optional<Wanted> wanted_of(const std::string& name);

/// Reaction, time constant, top speed.
std::vector<Wanted> usual_wanted();

/// A drill by name and the course it is run over.
struct NamedDrill {
  runs::Drill drill;
  runs::Course course;
};

struct NightQuestion {
  std::optional<double> age_years;
  std::optional<runs::Sex> sex;
  double base_m = 18.288;
  double minutes = 45.0;
  std::size_t players = 12;
  unsigned watches = 1;  ///< on each run; 0 only with gates
  bool gates = false;    ///< three sets, for straights
  std::vector<Wanted> wanted = usual_wanted();
  std::vector<NamedDrill> drills;  ///< the night is of these, each at least once where it fits; none: of all kinds
  inference::SquadScales scales;   ///< published, or this squad's
  std::size_t simulated = 200;     ///< players in the check of the expectation
  std::uint64_t seed = 20260411;
};

/// One kind of run.
struct Drill {
  std::string name;  ///< "straight", "home-first", "circuit", "prone", "gated-straight", or of a drill by name
  std::string words;
  double lane_s = 0.0;  ///< of the lane for one run: set off, run, note down. Common practice, no source
  double run_s = 0.0;   ///< moving time of a usual player
};

struct Mix {
  std::string name;               ///< "most telling", "circuits only", "as often as each drill says", ...
  std::vector<std::size_t> runs;  ///< of each drill, per player
  double minutes = 0.0;
  std::vector<double> expected_sd;                  ///< of each wanted quantity, linear theory
  std::vector<std::optional<double>> simulated_sd;  ///< mean posterior SD over simulated players; of some mixes
};

struct NightPlan {
  NightQuestion question;
  std::vector<Drill> drills;
  std::vector<double> prior_sd;  ///< of each wanted quantity
  std::vector<Mix> mixes;        ///< the most telling first
  double slower = 1.0;  ///< so many times lane_s between two runs of the most telling mix: spread over the time given
  std::optional<double> least_rest_s;  ///< between two runs of one player in the most telling mix; none: no run fits
};

/// Why a drill cannot be planned, for people; empty where it can.
std::string why_not_planned(const NamedDrill& drill);

/// Bayesian optimal design (Chaloner & Verdinelli 1995, Stat Sci 10:273-304) over whole numbers of runs: minimises the
/// sum of log(expected SD / SD before) over what is wanted, all mixes that fit the time tried. The expected posterior
/// is that of the model linearised at the age group's middle; checked by simulation with the exact posterior. A slot of
/// the lane lasts at least as long as gives each player six times the running time to rest, and no less than
/// safety::least_rest_s(); the runs are then spread over the time given.
/// @throws std::domain_error for no players, no time, no timing device, nothing wanted, or a drill of
/// which why_not_planned() says something.   Cost: some tens of
/// milliseconds.
NightPlan plan_night(const NightQuestion& question, const timing::DeviceBook& devices);

struct RunsQuestion {
  double run_sd_s = 0.0;               ///< from run to run of one night
  double moving_time_s = 0.0;          ///< of the time planned for: children change by shares of it
  std::optional<double> day_sd_s;      ///< from night to night
  std::optional<double> half_width_s;  ///< of the interval of tonight's mean
  std::optional<double> change_s;      ///< beyond growth, to be told between two windows
  double power = 0.8;                  ///< chance of being told so
  double level = 0.9;                  ///< of the interval
};

struct RunsNeeded {
  std::optional<std::size_t> for_half_width;  ///< runs a player, one night
  std::optional<std::size_t> for_change;  ///< runs a player in each window, one night each, form of the day left aside
  /// The same as evenings of safety::most_sprints_an_evening. More than one: no night has so many runs, and no child
  /// should run them in one; spread out, the form of each day enters, and what is told is no longer tonight's.
  std::optional<std::size_t> evenings_for_half_width, evenings_for_change;
  std::optional<double>
      half_width_of_evening_s;  ///< what an evening's most runs tell; where a half-width was asked for
  std::optional<std::size_t>
      nights_for_change;  ///< nights in each window with three runs a night, form of the day included
};

/// t intervals (stats/planning.hpp); a change is found where `trend` would call it probable (season/verdict.hpp), with
/// its usual share of children that change and size.  @throws std::domain_error for a value not above 0.
RunsNeeded runs_needed(const RunsQuestion& question);

/// Moving time over a distance, SD of a time from run to run and from day to day, by the model of a reading.
struct TimeSpread {
  double moving_time_s = 0.0;
  double run_sd_s = 0.0;
  double day_sd_s = 0.0;
};
TimeSpread time_spread(const NightQuestion& question, double distance_m, bool signal,
                       const timing::DeviceBook& devices);

}  // namespace bagsplit::jobs
