#include "bagsplit/runs/roster/detail/roster_words.hpp"

#include "bagsplit/text/text.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::runs::detail {

std::vector<std::string> ids_with_bib(const Roster& roster, std::string_view bib) {
  std::vector<std::string> ids;
  for (const Player& player : roster.players) {
    if (!bib.empty() && player.bib == bib) {
      ids.push_back(player.id);
    }
  }
  return ids;
}

std::string bib_or_name_hint(const Roster& roster, std::string_view word) {
  if (roster.find(word) != nullptr) {
    return {};
  }
  if (const auto ids = ids_with_bib(roster, word); !ids.empty()) {
    return text::clipped(word) + " is the bib of " + text::joined(ids) +
           (ids.size() > 1 ? ": type the id, or they are taken for one" : ": type the id");
  }
  const Player* named = nullptr;
  for (const Player& player : roster.players) {
    if (!word.empty() && text::equal_ignoring_case(player.name, word)) {
      if (named != nullptr) {
        return {};
      }
      named = &player;
    }
  }
  return named == nullptr ? std::string()
                          : text::clipped(word) + " is the name of player " + named->id + ": type the id";
}

}  // namespace bagsplit::runs::detail
