#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/runs/run.hpp"

namespace bagsplit::runs {

/// A word and how often it occurs.
struct Tally {
  std::string word;
  std::size_t count = 0;
};

struct CourseTally {
  std::string course;
  std::size_t runs = 0;
  std::size_t players = 0;
};

/// What a run log holds, in counts.
struct LogSummary {
  std::size_t files = 0;
  std::size_t rows = 0;      ///< data rows, those with errors included
  std::size_t runs = 0;      ///< flagged ones included
  std::size_t readings = 0;  ///< rows without an error: one timer's record of a run each
  std::size_t times = 0;     ///< at marks, `move` included
  std::size_t players = 0;
  std::size_t sessions = 0;  ///< dates and places
  std::size_t dates = 0;
  std::optional<Date> first_date, last_date;
  std::size_t suspicious_readings = 0;
  std::vector<CourseTally> courses;  ///< those run, in the order of RunLog::courses
  std::vector<Tally> flags;          ///< runs by flag, those that occur, in the order of Flag
  std::vector<Tally> timers;         ///< readings by timer, in the order first met; an empty word where none was named
};

/// Cost: O(n log n) in the runs and readings.
LogSummary summarise(const RunLog& log);

/// The word of a flag as in the log: "false-start"; empty for Flag::none.
std::string_view flag_name(Flag flag);

}  // namespace bagsplit::runs
