#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "bagsplit/inference/season/fit.hpp"
#include "bagsplit/jobs/profile/suspected.hpp"
#include "bagsplit/jobs/trend/trend.hpp"
#include "bagsplit/timing/device.hpp"

/// Who changed across weeks, from all courses and marks at once: the season model (inference/season) asked of a log.
namespace bagsplit::jobs {

/// One child from the early to the late evenings, in seconds of the reference course; negative is faster.
struct SeasonPlayer {
  std::string player;
  std::optional<runs::Sex> sex;
  std::optional<double> age_first_years, age_last_years;           ///< on its own first and last date
  std::size_t times_early = 0, times_between = 0, times_late = 0;  ///< all courses and marks
  std::vector<TrendTime> times;                                    ///< of the reference alone, a run each, as read
  std::size_t evenings = 0;                                        ///< that these are of
  std::optional<double> mean_early_s, mean_late_s;                 ///< of these in each window
  std::optional<season::Change> change;  ///< none without a time that can be used, or where nothing can be compared
  std::string verdict;                   ///< words of season::Verdict
  std::optional<double> probability_all_readings_fit;  ///< none without a time that can be used
};

/// A ground, timer or kind of watch beside the one used most.
struct SeasonLevel {
  std::string name;
  std::size_t times = 0;
  double effect_s = 0.0, sd_s = 0.0;  ///< on a run over the reference course, + is slower; 0 for the one used most
};

/// What the squad's late times hold beside the early ones that no child did. It is taken off already.
struct SeasonCondition {
  std::string kind;         ///< "ground", "timer", "device", "evening", "wind"
  double explains_s = 0.0;  ///< late less early, mean of the squad
  std::vector<SeasonLevel> levels;
};

struct SeasonSuspect {
  SuspectedReading reading;  ///< of a whole evening its first row, of kind "bib"
  std::string what;          ///< "home-first at first, 5.05 s", or what is wrong with a whole evening
  runs::Date date{};
};

struct SeasonTrend {
  std::vector<SeasonPlayer> players;  ///< the surest first
  double level = 0.9;
  /// The reference: answers are in seconds of it; empty where there is no time. from_mark: where it begins but for the
  /// start.
  std::string course, mark, from_mark;
  bool reaction = false;        ///< the time at the first move is compared, not a sprint
  std::optional<double> weeks;  ///< between the middles of the windows; changes are seconds a week where asked for
  bool a_week = false;
  std::optional<double> distance_m;
  double moving_time_s = 0.0;  ///< of the middle child there; 1 for a reaction
  /// Half the interval within which one run on another evening lies about a child's usual time when nothing changed.
  std::optional<double> one_run_noise_s;
  /// Test and retest: SD of a child's single run from evening to evening, what the evening does to all left aside, and
  /// what two such runs differ by once in 20 though nothing changed.
  std::optional<double> typical_error_s, retest_difference_s;
  std::size_t courses = 0, marks = 0, dates = 0, times_used = 0, runs_used = 0, runs_left_out = 0;
  std::optional<WindowSummary> early, late;  ///< sessions are dates
  std::optional<season::Squad> squad;
  season::Estimate common_move_s;  ///< of the whole squad beyond growth
  std::optional<double> smallest_detectable_s;
  std::optional<double> worthwhile_s;  ///< as given, else 1 % of the moving time: less is "as growth says"
  std::vector<SeasonCondition> conditions;
  std::vector<SeasonSuspect> suspects;
  std::vector<TrendLeftOut> left_out;
  std::vector<std::string> notes, cautions;
  inference::ModelFile model;
};

/// @param options  course and marks choose the reference. The mark "move", and nothing else timed, asks of the
/// reaction: a state of its own, from the times at the first move.
/// @throws std::domain_error for a level outside (0, 1) or a worthwhile change not above 0.
/// Cost: 40 children on 10 dates 0.03 s.
SeasonTrend season_trend(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                         const TrendOptions& options);

}  // namespace bagsplit::jobs
