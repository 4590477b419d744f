#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "bagsplit/jobs/profile/own_times.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/run.hpp"

/// What a trainer asks of a whole team: which way round is quicker, and who has sprinted enough.
namespace bagsplit::jobs {

/// The same course run both ways round, of all children who ran both. Never told of one child.
struct BothWays {
  std::string course, mark;  ///< of the way by first base
  std::size_t players = 0;
  double third_less_first_s = 0.0;  ///< mean over children of usual time by way of third less by way of first
  double lo_s = 0.0, hi_s = 0.0;    ///< its interval (Student's t over children)
  /// Whether the interval lies on one side of 0.
  bool surely() const { return lo_s > 0.0 || hi_s < 0.0; }
};

/// Children fewer than this tell nothing of a team.
inline constexpr std::size_t fewest_both_ways = 3;

/// The pair of courses most children ran, posture, start and bases alike.  @param level  of the interval, in (0, 1).
/// What two watches, or two evenings, differ by is in the difference where one way had the one and one the other.
std::optional<BothWays> both_ways(std::span<const OwnRecord> records, double level);

/// A child's sprints on the last evening of the log, and in the seven days that end with it. Every run counts, flagged
/// ones, heats and relay legs too, but for those a child was absent from; two watches on a run are one run.
struct Sprints {
  std::size_t last_evening = 0, week = 0;
};

/// @param runs_of_player  indices into RunLog::runs.
Sprints sprints_of(const runs::RunLog& log, std::span<const std::uint32_t> runs_of_player, runs::Date last_evening);

}  // namespace bagsplit::jobs
