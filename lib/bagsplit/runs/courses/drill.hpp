#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/runs/run.hpp"

/// Drills by name: what is run, how it starts, who gives the signal, how often.
namespace bagsplit::runs {

struct Drill {
  std::string name;                ///< small letters, digits and hyphens
  std::string about;               ///< what is done, in a coach's words
  std::string course;              ///< of the log; of a relay its first leg, for the team that runs by way of first
  std::vector<std::string> marks;  ///< columns of times; none: the bags of the course
  Posture posture = Posture::standing;
  StartKind start = StartKind::signal;
  Signal signal = Signal::unsaid;
  unsigned runs_each = 1;  ///< of a child in an evening
  bool relay = false;      ///< runs of a team that follow one another
};

/// The built-in drills, in a stable order (data/drills/drills.json).
const std::vector<Drill>& builtin_drills();

/// The drill of that name, or nullptr; case of ASCII letters does not count.
const Drill* find_drill(const std::vector<Drill>& drills, std::string_view name);

}  // namespace bagsplit::runs
