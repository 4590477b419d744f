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
/// Who gives the signal of a run that starts on one.
enum class Signal : std::uint8_t {
  unsaid,
  mine,   ///< whoever holds the watch calls and times
  other,  ///< somebody else calls, the timer hears it
  gun,    ///< a shot or a clap that the timer hears
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
  Signal signal = Signal::unsaid;
  bool suspicious = false;       ///< at least one suspicion names this row
  bool checked = false;          ///< somebody has looked at these times again and stands by them
  bool laps = false;             ///< typed as laps. In a relay leg after the first, laps count from the exchange, while
                                 ///< cumulative times stand on the team's clock
};

/// A time that cannot be what was meant, such as 41.6 for 4.16: kept as it was typed, and of no weight in any estimate
/// until somebody has checked it.
struct SetAside {
  enum class Slip : std::uint8_t { decimal, minutes };
  std::uint32_t reading = 0;  ///< into RunLog::readings
  std::uint16_t mark = 0;     ///< of the reading; of laps this one and all that follow
  Slip slip = Slip::decimal;
  double too_long_s = 0.0;  ///< as typed, less what was meant
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
  bool in_heat = false;    ///< one of RunLog::heats: many started on one call and the order tells, no time alone
  Date date{};
  double base_distance_m = 0.0;  ///< 0 when the course is not a base path and none was given
  float wind_mps = std::numeric_limits<float>::quiet_NaN();       ///< + is a tail wind; NaN when not given
  float temperature_c = std::numeric_limits<float>::quiet_NaN();  ///< NaN when not given
};

/// One child's part in a heat.
struct Finisher {
  std::uint32_t run = 0;    ///< into RunLog::runs
  std::uint16_t place = 0;  ///< as written, equal ones a tie; 0: came in behind all who have one
};

/// Runs that started on one call, and the order in which they came in. Times of the first few may stand beside it: a
/// time taken because a child came in first is no plain run.
struct Heat {
  NameId name = no_name;         ///< unique on its date, place and course
  NameId finish_mark = no_name;  ///< where the order was seen
  double finish_m = 0.0;         ///< how far that is from the start [m]
  bool ties_called = false;      ///< the judge calls ties, so no tie says that the gap was seen
  std::uint32_t first_finisher = 0;  ///< into RunLog::finishers
  std::uint32_t finisher_count = 0;
};

struct RunLog {
  std::vector<std::string> names;  ///< interned texts
  std::vector<std::string> files;  ///< paths as the user named them
  std::vector<Course> courses;     ///< courses in use: built-in and user-defined
  std::vector<Run> runs;           ///< ordered by player (first seen), then as in the files
  std::vector<Reading> readings;
  std::vector<Split> splits;
  std::vector<Carried> carried;     ///< ordered by reading, then as the columns stand in the file
  std::vector<SetAside> set_aside;  ///< ordered by reading
  std::vector<Heat> heats;          ///< in the order of the files
  std::vector<Finisher> finishers;
  std::size_t rows_read = 0;  ///< data rows seen, including those with errors

  std::span<const Reading> readings_of(const Run& run) const {
    return std::span(readings).subspan(run.first_reading, run.reading_count);
  }
  std::span<const Split> splits_of(const Reading& reading) const {
    return std::span(splits).subspan(reading.first_split, reading.split_count);
  }
  /// Whether a time of a reading, 0, 1, ..., is set aside.
  const SetAside* aside(std::uint32_t reading, std::size_t mark) const;
  std::span<const Finisher> finishers_of(const Heat& heat) const {
    return std::span(finishers).subspan(heat.first_finisher, heat.finisher_count);
  }
  const std::string& name(NameId id) const;  ///< empty text for no_name
};

}  // namespace bagsplit::runs
