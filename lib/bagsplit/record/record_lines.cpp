#include <algorithm>
#include <array>
#include <map>
#include <set>

#include "bagsplit/record/detail/typed_words.hpp"
#include "bagsplit/record/record_session.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::record {

namespace {

using detail::flag_of;
using detail::flag_words;
using detail::refused;
using detail::take_note;
using detail::told;
using detail::words_of;
using runs::EntryMark;
using text::equal_ignoring_case;
using text::trim;
using Kind = RecordReply::Kind;

constexpr std::string_view how_to =
    "12 4.05 8.02 12.10 16.31        a run of player (or bib) 12; . for whose turn it is, - for a mark not timed\n"
    "12 4.05 8.02 fall ; slipped     with a flag, later times may be left out; a note after ;\n"
    "12 absent                       not there today\n"
    "watch RB 4.11 8.05 12.22 16.36  a second watch on the last run; watch #7 ... on the run of entry 7\n"
    "correct 12 4.05 8.02 12.10 16.31, correct #7 ...   the last entry, or entry 7, anew; its flag and note stay\n"
    "                                unless typed: none for no flag, ; alone for no note\n"
    "player 12, player #7 12         that run was 12's: all its watches\n"
    "flag fall, flag #7 none         set or clear a flag\n"
    "undo, undo #7                   the last entry, or entry 7\n"
    "next, skip                      whose turn it is; pass over for now\n"
    "order, order first              order so far, by best time\n"
    "list, list 20                   the last entries\n"
    "quit                            all is on the disk already\n";

constexpr std::string_view how_to_heats =
    "12 7 3 9                        a heat in the order they came in, first to last, by player or bib\n"
    "12 7=3 9                        7 and 3 level\n"
    "12 4.31 7 3 9                   the watch on 12; on others too, each behind its child\n"
    "12 7 3 | 9 5                    9 and 5 came in behind, nobody saw how\n"
    "12 7 3 9 fall ; wet grass       9 fell and has no place; a note after ;\n"
    "correct 12 7 9 3, correct #2 ...   the last heat, or heat 2, anew; its note stays unless typed\n"
    "player 7 13, player #2 7 13     who was written down as 7 was 13\n"
    "flag 9 fall, flag #2 9 none     set or clear a flag; without a flag type the heat anew\n"
    "undo, undo #2                   take out the last heat, or heat 2\n"
    "list, list 20                   the last heats\n"
    "quit                            all is on the disk already\n";

constexpr std::string_view how_to_relay =
    "red first 12 7 3 9 | 5.31 10.90 16.20 21.94   a relay out to second and back: the team, by way of which bag it\n"
    "                                began, its players in order, then its clock at each exchange and the finish;\n"
    "                                - for an exchange not seen, or the finish alone\n"
    "watch RB | 5.34 10.88 16.24 21.90   a second watch on the last relay\n"
    "correct red first 12 7 3 9 | 5.31 ...   the last entry anew; undo, list, quit as ever\n";

}  // namespace

// To the question whether to keep what looks odd.
RecordReply RecordSession::answer(std::string_view line) {
  if (equal_ignoring_case(line, "y") || equal_ignoring_case(line, "yes")) {
    asked_ = false;
    std::string rows;
    for (RecordEntry& row : pending_) {
      row.checked = row.checked || times_asked_;
      rows += csv(row);
    }
    return {Kind::keep, {}, rows};
  }
  if (equal_ignoring_case(line, "n") || equal_ignoring_case(line, "no")) {
    asked_ = false;
    const std::string line_of = pending_line();
    pending_.clear();
    return told("not kept: " + line_of + "\n");
  }
  return {Kind::asked, "not kept: answer y or n first, for " + pending_line() + ": keep? (y or n)\n", {}};
}

