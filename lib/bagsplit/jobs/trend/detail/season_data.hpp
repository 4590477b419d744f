// What of a log enters the season model, and how it is called for people. Not installed.
#pragma once

#include <cstdint>
#include <string>
#include <utility>
#include <vector>

#include "bagsplit/inference/season/options.hpp"
#include "bagsplit/inference/season/season.hpp"
#include "bagsplit/jobs/trend/trend.hpp"
#include "bagsplit/timing/device.hpp"

namespace bagsplit::jobs::detail {

struct SeasonLevelName {
  std::string course, mark;
  double distance_m = 0.0;
  int way = 0;  // the same for marks of one course run one way: base distance, start, posture, beam
};

struct SeasonData {
  season::Season season;
  std::vector<std::string> players;  // by id; all that ran, as season.children
  std::vector<runs::Date> dates;
  std::vector<SeasonLevelName> levels;
  std::vector<std::string> timers, devices, grounds;
  std::vector<std::uint32_t> source;  // of season.readings: into RunLog::readings
  std::vector<std::uint32_t> split;   // of the same: into RunLog::splits
  std::vector<TrendLeftOut> left_out;
  std::size_t runs_used = 0, runs_left_out = 0;
};

// Flagged runs, relay legs and runs without a time at a mark stay out. Sets what of the options the log, the model file
// and the question decide.
// @param moves  the times at the first move of runs started on a signal instead of those at marks. The moving time is
// then 1 s, so that shares are seconds of reaction; its growth is that of the prior by age and sex.
SeasonData season_data(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                       const inference::ModelFile& model, bool moves, season::Options& how);

// A level that nobody was timed at: from one level to a farther one of the same way. @return its index.
int add_segment(SeasonData& data, int from, int to);

}  // namespace bagsplit::jobs::detail
