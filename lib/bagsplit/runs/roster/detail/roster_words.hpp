#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/runs/player.hpp"

/// Inside the reader: what a word that is no id may be to the roster.
namespace bagsplit::runs::detail {

/// Ids of the players with that bib, in the roster's order.
std::vector<std::string> ids_with_bib(const Roster& roster, std::string_view bib);

/// "1 is the bib of P101 and P131: type the id", "Anna is the name of player 12: type the id"; empty where the word is
/// an id, no bib, and the name of nobody or of several.
std::string bib_or_name_hint(const Roster& roster, std::string_view word);

}  // namespace bagsplit::runs::detail
