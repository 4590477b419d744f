#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "bagsplit/runs/run.hpp"
#include "bagsplit/stats/agreement.hpp"
#include "bagsplit/stats/icc.hpp"
#include "bagsplit/timing/device.hpp"

/// Reliability of the timing itself: stopwatch against gates, timer against timer, on the same runs.
namespace bagsplit::jobs {

struct TimersOptions {
  std::string mark;    ///< empty: on each run the farthest mark that both timed
  double level = 0.9;  ///< of all intervals
  std::string profile_name = "own-watches";
};

/// Who read a time: a timer with a device, e.g. "RB, stopwatch"; "any watch" for all hand timers together.
struct Reader {
  std::string timer;  ///< empty where no name was given
  std::string device;
  std::string label() const;
};

/// Two readings of one run farther apart than the others are.
struct TimersOutlier {
  std::string player;
  runs::Date date{};
  double difference_s = 0.0;
  std::string first_place, second_place;  ///< file:line
};

struct TimersNight {
  runs::Date date{};
  std::size_t runs = 0;
  double bias_s = 0.0;
};

/// Two readings of one run.
struct TimersPoint {
  double mean_s = 0.0;
  double difference_s = 0.0;
};

/// Two readers on the same runs. Differences are first minus second.
struct TimersPair {
  Reader first, second;
  std::string start;          ///< how the clock was started: "signal", ...
  bool is_reference = false;  ///< the second is a gate or a camera
  std::size_t runs = 0, players = 0, dates = 0;
  std::vector<std::string> marks;
  std::optional<stats::Agreement> agreement;  ///< none below 2 runs
  std::vector<TimersPoint> points;            ///< one a run
  double bias_df = 0.0;
  bool repeated = false;  ///< players' several runs were allowed for
  std::optional<stats::Reliability> reliability;
  std::optional<stats::ProportionalBias> proportional;
  double median_s = 0.0, robust_sd_s = 0.0;
  std::vector<TimersOutlier> outliers;
  std::optional<double> sd_without_outliers_s, bias_without_outliers_s;
  std::vector<TimersNight> nights;
};

/// Three readers or more on the same runs.
struct TimersGroup {
  std::vector<Reader> readers;
  std::string start;
  std::size_t runs = 0;
  stats::Reliability reliability;
};

/// What is known of a hand timer's bias after these runs.
struct TimerBias {
  std::string timer;
  std::string start;     ///< "hears-signal", "first-move", ...
  std::size_t runs = 0;  ///< that others timed, too
  double mean_s = 0.0, sd_s = 0.0, timer_sd_s = 0.0;
  double mean_before_s = 0.0, sd_before_s = 0.0;
  bool against_reference = false;    ///< else only differences between hand timers are known
  std::optional<double> press_sd_s;  ///< of a time: start and mark press together; none below 5 runs
  double press_sd_low_s = 0.0, press_sd_high_s = 0.0;
};

struct TimersResult {
  double level = 0.9;
  std::vector<TimersPair> pairs;  ///< against gates or cameras first
  std::vector<TimersGroup> groups;
  std::vector<TimerBias> biases;
  std::size_t runs_shared = 0, runs_alone = 0, runs_left_out = 0;
  std::vector<std::string> notes;
  std::optional<timing::DeviceProfile>
      profile;  ///< of the stopwatch, with these timers in it; none without a hand timer
};

/// @throws std::domain_error for a level outside (0, 1).
TimersResult timers(const runs::RunLog& log, const timing::DeviceBook& devices, const TimersOptions& options);

}  // namespace bagsplit::jobs
