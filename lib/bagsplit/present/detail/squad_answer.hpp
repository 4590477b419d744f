// The first screen of a squad as words: what the terminal and the page both say. Not installed.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "bagsplit/jobs/profile/marks.hpp"
#include "bagsplit/jobs/profile/profile.hpp"

namespace bagsplit::present {

/// What is done with some of the players.
struct ToDo {
  std::vector<std::string> players;  ///< as shown
  std::string words;                 ///< sentences
};

struct SquadAnswer {
  std::vector<std::size_t> timed;                  ///< columns, places in jobs::marked_quantities
  std::vector<std::size_t> order;                  ///< places in the result's players, by what matters
  std::string size;                                ///< "14 children, 447 runs, 8 evenings"
  std::vector<std::string> tonight, next, sheets;  ///< sentences, most important first; never empty
  bool slips = false;                              ///< some time looks wrong
  std::vector<ToDo> to_do;                         ///< a drill for those who need it, then what the others do
};

/// @param shown  what a player is called, by id.
SquadAnswer squad_answer(const jobs::ProfileResult& result,
                         const std::function<std::string(const std::string&)>& shown);

/// "14 April to 23 June 2026", or the one date; empty without a run.
std::string days_words(const std::vector<jobs::PlayerProfile>& players);

/// What a mark says to those who cannot see it: "surely time to win, 0.18 s".
std::string mark_sentence(const jobs::Marked& mark);

/// ".18" of 0.18 or -0.18 s; empty where the mark shows no number.
std::string mark_number(const jobs::Marked& mark);

/// "4 runs, 2 minutes' rest between them."
std::string dose_words(const jobs::WorkOn& work);

}  // namespace bagsplit::present
