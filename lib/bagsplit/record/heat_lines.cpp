#include <algorithm>
#include <map>
#include <set>

#include "bagsplit/record/detail/typed_words.hpp"
#include "bagsplit/record/record_session.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::record {

namespace {

using detail::refused;
using detail::told;
using detail::words_of;
using runs::EntryMark;
using Kind = RecordReply::Kind;

// In a log of heats the columns of times are the place and the time at the finish.
constexpr std::size_t place_column = 0;
constexpr std::size_t time_column = 1;

std::string with_blanks(std::string_view text) {
  std::string out;
  for (const char c : text) {
    out += c == '=' || c == '|' ? std::string{' ', c, ' '} : std::string(1, c);
  }
  return out;
}

bool looks_like_time(std::string_view word) {
  return word.find_first_of(".,:") != std::string_view::npos && runs::parse_time_s(word, true).has_value();
}

unsigned place_of(const RecordEntry& entry) {
  return runs::parse_count(entry.times[place_column], 1, 99).value_or(0);
}

// Reads the children of a heat one word after the other.
class HeatReader {
 public:
  HeatReader(std::vector<RecordEntry>& rows, const RecordSession& session) : rows_(rows), session_(session) {}

  std::string bar() {
    if (rest_ || level_) {
      return rest_ ? "one bar is enough: those behind it came in behind all others" : "a child is missing behind =";
    }
    rest_ = true;
    return {};
  }

  std::string level() {
    if (rows_.empty() || rest_ || level_) {
      return "= stands between two children who came in level";
    }
    level_ = true;
    return {};
  }

  std::string flag(std::string_view word) {
    if (rows_.empty() || level_ || !rows_.back().flag.empty()) {
      return "'" + text::clipped(word) + "' stands behind the child it is of";
    }
    rows_.back().flag = detail::flag_of(word);
    return {};
  }

  std::string time(std::string_view word) {
    if (rows_.empty() || level_ || !rows_.back().times[time_column].empty()) {
      return "'" + text::clipped(word) + "' stands behind the child whose time it is";
    }
    if (is_known(word)) {
      return "'" + text::clipped(word) + "' may be a time or a player: type the time with another digit, " +
             std::string(word) + "0";
    }
    std::string& target = rows_.back().times[time_column];
    target = word;
    std::replace(target.begin(), target.end(), ',', '.');
    return {};
  }

  std::string child(std::string player, std::string_view word) {
    const auto same = [&](const RecordEntry& row) { return row.player == player; };
    if (std::any_of(rows_.begin(), rows_.end(), same)) {
      return "player " + player + " stands twice in this heat";
    }
    if (!is_known(word) && word.find_first_of(".,:") != std::string_view::npos) {
      const std::string hint = runs::time_hint(word, true);
      return "'" + text::clipped(word) + "' is no player so far, and no time" + (hint.empty() ? "" : ": " + hint);
    }
    group_ += rest_ || level_ || rows_.empty() ? 0U : 1U;
    level_ = false;
    RecordEntry row;
    row.player = std::move(player);
    row.times.assign(2, {});
    rows_.push_back(std::move(row));
    groups_.push_back(rest_ ? behind : group_);
    return {};
  }

  // Places: 1, 2, 2, 4. Who has a flag has none.
  std::string end() {
    if (level_) {
      return "a child is missing behind =";
    }
    std::map<std::size_t, std::size_t> count;
    for (std::size_t k = 0; k < rows_.size(); ++k) {
      count[groups_[k]] += rows_[k].flag.empty() && groups_[k] != behind ? 1U : 0U;
    }
    for (std::size_t k = 0; k < rows_.size(); ++k) {
      std::size_t place = 1;
      for (const auto& [group, children] : count) {
        place += group < groups_[k] ? children : 0U;
      }
      const bool placed = rows_[k].flag.empty() && groups_[k] != behind;
      rows_[k].times[place_column] = placed ? std::to_string(place) : "";
    }
    return rows_.size() < 2 ? "a heat has two children or more, in the order they came in; help shows how" : "";
  }

 private:
  static constexpr std::size_t behind = static_cast<std::size_t>(-1);

  bool is_known(std::string_view word) const {
    const auto& entries = session_.entries();
    const runs::Roster* roster = session_.setup().roster;
    return std::any_of(entries.begin(), entries.end(), [&](const RecordEntry& e) { return e.player == word; }) ||
           (roster != nullptr && std::any_of(roster->players.begin(), roster->players.end(),
                                             [&](const runs::Player& p) { return p.id == word || p.bib == word; }));
  }

  std::vector<RecordEntry>& rows_;
  const RecordSession& session_;
  std::vector<std::size_t> groups_;  // by row
  std::size_t group_ = 0;
  bool rest_ = false, level_ = false;
};

}  // namespace