RecordReply RecordSession::take(std::string_view line, std::string_view clock) {
  clock_ = clock;
  line.remove_prefix(line.starts_with("\xEF\xBB\xBF") ? 3 : 0);  // a file put in by a program that marks UTF-8
  line = trim(line.ends_with('\r') ? line.substr(0, line.size() - 1) : line);
  if (std::any_of(line.begin(), line.end(), [](char c) { return static_cast<unsigned char>(c) < 32 && c != '\t'; }) ||
      text::first_invalid_utf8(line) != std::string_view::npos || line.size() > 1'000) {
    return refused("control characters, bytes that are not UTF-8, or more than 1000 of them");
  }
  if (again_.entry) {
    return answer_again(line);
  }
  if (asked_) {
    return answer(line);
  }
  const std::size_t blank = std::min(line.find_first_of(" \t"), line.size());
  const std::string verb = text::lower(line.substr(0, blank));
  const std::string_view rest = trim(line.substr(blank));
  if (line.empty()) {
    return refused("an empty line");
  }
  constexpr std::array alone{"quit", "q", "help", "?", "next", "skip"};
  if (!rest.empty() && std::find(alone.begin(), alone.end(), verb) != alone.end()) {
    return refused("'" + verb + "' stands alone on its line");
  }
  if (verb == "quit" || verb == "q") {
    return {Kind::end, {}, {}};
  }
  if (verb == "help" || verb == "?") {
    return told(std::string(setup_.relay ? how_to_relay : setup_.heats ? how_to_heats : how_to));
  }
  if (setup_.heats) {
    return take_heat(verb, rest, line);
  }
  if (verb == "undo") {
    return undo(rest);
  }
  constexpr std::string_view belongs = "this run belongs to ";
  if (text::equal_ignoring_case(line.substr(0, belongs.size()), belongs)) {
    return other_player(line.substr(belongs.size()));
  }
  if (verb == "player") {
    return other_player(rest);
  }
  if (verb == "correct") {
    return correct(rest);
  }
  if (verb == "flag") {
    return flag(rest);
  }
  if (verb == "watch") {
    return again_.on ? run_again(rest, true) : second_watch(rest);
  }
  if (verb == "next" || verb == "skip") {
    if (verb == "skip" && !next_player().empty()) {
      skipped_.push_back(next_player());
    }
    const std::string next = next_player();
    return told(next.empty() ? "no running order: begin with a roster or an order\n" : "next: " + next + "\n");
  }
  if (verb == "order") {
    return order(rest);
  }
  if (verb == "list") {
    return list(rest);
  }
  return again_.on ? run_again(line, false) : new_run(line, nullptr);
}

std::string RecordSession::player_of(std::string_view typed, std::string& wrong) const {
  if (typed == ".") {
    const std::string next = next_player();
    wrong = next.empty() ? "there is no running order, so . means nobody" : "";
    return next;
  }
  std::vector<std::string> found;
  for (const RecordEntry& entry : entries_) {
    if (setup_.roster == nullptr && entry.player == typed) {
      return entry.player;
    }
  }
  for (const runs::Player& player : setup_.roster != nullptr ? setup_.roster->players : std::vector<runs::Player>()) {
    if (player.id == typed || (!player.bib.empty() && player.bib == typed)) {
      found.push_back(player.id);
    }
  }
  if (found.size() > 1) {
    wrong = "'" + std::string(typed) + "' may be player " + found[0] + " or " + found[1] + ": type the id";
    if (found[0] != typed && found[1] != typed) {
      wrong += ", not the bib";
    }
    return {};
  }
  if (found.empty() && (typed.find('#') != std::string_view::npos || typed.find_last_of(",:;.") == typed.size() - 1)) {
    wrong = "'" + text::clipped(typed) + "' is no id or bib: type it with a blank after it, without # , : or .";
  }
  return found.empty() ? std::string(typed) : found.front();
}

// "first 12 7 3 9 | 5.31 10.90 16.20 21.94"; of another watch only what follows the bar.
bool RecordSession::read_relay(std::span<const std::string_view> words, RecordEntry& entry, std::string& wrong) const {
  const auto bar = std::find(words.begin(), words.end(), "|");
  const std::span<const std::string_view> before(words.begin(), bar);
  if (bar == words.end() || bar + 1 == words.end()) {
    wrong = "a bar and the clock are expected: red first 12 7 3 9 | 5.31 10.90 16.20 21.94";
    return false;
  }
  if (!before.empty()) {
    if (!equal_ignoring_case(before.front(), "first") && !equal_ignoring_case(before.front(), "third")) {
      wrong = "'" + text::clipped(before.front()) + "' is no way to second: first or third, after the team";
      return false;
    }
    entry.times[0] = text::lower(before.front());
    entry.times[1].clear();
    for (const std::string_view typed : before.subspan(1)) {
      const std::string player = player_of(typed, wrong);
      if (!wrong.empty()) {
        return false;
      }
      entry.times[1] += (entry.times[1].empty() ? "" : " ") + player;
    }
  }
  entry.times[2].clear();
  for (auto word = bar + 1; word != words.end(); ++word) {
    if (*word != "-" && !runs::parse_time_s(*word, true)) {
      wrong = "'" + text::clipped(*word) + "' is no time";
      return false;
    }
    std::string time(*word);
    std::replace(time.begin(), time.end(), ',', '.');
    entry.times[2] += (entry.times[2].empty() ? "" : " ") + time;
  }
  return true;
}

