#pragma once

#include <chrono>
#include <cstdint>
#include <limits>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "bagsplit/runs/courses/course.hpp"

/// What was measured: runs, each with one or more readings, as plain values.
///
/// Built for a million rows: names are interned (`NameId`, an index into `RunLog::names`), readings and splits lie in
/// two flat arrays, and a run or a reading points at its part of them. All arrays keep the order of the files read.
namespace bagsplit::runs {

using Date = std::chrono::sys_days;
using NameId = std::uint32_t;
inline constexpr NameId no_name = std::numeric_limits<NameId>::max();

enum class Device : std::uint8_t { stopwatch, gate, video };
enum class StartKind : std::uint8_t {
  signal,   ///< clock starts at the call; reaction is in the time
  self,     ///< clock starts at the player's first move
  beam,     ///< clock starts when the runner, already moving, meets a beam `beam_distance_m` from the start
  contact,  ///< clock starts at bat contact
};
enum class Posture : std::uint8_t { standing, split, crouch, prone, swing };
enum class Flag : std::uint8_t { none, false_start, fall, missed_bag, obstructed, void_run, absent };

/// One time at one mark. Always cumulative: laps are summed on reading.
struct Split {
  double distance_m = 0.0;  ///< nominal path distance of the mark from the start [m]; 0 for `move`
  double time_s = 0.0;      ///< cumulative time on this reading's clock [s]
  NameId mark = no_name;    ///< name of the mark as in the log's column ("first", "10yd", "move")
  bool is_move = false;     ///< the `move` mark: first move seen by the timer
};

/// One timer's (or gate set's) record of a run.
struct Reading {
  NameId timer = no_name;
  NameId note = no_name;
  std::uint32_t first_split = 0;  ///< into RunLog::splits
  std::uint16_t split_count = 0;
  Device device = Device::stopwatch;
  StartKind start = StartKind::signal;
  Flag flag = Flag::none;
  double beam_distance_m = 0.0;  ///< of a `beam` start
  std::uint32_t line = 0;        ///< line in its file
  std::uint16_t file = 0;        ///< into RunLog::files
  bool suspicious = false;       ///< at least one suspicion names this row
  bool checked = false;          ///< somebody has looked at these times again and stands by them
  bool laps = false;             ///< typed as laps. In a relay leg after the first, laps count from the exchange, while
                                 ///< cumulative times stand on the team's clock
};

/// A cell of an `x-` column: carried along, not analysed.
struct Carried {
  std::uint32_t reading = 0;  ///< into RunLog::readings
  NameId column = no_name;
  NameId text = no_name;
};

/// One effort of one player over one course.
struct Run {
  NameId player = no_name;
  NameId place = no_name;
  NameId team = no_name;
  NameId surface = no_name;
  std::uint32_t first_reading = 0;  ///< into RunLog::readings; the readings of a run are contiguous
  std::uint16_t reading_count = 0;
  std::uint16_t course = 0;  ///< into RunLog::courses
  std::uint16_t trial = 0;   ///< as typed, or numbered in file order where blank; from 1
  std::uint16_t leg = 0;     ///< relay leg from 1; 0 when not a relay
  Posture posture = Posture::standing;
  Flag flag = Flag::none;  ///< of the run: the flag of any of its readings
  Date date{};
  double base_distance_m = 0.0;  ///< 0 when the course is not a base path and none was given
  float wind_mps = std::numeric_limits<float>::quiet_NaN();       ///< + is a tail wind; NaN when not given
  float temperature_c = std::numeric_limits<float>::quiet_NaN();  ///< NaN when not given
};

struct RunLog {
  std::vector<std::string> names;  ///< interned texts
  std::vector<std::string> files;  ///< paths as the user named them
  std::vector<Course> courses;     ///< courses in use: built-in and user-defined
  std::vector<Run> runs;           ///< ordered by player (first seen), then as in the files
  std::vector<Reading> readings;
  std::vector<Split> splits;
  std::vector<Carried> carried;  ///< ordered by reading, then as the columns stand in the file
  std::size_t rows_read = 0;     ///< data rows seen, including those with errors

  std::span<const Reading> readings_of(const Run& run) const {
    return std::span(readings).subspan(run.first_reading, run.reading_count);
  }
  std::span<const Split> splits_of(const Reading& reading) const {
    return std::span(splits).subspan(reading.first_split, reading.split_count);
  }
  const std::string& name(NameId id) const;  ///< empty text for no_name
};

}  // namespace bagsplit::runs
