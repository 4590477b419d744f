#pragma once

#include <map>
#include <string>
#include <utility>
#include <vector>

#include "bagsplit/inference/squad/squad_times.hpp"
#include "bagsplit/jobs/relay/detail/relay_data.hpp"

/// A relay in linear Gaussian quantities; stays inside the module.
namespace bagsplit::jobs {

/// What is thought of an exchange before any is timed: the outgoing runner's reaction to the tag has the mean of the
/// age's reaction to a call. SDs of what a squad's exchanges share, of a player's own, and from one exchange to the
/// next. No source: nobody has published children's exchanges; a runner who watches the one coming in may leave on the
/// tag at once, another looks away for half a second.
inline constexpr double exchange_common_sd_s = 0.15;
inline constexpr double exchange_own_sd_s = 0.12;
inline constexpr double exchange_scatter_s = 0.08;

/// A leg's true time and its parts.
struct LegQuantities {
  stats::LinearQuantity leg;
  stats::LinearQuantity exchange;  ///< of a later leg
  double scatter_s = 0.0;          ///< SD from one such leg to the next, of one player
};

class RelayWorld {
 public:
  /// @param exchange_mean_s  of each player, before any exchange.
  /// @param day              whose form the times hold, if any.
  RelayWorld(const inference::SquadTimes& times, std::size_t point, std::vector<double> exchange_mean_s,
             std::optional<runs::Date> day);

  /// @param first   the leg starts at the signal.   @param signal  and the reaction is in its time.
  /// @param date    of the relay; none: another evening.
  LegQuantities leg(std::size_t player, std::size_t course, bool first, bool signal, std::optional<runs::Date> date);
  /// As expected, without what differs from one relay to the next.
  stats::LinearQuantity expected_leg(std::size_t player, std::size_t course, bool first);
  /// Reaction and moving time of the player's own runs.
  stats::LinearQuantity own_time(std::size_t player, std::size_t course, bool signal) const;
  stats::LinearQuantity straight(std::size_t player, std::size_t course) const;

  /// A leg of which nothing is thought beforehand.
  stats::LinearQuantity unknown_leg();
  /// The readings of a race in terms of its legs.  @param legs  of each team.
  void read(const RelayRace& race, const std::vector<std::vector<stats::LinearQuantity>>& legs,
            std::vector<stats::LinearQuantity>& observed, std::vector<double>& values);

  inference::TimesWorld& times() { return world_; }

 private:
  stats::LinearQuantity exchange_mean(std::size_t player);

  const inference::SquadTimes& known_;
  inference::TimesWorld world_;
  std::vector<double> exchange_mean_s_;
  std::optional<runs::Date> day_;
  std::size_t exchange_common_ = 0;
  std::map<std::size_t, std::size_t> exchange_own_;
  std::map<std::pair<std::size_t, std::int64_t>, std::size_t> form_;  // of other days, by player and day
};

}  // namespace bagsplit::jobs