bool RecordSession::read_times(std::vector<std::string_view> words, RecordEntry& entry, bool corrects,
                               std::string& wrong) const {
  const std::vector<std::string> typed_before = std::move(entry.times);
  entry.times.assign(setup_.marks.size(), {});
  const bool clears = corrects && !words.empty() && equal_ignoring_case(words.back(), "none");
  if (clears || (!words.empty() && !flag_of(words.back()).empty())) {
    entry.flag = flag_of(words.back());
    words.pop_back();
  } else if (entry.flag == "absent" && !words.empty()) {
    entry.flag.clear();  // who has times was there
  }
  if (setup_.relay) {
    entry.times = typed_before.size() == entry.times.size() ? typed_before : entry.times;
    return read_relay(words, entry, wrong);
  }
  for (std::size_t k = 0; k < words.size(); ++k) {
    if (words[k] == "-") {
      continue;
    }
    const bool is_move = k < setup_.marks.size() && equal_ignoring_case(setup_.marks[k], "move");
    const auto time = is_move ? runs::parse_move_s(words[k], true) : runs::parse_time_s(words[k], true);
    if (!time) {
      const std::string hint = runs::time_hint(words[k], true);
      const bool is_word = !text::is_digit(words[k].front()) && words[k].front() != '.';
      wrong = "'" + text::clipped(words[k]) + "' is no time" + (hint.empty() ? "" : ": " + hint) +
              (is_word ? "; flags: " + flag_words() : "");
      return false;
    }
    if (k < entry.times.size()) {
      entry.times[k] = words[k];
      std::replace(entry.times[k].begin(), entry.times[k].end(), ',', '.');
    }
  }
  const bool complete =
      words.size() == setup_.marks.size() || (!entry.flag.empty() && words.size() < setup_.marks.size());
  if (!complete) {
    std::string marks;
    for (const std::string& mark : setup_.marks) {
      marks += (marks.empty() ? "" : " ") + mark;
    }
    wrong = std::to_string(setup_.marks.size()) + (setup_.marks.size() == 1 ? " time" : " times") + " expected (" +
            marks + "), " + std::to_string(words.size()) + " read; - for a mark not timed";
    return false;
  }
  if (entry.flag.empty() &&
      std::all_of(entry.times.begin(), entry.times.end(), [](const auto& t) { return t.empty(); })) {
    wrong = "no time and no flag";
    return false;
  }
  return true;
}

unsigned RecordSession::next_trial(const std::string& player, const std::string& date) const {
  const std::vector<bool> all = stands();
  unsigned last = 0;
  for (std::size_t k = 0; k < entries_.size(); ++k) {
    if (all[k] && entries_[k].player == player && entries_[k].date == date) {
      last = std::max(last, entries_[k].trial);
    }
  }
  return last + 1;
}

// The entries of its run that stand, each another watch.
std::vector<std::size_t> RecordSession::watches_of(const RecordEntry& entry) const {
  const std::vector<bool> all = stands();
  std::vector<std::size_t> out;
  for (std::size_t k = 0; k < entries_.size(); ++k) {
    if (all[k] && entries_[k].player == entry.player && entries_[k].date == entry.date &&
        entries_[k].trial == entry.trial) {
      out.push_back(k);
    }
  }
  return out;
}

RecordReply RecordSession::new_run(std::string_view text, const RecordEntry* replaced) {
  RecordEntry entry;
  if (replaced != nullptr) {
    entry.flag = replaced->flag;
    entry.note = replaced->note;
  }
  take_note(text, entry.note);
  std::vector<std::string_view> words = words_of(text);
  std::string wrong;
  if (words.empty()) {
    return refused("a player and times are expected; help shows how");
  }
  entry.player = setup_.relay ? std::string(words.front()) : player_of(words.front(), wrong);
  if (!wrong.empty()) {
    return refused(wrong);
  }
  const std::string_view first = words.front();
  words.erase(words.begin());
  if (words.empty()) {
    return refused("'" + text::clipped(first) + "' alone says nothing: times or a flag are expected; help shows how");
  }
  if (!read_times(words, entry, replaced != nullptr, wrong)) {
    return refused(wrong);
  }
  entry.mark.number = next_number();
  entry.date = setup_.date;
  entry.timer = setup_.timer;
  entry.clock = clock_;
  if (replaced != nullptr) {
    const std::string number = "#" + std::to_string(replaced->mark.number);
    const std::size_t watches = watches_of(*replaced).size();
    if (replaced->player != entry.player && watches > 1) {
      return refused(std::to_string(watches) + " watches timed that run of player " + replaced->player + ": player " +
                     number + " " + entry.player + " gives it whole to " + entry.player + "; correct the times then");
    }
    entry.mark.what = EntryMark::What::replaces;
    entry.mark.of = replaced->mark.number;
    entry.timer = replaced->timer;
    entry.date = replaced->date;
    entry.clock = replaced->clock;
  }
  entry.trial =
      replaced != nullptr && replaced->player == entry.player ? replaced->trial : next_trial(entry.player, entry.date);
  return check({std::move(entry)});
}

