#pragma once

#include <map>
#include <string>
#include <vector>

#include "squad.hpp"
#include "world.hpp"

/// The demo season: eight evenings of the invented squad, as the files a coach would have.
namespace demo_season {

/// What one run was in truth, with its key in the log.
struct RunTruth {
  std::string date, player, course;
  std::size_t trial = 0;  ///< as in the log, or numbered in file order where the log leaves it blank
  double effort = 0.0;    ///< relative, this run alone: f without the day and the surface
  double reaction_s = 0.0;
  bool reaction_counts = false;
  std::string flag;
};

struct NightTruth {
  std::string date, drills, place, surface;
  double surface_factor = 1.0;
  std::size_t rows = 0, runs = 0, children = 0, left_out = 0;
  std::map<std::string, double> day_form;  ///< by player: relative, added to 1 in f
};

struct Season {
  Common common;
  std::vector<Child> children;
  std::vector<Timer> timers;
  std::vector<NightTruth> nights;
  std::vector<RunTruth> runs;
  std::map<std::string, std::string> logs;  ///< file name to text
};

Season make_season();

/// Share of the season (0 first date, 1 last) and years since the first date.
struct SeasonTime {
  double share, years;
};
SeasonTime season_time(std::string_view date);

}  // namespace demo_season
