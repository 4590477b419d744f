#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/runs/entries.hpp"
#include "bagsplit/runs/player.hpp"
#include "bagsplit/runs/problem.hpp"
#include "bagsplit/runs/run_log.hpp"

/// Typing results in at the field: what a typed line means, what is odd about it, what is written. No file, clock or
/// terminal here.
namespace bagsplit::coach {

/// What holds for the whole session.
struct RecordSetup {
  std::string course = "straight";
  std::string base_distance, place, start = "signal", device = "stopwatch",
                                    posture = "standing";  ///< as typed; may be empty
  std::string date;                                        ///< YYYY-MM-DD
  std::string timer;                                       ///< of the first watch; may be empty
  std::vector<std::string> marks;                          ///< columns of times
  std::vector<std::string> order;                          ///< running order, player ids; may be empty
  const runs::Roster* roster = nullptr;
  std::vector<runs::Course> courses;  ///< beside the built-in ones
  std::vector<runs::LogText> before;  ///< earlier logs, for what is expected; must outlive the session
  std::optional<runs::Date> today;
};

/// One row of the log.
struct RecordEntry {
  runs::EntryMark mark;
  std::string date, player, timer, flag, note;
  unsigned trial = 0;
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
  std::string row;   ///< of `keep`: one line of CSV with its end
};

/// A recording session over one log that is only added to (runs/entries.hpp).
///
/// Lines: `PLAYER TIME... [FLAG] [; NOTE]` (`.` for the player whose turn it is, `-` for a mark not timed), `watch
/// TIMER TIME...` (another watch on the last run), `correct [#N] PLAYER TIME...`, `flag [#N] FLAG|none`, `undo`,
/// `next`, `skip`, `order [MARK]`, `list [N]`, `help`, `quit`. A PLAYER is an id or a bib. Cost of a line: reading the
/// log once.
class RecordSession {
 public:
  explicit RecordSession(RecordSetup setup) : setup_(std::move(setup)) {}

  /// The text a new log begins with.
  std::string header() const;

  /// Takes over a log begun before: its marks and keys replace those of the setup. `text` holds whole lines only.
  /// @return false, with problems, when it is no log of a recorder or has errors.
  bool resume(std::string_view text, const std::string& path, runs::Problems& problems);

  RecordReply take(std::string_view line);
  /// The row of the last `keep` is on the disk.  @return what to tell.
  std::string kept();
  /// It is not.
  void lost() { pending_.reset(); }

  bool waits_for_answer() const { return asked_; }
  /// Whose turn it is; empty without a running order.
  std::string next_player() const;
  const std::vector<RecordEntry>& entries() const { return entries_; }
  std::size_t standing() const;
  const RecordSetup& setup() const { return setup_; }

 private:
  RecordReply new_run(std::string_view text, std::optional<unsigned> replaces);
  RecordReply second_watch(std::string_view text);
  RecordReply correct(std::string_view text);
  RecordReply flag(std::string_view text);
  RecordReply undo();
  RecordReply order(std::string_view mark) const;
  RecordReply list(std::string_view count) const;
  RecordReply check(RecordEntry entry);
  std::string player_of(std::string_view typed, std::string& wrong) const;
  bool read_times(std::vector<std::string_view> words, RecordEntry& entry, std::string& wrong) const;
  std::string csv(const RecordEntry& entry) const;
  std::vector<bool> stands() const;
  std::optional<std::size_t> find(std::string_view& text, std::string& wrong) const;
  unsigned next_number() const { return entries_.empty() ? 1 : entries_.back().mark.number + 1; }

  RecordSetup setup_;
  std::vector<RecordEntry> entries_;
  std::optional<RecordEntry> pending_;
  bool asked_ = false;
  std::vector<std::string> skipped_;
};

/// How an entry is shown: "7: 12 trial 1 AK 4.05 8.02 12.10 16.31 fall (slipped)".
std::string entry_line(const RecordEntry& entry);

}  // namespace bagsplit::coach
