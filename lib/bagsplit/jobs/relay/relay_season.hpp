#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "bagsplit/jobs/relay/relay.hpp"

/// What all relays of a log say together: who takes off late, and whether team or side of the field won.
namespace bagsplit::jobs {

/// How one player takes off after the touch, over all relays.
struct PooledExchange {
  std::string player;
  std::size_t relays = 0;
  double mean_s = 0.0;
  double give_or_take_s = 0.0;            ///< half of the range that holds nine times in ten
  std::optional<double> others_middle_s;  ///< of three others or more
  bool surely_late = false, probably_late = false;
};

/// Two teams: what the runners and what the way round explain, a relay.
struct SideOrTeam {
  std::string team, other;  ///< `team` is ahead where the ways are alike
  double team_s = 0.0, team_give_s = 0.0;
  bool first_quicker = true;  ///< the way by first base, not the way by third
  double side_s = 0.0, side_give_s = 0.0;
  std::size_t relays = 0;
};

struct RelaySeason {
  std::vector<PooledExchange> exchanges;  ///< latest first
  std::optional<SideOrTeam> side_or_team;
  bool ways_never_swapped = false;  ///< the teams ran different ways, always the same ones
};

/// How far behind the team ahead each team was, after each leg that all clocks tell.
struct RaceGaps {
  struct After {
    std::size_t leg = 0;
    std::vector<double> behind_s;  ///< of each of `teams`; 0 for the one ahead
  };
  runs::Date date{};
  std::string place;
  std::size_t trial = 1;
  std::span<const RelayRun> teams;  ///< of one date, place and trial; into the result
  std::vector<After> after;
};

/// Of each race in the order of its runs. @param result  outlives what is returned.
std::vector<RaceGaps> race_gaps(const RelayResult& result);

/// Legs with a flag or far from the squad's are left out; a relay with such a leg says nothing of side and team.
///
/// An exchange's mean over relays: what the child's own runs leave open is the same in each, the rest is not, and how
/// much is which is not kept; half and half is taken (ours), or the scatter of the exchanges where that is more.
/// Side and team: least squares of the teams' difference on the team and on the way; SD of a relay from the usual
/// scatter of its legs.
RelaySeason relay_season(const RelayResult& result);

}  // namespace bagsplit::jobs
