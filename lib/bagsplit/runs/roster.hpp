#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "bagsplit/runs/csv.hpp"
#include "bagsplit/runs/player.hpp"
#include "bagsplit/runs/problem.hpp"

/// Reading rosters: who the players are. Ids are enough; everything else is personal data of a minor.
namespace bagsplit::runs {

struct RosterOptions {
  bool strict = false;                       ///< suspicions become errors
  std::optional<Date> today = std::nullopt;  ///< the current date; without it a birth in the future is not noticed
  CsvLimits csv = {};
  std::size_t max_problems = 10'000;
};

struct RosterResult {
  Roster roster;      ///< every row without an error; its index is built
  Problems problems;  ///< in the order of the lines
};

/// Reads a roster (CSV as in csv.hpp): `player,bib,name,sex,born,height_cm,mass_kg,sitting_height_cm,bats,team`, in any
/// order. Only `player` is required, and each id may stand once. Columns that begin with `x-` are passed over. Lines
/// that begin with `#` above the header are remarks, but for `# dates: dmy` or `mdy`, which gives the order in `born`.
///
/// Errors: an id twice, a birth after `today`, text that is no date, number or known word. Suspicions: an age below 3
/// or above 90, a height outside 80 to 220 cm, a mass outside 10 to 150 kg, a sitting height outside 0.45 to 0.60 of
/// the height, a bib twice in a team. Pure: no file, clock or locale.
RosterResult read_roster(std::string_view text, std::string path, const RosterOptions& options = {});

}  // namespace bagsplit::runs
