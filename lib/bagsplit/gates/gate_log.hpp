#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/runs/courses/course.hpp"
#include "bagsplit/runs/run.hpp"
#include "bagsplit/text/problem.hpp"

/// What light gates write down, and what is needed to read it: the gate log, the start list, the gate map.
namespace bagsplit::gates {

/// One beam broken. Times are whole nanoseconds, so that differences are as exact as the digits written.
struct GatePassage {
  std::string gate;
  std::int64_t time_ns = 0;  ///< on the log's clock, wraps undone; ISO times count from 1970-01-01
  std::size_t line = 0;      ///< in the gate log
  std::size_t clock =
      0;  ///< stretch of the log between two steps of the clock; times of two stretches cannot be compared
};

struct GateLog {
  std::string path;
  std::vector<GatePassage> passages;  ///< by clock, then time, then line
  std::optional<runs::Date> date;     ///< of the first ISO time, or the key `date`
  std::string place;
  std::size_t rows = 0;
};

/// Reads a gate log: CSV with the columns `gate` and `time`.
///
/// A time is seconds (`75.123`), a time of day (`10:15:30.123`) or ISO 8601 (`2026-04-11T10:15:30.123`, with `Z` or an
/// offset), one form throughout, up to 9 decimals. Keys above the header: `date`, `place`, and `wraps-at`, the time at
/// which the clock goes back to 0
/// (`3600` or `3600 s`).
///
/// A clock that goes back by more than `late_lines_s` starts a new stretch (`clock-step`) unless `wraps-at` explains it
/// (note `clock-wrapped`); what goes back by less is a line written late, and is sorted in (note `unsorted-lines`).
GateLog read_gate_log(std::string_view text, std::string_view path, text::Problems& problems,
                      double late_lines_s = 30.0);

/// One line of a start list.
struct StartEntry {
  std::string player;
  std::optional<std::int64_t> time_ns;  ///< about when, on the gate log's clock
  std::size_t start_line = 0;           ///< or the line of the gate log where its run starts: an answer; 0: not given
  std::uint16_t trial = 0;              ///< 0: numbered in order
  runs::Flag flag = runs::Flag::none;
  std::string note;
  std::size_t line = 0;
};

struct StartList {
  std::string path;
  std::vector<StartEntry> entries;   ///< in the order of starting
  bool everybody_ran = false;        ///< whoever is not marked absent
  std::vector<std::size_t> nobody;   ///< lines of the gate log where a run of nobody on the list starts: answers
  std::vector<std::size_t> unknown;  ///< and of runs that nobody can tell, not to be asked about again
};

/// Reads a start list: CSV with the column `player`, and `time`, `trial`, `flag`, `note` where known, in the order of
/// starting. A player flagged `absent` is not waited for. A `time` says when, give or take a second, or answers a
/// question: `line 145`, the run that starts there. Keys: `everybody-ran` (yes or no): all who are not absent did run,
/// so a run that no gate saw whole is not taken for an absence; `nobody` and `unknown`: lines of the gate log (`145,
/// 160`) where a run of nobody on the list starts, or one that cannot be known.
StartList read_start_list(std::string_view text, std::string_view path, text::Problems& problems);

/// Where a gate stands.
struct GatePlace {
  std::string gate;
  std::string mark;         ///< as a column of a run log: "first", "20m"
  double distance_m = 0.0;  ///< from the start
};

struct GateMap {
  std::string path;
  std::string course = "straight";
  std::string start_gate;
  runs::StartKind start = runs::StartKind::signal;
  double beam_distance_m = 0.0;       ///< of a `beam` start
  double base_distance_m = 0.0;       ///< 0: not given
  std::string base_distance;          ///< as typed
  std::string posture, surface;       ///< as typed; empty when not given
  std::vector<GatePlace> places;      ///< in the order of the course
  std::vector<std::string> not_used;  ///< gates with the mark `-`
};

/// Reads a gate map: CSV `gate,mark`. A mark is `start`, a bag, a distance such as `20m`, or `-` for a gate that is not
/// used; one gate may have two lines (home: `start` and `home`). Keys: `course` (straight), `start` (`signal`, `self`,
/// `beam 0.5 m`, `contact`), `base-distance`, `posture`, `surface`.
/// @param courses  known courses, the built-in ones among them.
GateMap read_gate_map(std::string_view text, std::string_view path, const std::vector<runs::Course>& courses,
                      text::Problems& problems);

/// A time as in a gate log [ns]; nothing when it is none.
std::optional<std::int64_t> parse_gate_time_ns(std::string_view text);

}  // namespace bagsplit::gates