std::string heat_line(std::span<const RecordEntry> rows) {
  std::map<unsigned, std::string> placed;
  std::string behind;
  std::string flagged;
  std::string note;
  bool checked = false;
  const std::string heat = rows.empty() ? "" : "heat " + std::to_string(rows.front().trial);
  bool stands = false;
  for (const RecordEntry& row : rows) {
    if (row.mark.what == EntryMark::What::undoes) {
      continue;
    }
    stands = true;
    note = note.empty() ? row.note : note;
    checked = checked || row.checked;
    const std::string time = row.times[time_column].empty() ? "" : " " + row.times[time_column];
    const unsigned place = place_of(row);
    if (!row.flag.empty()) {
      flagged += "  " + row.player + time + " " + row.flag;
    } else if (place == 0) {
      behind += (behind.empty() ? " | " : "  ") + row.player + time;
    } else {
      std::string& here = placed[place];
      here += (here.empty() ? "" : " = ") + row.player + time;
    }
  }
  if (!stands) {
    return heat + " taken out";
  }
  std::string out = heat + ":";
  for (const auto& [place, words] : placed) {
    out += (out.ends_with(':') ? " " : "  ") + words;
  }
  out += behind + flagged + (note.empty() ? "" : " (" + note + ")");
  return out + (checked ? " checked" : "");
}

RecordReply RecordSession::take_heat(const std::string& verb, std::string_view rest, std::string_view line) {
  if (verb == "undo") {
    return undo_heat(rest);
  }
  if (verb == "player" || verb == "flag") {
    return child_of_heat(rest, verb == "flag");
  }
  if (verb == "correct") {
    std::string wrong;
    const unsigned heat = find_heat(rest, wrong);
    return heat == 0 ? refused(wrong) : new_heat(rest, heat);
  }
  if (verb == "list") {
    return list_heats(rest);
  }
  if (verb == "order") {
    return told("what heats tell of the order: bagsplit standings\n");
  }
  if (verb == "next" || verb == "skip") {
    return told("a line is a heat: who runs with whom is drawn by lot (bagsplit sheet)\n");
  }
  if (verb == "watch") {
    return refused("in a heat a time stands behind its child: 12 4.31 7 3");
  }
  if (text::lower(line).starts_with("this run belongs to")) {
    return refused("name both: player 7 13, where who was written down as 7 was 13");
  }
  return new_heat(line, 0);
}

bool RecordSession::read_heat(std::string_view text, std::vector<RecordEntry>& rows, std::string& wrong) const {
  const std::string spaced = with_blanks(text);
  HeatReader reader(rows, *this);
  for (const std::string_view word : words_of(spaced)) {
    if (word == "|") {
      wrong = reader.bar();
    } else if (word == "=") {
      wrong = reader.level();
    } else if (!detail::flag_of(word).empty()) {
      wrong = reader.flag(word);
    } else if (looks_like_time(word)) {
      wrong = reader.time(word);
    } else {
      const std::string player = player_of(word, wrong);
      wrong = wrong.empty() ? reader.child(player, word) : wrong;
    }
    if (!wrong.empty()) {
      return false;
    }
  }
  wrong = reader.end();
  return wrong.empty();
}

// @param replaced  the heat corrected; 0: a new one.
RecordReply RecordSession::new_heat(std::string_view text, unsigned replaced) {
  std::string note;
  const std::vector<std::size_t> old = replaced == 0 ? std::vector<std::size_t>() : rows_of_heat(replaced);
  for (const std::size_t k : old) {
    note = note.empty() ? entries_[k].note : note;
  }
  detail::take_note(text, note);
  std::vector<RecordEntry> rows;
  std::string wrong;
  if (!read_heat(text, rows, wrong)) {
    return refused(wrong);
  }
  unsigned last = 0;
  for (const RecordEntry& entry : entries_) {
    last = std::max(last, entry.trial);
  }
  std::set<std::string> again;
  for (RecordEntry& row : rows) {
    row.mark.number = next_number() + static_cast<unsigned>(&row - rows.data());
    row.trial = replaced == 0 ? last + 1 : replaced;
    row.date = old.empty() ? setup_.date : entries_[old.front()].date;
    row.timer = old.empty() ? setup_.timer : entries_[old.front()].timer;
    row.clock = old.empty() ? clock_ : entries_[old.front()].clock;
    for (const std::size_t k : old) {
      if (entries_[k].player == row.player) {
        row.mark = {row.mark.number, EntryMark::What::replaces, entries_[k].mark.number};
        again.insert(row.player);
      }
    }
  }
  rows.front().note = note;
  for (const std::size_t k : old) {
    if (!again.contains(entries_[k].player)) {
      take_out(k, rows);
    }
  }
  return check(std::move(rows));
}

// Undoes an entry and all that it stands in place of, which would come back.
void RecordSession::take_out(std::size_t at, std::vector<RecordEntry>& rows) const {
  const std::set<unsigned> before = replaced_by(entries_[at]);
  std::vector<unsigned> numbers(before.begin(), before.end());
  numbers.push_back(entries_[at].mark.number);
  for (std::size_t k = numbers.size(); k-- > 0;) {
    RecordEntry gone = entries_[at];
    gone.mark = {next_number() + static_cast<unsigned>(rows.size()), EntryMark::What::undoes, numbers[k]};
    gone.flag = gone.note = "";
    gone.times.assign(2, {});
    rows.push_back(std::move(gone));
  }
}

