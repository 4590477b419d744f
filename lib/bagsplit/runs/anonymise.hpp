#pragma once

#include <map>
#include <set>
#include <string>
#include <string_view>

#include "bagsplit/runs/player.hpp"
#include "bagsplit/runs/run.hpp"

namespace bagsplit::runs {

/// Names that stand elsewhere than in the log and the roster.
struct OtherNames {
  std::set<std::string> timers, teams;
};

/// What stands where a name stood: first a mark, in all that is computed, then a label, in what is printed.
struct Disguise {
  std::map<std::string, std::string> players, timers, teams;  ///< mark by name
  std::map<std::string, std::string, std::less<>> labels;     ///< what is printed, by mark
  std::map<std::string, std::string, std::less<>> names;      ///< what was typed, by mark: for whoever gave the files

  /// The mark of a name; the name itself where it has none.
  static const std::string& mark_of(const std::map<std::string, std::string>& marks, const std::string& name);
};

/// Puts marks in place of the names of players, timers, teams, places, surfaces and files; bibs and players' names go.
/// Marks come in the order of the names, and nothing else is changed, so that what is computed is the same to the last
/// digit.
///
/// Labels of players are codes such as "p-7kq2m", keyed by the salt: the same id and salt give the same code; without
/// the salt nobody can try out shirt numbers. Labels of timers, teams, places, surfaces and files are numbers in an
/// order that hangs on the salt.
/// @param salt  not empty.
Disguise disguise(RunLog& log, Roster& roster, const OtherNames& others, std::string_view salt);

/// The text with other words for the marks in it.
std::string replace_marks(std::string_view text, const std::map<std::string, std::string, std::less<>>& words);

/// A mark at this place of a text, of whatever kind; empty where there is none.
std::string_view mark_at(std::string_view text, std::size_t at);

/// A player's mark; empty where there is none.
std::string_view player_mark_at(std::string_view text, std::size_t at);

}  // namespace bagsplit::runs
