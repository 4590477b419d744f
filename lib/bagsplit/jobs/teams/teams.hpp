#pragma once

#include <cstdint>
#include <optional>
#include <stdexcept>
#include <string>
#include <vector>

#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/jobs/teams/team_search.hpp"
#include "bagsplit/runs/player.hpp"
#include "bagsplit/runs/run.hpp"
#include "bagsplit/timing/device.hpp"

/// Even teams for a relay: expected times from the players' own runs (squad_times.hpp), the split by team_search.hpp.
///
/// Without a relay in the log a player's leg is reaction and moving time over the course, each from a stand on the call
/// to what the course ends with (a stop on second base for home-second); an exchange is taken to cost what a start
/// costs. Relays of the last date that has some tell the exchange, and how the bags are run in a relay, as relay()
/// learns them (relay_world.hpp): a leg is then the moving time and an exchange, of the first leg of a team a start.
/// Who starts is not known, so each carries its share of both. Definitions: the module's README.
namespace bagsplit::jobs {

struct TeamsOptions {
  double level = 0.9;
  inference::ModelFile model;  ///< as ProfileOptions
  bool squad = true;
  unsigned threads = 1;
  std::size_t teams = 2;             ///< 2 to 64
  std::vector<std::string> names;    ///< one a team; none: 1, 2, ...
  std::vector<std::string> players;  ///< who is parted; none: everybody in roster or log
  std::vector<std::string> absent;   ///< left out
  std::vector<std::vector<std::string>> together, apart;
  std::vector<std::pair<std::string, std::vector<std::string>>> in_team;  ///< team name, ids
  std::optional<int> equal_ages_years;  ///< age groups of so many years are spread evenly
  std::string course = "home-second";
  std::optional<double> base_distance_m;  ///< none: of the last run along the bases, or 60 ft
  double spread_weight = 0.25;
  std::optional<runs::Date> today;  ///< where the team is, for ages where the log has no date
  std::size_t draws = 40000;
  std::uint64_t seed = 20260411;
};

struct TeamMember {
  std::string player;
  std::optional<double> age_years;
  std::size_t runs = 0;                                ///< own runs; 0: placed by the norm of the age group
  bool course_run = false;                             ///< some of them over the course
  std::size_t relay_legs = 0;                          ///< legs of relays used, over whatever course
  bool relay_course = false;                           ///< some of them over the course
  Estimate leg_s;                                      ///< start or exchange, and moving time
  std::optional<double> probability_all_readings_fit;  ///< none: every reading counts in full
};

struct EvenTeam {
  std::string name;
  std::vector<TeamMember> members;  ///< by id
  Estimate total_s;  ///< sum of the members' expected legs: what is not known of the players, no scatter of a run
  double mean_leg_s = 0.0;  ///< expected
  double spread_s = 0.0;    ///< root mean square distance of the members' expected legs from everybody's mean
  double p_win = 0.0;       ///< of a relay, scatter included; by mean leg where sizes differ
};

struct AgeGroup {
  int from_years = 0, to_years = 0;  ///< whole years, both included
  std::vector<std::size_t> in_team;  ///< players, one number a team
};

/// How a team runs one out-and-back relay. Odd legs start from home, even ones wait at second; a team of fewer children
/// begins again with its first.
struct Lineup {
  std::size_t relay = 1;
  std::string team;
  std::string way;                   ///< the bag by way of which the first leg goes out: "first" or "third"
  std::vector<std::string> runners;  ///< in order, one a leg
};

struct TeamsResult {
  double level = 0.9;
  inference::ModelFile model;
  std::string course;
  double base_distance_m = 0.0;  ///< 0: not along the bases
  std::vector<EvenTeam> teams;
  std::optional<runs::Date> relays_of;  ///< date of the relays used; none: no relay tells an exchange
  bool same_size = true;                ///< else teams are compared by the mean leg
  Imbalance imbalance;                  ///< of a leg
  double spread_weight = 0.0;
  bool proven = false;           ///< no split that keeps the rules is more even
  double best_possible_s = 0.0;  ///< bound on the imbalance of any split
  /// Slowest less fastest team by expected time, what is not known of the players included: relay time, or mean leg
  /// where sizes differ.
  Estimate difference_s;
  std::string slowest, fastest;
  std::vector<std::string> rules;    ///< kept, in words
  std::vector<AgeGroup> age_groups;  ///< with equal_ages_years
  std::vector<Lineup> lineups;       ///< two relays, over home-second: each team runs each way once, each child once
                                     ///< from home and once from second where the legs are even in number
  std::size_t draws = 0;
  std::uint64_t seed = 0;
  SuspectedReadings suspected;
  std::vector<std::string> uncertified;
  std::vector<std::string> notes;
  std::vector<std::string> cautions;
};

/// Teams that cannot be made: the text is for people and names players, teams or rules.
struct ImpossibleTeams : std::invalid_argument {
  using std::invalid_argument::invalid_argument;
};

/// The same input gives the same answer, whatever the order of rows and ids.  @throws ImpossibleTeams.
TeamsResult even_teams(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                       const TeamsOptions& options);

}  // namespace bagsplit::jobs