std::vector<std::size_t> RecordSession::rows_of_heat(unsigned heat) const {
  const std::vector<bool> all = stands();
  std::vector<std::size_t> out;
  for (std::size_t k = 0; k < entries_.size(); ++k) {
    if (all[k] && entries_[k].trial == heat) {
      out.push_back(k);
    }
  }
  return out;
}

// "#3 rest" or "rest": which heat is meant; 0, with why, where there is none.
unsigned RecordSession::find_heat(std::string_view& text, std::string& wrong) const {
  if (text.starts_with('#')) {
    const std::size_t blank = std::min(text.find_first_of(" \t"), text.size());
    const unsigned heat = runs::parse_count(text.substr(1, blank - 1), 1, 9'999).value_or(0);
    text = text::trim(text.substr(blank));
    if (heat == 0 || rows_of_heat(heat).empty()) {
      wrong = "there is no such heat, or it was taken out: list shows them";
      return 0;
    }
    return heat;
  }
  const std::vector<bool> all = stands();
  unsigned last = 0;
  for (std::size_t k = 0; k < entries_.size(); ++k) {
    last = all[k] ? std::max(last, entries_[k].trial) : last;
  }
  wrong = last == 0 ? "there is no heat yet" : "";
  return last;
}

// "7 13": who was written down as 7 was 13. "9 fall": a flag for 9.
RecordReply RecordSession::child_of_heat(std::string_view text, bool flags) {
  std::string wrong;
  const unsigned heat = find_heat(text, wrong);
  const std::vector<std::string_view> words = words_of(text);
  if (heat == 0) {
    return refused(wrong);
  }
  if (words.size() != 2) {
    return refused(flags ? "a child and a flag are expected: flag 9 fall, or flag #2 9 none"
                         : "two children are expected: player 7 13, where who was written down as 7 was 13");
  }
  const std::string who = player_of(words[0], wrong);
  const std::vector<std::size_t> rows = rows_of_heat(heat);
  const auto at = std::find_if(rows.begin(), rows.end(), [&](std::size_t k) { return entries_[k].player == who; });
  if (!wrong.empty() || at == rows.end()) {
    return refused(wrong.empty() ? "player " + who + " is not in heat " + std::to_string(heat) : wrong);
  }
  std::vector<RecordEntry> out;
  for (const std::size_t k : rows) {
    out.push_back(entries_[k]);
    out.back().mark = {next_number() + static_cast<unsigned>(out.size()) - 1, EntryMark::What::replaces,
                       entries_[k].mark.number};
  }
  RecordEntry& row = out[static_cast<std::size_t>(at - rows.begin())];
  if (flags) {
    const std::string_view word = detail::flag_of(words[1]);
    const bool clears = text::equal_ignoring_case(words[1], "none");
    if (word.empty() && !clears) {
      return refused("'" + text::clipped(words[1]) + "' is no flag: " + detail::flag_words() + ", or none");
    }
    row.flag = word;
  } else {
    const std::string other = player_of(words[1], wrong);
    if (wrong.empty() && other == who) {
      wrong = "that is player " + other + " already";
    }
    if (!wrong.empty()) {
      return refused(wrong);
    }
    // Two of one heat written down for one another change places.
    for (RecordEntry& one : out) {
      one.player = &one != &row && one.player == other ? who : one.player;
    }
    row.player = other;
  }
  return check(std::move(out));
}

// Takes a heat out, with all that stood there before it was corrected.
RecordReply RecordSession::undo_heat(std::string_view text) {
  std::string wrong;
  const unsigned heat = find_heat(text, wrong);
  if (heat == 0 || !text.empty()) {
    return refused(heat == 0 ? wrong + ": there is nothing to undo" : "undo for the last heat, or undo #2 for heat 2");
  }
  pending_.clear();
  for (const std::size_t k : rows_of_heat(heat)) {
    take_out(k, pending_);
  }
  std::string rows;
  for (const RecordEntry& row : pending_) {
    rows += csv(row);
  }
  return {Kind::keep, {}, rows};
}

RecordReply RecordSession::list_heats(std::string_view count) const {
  const auto most = count.empty() ? std::optional(10U) : runs::parse_count(count, 1, 100'000);
  if (!most) {
    return refused("list N: a number of heats");
  }
  const std::vector<bool> all = stands();
  std::map<unsigned, std::vector<RecordEntry>> heats;
  for (std::size_t k = 0; k < entries_.size(); ++k) {
    if (all[k]) {
      heats[entries_[k].trial].push_back(entries_[k]);
    }
  }
  std::string out;
  std::size_t number = heats.size();
  for (const auto& [heat, rows] : heats) {
    out += number-- <= *most ? heat_line(rows) + "\n" : "";
  }
  return told(out.empty() ? "no heats yet\n" : out);
}

}  // namespace bagsplit::record
