// What finishing orders tell of a time. Not installed.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "bagsplit/jobs/profile/detail/profile_job.hpp"
#include "bagsplit/jobs/standings/detail/standings_job.hpp"
#include "bagsplit/jobs/standings/detail/standings_quantity.hpp"
#include "bagsplit/stats/linear_gaussian.hpp"

namespace bagsplit::jobs::detail {

/// Heats within the days asked for, by number in the log: until `as_of`, and of so many days.
std::vector<std::uint32_t> heats_within(const runs::RunLog& log, std::optional<runs::Date> as_of,
                                        std::optional<int> window_days);

/// Those of them seen at the mark of a time, over its course, from its posture.
std::vector<std::uint32_t> heats_at(const ResolvedQuantity& time, const runs::RunLog& log,
                                    std::span<const std::uint32_t> heats);

/// What runs and heats together tell of a time, of several players jointly.
struct HeatBeliefs {
  stats::NormalMixture times;               ///< of the players, as asked [s]
  std::vector<inference::Estimate> values;  ///< one a player, at the level asked for
  stats::NormalMixture today;               ///< of the same, then of each player's time on the day of the last heat [s]
  Eigen::VectorXd run_sd, day_sd;           ///< from run to run, from day to day [s], one a player
  double eye_sd = 0.0;                      ///< of the judge [s]
  std::vector<std::string> uncertified;     ///< players whose own runs would not settle: not to be used
  bool settled = false;                     ///< orders and squad
  std::size_t times_in_heats = 0;           ///< watches on finishers that entered
};

/// @param heats    heats_at(), at least one.   @param players  ids; those without a run of their own get what is usual
/// at their age.
/// Model: stats/finish_order.hpp; mean and covariance of the times beforehand by inference::squad_times.
HeatBeliefs believe_heats(const ProfileJob& job, const ResolvedQuantity& time, std::span<const std::uint32_t> heats,
                          const std::vector<std::string>& players, bool fixed_scales);

/// Joint draws, players x draws: parts of the mixture as often as their weights say.
std::vector<double> draws_of(const stats::NormalMixture& mixture, std::size_t draws, std::uint64_t seed);

/// What there is to say of the heats themselves.
HeatsSummary summary_of(const runs::RunLog& log, std::span<const std::uint32_t> heats,
                        const std::vector<std::string>& timed);

/// Who should run again, in which heats, drawn by lot among those whose place is open, and what they are worth: by
/// simulation, as orders hold no seconds. Fills next_runs, next_heats and worth.
/// @param heard  of each of `players`, its number in `told`.
void give_next_heats(std::span<const Ranked> players, std::span<const std::size_t> heard, const HeatBeliefs& told,
                     const HeatsSummary& ran, const std::string& course, unsigned threads, StandingsResult& result);

}  // namespace bagsplit::jobs::detail
