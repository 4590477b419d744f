#pragma once

#include <optional>
#include <vector>

/// What the season model reads: plain values, indices from 0. Times [s], distances [m], days from any fixed day.
namespace bagsplit::season {

enum class Sex { unknown, female, male };

struct Child {
  std::optional<double> age_yr = {};  ///< on the first date; unknown: growth of an 11-year-old, with more doubt
  Sex sex = Sex::unknown;
  std::optional<double> growth_per_yr = {};  ///< known otherwise: change of moving time, share a year; age is not used
  std::optional<double> height_m = {};  ///< for the wind; with mass_kg, else Options::typical_height_m and _mass_kg
  std::optional<double> mass_kg = {};
};

/// How much moving time falls, as a share of it, for each share by which a quantity rises. See course_response().
struct CourseResponse {
  double top_speed = 0.5;           ///< top speed rises, first acceleration stays
  double first_acceleration = 0.5;  ///< first acceleration rises, top speed stays
};

/// A mark of a course: what readings have in common that are of one distance run one way. One without readings may be
/// the reference: a part of a course that nobody timed by itself.
struct Level {
  double distance_m = 0.0;  ///< run from the start to the mark; 0: no wind is reckoned there
  double turns_s = 0.0;     ///< time lost at turns up to the mark, not run against the wind
  bool loop = false;        ///< out and back: the wind along the course cancels
  CourseResponse response = {};
};

struct Timer {
  double own_sd_s = 0.0;  ///< SD of what this person or pair of gates reads too much
};

struct Device {
  double shared_sd_s = 0.0;  ///< SD of what all of this kind read too much
};

/// One time on one watch. Readings of one `run` of a child on a date (marks and watches) share effort and reaction;
/// readings of one `press` within it share the start press as well.
struct Reading {
  int child = 0;
  int date = 0;
  int level = 0;
  int run = 0;    ///< any number, the same for all readings of the run
  int press = 0;  ///< any number within the run, the same for readings that were started together
  int timer = 0;
  int device = 0;
  int ground = 0;
  double time_s = 0.0;
  double mark_sd_s = 0.0;   ///< this reading's alone: stopping at the mark, rounding, a slip suspected elsewhere; > 0
  double start_sd_s = 0.0;  ///< pressing at the start
  double reaction_sd_s = 0.0;           ///< the child's own reaction from run to run; 0 where the clock starts with it
  std::optional<double> wind_mps = {};  ///< along the course, + from behind; none: not known, the evening takes it
};

struct Season {
  std::vector<double> days = {};  ///< of the dates, ascending, at least two
  std::vector<Child> children = {};
  std::vector<Level> levels = {};
  std::vector<Timer> timers = {};
  std::vector<Device> devices = {};
  int grounds = 1;
  std::vector<Reading> readings = {};
  std::optional<int> reference_level = {};  ///< answers are in seconds of it; none: most used, then the shortest
  /// Median moving time [s] of each child (rows) at each level, where it is known better than from the median of the
  /// readings less Options::reaction_s; empty, or 0 in a cell: not known.
  std::vector<std::vector<double>> moving_time_s = {};
};

}  // namespace bagsplit::season
