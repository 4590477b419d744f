#pragma once

#include <string>

#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/norms/catalogue.hpp"
#include "bagsplit/text/display.hpp"

/// A profile for people: what a coach reads on the evening itself.
namespace bagsplit::present {

/// The grid of marks, a row a player that begins with the id, those first who matter most; what the marks mean; whom to
/// look at tonight, what to run next, what is wrong with the sheets. Without `everybody` 24 lines at 80 columns.
std::string squad_grid(const jobs::ProfileResult& result, bool everybody, const text::TextOptions& options);

/// What is said unasked: the grid, a drill for those who need one, cautions. 57 lines at 80 columns.
std::string squad_screen(const jobs::ProfileResult& result, const text::TextOptions& options);

/// Everything of the whole squad: the grid, then tables of all values, what another run
/// would tell, what was left out, cautions, references.
/// @param references  where the citations come from.
/// No line is wider than the page (ids longer than it aside).
std::string squad_text(const jobs::ProfileResult& result, const norms::Catalogue& references,
                       const text::TextOptions& options);

/// Everything about each player of the result, one after the other.
std::string player_text(const jobs::ProfileResult& result, const norms::Catalogue& references,
                        const text::TextOptions& options);

/// Two sentences for a parent of each player of the result.
std::string note_text(const jobs::ProfileResult& result, const text::TextOptions& options);

/// "3 false starts, 1 fall, 2 outside the window": why runs were left out;
/// empty when none was.
std::string left_out_words(const std::vector<jobs::PlayerProfile>& players);

/// Runs in heats, of which no time is taken: the standings use their order.
std::size_t runs_in_heats(const std::vector<jobs::PlayerProfile>& players);

}  // namespace bagsplit::present
