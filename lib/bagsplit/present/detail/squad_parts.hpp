// Parts that the squad's text and its report share. Not installed.
#pragma once

#include <string>
#include <vector>

#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/norms/catalogue.hpp"

namespace bagsplit::present {

/// The time every player is compared by: home to first where all ran on the same base distance, else 20 m.
struct Headline {
  std::string key = "20m";
  std::string heading = "20 m";
  std::string words = "20 m, straight and standing, from first move";
};

Headline headline(const std::vector<jobs::PlayerProfile>& players);

/// Sentences with the players they hold for, in the order they first occur.
class Grouped {
 public:
  struct Group {
    std::string sentence;
    std::vector<std::string> players;
  };
  void add(const std::string& sentence, const std::string& player);
  const std::vector<Group>& groups() const { return groups_; }

 private:
  std::vector<Group> groups_;
};

/// "12, 17 and 22", or "all".
std::string who(const std::vector<std::string>& players, const jobs::ProfileResult& result);

/// What a norm says of a player; places in a selected squad are for the player's own page. A number before words.
const jobs::ProfilePercentile* shown_percentile(const jobs::PlayerProfile& player, const norms::Catalogue& references);

/// Which run tells most of what, for whom; empty when none is needed.
std::vector<std::string> next_run_sentences(const jobs::ProfileResult& result);

/// What the data cannot tell: of the whole, then of those it holds for.
std::vector<std::string> note_sentences(const jobs::ProfileResult& result);

}  // namespace bagsplit::present
