#include <algorithm>
#include <map>

#include "bagsplit/coach/record_session.hpp"
#include "bagsplit/runs/log_summary.hpp"
#include "bagsplit/runs/text.hpp"
#include "bagsplit/runs/typed.hpp"

namespace bagsplit::coach {

namespace {

using runs::EntryMark;
using runs::equal_ignoring_case;
using runs::trim;
using Kind = RecordReply::Kind;

constexpr std::string_view how_to =
    "12 4.05 8.02 12.10 16.31        a run of player (or bib) 12; . for whose turn it is, - for a mark not timed\n"
    "12 4.05 8.02 fall ; slipped     with a flag, later times may be left out; a note after ;\n"
    "12 absent                       not there today\n"
    "watch RB 4.11 8.05 12.22 16.36  a second watch on the last run\n"
    "correct 12 4.05 8.02 12.10 16.31, correct #7 ...   the last entry, or entry 7, anew\n"
    "flag fall, flag #7 none         set or clear a flag\n"
    "undo                            the last entry\n"
    "next, skip                      whose turn it is; pass over for now\n"
    "order, order first              order so far, by best time\n"
    "list, list 20                   the last entries\n"
    "quit                            all is on the disk already\n";

RecordReply told(std::string text) {
  return {Kind::told, std::move(text), {}};
}
RecordReply refused(std::string text) {
  return {Kind::refused, "not taken: " + std::move(text) + "\n", {}};
}

std::vector<std::string_view> words_of(std::string_view text) {
  std::vector<std::string_view> words;
  while (!text.empty()) {
    const std::size_t begin = text.find_first_not_of(" \t");
    if (begin == std::string_view::npos) {
      break;
    }
    const std::size_t end = std::min(text.find_first_of(" \t", begin), text.size());
    words.push_back(text.substr(begin, end - begin));
    text.remove_prefix(end);
  }
  return words;
}

std::string_view flag_of(std::string_view word) {
  for (int k = 1; k <= static_cast<int>(runs::Flag::absent); ++k) {
    const std::string_view name = runs::flag_name(static_cast<runs::Flag>(k));
    if (equal_ignoring_case(name, word)) {
      return name;
    }
  }
  return {};
}

std::string flag_words() {
  std::vector<std::string_view> words;
  for (int k = 1; k <= static_cast<int>(runs::Flag::absent); ++k) {
    words.push_back(runs::flag_name(static_cast<runs::Flag>(k)));
  }
  return runs::list_of(words);
}

}  // namespace

RecordReply RecordSession::take(std::string_view line) {
  line = trim(line.ends_with('\r') ? line.substr(0, line.size() - 1) : line);
  if (std::any_of(line.begin(), line.end(), [](char c) { return static_cast<unsigned char>(c) < 32 && c != '\t'; }) ||
      runs::first_invalid_utf8(line) != std::string_view::npos || line.size() > 1'000) {
    return refused("control characters, bytes that are not UTF-8, or more than 1000 of them");
  }
  if (asked_) {
    if (equal_ignoring_case(line, "y") || equal_ignoring_case(line, "yes")) {
      asked_ = false;
      return {Kind::keep, {}, csv(*pending_)};
    }
    if (equal_ignoring_case(line, "n") || equal_ignoring_case(line, "no")) {
      asked_ = false;
      pending_.reset();
      return told("not kept\n");
    }
    return {Kind::asked, "answer y or n first: keep? (y or n)\n", {}};
  }
  const std::size_t blank = std::min(line.find_first_of(" \t"), line.size());
  const std::string verb = runs::lower(line.substr(0, blank));
  const std::string_view rest = trim(line.substr(blank));
  if (line.empty()) {
    return told({});
  }
  if (verb == "quit" || verb == "q") {
    return {Kind::end, {}, {}};
  }
  if (verb == "help" || verb == "?") {
    return told(std::string(how_to));
  }
  if (verb == "undo") {
    return undo();
  }
  if (verb == "correct") {
    return correct(rest);
  }
  if (verb == "flag") {
    return flag(rest);
  }
  if (verb == "watch") {
    return second_watch(rest);
  }
  if (verb == "next" || verb == "skip") {
    if (verb == "skip" && !next_player().empty()) {
      skipped_.push_back(next_player());
    }
    const std::string next = next_player();
    return told(next.empty() ? "no running order: give --roster or --order\n" : "next: " + next + "\n");
  }
  if (verb == "order") {
    return order(rest);
  }
  if (verb == "list") {
    return list(rest);
  }
  return new_run(line, std::nullopt);
}

std::string RecordSession::player_of(std::string_view typed, std::string& wrong) const {
  if (typed == ".") {
    const std::string next = next_player();
    wrong = next.empty() ? "there is no running order, so . means nobody" : "";
    return next;
  }
  if (setup_.roster == nullptr) {
    return std::string(typed);
  }
  std::vector<std::string> found;
  for (const runs::Player& player : setup_.roster->players) {
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
  return found.empty() ? std::string(typed) : found.front();
}

bool RecordSession::read_times(std::vector<std::string_view> words, RecordEntry& entry, std::string& wrong) const {
  entry.times.assign(setup_.marks.size(), {});
  if (!words.empty() && !flag_of(words.back()).empty()) {
    entry.flag = flag_of(words.back());
    words.pop_back();
  }
  for (std::size_t k = 0; k < words.size(); ++k) {
    if (words[k] == "-") {
      continue;
    }
    const auto time = runs::parse_time_s(words[k], true);
    if (!time) {
      const std::string hint = runs::time_hint(words[k], true);
      const bool is_word = !runs::is_digit(words[k].front()) && words[k].front() != '.';
      wrong = "'" + runs::clipped(words[k]) + "' is no time" + (hint.empty() ? "" : ": " + hint) +
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

RecordReply RecordSession::new_run(std::string_view text, std::optional<unsigned> replaces) {
  RecordEntry entry;
  const std::size_t semicolon = text.find(';');
  if (semicolon != std::string_view::npos) {
    entry.note = trim(text.substr(semicolon + 1));
    text = text.substr(0, semicolon);
  }
  std::vector<std::string_view> words = words_of(text);
  std::string wrong;
  if (words.empty()) {
    return refused("a player and times are expected; help shows how");
  }
  entry.player = player_of(words.front(), wrong);
  if (!wrong.empty()) {
    return refused(wrong);
  }
  const std::string_view first = words.front();
  words.erase(words.begin());
  if (words.empty()) {
    return refused("'" + runs::clipped(first) + "' alone says nothing: times or a flag are expected; help shows how");
  }
  if (!read_times(words, entry, wrong)) {
    return refused(wrong);
  }
  entry.mark.number = next_number();
  entry.date = setup_.date;
  entry.timer = setup_.timer;
  const std::vector<bool> all = stands();
  for (std::size_t k = 0; k < entries_.size(); ++k) {
    const RecordEntry& other = entries_[k];
    if (replaces && other.mark.number == *replaces) {
      entry.mark.what = EntryMark::What::replaces;
      entry.mark.of = *replaces;
      entry.timer = other.timer;
      entry.date = other.date;
    } else if (all[k] && other.player == entry.player && other.date == entry.date) {
      entry.trial = std::max(entry.trial, other.trial);
    }
  }
  ++entry.trial;
  if (replaces) {
    for (const RecordEntry& other : entries_) {
      if (other.mark.number == *replaces && other.player == entry.player) {
        entry.trial = other.trial;
      }
    }
  }
  return check(std::move(entry));
}

RecordReply RecordSession::second_watch(std::string_view text) {
  const std::vector<bool> all = stands();
  std::size_t last = entries_.size();
  while (last > 0 && !all[last - 1]) {
    --last;
  }
  std::vector<std::string_view> words = words_of(text);
  if (last == 0 || words.size() < 2) {
    return refused(last == 0 ? "there is no run yet for a second watch"
                             : "watch TIMER TIME...: the timer's name and the times");
  }
  RecordEntry entry;
  const RecordEntry& run = entries_[last - 1];
  entry.mark.number = next_number();
  entry.date = run.date;
  entry.player = run.player;
  entry.trial = run.trial;
  entry.timer = words.front();
  if (runs::parse_time_s(entry.timer, true)) {
    return refused("the second watch needs its timer's name before the times: watch RB 4.11 ...");
  }
  words.erase(words.begin());
  std::string wrong;
  return read_times(words, entry, wrong) ? check(std::move(entry)) : refused(wrong);
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
    wrong = "there is no such entry, or it is undone or corrected already: list shows them";
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
  return at ? new_run(text, entries_[*at].mark.number) : refused(wrong);
}

RecordReply RecordSession::flag(std::string_view text) {
  std::string wrong;
  const auto at = find(text, wrong);
  if (!at) {
    return refused(wrong);
  }
  const std::string_view word = flag_of(text);
  if (word.empty() && !equal_ignoring_case(text, "none")) {
    return refused("'" + runs::clipped(text) + "' is no flag: " + flag_words() + ", or none");
  }
  RecordEntry entry = entries_[*at];
  entry.mark = {next_number(), EntryMark::What::replaces, entries_[*at].mark.number};
  entry.flag = word;
  return check(std::move(entry));
}

RecordReply RecordSession::undo() {
  std::string wrong;
  std::string_view nothing;
  const auto at = find(nothing, wrong);
  if (!at) {
    return refused("there is nothing to undo");
  }
  RecordEntry entry;
  entry.mark = {next_number(), EntryMark::What::undoes, entries_[*at].mark.number};
  entry.date = entries_[*at].date;
  entry.player = entries_[*at].player;
  entry.trial = entries_[*at].trial;
  entry.timer = entries_[*at].timer;
  entry.times.assign(setup_.marks.size(), {});
  pending_ = entry;
  return {Kind::keep, {}, csv(entry)};
}

RecordReply RecordSession::order(std::string_view mark) const {
  std::size_t column = setup_.marks.size() - 1;
  for (std::size_t k = 0; !mark.empty() && k < setup_.marks.size(); ++k) {
    column = equal_ignoring_case(setup_.marks[k], mark) ? k : column;
  }
  if (!mark.empty() && !equal_ignoring_case(setup_.marks[column], mark)) {
    return refused("there is no mark '" + runs::clipped(mark) + "'");
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

}  // namespace bagsplit::coach
