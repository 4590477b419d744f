#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "bagsplit/basepath/path.hpp"
#include "bagsplit/basepath/yardstick.hpp"
#include "bagsplit/inference/posterior/posterior.hpp"
#include "bagsplit/inference/prior/model.hpp"
#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/runs/courses/course.hpp"
#include "bagsplit/runs/player.hpp"

/// The best path of one runner over one course, in a coach's terms: where to head, how wide to swing, what it is worth,
/// and how much of that hangs on the lateral limit, which nobody has measured on children.
namespace bagsplit::jobs {

/// Whose path. V and tau stand in the limits of the question; here is where they come from.
struct PathRunner {
  enum class Kind : std::uint8_t { given, age_group, player } kind = Kind::given;
  std::optional<std::string> player;
  std::optional<double> age_years;
  std::optional<runs::Sex> sex;
  std::optional<inference::Normal> log_top_speed, log_time_constant;  ///< age group: spread between children
  double log_correlation = 0.0;                                       ///< of the two
  std::optional<inference::Estimate>
      total_s;         ///< player: best time with its uncertainty, where the profile has this course
  std::string source;  ///< where V and tau come from, in words; may be empty
};

struct PathQuestion {
  runs::Course course;              ///< on the bases
  double base_distance_m = 18.288;  ///< > 0
  basepath::Limits limits;
  double start_speed_mps = 0.0;
  std::optional<double> max_outside_m;  ///< how far outside the lines the path may go
  PathRunner runner;
  double level = 0.9;          ///< of the interval of an age group
  bool other_laterals = true;  ///< solve for the plausible lateral limits, too
};

struct PathBag {
  std::string bag;
  double time_s = 0.0, leg_s = 0.0, speed_mps = 0.0;
  double heading_deg = 0.0;      ///< counter-clockwise from the direction home to first, -180 to 180
  double entry_angle_deg = 0.0;  ///< turned away from the line just run, towards the inside of the diamond
};

struct PathLeg {
  std::string from, to;
  basepath::Swing swing;
};

/// One solved path in those terms.
struct PathAnswer {
  double total_s = 0.0, length_m = 0.0, straight_s = 0.0;
  double start_heading_deg = 0.0;
  double start_angle_deg = 0.0;  ///< heads so far outside the first line
  std::vector<PathBag> bags;     ///< reached, in order
  std::vector<PathLeg> legs;
  std::size_t widest_leg = 0;
  std::optional<double>
      saved_over_square_s;  ///< against base lines with slow corners; absent with one leg or a running start
  std::optional<double> saved_over_circle_s;  ///< against the circle through the bags

  double widest_m() const { return legs.at(widest_leg).swing.widest_m; }
};

struct LateralCase {
  double lateral_mps2 = 0.0;
  PathAnswer answer;
  std::vector<basepath::PathPoint> path;
};

struct PathPlan {
  PathQuestion question;
  basepath::PathStatus status = basepath::PathStatus::failed;
  std::string message;  ///< why there is no answer; empty when there is one
  PathAnswer answer;
  std::optional<inference::Estimate>
      total_interval_s;  ///< spread of total_s over the age group, or the player's uncertainty
  std::vector<basepath::PathPoint> path;
  basepath::Certificate certificate;
  basepath::Sensitivity sensitivity;
  std::vector<LateralCase>
      lateral;  ///< over the plausible range and the value asked for, ascending; empty for a point mass
  std::vector<std::string> notes, cautions;

  bool usable() const { return status == basepath::PathStatus::certified; }
  bool turns() const { return answer.legs.size() > 1 || (!answer.legs.empty() && answer.widest_m() > 0.0); }
};

/// Solves for the question and for the plausible lateral limits.
/// @throws std::domain_error, std::invalid_argument as basepath::best_path; hard numerics give a status.
/// Cost: some milliseconds a lateral limit.
PathPlan plan_path(const PathQuestion& question);

/// The question of a player's own best path over the course the profile measured it against, medians for V and tau;
/// none where the profile has no such path.  @param courses  built-in ones and those of the log.
std::optional<PathQuestion> own_path_question(const PlayerProfile& profile, const std::vector<runs::Course>& courses);

/// A sentence that names the limit which makes the stop at the end of a single base run impossible; empty when it is
/// possible.
std::string impossible_stop(const PathQuestion& question);

/// Upper end of the runner's top speed [m/s], for the run-out.
double fast_end_mps(const PathQuestion& question);

}  // namespace bagsplit::jobs
