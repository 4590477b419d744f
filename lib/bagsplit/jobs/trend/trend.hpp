#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "bagsplit/inference/prior/model.hpp"
#include "bagsplit/runs/player.hpp"
#include "bagsplit/runs/run.hpp"

/// What may be asked of a trend, and what a log has to ask about. The answer: season_trend.hpp.
namespace bagsplit::jobs {

struct DateSpan {
  runs::Date from{}, to{};  ///< both included
  bool holds(runs::Date date) const { return from <= date && date <= to; }
};

struct TrendOptions {
  std::string course;  ///< whose seconds the answer is in, as in the log; empty: the one with most readings
  /// "first", "20m"; empty: the one with most readings. "move", counted from the start, is the reaction: runs started
  /// on a signal with a time at the first move.
  std::string mark;
  std::string from_mark;          ///< seconds from this mark to the other instead of from the start; empty: the start
  std::optional<DateSpan> first;  ///< windows; none: first and last third of the dates, rounded up
  std::optional<DateSpan> last;
  bool a_week = false;                 ///< seconds a week, between the middles of the windows
  std::optional<double> worthwhile_s;  ///< smallest change worth telling [s] (or a week), > 0; none: 1 % of the time
  double level = 0.9;                  ///< of all intervals
  inference::ModelFile model;          ///< errors it gives replace the built-in ones
};

/// One run that entered: the mean of its watches, known biases taken off.
struct TrendTime {
  runs::Date date{};
  double time_s = 0.0;
};

struct TrendLeftOut {
  std::string reason;  ///< a flag ("fall"), relay_leg, no_time_at_mark, no_signal
  std::size_t runs = 0;
};

struct WindowSummary {
  DateSpan span;
  std::size_t dates = 0, runs = 0, players = 0;
};

/// The courses run and, for each, its timed marks; those first that have most to compare: players' dates beyond their
/// first one. For choosing and for hints.
struct CourseMarks {
  std::string course;
  std::vector<std::string> marks;
  std::size_t comparisons = 0;  ///< at the first of the marks
  std::size_t runs = 0;
};
std::vector<CourseMarks> courses_and_marks(const runs::RunLog& log);

/// Whether some run over this course (empty: over any) has a time at the first move.
bool has_move_times(const runs::RunLog& log, const std::string& course);

/// Whether the reaction is all that was timed over a course (empty: over any).
bool only_moves_are_timed(const runs::RunLog& log, const std::string& course);

}  // namespace bagsplit::jobs
