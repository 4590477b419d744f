#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "bagsplit/inference/season/fit.hpp"
#include "bagsplit/jobs/profile/suspected.hpp"
#include "bagsplit/jobs/trend/trend.hpp"

/// Who changed across weeks, from all courses and marks at once: the season model (inference/season) asked of a log.
namespace bagsplit::jobs {

/// One child from the early to the late evenings, in seconds of the reference course; negative is faster.
struct SeasonPlayer {
  std::string player;
  std::optional<runs::Sex> sex;
  std::optional<double> age_first_years, age_last_years;  ///< on its own first and last date
  std::size_t times_early = 0, times_between = 0, times_late = 0;
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
  std::string course, mark;  ///< the reference: answers are in seconds of it; empty where there is no time
  std::optional<double> distance_m;
  double moving_time_s = 0.0;  ///< of the middle child there
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

/// Whether a question is of one mark's times only, which trend() answers: a slope, the time between two marks, the
/// reaction (asked for, or the only thing timed).
bool is_of_one_mark(const runs::RunLog& log, const TrendOptions& options);

/// @param options  course and mark choose the reference; from_mark and slope are not used.
/// @throws std::domain_error for a level outside (0, 1).
/// Cost: 40 children on 10 dates 0.03 s.
SeasonTrend season_trend(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                         const TrendOptions& options);

/// trend() of the season's reference course, with what the season says in place of what one mark's windows say: change
/// believed, growth, what is beyond, verdict and its words. Players' own times and plain changes stay. Questions of one
/// mark are answered by trend() alone.
TrendResult trend_by_season(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                            const norms::Catalogue& norms, const TrendOptions& options);

}  // namespace bagsplit::jobs
