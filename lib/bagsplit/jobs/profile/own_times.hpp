#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/run.hpp"

/// A child's times as the watch read them: nothing corrected, nothing worked out.
namespace bagsplit::jobs {

struct ProfileResult;

struct OwnRun {
  runs::Date date{};
  double time_s = 0.0;
};

/// Runs of one kind: the same course, last mark, posture, start and base distance.
struct OwnTimes {
  std::string course, mark;
  runs::Posture posture = runs::Posture::standing;
  runs::StartKind start = runs::StartKind::signal;
  double base_distance_m = 0.0;
  double best_s = 0.0, usual_s = 0.0, last_s = 0.0;  ///< usual: as many runs took longer as less
  std::vector<OwnRun> runs;                          ///< in the order of the log
};

/// A lap with a time at every bag, the fastest of them home.
struct OwnLap {
  runs::Date date{};
  double first_s = 0.0, second_s = 0.0, third_s = 0.0, home_s = 0.0;
};

struct OwnRecord {
  std::vector<OwnTimes> times;  ///< most runs first
  std::optional<OwnLap> best_lap;
};

/// @param used  the player's runs, flagged ones and relay legs left out.
/// Where several watches timed a run, the first row that is not flagged counts.
OwnRecord own_record(const runs::RunLog& log, std::span<const std::uint32_t> used);

/// Of each player of a profile, in its order.  @param as_of, window_days  as of the profile.
std::vector<OwnRecord> own_records(const runs::RunLog& log, const ProfileResult& profile,
                                   std::optional<runs::Date> as_of, std::optional<int> window_days);

}  // namespace bagsplit::jobs
