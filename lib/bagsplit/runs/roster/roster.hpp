#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "bagsplit/runs/player.hpp"
#include "bagsplit/runs/run.hpp"
#include "bagsplit/text/csv.hpp"
#include "bagsplit/text/problem.hpp"

/// Reading rosters: who the players are. Ids are enough; everything else is personal data of a minor.
namespace bagsplit::runs {

struct RosterOptions {
  bool strict = false;                       ///< suspicions become errors
  std::optional<Date> today = std::nullopt;  ///< the current date; without it a birth in the future is not noticed
  text::CsvLimits csv = {};
  std::size_t max_problems = 10'000;
};

struct RosterResult {
  Roster roster;            ///< every row without an error; its index is built
  text::Problems problems;  ///< in the order of the lines
  text::Problems births;    ///< by player: where the date of birth stands, no code; an empty one where none does
};

/// Reads a roster (CSV as in csv.hpp): `player,bib,name,sex,born,height_cm,mass_kg,sitting_height_cm,bats,team`, in any
/// order. Only `player` is required, and each id may stand once. Columns that begin with `x-` are passed over. Lines
/// that begin with `#` above the header are remarks, but for `# dates: dmy` or `mdy`, which gives the order in `born`.
///
/// Errors: an id twice, a birth after `today`, text that is no date, number or known word. Suspicions: ids that may be
/// one, an age below 3 or above 80, a height outside 80 to 220 cm, a mass outside 10 to 150 kg, a sitting height
/// outside 0.45 to 0.60 of the height, a bib twice in a team. Pure: no file, clock or locale.
RosterResult read_roster(std::string_view text, std::string path, const RosterOptions& options = {});

/// What the dates of the runs tell of the dates of birth: the error of a birth after a run, the suspicion of an age
/// below 3 or above 80 at one that read_roster has not told already. In the order of the lines.
text::Problems check_births(const RosterResult& roster, const RunLog& log, bool strict);

}  // namespace bagsplit::runs
