#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "bagsplit/runs/player.hpp"
#include "bagsplit/runs/run.hpp"
#include "bagsplit/timing/device.hpp"

/// How long children may be expected to take, before they are timed: for telling whose run an unnamed one is.
namespace bagsplit::jobs {

struct ExpectedTime {
  std::string player;
  double log_time = 0.0;  ///< log of the moving time over the course [log s]
  double sd = 0.1;        ///< of it, what all share (a timer, the squad's distance from the norms) left aside
};

/// From the runs of a log and, for children without one, from age and sex; nothing of a child of whom neither is known.
/// @param course      into log.courses.   @param distance_m  from the start, > 0 [m].   @param base_m  0 on a straight.
/// @param players     ids.   @param on  day of the ages.
std::vector<ExpectedTime> expected_times(const runs::RunLog& log, const runs::Roster& roster,
                                         const timing::DeviceBook& devices, std::uint16_t course, double base_m,
                                         double distance_m, const std::vector<std::string>& players, runs::Date on);

}  // namespace bagsplit::jobs
