#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "bagsplit/inference/posterior/posterior.hpp"
#include "bagsplit/inference/reading/assemble.hpp"
#include "bagsplit/runs/run.hpp"

/// Times of a log that do not fit a player's others: named, never mended.
namespace bagsplit::jobs {

struct SuspectedReading {
  std::string file;
  std::uint32_t line = 0;
  std::string column;  ///< the mark; of a start or a whole run empty
  std::string player;  ///< of a whole drill nobody
  /// "mark", "time", "start", "lost", "slow"; "row": one of these, which cannot be told; "decimal", "minutes": a time
  /// that cannot be what was meant, and is left out; "swap", "bib", "posture".
  std::string kind;
  double probability = 0.0;  ///< that it is wrong
  double read_s = 0.0;       ///< of a start or a whole run, its last time
  double expected_s = 0.0;   ///< what would fit
  double expected_sd_s = 0.0;
  double size_s = 0.0;           ///< read less expected
  std::string other_player;      ///< of a swap or a bib: whose times these look like
  std::uint32_t other_line = 0;  ///< of a swap: where those stand
  std::size_t drill = 0;  ///< of a posture: so many runs of a whole drill, the first of which is named; 0: one run
};

/// At `least` or more.
inline constexpr double surely_suspected = 0.8;
inline constexpr double maybe_suspected = 0.5;

/// Of one player, in the order of the log: times that are left out, and of each row with maybe_suspected or more what
/// is likeliest.
/// @param log_reading  one a reading of the player's data, into RunLog::readings.
/// @param slips, slip_of_reading  as inference::Posterior has them.
std::vector<SuspectedReading> suspected_readings(const runs::RunLog& log, const std::string& player,
                                                 std::span<const std::uint32_t> log_reading,
                                                 std::span<const inference::Slip> slips,
                                                 std::span<const double> slip_of_reading);

/// Of all players of an answer.
struct SuspectedReadings {
  std::vector<SuspectedReading> surely, maybe;  ///< of surely_suspected or more; of less
  std::optional<double> slip_rate;              ///< of wrong numbers, of all marks; none: not learnt

  void add(std::vector<SuspectedReading> more);
};

/// A row that an answer hangs on.
struct HangsOn {
  std::string what;  ///< the answer: "segment_loss_s.third", "reaction_s", "in", ...
  std::string file;
  std::uint32_t line = 0;
  bool only_one = false;  ///< the only run that tells it; else one that may be wrong
};

HangsOn hangs_on_reading(const runs::RunLog& log, std::uint32_t log_reading, std::string what);

/// "night.csv line 14".
std::string place_of(const HangsOn& row);

/// What is odd, without where it stands and what was done: for a list that says so itself.
std::string what_is_odd(const SuspectedReading& reading);

/// One plain sentence: where it stands, what it is about, what was done and what to do.
std::string sentence(const SuspectedReading& reading);

}  // namespace bagsplit::jobs
