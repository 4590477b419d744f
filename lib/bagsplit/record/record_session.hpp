#pragma once

#include <cstdint>
#include <optional>
#include <set>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/runs/entries.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/player.hpp"
#include "bagsplit/text/csv.hpp"
#include "bagsplit/text/problem.hpp"

/// Typing results in at the field: what a typed line means, what is odd about it, what is written. No file, clock or
/// terminal here.
namespace bagsplit::record {

/// What holds for the whole session.
struct RecordSetup {
  std::string course = "straight";
  std::string base_distance, place, start = "signal", device = "stopwatch",
                                    posture = "standing";  ///< as typed; may be empty
  std::string drill, signal;                               ///< by name; who gives the signal; may be empty
  std::string roster_name;                                 ///< of the file; empty where there is none
  std::string date;                                        ///< YYYY-MM-DD
  std::string timer;                                       ///< of the first watch; may be empty
  std::vector<std::string> marks;                          ///< columns of times
  bool relay = false;  ///< a line a relay: columns way, runners, clock in place of marks, a team in place of a player
  bool heats = false;  ///< a line a heat, a row a child: columns finish and the mark of the finish in place of marks
  std::vector<std::string> order;  ///< running order, player ids; may be empty
  const runs::Roster* roster = nullptr;
  runs::SuspicionLimits limits;
  std::vector<runs::Course> courses;  ///< beside the built-in ones
  std::vector<runs::Drill> drills;    ///< beside the built-in ones
  std::vector<runs::LogText> before;  ///< earlier logs, for what is expected; must outlive the session
  std::optional<runs::Date> today;
};

/// One row of the log.
struct RecordEntry {
  runs::EntryMark mark;
  std::string date, player, timer, flag, note;
  std::string clock;               ///< when its run was typed in, as in the column `x-at`; may be empty
  bool checked = false;            ///< asked about, and kept all the same
  unsigned trial = 0;              ///< of a log of heats: the heat
  std::vector<std::string> times;  ///< by mark, as typed; empty where not timed
};

/// What the caller has to do.
struct RecordReply {
  enum class Kind : std::uint8_t {
    told,     ///< an answer to a question; nothing changed
    refused,  ///< the line cannot be taken
    asked,    ///< the next line must be y or n
    keep,     ///< write `row`, then call kept() or lost()
    end,      ///< the session is over
  };
  Kind kind = Kind::told;
  std::string text;  ///< for people, one or more lines
  std::string row;   ///< of `keep`: lines of CSV with their ends, to be written together
};

/// A recording session over one log that is only added to (runs/entries.hpp).
///
/// Lines: `PLAYER TIME... [FLAG] [; NOTE]` (`.` for the player whose turn it is, `-` for a mark not timed), `watch [#N]
/// TIMER TIME...` (another watch on the last run), `correct [#N] PLAYER TIME... [FLAG|none] [; NOTE]` (flag and note
/// stay unless typed), `player [#N] PLAYER` (the whole run, all its watches), `flag [#N] FLAG|none`, `undo [#N]`,
/// In a relay's log a run is `TEAM first|third PLAYER... | CLOCK...` and another watch on it `watch TIMER | CLOCK...`.
/// `this run belongs to PLAYER` is `player PLAYER`.
/// In a log of heats a line is a heat, `PLAYER [TIME] [FLAG] [=] PLAYER ... [| PLAYER ...]` in the order of the finish,
/// and `#N` is heat N.
/// `next`, `skip`, `order [MARK]`, `list [N]`, `help`, `quit`. A PLAYER is an id or a bib. Cost of a line: reading the
/// log once.
class RecordSession {
 public:
  explicit RecordSession(RecordSetup setup) : setup_(std::move(setup)) {}

  /// The text a new log begins with.
  std::string header() const;

  /// Takes over a log begun before: its marks and keys replace those of the setup. `text` holds whole lines only. Where
  /// it was begun with a roster and the setup has none, a player new to it is asked about: it may be a bib.
  /// @return false, with problems, when it is no log of a recorder or has errors.
  bool resume(std::string_view text, const std::string& path, text::Problems& problems);

  /// From now on lines of runs and of second watches are the sheet typed a second time: each is held against what
  /// stands, time by time, and where they differ it is asked which is right. What was typed first stays in the log;
  /// what is corrected is added to it, as `correct` does.
  void type_again() { again_.on = true; }
  /// How many times were typed again, how many differed and what became of them, what was not typed again; empty
  /// without type_again().
  std::string told_again() const;