RecordReply RecordSession::second_watch(std::string_view text) {
  std::string wrong;
  const auto at = find(text, wrong);
  RecordEntry entry;
  take_note(text, entry.note);
  std::vector<std::string_view> words = words_of(text);
  if (!at || words.size() < 2) {
    return refused(!at ? wrong + ", so there is no run for a second watch"
                       : "watch TIMER TIME...: the timer's name and the times");
  }
  const RecordEntry& run = entries_[*at];
  entry.mark.number = next_number();
  entry.date = run.date;
  entry.clock = run.clock;
  entry.player = run.player;
  entry.trial = run.trial;
  entry.timer = words.front();
  if (setup_.relay) {
    entry.times = run.times;  // the same relay: another clock
  }
  if (runs::parse_time_s(entry.timer, true)) {
    return refused("the second watch needs its timer's name before the times: watch RB 4.11 ...");
  }
  words.erase(words.begin());
  return read_times(words, entry, false, wrong) ? check({std::move(entry)}) : refused(wrong);
}

// The numbers of all that an entry stands in place of, straight or by way of others.
std::set<unsigned> RecordSession::replaced_by(const RecordEntry& entry) const {
  std::set<unsigned> out;
  EntryMark mark = entry.mark;
  for (std::size_t k = entries_.size(); k-- > 0;) {
    if (mark.what == EntryMark::What::replaces && entries_[k].mark.number == mark.of) {
      out.insert(mark.of);
      mark = entries_[k].mark;
    }
  }
  return out;
}

// "#7 rest" or "rest": which entry is meant.
std::optional<std::size_t> RecordSession::find(std::string_view& text, std::string& wrong) const {
  const std::vector<bool> all = stands();
  if (text.starts_with('#')) {
    const std::size_t blank = std::min(text.find_first_of(" \t"), text.size());
    const auto number = runs::parse_count(text.substr(1, blank - 1), 1, 1'000'000);
    text = trim(text.substr(blank));
    for (std::size_t k = 0; number && k < entries_.size(); ++k) {
      if (entries_[k].mark.number == *number && all[k]) {
        return k;
      }
    }
    wrong = "there is no such entry, or it is undone: list shows them";
    for (std::size_t k = 0; number && k < entries_.size(); ++k) {
      if (all[k] && replaced_by(entries_[k]).contains(*number)) {
        wrong = "entry " + std::to_string(*number) + " is corrected already: it is #" +
                std::to_string(entries_[k].mark.number) + " now";
      }
    }
    return std::nullopt;
  }
  for (std::size_t k = entries_.size(); k-- > 0;) {
    if (all[k]) {
      return k;
    }
  }
  wrong = "there is no entry yet";
  return std::nullopt;
}

RecordReply RecordSession::correct(std::string_view text) {
  std::string wrong;
  const auto at = find(text, wrong);
  return at ? new_run(text, &entries_[*at]) : refused(wrong);
}

RecordReply RecordSession::other_player(std::string_view text) {
  std::string wrong;
  const auto at = find(text, wrong);
  if (!at) {
    return refused(wrong);
  }
  if (words_of(text).size() != 1) {
    return refused("one player is expected: player 12, or player #7 12");
  }
  const std::string player = player_of(text, wrong);
  if (wrong.empty() && player == entries_[*at].player) {
    wrong = "that run is player " + player + "'s already";
  }
  if (!wrong.empty()) {
    return refused(wrong);
  }
  std::vector<RecordEntry> rows;
  const unsigned trial = next_trial(player, entries_[*at].date);
  for (const std::size_t k : watches_of(entries_[*at])) {
    RecordEntry row = entries_[k];
    row.mark = {next_number() + static_cast<unsigned>(rows.size()), EntryMark::What::replaces, entries_[k].mark.number};
    row.player = player;
    row.trial = trial;
    rows.push_back(std::move(row));
  }
  return check(std::move(rows));
}

