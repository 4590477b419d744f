#include <algorithm>

#include "bagsplit/record/detail/typed_words.hpp"
#include "bagsplit/record/record_session.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::record {

namespace {

using Kind = RecordReply::Kind;

RecordReply not_compared(const std::string& why) {
  return {Kind::refused, "not compared: " + why + "\n", {}};
}

// The same time, however its noughts are typed; a mark not timed is like another.
bool same_time(const std::string& a, const std::string& b) {
  return a == b || (!a.empty() && !b.empty() && runs::parse_move_s(a, true) == runs::parse_move_s(b, true));
}

std::string shown(const std::string& time) {
  return time.empty() ? "-" : time;
}

}  // namespace

// The entry typed again: of a run the player's first that was not yet; of a watch that of the run typed last.
RecordReply RecordSession::run_again(std::string_view text, bool watch) {
  text = text.substr(0, text.find(';'));
  std::vector<std::string_view> words = detail::words_of(text);
  if (words.size() < 2) {
    return not_compared("a player and times are expected; help shows how");
  }
  std::string wrong;
  const std::string first = watch ? std::string(words.front()) : player_of(words.front(), wrong);
  words.erase(words.begin());
  RecordEntry typed;
  if (!wrong.empty() || !read_times(words, typed, false, wrong)) {
    return not_compared(wrong);
  }
  const std::vector<bool> all = stands();
  std::optional<std::size_t> at;
  for (std::size_t k = 0; k < entries_.size(); ++k) {
    const RecordEntry& entry = entries_[k];
    const bool same_run =
        entry.player == again_.right.player && entry.trial == again_.right.trial && entry.date == again_.right.date;
    if (all[k] && !again_.done.contains(entry.mark.number) &&
        (watch ? same_run && entry.timer == first : entry.player == first) &&
        (!at || entry.trial < entries_[*at].trial)) {
      at = k;
    }
  }
  if (!at) {
    return not_compared(
        (watch ? "watch '" : "player '") + text::clipped(first) +
        "' has nothing left that was not typed again; a run that was forgotten is typed without comparing");
  }
  again_.typed = std::move(typed);
  again_.right = entries_[*at];
  again_.open.clear();
  again_.done.insert(entries_[*at].mark.number);
  for (std::size_t k = 0; k < setup_.marks.size(); ++k) {
    again_.times += again_.right.times[k].empty() && again_.typed.times[k].empty() ? 0U : 1U;
    if (!same_time(again_.right.times[k], again_.typed.times[k])) {
      again_.open.push_back(k);
    }
  }
  again_.differ += again_.open.size();
  const bool flags = again_.typed.flag != again_.right.flag;
  const std::string flag_words = flags ? "; its flag was '" + again_.right.flag + "' and is '" + again_.typed.flag +
                                             "' now: flag #" + std::to_string(again_.right.mark.number) + " sets it"
                                       : std::string();
  if (again_.open.empty()) {
    return {Kind::told, "the same: " + entry_line(again_.right) + flag_words + "\n", {}};
  }
  again_.entry = at;
  RecordReply reply = ask_again();
  reply.text = "entry " + entry_line(again_.right) + flag_words + "\n" + reply.text;
  return reply;
}

RecordReply RecordSession::ask_again() {
  const std::size_t mark = again_.open.front();
  return {Kind::asked,
          setup_.marks[mark] + ": " + shown(again_.right.times[mark]) + " the first time, " +
              shown(again_.typed.times[mark]) + " now: which is right? (1, 2, or the time)\n",
          {}};
}

RecordReply RecordSession::answer_again(std::string_view answer) {
  const std::size_t mark = again_.open.front();
  std::string& right = again_.right.times[mark];
  const std::string before = right;
  if (answer == "2") {
    right = again_.typed.times[mark];
  } else if (answer != "1") {
    if (answer.find_first_of(".,:") == std::string_view::npos || !runs::parse_move_s(answer, true)) {
      RecordReply reply = ask_again();
      reply.text = "not understood. " + reply.text;
      return reply;
    }
    right = answer;
    std::replace(right.begin(), right.end(), ',', '.');
  }
  again_.corrected += same_time(before, right) ? 0U : 1U;
  again_.open.erase(again_.open.begin());
  if (!again_.open.empty()) {
    return ask_again();
  }
  const RecordEntry& first = entries_[*again_.entry];
  again_.entry.reset();
  RecordEntry entry = again_.right;
  if (std::equal(entry.times.begin(), entry.times.end(), first.times.begin(), first.times.end(), same_time)) {
    return {Kind::told, "stays as first typed: " + entry_line(first) + "\n", {}};
  }
  entry.mark = {next_number(), runs::EntryMark::What::replaces, first.mark.number};
  again_.done.insert(entry.mark.number);
  return check({std::move(entry)});
}

std::string RecordSession::told_again() const {
  if (!again_.on) {
    return {};
  }
  const std::vector<bool> all = stands();
  std::string left;
  std::size_t count = 0;
  for (std::size_t k = 0; k < entries_.size(); ++k) {
    if (all[k] && !again_.done.contains(entries_[k].mark.number)) {
      left += (left.empty() ? " #" : ", #") + std::to_string(entries_[k].mark.number);
      ++count;
    }
  }
  return text::counted(again_.times, "time") + " typed again: " + text::counted(again_.differ, "differs", "differ") +
         (again_.differ == 0 ? ""
                             : ", " + std::to_string(again_.corrected) + " corrected, " +
                                   std::to_string(again_.differ - again_.corrected) + " left as first typed") +
         (count == 0 ? "; every entry was typed again"
                     : "; " + text::counted(count, "entry", "entries") + " not typed again:" + left) +
         "\n";
}

}  // namespace bagsplit::record
