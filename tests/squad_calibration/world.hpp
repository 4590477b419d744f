#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/roster/roster.hpp"

/// Squads drawn from the model itself, so that the truth is known: invented, for checking what intervals state.
namespace bagsplit::test {

/// What a squad is like beyond what the priors say; all 0: exactly as the priors say.
struct WrongPrior {
  double log_top_speed_offset = 0.0;     ///< added to every player's log V
  double reaction_offset_s = 0.0;        ///< added to every player's reaction
  std::optional<double> loss_slope_s{};  ///< of own losses on own log V, in place of one drawn
};

struct DrawnSquad {
  runs::RunLog log;
  runs::Roster roster;
  /// Truth by player id and quantity: "top_speed_mps", "time_constant_s", "reaction_s", "loss.first",
  /// "session.first@home-first", "home-first".
  std::map<std::string, std::map<std::string, double>> truth;
  /// Readings at first on the last date, by player, of nights with one reading a run.
  std::map<std::string, std::vector<double>> first_times_s;
};

enum class Nights : std::uint8_t {
  mixed,  ///< 6-14 players with 2-6 runs each on one or two dates: stopwatch or gate nights, circuits, straights, prone
          ///< starts
  drills,  ///< one evening by one watch, 12-14 players with 2-6 runs each: circuits, straights and home to first in
           ///< turn
  gates,   ///< one evening through light gates: straights of 10, 20 and 30 m
};

DrawnSquad draw_squad(std::uint64_t seed, std::uint64_t index, const WrongPrior& wrong, Nights nights = Nights::mixed);

/// "loss" of "loss.first", "session" of "session.first@home-first"; other names as they are.
std::string short_name(const std::string& name);
/// The value of a quantity named as in DrawnSquad::truth, or nothing.
const inference::Estimate* estimate_of(const jobs::PlayerProfile& profile, const std::string& name);

/// Counts of a quantity: how often the 90% interval covers, and where the truth lies among the parts of its posterior
/// cut at 5, 25, 50, 75 and 95%.
struct Coverage {
  int count = 0;
  int covered = 0;
  int parts[6] = {};
  double chi_square() const;  ///< of the parts, 5 degrees of freedom
  double share() const { return static_cast<double>(covered) / count; }
};

struct Calibration {
  std::map<std::string, Coverage> quantities;  ///< by "reaction_s", "loss", ...
  /// Mean widths of 90% intervals of tonight's mean home-first time for players with three runs: the model's, and each
  /// child's own t-interval.
  double model_width_s = 0.0, own_width_s = 0.0;
  int three_runs = 0;
  Coverage three_run_coverage;
  int not_certified = 0;
  int sure_marks = 0, sure_marks_right = 0;  ///< of the coach's grid: call, first steps, speed, bags
};

/// Draws and profiles so many squads. Deterministic for any number of threads.
Calibration calibrate(int squads, std::uint64_t seed, const WrongPrior& wrong, unsigned threads);

}  // namespace bagsplit::test
