#include "players_asked.hpp"

#include <algorithm>
#include <string_view>

#include "bagsplit/runs/text.hpp"

namespace bagsplit::cli {

std::string keep_players(const std::vector<std::string>& wanted, coach::ProfileResult& result) {
  std::vector<coach::PlayerProfile> kept;
  for (const std::string& id : wanted) {
    const auto found = std::find_if(result.players.begin(), result.players.end(),
                                    [&](const coach::PlayerProfile& player) { return player.player == id; });
    if (found == result.players.end()) {
      std::vector<std::string_view> known;
      for (const coach::PlayerProfile& player : result.players) {
        known.push_back(player.player);
      }
      const auto nearest = runs::nearest(id, known);
      return "no run of player '" + id + "'" + (nearest ? ". Did you mean '" + std::string(*nearest) + "'?" : "");
    }
    if (std::none_of(kept.begin(), kept.end(),
                     [&](const coach::PlayerProfile& player) { return player.player == id; })) {
      kept.push_back(*found);
    }
  }
  result.players = std::move(kept);
  result.runs_used = 0;
  result.runs_left_out = 0;
  for (const coach::PlayerProfile& player : result.players) {
    result.runs_used += player.runs_used;
    result.runs_left_out += player.runs_left_out;
  }
  return {};
}

}  // namespace bagsplit::cli
