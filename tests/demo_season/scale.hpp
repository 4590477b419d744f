#pragma once

#include <cstddef>
#include <cstdint>
#include <ostream>

/// A season of any size for measuring speed: many clubs, each with its own field and two timers.
namespace demo_season {

struct ScaleOptions {
  std::size_t players = 1000;  ///< 1 to 1,000,000
  std::size_t rows = 20000;    ///< data rows of the log, exactly; at most 4,000 a player
  std::uint64_t seed = 1;
};

/// Writes roster, log and truth (one row a player) as CSV; the log is streamed, memory grows with players only.
/// @throws std::invalid_argument naming the option, its value and the bound.
void write_scale_season(const ScaleOptions& options, std::ostream& roster, std::ostream& log, std::ostream& truth);

}  // namespace demo_season
