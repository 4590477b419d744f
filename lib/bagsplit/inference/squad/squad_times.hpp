#pragma once

#include <Eigen/Core>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "bagsplit/inference/posterior/posterior.hpp"
#include "bagsplit/inference/prior/model.hpp"
#include "bagsplit/inference/squad/squad.hpp"
#include "bagsplit/runs/player.hpp"
#include "bagsplit/runs/run.hpp"
#include "bagsplit/stats/linear_gaussian.hpp"
#include "bagsplit/timing/device.hpp"

/// What a squad's own runs say of how long each player takes over given courses: jointly, so that what all share (the
/// squad's distance from the norms, a timer's bias) cancels where players are compared. For relays and teams.
namespace bagsplit::inference {

/// A course asked about, from a stand or another posture to its end.
struct AskedCourse {
  std::uint16_t course = 0;  ///< into RunLog::courses
  double base_m = 0.0;       ///< 0 where the course is not on the bases
  double distance_m = 0.0;   ///< of its end [m]
  runs::Posture posture = runs::Posture::standing;

  bool operator==(const AskedCourse&) const = default;
};

/// A clock asked about.
struct AskedClock {
  runs::Device device = runs::Device::stopwatch;
  runs::StartKind start = runs::StartKind::signal;
  runs::NameId timer = runs::no_name;
  runs::Signal signal = runs::Signal::unsaid;

  bool operator==(const AskedClock&) const = default;
};

struct SquadTimesQuestion {
  std::vector<AskedCourse> courses;  ///< at least one
  std::vector<AskedClock> clocks;
  std::vector<std::string> players;  ///< ids; those without a run get the norm of their age group
  std::optional<runs::Date> day;     ///< its form is learnt from the players' own runs on that day
  runs::Date age_at{};               ///< for players without a run
  std::optional<runs::Date> as_of;   ///< own runs up to that day, ...
  std::optional<int> window_days;    ///< ... of so many days
  inference::ModelFile model;        ///< what it gives overrides the defaults
  bool squad = true;                 ///< learn from all players what they share; not together with a model
  bool squad_without_runs = false;   ///< where nobody has a run, what they share is still taken as shared
  unsigned threads = 1;
};

/// One player at one point of the squad's design: Gaussian, components in the order of TimesIndex.
/// value = mean + loading (shared - its mean) + rest, rest ~ N(0, own).
struct PlayerTimes {
  Eigen::VectorXd mean;
  Eigen::MatrixXd loading;  ///< components x shared quantities
  Eigen::MatrixXd own;
};

/// Where the components stand, C courses: 3 a course, then the reaction.
struct TimesIndex {
  std::size_t courses = 0;
  std::size_t moving(std::size_t c) const {
    return 3 * c;
  }  ///< first move to the end, losses included, mean ability [s]
  std::size_t form(std::size_t c) const { return 3 * c + 1; }      ///< what the form of the asked day adds [s]
  std::size_t straight(std::size_t c) const { return 3 * c + 2; }  ///< a straight sprint of that length [s]
  std::size_t reaction() const { return 3 * courses; }             ///< mean reaction [s]
  std::size_t size() const { return 3 * courses + 1; }
};

struct ClockTimes {
  double bias_mean_s = 0.0;
  Eigen::VectorXd loading;     ///< of the bias, on the shared quantities
  double bias_own_sd_s = 0.0;  ///< what the squad's model does not know of it
  double start_sd_s = 0.0, split_sd_s = 0.0;
};

struct TimesPoint {
  double weight = 1.0;
  inference::SquadScales scales;
  Eigen::MatrixXd shared_covariance;
  std::vector<PlayerTimes> players;  ///< as asked
  std::vector<ClockTimes> clocks;    ///< as asked
};

/// What is known of a player apart from times.
struct KnownPlayer {
  std::string player;
  bool in_roster = false;
  std::optional<double> age_years;
  std::optional<runs::Sex> sex;
  std::size_t runs = 0;                 ///< own runs used
  std::vector<bool> course_run;         ///< one a course: its losses, or for a straight any time, in own runs
  std::vector<double> share_from_data;  ///< of reaction + moving time, one a course
  // As Posterior has them; empty where every reading counts in full.
  std::vector<Slip> slips;
  std::vector<double> slip_of_reading;
  std::vector<std::uint32_t> log_reading;  ///< of each, into RunLog::readings
  std::optional<double> probability_all_readings_fit;
};

struct SquadTimes {
  TimesIndex index;
  bool form_told = false;  ///< the components hold the form of the asked day
  std::vector<KnownPlayer> players;
  std::vector<TimesPoint> points;        ///< weights sum to 1
  std::vector<std::string> uncertified;  ///< players whose posterior did not settle: not to be used
  std::optional<double> slip_rate;       ///< as learnt from the squad
  bool squad_settled = true;             ///< as SquadFit::converged; true where no squad's model was asked for
};

/// @param log     every row without an error; relay legs and flagged runs are no own runs.
/// @param roster  build_index() called.
/// Cost: as fitting the squad's model, and about 0.3 ms a player and point. The answer does not depend on the number of
/// threads.
SquadTimes squad_times(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                       const SquadTimesQuestion& question);

/// The world of one point: factors for what is shared and for each player's rest.
class TimesWorld {
 public:
  TimesWorld(const SquadTimes& times, std::size_t point);

  stats::LinearQuantity component(std::size_t player, std::size_t component) const;
  /// Bias of a clock, reading minus truth; one for all its readings.
  stats::LinearQuantity bias(std::size_t clock) const;
  const TimesPoint& point() const { return point_; }
  stats::LinearGaussian& factors() { return factors_; }
  const stats::LinearGaussian& factors() const { return factors_; }

 private:
  const TimesPoint& point_;
  stats::LinearGaussian factors_;
  std::size_t shared_ = 0;
  std::vector<std::size_t> own_, clock_;
};

/// A course by its name, from a stand; along the bases at the distance given, else that of the last run along them,
/// else 60 ft.
/// @param wrong  why there is none, for people, where nothing is returned.
std::optional<AskedCourse> ask_course(const runs::RunLog& log, const std::string& name, std::optional<double> base_m,
                                      std::string& wrong);

/// A Gaussian of mean and variance as an estimate.
inference::Estimate gaussian_estimate(double mean, double variance, double level);

}  // namespace bagsplit::inference
