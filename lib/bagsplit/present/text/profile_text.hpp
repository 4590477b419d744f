#pragma once

#include <string>

#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/norms/catalogue.hpp"
#include "bagsplit/text/display.hpp"

/// A profile for people: what a coach reads on the evening itself.
namespace bagsplit::present {

/// The whole squad: a line a player, then what to work on, what another run
/// would tell, what was left out, cautions, references.
/// @param references  where the citations come from.
/// No line is wider than the page (ids longer than it aside).
std::string squad_text(const jobs::ProfileResult& result, const norms::Catalogue& references,
                       const text::TextOptions& options);

/// Everything about each player of the result, one after the other.
std::string player_text(const jobs::ProfileResult& result, const norms::Catalogue& references,
                        const text::TextOptions& options);

/// "3 false starts, 1 fall, 2 outside the window": why runs were left out;
/// empty when none was.
std::string left_out_words(const std::vector<jobs::PlayerProfile>& players);

}  // namespace bagsplit::present
