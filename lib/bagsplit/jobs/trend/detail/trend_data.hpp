// Which runs enter a trend, as numbers: one value a run with the timers' shares in it. Not installed.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "bagsplit/jobs/trend/trend.hpp"
#include "bagsplit/stats/group_contrasts.hpp"
#include "bagsplit/text/wording.hpp"
#include "bagsplit/timing/reading_error.hpp"

namespace bagsplit::jobs::detail {

struct TrendRun {
  std::size_t player = 0;   // into TrendData::players
  std::size_t session = 0;  // into TrendData::sessions
  runs::Date date{};
  double time_s = 0.0;  // watches combined, known biases taken off
  runs::NameId surface = runs::no_name;
  float wind_mps = 0.0F;                    // NaN when not given
  std::vector<stats::SharedEntry> timers;   // share of each timer column
  std::vector<stats::SharedEntry> devices;  // share of each device class
};

// A timer with a device and a way of starting, or a class of them: what may differ from others by an unknown bias.
struct BiasColumn {
  std::string name;
  double sd_s = 0.0;  // what is not known of it
  std::size_t runs = 0;
};

struct TrendData {
  std::string course, mark, from_mark;
  std::optional<double> distance_m, base_distance_m;
  double from_m = 0.0;               // where the distance begins: 0, or the mark the time counts from
  bool reaction = false;             // the times are those of the first move
  bool signal = false;               // reaction is in the times
  std::vector<std::string> players;  // ordered by id
  std::vector<std::pair<runs::Date, runs::NameId>> sessions;
  std::vector<TrendRun> runs;
  std::vector<BiasColumn> timers, devices;
  std::vector<stats::SharedKnowledge> overlaps;  // rows over timers, then devices: two watches on one run
  double press_sd_s = 0.0;                       // typical
  double rounding_sd_s = 0.0;
  std::vector<TrendLeftOut> left_out;
  std::vector<std::string> notes;
  std::size_t runs_left_out = 0;
};

// The error of a reading by its device and timer, what the model file gives in place of theirs.
timing::ReadingError error_of(const timing::DeviceProfile& profile, runs::StartKind start, const std::string& timer,
                              const inference::ModelFile::Error& given, runs::Signal signal = runs::Signal::unsaid);

// Whether the reaction is all that was timed over a course (empty: over any).
bool only_moves_are_timed(const runs::RunLog& log, const std::string& course);

TrendData trend_data(const runs::RunLog& log, const timing::DeviceBook& devices, const TrendOptions& options);

using text::counted;
using text::joined;

}  // namespace bagsplit::jobs::detail
