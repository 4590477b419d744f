// What of a log enters the season model, and how it is called for people. Not installed.
#pragma once

#include <cstdint>
#include <string>
#include <utility>
#include <vector>

#include "bagsplit/inference/season/season.hpp"
#include "bagsplit/jobs/trend/trend.hpp"

namespace bagsplit::jobs::detail {

struct SeasonLevelName {
  std::string course, mark;
  double distance_m = 0.0;
};

struct SeasonData {
  season::Season season;
  std::vector<std::string> players;  // by id; all that ran, as season.children
  std::vector<runs::Date> dates;
  std::vector<SeasonLevelName> levels;
  std::vector<std::string> timers, devices, grounds;
  std::vector<std::uint32_t> source;  // of season.readings: into RunLog::readings
  std::vector<TrendLeftOut> left_out;
  std::size_t runs_used = 0, runs_left_out = 0;
};

// Flagged runs, relay legs and runs without a time at a mark stay out.
SeasonData season_data(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                       const inference::ModelFile& model, double reaction_s, double least_moving_time_s);

}  // namespace bagsplit::jobs::detail