  /// @param clock  the time of day, 17:42:08; empty where there is none. A correction keeps that of its run.
  RecordReply take(std::string_view line, std::string_view clock = {});
  /// The rows of the last `keep` are on the disk.  @return what to tell.
  std::string kept();
  /// They are not.
  void lost() { pending_.clear(); }

  bool waits_for_answer() const { return asked_ || again_.entry; }
  /// Whose turn it is; empty without a running order.
  std::string next_player() const;
  const std::vector<RecordEntry>& entries() const { return entries_; }
  std::size_t standing() const;  ///< entries, or heats
  /// The last thing typed, as shown to people; empty where there is none.
  std::string last_line() const;
  const RecordSetup& setup() const { return setup_; }

 private:
  bool read_settings(text::CsvReader& csv, text::CsvRecord& record);
  std::size_t read_header(const std::vector<std::string_view>& fields);
  bool read_entries(text::CsvReader& csv, text::CsvRecord& record, std::size_t after, const std::string& path,
                    text::Problems& problems);
  RecordReply answer(std::string_view line);
  RecordReply new_run(std::string_view text, const RecordEntry* replaced);
  RecordReply second_watch(std::string_view text);
  RecordReply run_again(std::string_view text, bool watch);
  RecordReply ask_again();
  RecordReply answer_again(std::string_view answer);
  RecordReply correct(std::string_view text);
  RecordReply other_player(std::string_view text);
  RecordReply flag(std::string_view text);
  RecordReply undo(std::string_view text);
  RecordReply take_heat(const std::string& verb, std::string_view rest, std::string_view line);
  RecordReply new_heat(std::string_view text, unsigned replaced);
  bool read_heat(std::string_view text, std::vector<RecordEntry>& rows, std::string& wrong) const;
  RecordReply child_of_heat(std::string_view text, bool flags);
  RecordReply undo_heat(std::string_view text);
  RecordReply list_heats(std::string_view count) const;
  unsigned find_heat(std::string_view& text, std::string& wrong) const;
  std::vector<std::size_t> rows_of_heat(unsigned heat) const;
  void take_out(std::size_t at, std::vector<RecordEntry>& rows) const;
  std::string pending_line() const;
  RecordReply order(std::string_view mark) const;
  RecordReply list(std::string_view count) const;
  RecordReply check(std::vector<RecordEntry> rows);
  std::vector<std::string> doubts_of(const runs::RunLogResult& read, std::size_t first_line);
  std::vector<std::size_t> watches_of(const RecordEntry& entry) const;
  std::vector<std::size_t> moved_with(std::size_t at) const;
  std::set<unsigned> replaced_by(const RecordEntry& entry) const;
  unsigned next_trial(const std::string& player, const std::string& date) const;
  std::string player_of(std::string_view typed, std::string& wrong) const;
  bool read_times(std::vector<std::string_view> words, RecordEntry& entry, bool corrects, std::string& wrong) const;
  bool read_relay(std::span<const std::string_view> words, RecordEntry& entry, std::string& wrong) const;
  std::string csv(const RecordEntry& entry) const;
  std::vector<bool> stands() const;
  std::optional<std::size_t> find(std::string_view& text, std::string& wrong) const;
  unsigned next_number() const { return entries_.empty() ? 1 : entries_.back().mark.number + 1; }

  RecordSetup setup_;
  bool has_clock_ = true;  // the log has the column x-at: those begun before there was one have not
  std::string clock_;      // at the line taken
  std::vector<RecordEntry> entries_;
  std::vector<RecordEntry> pending_;
  bool asked_ = false;
  bool times_asked_ = false;        // the question is about times
  bool has_checked_column_ = true;  // logs begun before there was one have none
  std::vector<std::string> skipped_;

  struct Again {
    bool on = false;
    std::set<unsigned> done;  // numbers of entries
    std::size_t times = 0, differ = 0, corrected = 0;
    std::optional<std::size_t> entry;  // the one asked about
    RecordEntry typed, right;
    std::vector<std::size_t> open;  // marks that differ, those asked about taken out
  } again_;
};

/// How an entry is shown: "7: 12 trial 1 AK 4.05 8.02 12.10 16.31 fall (slipped)".
std::string entry_line(const RecordEntry& entry);

/// A heat as it is typed: "heat 3: 12 4.31  7=3  5 | 9  14 fall".
std::string heat_line(std::span<const RecordEntry> rows);

}  // namespace bagsplit::record
