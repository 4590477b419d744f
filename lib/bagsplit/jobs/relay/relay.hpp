#pragma once

#include <Eigen/Core>
#include <cstdint>
#include <optional>
#include <stdexcept>
#include <string>
#include <vector>

#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/runs/player.hpp"
#include "bagsplit/runs/run.hpp"
#include "bagsplit/text/problem.hpp"
#include "bagsplit/timing/device.hpp"

/// Relays: each leg and exchange of those that were run, and what other orders may be expected to do.
///
/// A relay is the rows of a log with one date, place and trial that name a `team` and a `leg`; a row's time at the end
/// of its course stands on the team's clock, which starts at the team's signal (or, in lap mode, counts from the
/// exchange). Definitions and assumptions: the module's README.
namespace bagsplit::jobs {

struct RelayOrder {
  std::string team;
  std::vector<std::string> players;  ///< in running order
};

struct RelayOptions {
  double level = 0.9;          ///< of all intervals
  inference::ModelFile model;  ///< as ProfileOptions
  bool squad = true;           ///< as ProfileOptions
  unsigned threads = 1;
  std::vector<RelayOrder> orders;     ///< to look ahead to; teams not named run as on their last date
  std::optional<std::string> course;  ///< every leg of `orders` over this one; default: as the team last ran
  std::size_t draws = 40000;          ///< of the win probabilities
  std::uint64_t seed = 20260411;
};

struct RelayLeg {
  std::size_t leg = 0;
  std::string player;  ///< empty where the log has no row for the leg
  std::string course;
  runs::Flag flag = runs::Flag::none;
  std::optional<double> squad_leg_s;  ///< the squad's middle leg of that length, where this one is so far off that it
                                      ///< is suspicious: its time stands, nothing is concluded from it
  std::optional<double> clock_s;      ///< team's clock at the end of the leg
  std::optional<double> leg_s;        ///< time of the leg; nothing where a reading at either end is missing
  double leg_sd_s = 0.0;  ///< of its reading error; a timer's bias, which stands in leg 1 alone, is left out
  std::optional<std::size_t> together_from;     ///< this leg is known only together with those from that one on
  std::optional<double> together_s;             ///< their sum, on the last of them
  bool own_runs = false;                        ///< the player has runs alone
  bool own_course = false;                      ///< ... over this very course (losses known)
  std::optional<Estimate> exchange_s;           ///< E; only with own runs over the course
  std::optional<Estimate> exchange_and_loss_s;  ///< E + losses of the leg, where the two cannot be told apart
  std::optional<Estimate> against_own_runs_s;   ///< leg less reaction + moving time of the player's own runs
  std::optional<double> usual_scatter_s;        ///< SD of such a leg from one relay to the next, for comparison
};

struct RelayRun {
  std::string team;
  runs::Date date{};
  std::string place;
  std::size_t trial = 1;
  std::vector<std::string> timers;
  std::vector<RelayLeg> legs;  ///< in order, those without a row included
  std::optional<double> total_s;
  double total_sd_s = 0.0;            ///< of its reading error
  Eigen::MatrixXd leg_covariance_s2;  ///< of the reading errors of all legs; of use where every leg is known
};

/// Who was first in one relay, as far as the clocks tell.
struct RelayHeat {
  runs::Date date{};
  std::string place;
  std::size_t trial = 1;
  std::string first;
  double margin_s = 0.0;  ///< to the second
  double p_first = 0.0;   ///< probability that it was really ahead, the clocks' errors allowed for
};

struct BestOrder {
  std::vector<std::string> players;
  Estimate gain_s;               ///< of the given order's expected total over this one's
  double p_faster = 0.0;         ///< than the given one
  double best_to_worst_s = 0.0;  ///< between the expected totals of the best and the worst order
  double p_best_to_worst = 0.0;  ///< that the best is faster than the worst at all
  bool matters = false;          ///< the best beats the worst by at least 0.02 s, and with probability `level`
};

struct ExpectedRelay {
  std::string team;
  std::vector<std::string> players;
  std::vector<std::string> courses;  ///< one a leg
  Estimate total_s;                  ///< of a relay on another evening, scatter included
  std::optional<double> p_win;
  BestOrder best;
};

struct RelayResult {
  double level = 0.9;
  inference::ModelFile model;
  std::vector<RelayRun> runs;           ///< by date, trial, then team
  std::vector<RelayHeat> heats;         ///< with two teams or more
  std::vector<ExpectedRelay> expected;  ///< in the order asked for, else by team
  std::vector<ExpectedRelay> swapped;   ///< the same, each of two teams over the other's courses, without a best order;
                                        ///< nothing unless these differ and the legs are as many
  std::size_t draws = 0;
  std::uint64_t seed = 0;
  SuspectedReadings suspected;  ///< in the players' own runs
  /// Of each player: that all its own times fit; none: every reading counts in full.
  std::vector<std::pair<std::string, std::optional<double>>> all_readings_fit;
  std::vector<std::string> uncertified;  ///< players
  std::vector<std::string> notes;
  std::vector<std::string> cautions;
};

/// An order that cannot be run: the text is for people and names player, team or course.
struct ImpossibleOrder : std::invalid_argument {
  using std::invalid_argument::invalid_argument;
};

/// @param problems  gains an error for what makes a relay unreadable (a leg twice, a player in two teams of one relay,
/// a clock that
///   does not rise, a leg without a team); then the result is empty. And a suspicion for each leg far from the squad's
///   (RelayLeg::squad_leg_s).
/// @throws ImpossibleOrder.
RelayResult relay(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                  const RelayOptions& options, text::Problems& problems);

}  // namespace bagsplit::jobs
