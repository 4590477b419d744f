// From runs several people timed to what is known of each timer. Not installed.
#pragma once

#include <cstdint>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "bagsplit/jobs/timers/timers.hpp"

namespace bagsplit::jobs::detail {

struct SharedReading {
  std::uint32_t reading = 0;  // into RunLog::readings
};

// A run two or more timed on clocks started alike.
struct SharedRun {
  std::uint32_t run = 0;
  runs::StartKind start = runs::StartKind::signal;
  std::vector<SharedReading> readings;
};

using ReadingPair = std::pair<std::uint32_t, std::uint32_t>;  // into RunLog::readings, the lower first

struct ProfileChoice {
  const std::string& name;                // of the profile
  const std::string& mark;                // as in farthest_common_mark()
  const std::set<ReadingPair>& left_out;  // named as far off: a slip of the thumb is not the timer's habit
};

// Adds biases and, where a hand timer is among them, the device profile.
//
// Biases of one way of starting are Gaussian: b_t = shared + own_t, with the profile in use as prior. Each run tells
// differences between its readings (a gate's truth is its own reading less its bias, known to its SD), free of what the
// player did. The posterior goes into the file as mean, whole SD, and the part of it that is the timer's own: what is
// left of b_t once the mean of all timers is taken out.
void add_profile(const runs::RunLog& log, const timing::DeviceBook& devices, const std::vector<SharedRun>& shared,
                 const ProfileChoice& choice, TimersResult& result);

}  // namespace bagsplit::jobs::detail
