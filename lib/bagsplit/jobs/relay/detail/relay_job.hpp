#pragma once

#include <optional>
#include <string>
#include <vector>

#include "bagsplit/jobs/relay/detail/relay_data.hpp"
#include "bagsplit/jobs/relay/detail/relay_world.hpp"
#include "bagsplit/jobs/relay/relay.hpp"

/// The parts of relay(); stays inside the module.
namespace bagsplit::jobs {

/// An order with its courses, places of players in SquadTimes.
struct PlannedRelay {
  std::string team;
  std::vector<std::size_t> players;
  std::vector<std::size_t> courses;  ///< into RelayData::courses, one a leg
};

struct RelayJob {
  const runs::RunLog& log;
  const RelayOptions& options;
  const RelayData& data;
  const inference::SquadTimes& times;
  std::vector<double> exchange_mean_s;  ///< one a player
  std::optional<runs::Date> day;        ///< of the last relay

  std::size_t player(runs::NameId name) const;
};

/// Legs, exchanges and who was first, of every race: fills runs and heats.
void analyse_races(const RelayJob& job, RelayResult& result);

/// What the planned relays may be expected to do: fills expected.
void look_ahead(const RelayJob& job, const std::vector<PlannedRelay>& planned, RelayResult& result);

/// The races of one date in a world: their legs, and what was read. Legs flagged, suspicious or without a player are
/// unknown.
struct WorldOfRaces {
  std::vector<std::vector<std::vector<LegQuantities>>> legs;  ///< by race, team, leg
  std::vector<stats::LinearQuantity> observed;
  std::vector<double> values;
};
WorldOfRaces races_in(RelayWorld& world, const RelayJob& job, std::span<const RelayRace> races);

/// Races of one date stand together.
std::span<const RelayRace> races_on(const RelayData& data, runs::Date date);

}  // namespace bagsplit::jobs
