#include "bagsplit/present/detail/squad_parts.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/present/profile_parts.hpp"
#include "bagsplit/present/profile_quantities.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::present {

using jobs::PlayerProfile;

Headline headline(const std::vector<PlayerProfile>& players) {
  std::optional<double> base;
  for (const PlayerProfile& player : players) {
    if (player.base_distance_m) {
      if (base && std::abs(*base - *player.base_distance_m) > 0.005) {
        return {};
      }
      base = player.base_distance_m;
    }
  }
  if (!base) {
    return {};
  }
  return {"home-first", "home-first",
          "home to first (" + base_words(*base) + "), straight and standing, from first move"};
}

void Grouped::add(const std::string& sentence, const std::string& player) {
  auto found = std::find_if(groups_.begin(), groups_.end(), [&](const Group& g) { return g.sentence == sentence; });
  if (found == groups_.end()) {
    groups_.push_back({sentence, {}});
    found = std::prev(groups_.end());
  }
  add_once(found->players, player);
}

std::string who(const std::vector<std::string>& players, const jobs::ProfileResult& result) {
  return players.size() == result.players.size() && players.size() > 2 ? "all" : text::joined(players);
}

const jobs::ProfilePercentile* shown_percentile(const PlayerProfile& player, const norms::Catalogue& references) {
  const jobs::ProfilePercentile* shown = nullptr;
  for (const jobs::ProfilePercentile& p : player.percentiles) {
    const norms::Norm* norm = references.find(p.source);
    const bool is_norm = norm != nullptr && norm->info().standing == norms::Standing::norm;
    if (is_norm && (p.percentile || p.band) && (shown == nullptr || (p.percentile && !shown->percentile))) {
      shown = &p;
    }
  }
  return shown;
}

std::vector<std::string> next_run_sentences(const jobs::ProfileResult& result) {
  Grouped next;
  for (const PlayerProfile& player : result.players) {
    for (const jobs::NextRun& wanted : player.next_runs) {
      next.add(wanted.run, player.player);
    }
  }
  std::vector<std::string> out;
  for (const Grouped::Group& group : next.groups()) {
    std::vector<std::string> names;
    for (const PlayerProfile& player : result.players) {
      for (const jobs::NextRun& wanted : player.next_runs) {
        if (wanted.run == group.sentence) {
          add_once(names, quantity_name(wanted.quantity).label);
        }
      }
    }
    out.push_back(group.sentence + ": " + text::joined(names) + ", for " + who(group.players, result) + ".");
  }
  return out;
}

std::vector<std::string> note_sentences(const jobs::ProfileResult& result) {
  Grouped notes;
  for (const PlayerProfile& player : result.players) {
    for (const std::string& note : player.notes) {
      notes.add(note, player.player);
    }
  }
  std::vector<std::string> out = result.notes;
  for (const Grouped::Group& group : notes.groups()) {
    out.push_back("For " + who(group.players, result) + ": " + group.sentence);
  }
  return out;
}

}  // namespace bagsplit::present