RecordReply RecordSession::flag(std::string_view text) {
  std::string wrong;
  const auto at = find(text, wrong);
  if (!at) {
    return refused(wrong);
  }
  const std::string_view word = flag_of(text);
  if (word.empty() && !equal_ignoring_case(text, "none")) {
    return refused("'" + text::clipped(text) + "' is no flag: " + flag_words() + ", or none");
  }
  RecordEntry entry = entries_[*at];
  entry.mark = {next_number(), EntryMark::What::replaces, entries_[*at].mark.number};
  entry.flag = word;
  return check({std::move(entry)});
}

// The entries that were given to another player together with this one, the last first; else this one alone.
std::vector<std::size_t> RecordSession::moved_with(std::size_t at) const {
  const auto before = [&](std::size_t k) {
    const auto old = std::find_if(entries_.begin(), entries_.end(), [&](const RecordEntry& entry) {
      return entries_[k].mark.what == EntryMark::What::replaces && entry.mark.number == entries_[k].mark.of;
    });
    return old == entries_.end() ? entries_[k] : *old;
  };
  const RecordEntry from = before(at);
  if (from.player == entries_[at].player) {
    return {at};
  }
  std::vector<std::size_t> out = watches_of(entries_[at]);
  std::erase_if(out, [&](std::size_t k) { return before(k).player != from.player || before(k).trial != from.trial; });
  std::reverse(out.begin(), out.end());
  return out;
}

RecordReply RecordSession::undo(std::string_view text) {
  std::string wrong;
  const auto at = find(text, wrong);
  if (!at || !text.empty()) {
    return refused(at ? "undo for the last entry, or undo #7 for entry 7" : wrong + ": there is nothing to undo");
  }
  std::string rows;
  pending_.clear();
  for (const std::size_t k : moved_with(*at)) {
    RecordEntry entry = entries_[k];
    entry.mark = {next_number() + static_cast<unsigned>(pending_.size()), EntryMark::What::undoes,
                  entries_[k].mark.number};
    entry.flag = entry.note = "";
    entry.times.assign(setup_.marks.size(), {});
    rows += csv(entry);
    pending_.push_back(std::move(entry));
  }
  return {Kind::keep, {}, rows};
}

RecordReply RecordSession::order(std::string_view mark) const {
  std::size_t column = setup_.marks.size() - 1;
  for (std::size_t k = 0; !mark.empty() && k < setup_.marks.size(); ++k) {
    column = equal_ignoring_case(setup_.marks[k], mark) ? k : column;
  }
  if (!mark.empty() && !equal_ignoring_case(setup_.marks[column], mark)) {
    return refused("there is no mark '" + text::clipped(mark) + "'");
  }
  struct Best {
    double s = 0.0;
    std::size_t readings = 0;
  };
  std::map<std::string, Best> best;
  const std::vector<bool> all = stands();
  for (std::size_t k = 0; k < entries_.size(); ++k) {
    const auto time =
        all[k] && entries_[k].flag.empty() ? runs::parse_time_s(entries_[k].times[column], true) : std::nullopt;
    if (time) {
      Best& one = best[entries_[k].player];
      one.s = one.readings++ == 0 ? *time : std::min(one.s, *time);
    }
  }
  std::vector<std::pair<std::string, Best>> sorted(best.begin(), best.end());
  std::stable_sort(sorted.begin(), sorted.end(), [](const auto& a, const auto& b) { return a.second.s < b.second.s; });
  std::string out =
      "best time at " + setup_.marks[column] + " so far (single readings; bagsplit standings tells what it is worth)\n";
  std::size_t place = 0;
  for (std::size_t k = 0; k < sorted.size(); ++k) {
    place = k > 0 && sorted[k].second.s == sorted[k - 1].second.s ? place : k + 1;
    out += std::to_string(place) + ". " + sorted[k].first + "  " + runs::format_number(sorted[k].second.s) + "  of " +
           std::to_string(sorted[k].second.readings) + "\n";
  }
  return told(sorted.empty() ? "no times yet\n" : out);
}

RecordReply RecordSession::list(std::string_view count) const {
  const auto most = count.empty() ? std::optional(10U) : runs::parse_count(count, 1, 100'000);
  if (!most) {
    return refused("list N: a number of entries");
  }
  const std::vector<bool> all = stands();
  std::vector<std::string> lines;
  for (std::size_t k = entries_.size(); k-- > 0 && lines.size() < *most;) {
    if (all[k]) {
      lines.push_back(entry_line(entries_[k]) + "\n");
    }
  }
  std::string out;
  for (std::size_t k = lines.size(); k-- > 0;) {
    out += lines[k];
  }
  return told(out.empty() ? "no entries yet\n" : out);
}

}  // namespace bagsplit::record
