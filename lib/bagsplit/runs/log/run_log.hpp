#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/runs/courses/course.hpp"
#include "bagsplit/runs/courses/drill.hpp"
#include "bagsplit/runs/player.hpp"
#include "bagsplit/runs/run.hpp"
#include "bagsplit/text/csv.hpp"
#include "bagsplit/text/problem.hpp"

/// Reading run logs: CSV as people type it, to a RunLog and a list of everything wrong or suspicious in it.
namespace bagsplit::runs {

/// What is thought of the bias of a time from the start: reading minus truth [s].
struct StartBias {
  double mean_s = 0.0;
  double sd_s = 0.0;
};
/// By Device and StartKind.
using StartBiases = std::array<std::array<StartBias, 4>, 3>;

/// Bounds beyond which a time is called impossible or suspicious. Change them for other sports or surfaces, not to
/// silence a report.
struct SuspicionLimits {
  /// Fastest mean speed between two marks [m/s]. Source: Graubner & Nixdorf (2011), New Studies in Athletics 26(1/2),
  /// 19-53: peak 12.34 m/s by laser in the 100 m final of Berlin 2009 (12.27-12.35 in other copies), fastest 10 m split
  /// 0.81 s.
  double top_speed_mps = 12.4;
  /// From rest nobody is farther than V (t - T (1 - exp(-t/T))) from the start after t seconds, V the top speed and T
  /// this [s]. The fastest published start (10 m in 1.85 s less 0.165 s reaction, Beijing 2008) lies 0.08 s above this
  /// bound.
  double fastest_time_constant_s = 1.0;
  /// What a hand watch may add to that: two SDs of the difference of two presses (press_error_s) [s].
  double hand_slack_s = 0.2;
  /// The same for gates and video. Source: Earp & Newton (2012), J Strength Cond Res 26(5), 1245-1248: SD of the
  /// difference between timing systems up to 0.042 s; two of them.
  double device_slack_s = 0.084;
  /// A time from the start is judged after its bias, two SDs of what is not known of that allowed. As the built-in
  /// device profiles have it, nobody having said whether a timer hears or gives the signal (timing::start_biases).
  StartBiases start_bias{{{{{-0.163, 0.168}, {-0.25, 0.10}, {0.0, 0.05}, {-0.18, 0.14}}},
                          {{{-0.035, 0.02}, {-0.065, 0.028}, {0.0, 0.02}, {-0.145, 0.054}}},
                          {{{0.0, 0.01}, {0.0, 0.02}, {0.0, 0.005}, {0.0, 0.01}}}}};
  /// SD of the error of one interval timed by hand [s]: 0.07 s for each press, times the square root of 2; what
  /// is_false_start() allows for. Source: Manual timing in physics experiments (2019), Am J Phys 87(2), 110: 4304
  /// presses at a seen event, SD 0.07 s.
  double press_error_s = 0.07 * 1.4142135623730951;
  /// Mean speed from the start below which a run is hardly a run [m/s]: an unhurried walk. Common practice, no source.
  double slowest_speed_mps = 0.9;
  /// Two watches that share fewer than 6 runs and are farther apart than this on one are called so [s]; where they
  /// share more, their own spread decides. Source: Mayhew et al. (2010), J Strength Cond Res 24(2), 447-451: largest
  /// spread among 7 timers on one run 0.19 s on average, SD 0.14 s; mean plus three SDs.
  double watches_apart_s = 0.61;
  /// Fastest mean speed between two marks by whole years of age [m/s]; 0: no limit; empty: not checked. Beside a roster
  /// with births.
  std::vector<double> fastest_of_age_mps = {};
  /// As fastest_time_constant_s, of a child that is near that speed [s]. Common practice, no source.
  double child_time_constant_s = 0.4;
};

struct ReadOptions {
  /// Suspicions become errors. The rows they name stay in the log: the caller stops at any error.
  bool strict = false;
  /// The current date; a later one in a file is suspicious. Nothing: not checked.
  std::optional<Date> today = std::nullopt;
  /// Players known; one who is not is suspicious. nullptr: not checked. build_index() must have been called.
  const Roster* roster = nullptr;
  /// User-defined courses, beside the built-in ones; a name of a built-in one must not recur.
  std::vector<Course> courses = {};
  /// Drills of the user's own, beside the built-in ones.
  std::vector<Drill> drills = {};
  SuspicionLimits limits = {};
  text::CsvLimits csv = {};
  /// Problems kept of each file; the number of the others is told.
  std::size_t max_problems = 10'000;
};

/// One file's text. Must outlive the call that reads it.
struct LogText {
  std::string_view text;
  std::string path;          ///< as the user named it; "-" for standard input
  bool from_folder = false;  ///< found in a folder: passed over with a note when it is a roster
};

struct RunLogResult {
  RunLog log;               ///< every row without an error
  text::Problems problems;  ///< of all files, in the order of files and lines
};

/// Reads one run log.
///
/// Pure: no file, clock or locale. Any text gives a result, a broken one with problems (codes: problem_codes.hpp).
/// Cost: O(n); a million rows of four marks in 0.3 s and 310 MB on one core (tests/bench/growth.py), twice as long
/// where many players take turns.
RunLogResult read_run_log(std::string_view text, std::string path, const ReadOptions& options = {});

/// Reads several run logs as one: readings of one run may stand in different files.
RunLogResult read_run_logs(std::span<const LogText> files, const ReadOptions& options = {});

}  // namespace bagsplit::runs
