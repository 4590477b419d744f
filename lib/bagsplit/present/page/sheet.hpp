#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "bagsplit/text/display.hpp"

/// Sheets to write results on by hand, and the blank run log to type them into afterwards.
namespace bagsplit::present {

enum class Paper : std::uint8_t { a4, letter };

struct SheetPlayer {
  std::string id, bib, name, team;  ///< `name` empty: not printed
  bool absent = false;              ///< struck out, and flagged in the blank log
  std::size_t leg = 0;              ///< of a relay, for `team`; 0: no relay
};

struct Sheet {
  std::string course, date, place, base_distance;  ///< as typed; empty ones get a line to write on
  std::vector<std::string> marks;
  std::string posture;               ///< empty: standing
  std::string start = "signal";      ///< what starts the clock
  std::string signal;                ///< who gives it; empty: not said
  std::string drill, about;          ///< by name, and what is done; empty: none
  std::vector<std::string> timers;   ///< one line a watch; an empty name gets a line to write on
  std::vector<SheetPlayer> players;  ///< in running order
  std::size_t rounds = 1;            ///< each begins a new page
  Paper paper = Paper::a4;
  bool is_base_path = false;          ///< adds what holds for bags to the cautions
  std::optional<double> fastest_mps;  ///< how fast the fastest may be, for the run-out; none: of an unknown age
  bool out_and_back = false;          ///< a relay out to second and back: ways change with the rounds, a clock a team
  /// Many start on one call: who runs with whom in each round, numbers of `players`; empty: each runs alone.
  std::vector<std::vector<std::vector<std::size_t>>> heats;
  std::uint64_t seed = 0;       ///< of the lots drawn
  bool meet_at_second = false;  ///< the course ends on second base: adds what holds where runners meet there

  /// Whether several players of the sheet have what is printed large for this one: the bib, or the id where there is
  /// none.
  bool shares_bib(const SheetPlayer& player) const;

  bool is_relay() const { return !players.empty() && players.front().leg > 0; }
};

/// Rows without a bib at the end of a sheet, for children who were not expected. In the blank log they are empty, and
/// passed over until something is typed into them.
inline constexpr std::size_t blank_rows = 3;

/// What must be said to those who run.
std::vector<std::string> cautions_on(const Sheet& sheet);

/// A page for paper: self-contained HTML, black on white, A4 or Letter through `@page`, heading and column names on
/// every page, no player parted by a page's end. Right of the dashed line stands the check column: folded back while
/// timing, then unfolded to write the last time again as it is read out. Beside a bib that several have stands the id,
/// to be typed in. Every text of a user's file is shown as text.
std::string sheet_html(const Sheet& sheet);

/// A run log with a row for each player, round and watch and no times: what the sheet is typed into.
/// @param separator  a comma, or a semicolon for spreadsheets with a decimal comma
std::string sheet_csv(const Sheet& sheet, char separator = ',');

/// The running order with blanks, for a plain printer.
std::string sheet_text(const Sheet& sheet, const text::TextOptions& options);

/// Schema "bagsplit.sheet/1": course, marks, timers, rounds, players in running order.
std::string sheet_json(const Sheet& sheet);

/// Where a leg of an out-and-back relay waits, and which way it runs: "waits at second, home by way of third".
std::string leg_words(const Sheet& sheet, const SheetPlayer& player, std::size_t round);

/// Who calls and who starts the watch, for people; empty where the sheet does not say.
std::string signal_sentence(const Sheet& sheet);

/// What is done, then who calls.
std::string about_sentence(const Sheet& sheet);

/// Of a sheet of heats, how it is filled in; and a round of it, as table and as rows of the blank log.
std::vector<std::string> heats_sentences(const Sheet& sheet);
std::string heats_html(const Sheet& sheet, std::size_t round);
std::string heats_text(const Sheet& sheet, std::size_t round, const text::TextOptions& options);
std::string heats_csv(const Sheet& sheet, char separator);

/// A text as HTML shows it: & < > " ' replaced, control characters made visible.
std::string html_text(std::string_view text);

}  // namespace bagsplit::present
