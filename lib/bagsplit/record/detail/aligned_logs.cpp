#include "bagsplit/record/detail/aligned_logs.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>
#include <set>
#include <utility>

#include "bagsplit/record/detail/same_runs.hpp"
#include "bagsplit/runs/entries.hpp"
#include "bagsplit/runs/log/log_summary.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/csv.hpp"
#include "bagsplit/text/text.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::record::detail {

namespace {

using runs::Reading;
using runs::Run;
using runs::RunLog;

// What a log's rows say beside what its reader keeps: where a row stands in the order of typing, and who counted.
struct TypedRows {
  bool by_hand = false;                         // every row has its trial, and no recorder counted them
  std::map<std::uint32_t, unsigned> first_of;   // by line: the entry it goes back to, through corrections
  std::map<std::uint32_t, unsigned> number_of;  // by line: its entry
};

TypedRows typed_rows(std::string_view text) {
  TypedRows out;
  text::CsvReader csv(text);
  text::CsvRecord record;
  bool found = false;
  while (!found && csv.next_line(record)) {
    const std::string_view line = text::trim(record.text);
    found = !line.empty() && !line.starts_with('#') && !line.starts_with("\"#") && !text::names_delimiter(line);
  }
  if (!found) {
    return out;
  }
  csv.set_delimiter(text::detect_delimiter(record.text));
  csv.seek(record.offset, record.line);
  csv.next(record);
  const auto column = [&](std::string_view name) {
    for (std::size_t k = 0; k < csv.fields().size(); ++k) {
      if (text::equal_ignoring_case(text::trim(csv.fields()[k]), name)) {
        return k;
      }
    }
    return csv.fields().size();
  };
  const std::size_t columns = csv.fields().size();
  const std::size_t entry = column(runs::entry_column);
  const std::size_t trial = column("trial");
  out.by_hand = trial < columns && entry == columns;
  std::map<unsigned, unsigned> first;
  while (csv.next(record)) {
    if (trial < csv.fields().size() && text::trim(csv.fields()[trial]).empty() && !record.text.starts_with('#') &&
        std::any_of(csv.fields().begin(), csv.fields().end(), [](auto f) { return !text::trim(f).empty(); })) {
      out.by_hand = false;
    }
    const auto mark = entry < csv.fields().size() ? runs::parse_entry(text::trim(csv.fields()[entry])) : std::nullopt;
    if (mark) {
      const auto old = first.find(mark->of);
      first[mark->number] =
          mark->what == runs::EntryMark::What::replaces && old != first.end() ? old->second : mark->number;
      const auto line = static_cast<std::uint32_t>(record.line);
      out.first_of[line] = first[mark->number];
      out.number_of[line] = mark->number;
    }
  }
  return out;
}

// Seconds of the day of 17:42 or 17:42:08.
std::optional<double> time_of_day_s(std::string_view text) {
  double parts[3] = {0.0, 0.0, 0.0};
  std::size_t k = 0;
  for (; k < 3 && !text.empty(); ++k) {
    const std::size_t end = std::min(text.find(':'), text.size());
    const auto number = runs::parse_count(text.substr(0, end), 0, k == 0 ? 23 : 59);
    if (!number) {
      return std::nullopt;
    }
    parts[k] = *number;
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return k >= 2 && text.empty() ? std::optional(3600.0 * parts[0] + 60.0 * parts[1] + parts[2]) : std::nullopt;
}

constexpr long near_by = 5;                         // entries that an answer may be out of step
constexpr std::uint32_t first_answer = 0x80000000;  // numbers of ties above those of texts

struct Item {
  std::size_t log = 0;
  std::size_t run = 0;  // in the log
  unsigned order = 0;   // of typing
};

class AligningLogs {
 public:
  AligningLogs(std::span<const runs::LogText> files, std::span<RunLog> logs, const MergeAnswers& answers,
               text::Problems& problems)
      : files_(files), logs_(logs), answers_(answers), problems_(problems) {}

  std::size_t align() {
    std::map<std::string, std::vector<std::vector<Item>>> groups;  // by date, place and course; then by log
    std::vector<TypedRows> typed;
    for (std::size_t f = 0; f < logs_.size(); ++f) {
      typed.push_back(typed_rows(files_[f].text));
      for (std::size_t r = 0; r < logs_[f].runs.size(); ++r) {
        const Run& run = logs_[f].runs[r];
        if (run.leg > 0 || run.team != runs::no_name || run.flag == runs::Flag::absent) {
          continue;
        }
        auto& group = groups[runs::format_date(run.date) + '\n' + logs_[f].name(run.place) + '\n' +
                             logs_[f].courses[run.course].name];
        group.resize(logs_.size());
        const std::uint32_t line = logs_[f].readings_of(run).front().line;
        const auto first = typed[f].first_of.find(line);
        group[f].push_back({f, r, first != typed[f].first_of.end() ? first->second : line});
      }
    }
    for (auto& [key, group] : groups) {
      std::erase_if(group, [](const auto& items) { return items.empty(); });
      const bool by_hand =
          std::all_of(group.begin(), group.end(), [&](const auto& items) { return typed[items.front().log].by_hand; });
      if (group.size() > 1 && !by_hand) {
        align_group(group, typed);
      }
    }
    refuse_unknown_lines();
    return open_;
  }

 private:
  void refuse_unknown_lines() {
    std::vector<std::string> places = answers_.alone;
    for (const auto& [a, b] : answers_.same) {
      places.insert(places.end(), {a, b});
    }
    for (const std::string& named : places) {
      if (!known_.contains(named)) {
        problems_.push_back({.code = "unknown-line",
                             .message = "there is no run at " + named + " that was compared with another log's",
                             .expected = "a line that was asked about, as FILE:LINE"});
      }
    }
  }

  // Where an answer's place stands in the group at hand.
  std::optional<EntryAt> at_place(const std::string& named) {
    for (std::uint32_t r = 0; r < entries_.size(); ++r) {
      for (std::uint32_t k = 0; k < entries_[r].size(); ++k) {
        if (place({r, k}) == named) {
          known_.insert(named);
          return EntryAt{r, k};
        }
      }
    }
    return std::nullopt;
  }

  // Answers whose entries stand near each other in their logs are evidence for those around them; one typed long
  // afterwards would pull its neighbours along, and is only joined at the end.
  void take_answers() {
    same_.clear();
    alone_.clear();
    for (std::size_t n = 0; n < answers_.same.size(); ++n) {
      const auto a = at_place(answers_.same[n].first);
      const auto b = at_place(answers_.same[n].second);
      if (!a || !b || a->recorder == b->recorder) {
        continue;
      }
      same_.emplace_back(*a, *b);
      const auto apart =
          std::abs(static_cast<long>(a->entry) - static_cast<long>(b->entry)) -
          std::abs(static_cast<long>(entries_[a->recorder].size()) - static_cast<long>(entries_[b->recorder].size()));
      if (apart <= near_by) {
        for (const EntryAt one : {*a, *b}) {
          entries_[one.recorder][one.entry].ties.push_back(first_answer + static_cast<std::uint32_t>(n));
        }
      }
    }
    for (const std::string& named : answers_.alone) {
      if (const auto at = at_place(named)) {
        alone_.push_back(*at);
        entries_[at->recorder][at->entry].alone = true;
      }
    }
  }

  // What the alignment could not follow, and questions that are answered.
  void keep_to_answers() {
    const auto run_of = [&](EntryAt at) {
      return std::find_if(found_.runs.begin(), found_.runs.end(),
                          [&](const auto& one) { return std::find(one.begin(), one.end(), at) != one.end(); });
    };
    for (const auto& [a, b] : same_) {
      const auto to = run_of(a);
      const auto from = run_of(b);
      const bool has_one = std::any_of(to->begin(), to->end(), [&](EntryAt at) {
        return std::any_of(from->begin(), from->end(), [&](EntryAt other) { return at.recorder == other.recorder; });
      });
      if (to != from && !has_one) {
        to->insert(to->end(), from->begin(), from->end());
        found_.runs.erase(from);
      }
    }
    // A wrong bib is another question; how many runs a child has, none once it is said which are one.
    std::erase_if(found_.questions, [&](const RunQuestion& question) {
      const auto asks = [&](EntryAt at) {
        return std::find(question.entries.begin(), question.entries.end(), at) != question.entries.end();
      };
      const bool by_count = question.doubt == RunDoubt::one_run_more;
      const bool by_same = std::any_of(same_.begin(), same_.end(), [&](const auto& pair) {
        return by_count ? asks(pair.first) || asks(pair.second)
                        : question.doubt != RunDoubt::which_bib && asks(pair.first) && asks(pair.second);
      });
      return by_same || std::any_of(alone_.begin(), alone_.end(), asks);
    });
  }

  void align_group(std::vector<std::vector<Item>>& group, const std::vector<TypedRows>& typed) {
    items_ = &group;
    typed_ = &typed;
    entries_.clear();
    std::map<std::string, std::uint32_t> numbers;
    const auto number = [&](const std::string& text) {
      return numbers.try_emplace(text, static_cast<std::uint32_t>(numbers.size())).first->second;
    };
    for (auto& items : group) {
      std::stable_sort(items.begin(), items.end(), [](const Item& a, const Item& b) { return a.order < b.order; });
      auto& entries = entries_.emplace_back();
      for (const Item& item : items) {
        const RunLog& log = logs_[item.log];
        const Run& run = log.runs[item.run];
        WatchEntry& entry = entries.emplace_back();
        entry.bib = number("player " + log.name(run.player));
        for (const Reading& reading : log.readings_of(run)) {
          entry.timers.push_back(number("timer " + log.name(reading.timer)));
          entry.ties.push_back(number(key_of(log, run, reading)));
          for (const runs::Split& split : log.splits_of(reading)) {
            if (!split.is_move && &reading == &log.readings_of(run).front()) {
              entry.times.push_back({static_cast<std::uint32_t>(std::lround(split.distance_m * 1000.0)), split.time_s});
            }
          }
          if (const auto clock = clock_of(log, reading); clock && std::isnan(entry.clock_s)) {
            entry.clock_s = *clock;
          }
        }
      }
    }
    take_answers();
    found_ = same_runs(entries_);
    keep_to_answers();
    tell_missed();
    ask();
    number_trials();
  }

  static std::optional<double> clock_of(const RunLog& log, const Reading& reading) {
    const auto number = static_cast<std::uint32_t>(&reading - log.readings.data());
    auto cell = std::lower_bound(log.carried.begin(), log.carried.end(), number,
                                 [](const runs::Carried& one, std::uint32_t n) { return one.reading < n; });
    for (; cell != log.carried.end() && cell->reading == number; ++cell) {
      if (log.name(cell->column) == runs::clock_column) {
        return time_of_day_s(log.name(cell->text));
      }
    }
    return std::nullopt;
  }

  const Item& item(EntryAt at) const { return (*items_)[at.recorder][at.entry]; }
  RunLog& log(EntryAt at) const { return logs_[item(at).log]; }
  Run& run(EntryAt at) const { return log(at).runs[item(at).run]; }
  const Reading& reading(EntryAt at) const { return log(at).readings_of(run(at)).front(); }
  const std::string& path(EntryAt at) const { return files_[item(at).log].path; }
  std::string place(EntryAt at) const { return path(at) + ":" + std::to_string(reading(at).line); }
  std::string player(EntryAt at) const { return log(at).name(run(at).player); }

  // "4.31 s", at the farthest mark.
  std::string time(EntryAt at) const {
    const auto splits = log(at).splits_of(reading(at));
    return splits.empty() ? "a run without a time" : runs::format_number(splits.back().time_s) + " s";
  }

  static std::string whole_percent(double chance) {
    return std::to_string(static_cast<int>(std::lround(100.0 * chance))) + " %";
  }

  // Whose log: the first watch in it, else its file.
  std::string recorder(std::size_t number) const {
    const EntryAt first{static_cast<std::uint32_t>(number), 0};
    const std::string& timer = log(first).name(reading(first).timer);
    return timer.empty() ? path(first) : timer;
  }

  static std::string listed(const std::vector<std::string>& words, std::string_view last) {
    constexpr std::size_t most = 12;
    std::vector<std::string_view> shown(words.begin(),
                                        words.begin() + static_cast<std::ptrdiff_t>(std::min(most, words.size())));
    const std::string more = std::to_string(words.size() - shown.size()) + " more";
    if (words.size() > most) {
      shown.push_back(more);
    }
    return text::list_of(shown, last);
  }

  void tell_missed() {
    for (std::uint32_t r = 0; r < entries_.size(); ++r) {
      std::vector<std::string> missed;
      for (const auto& one : found_.runs) {
        if (std::none_of(one.begin(), one.end(), [&](EntryAt at) { return at.recorder == r; })) {
          missed.push_back(place(one.front()));
        }
      }
      if (!missed.empty()) {
        problems_.push_back({.severity = text::Severity::note,
                             .code = "missed-run",
                             .path = path({r, 0}),
                             .message = recorder(r) + " has no entry for " + text::counted(missed.size(), "run") +
                                        ": " + listed(missed, "and")});
      }
    }
  }

  void suspect(EntryAt at, const char* code, std::string message, std::string hint) {
    problems_.push_back({.severity = text::Severity::suspicion,
                         .code = code,
                         .path = path(at),
                         .line = reading(at).line,
                         .message = std::move(message),
                         .hint = std::move(hint)});
  }

  // How to give a run to another child: typed into the recorder of its log.
  std::string to_give(EntryAt at, const std::string& who) const {
    const auto& numbers = (*typed_)[item(at).log].number_of;
    const auto number = numbers.find(reading(at).line);
    return number == numbers.end()
               ? "write " + who + " on " + place(at)
               : "in the recorder of " + path(at) + " type: player #" + std::to_string(number->second) + " " + who;
  }

  void ask() {
    std::set<std::set<std::pair<std::uint32_t, std::uint32_t>>> asked;
    std::vector<std::string> fewer;
    for (const RunQuestion& question : found_.questions) {
      std::set<std::pair<std::uint32_t, std::uint32_t>> entries;
      for (const EntryAt at : question.entries) {
        entries.insert({at.recorder, at.entry});
      }
      const bool is_part = std::any_of(asked.begin(), asked.end(), [&](const auto& before) {
        return std::includes(before.begin(), before.end(), entries.begin(), entries.end());
      });
      if (question.doubt == RunDoubt::one_run_fewer) {
        fewer.push_back(player(question.entries.front()));
      } else if (!is_part) {
        asked.insert(entries);
        ++open_;
        ask_one(question);
      }
    }
    if (!fewer.empty()) {
      ++open_;
      problems_.push_back({.severity = text::Severity::suspicion,
                           .code = "one-run-fewer",
                           .path = path({0, 0}),
                           .message = listed(fewer, "and") + (fewer.size() == 1 ? " has" : " have") +
                                      " fewer runs than most, who have " + std::to_string(found_.usual_runs),
                           .hint = "was one missed by all, or typed under another number?"});
    }
  }

  void ask_one(const RunQuestion& question) {
    const EntryAt at = question.entries.front();
    const EntryAt other = question.entries.back();
    switch (question.doubt) {
      case RunDoubt::which_bib: {
        EntryAt second = other;  // the first that says otherwise
        for (const EntryAt one : question.entries) {
          second = player(second) == player(at) ? one : second;
        }
        suspect(second, "which-bib",
                player(second) + "'s " + time(second) + " here and " + player(at) + "'s " + time(at) + " at " +
                    place(at) + " look like one run: was it " + player(second) + " or " + player(at) + "?",
                to_give(second, player(at)) + "; or " + to_give(at, player(second)));
        hold(question.entries, "open: " + player(at) + " or " + player(second));
        return;
      }
      case RunDoubt::same_run: {
        std::vector<std::string> rivals;
        for (std::size_t k = 1; k < question.entries.size(); ++k) {
          rivals.push_back("that of " + place(question.entries[k]) + " (" + player(question.entries[k]) + ", " +
                           time(question.entries[k]) + ", " + whole_percent(question.chances[k - 1]) + ")");
        }
        suspect(at, "same-run",
                "the run of " + player(at) + " here, " + time(at) + ", may be " + listed(rivals, "or") +
                    ", or one of its own",
                "who saw it knows: merge again with the answer same " + place(at) + "," + place(question.entries[1]) +
                    ", or alone " + place(at) + "; else these runs stay out");
        hold(question.entries, "open: one run or two");
        return;
      }
      case RunDoubt::out_of_order:
        suspect(at, "out-of-order",
                player(at) + "'s " + time(at) + " here stands in no other log, nor does " + player(at) + "'s " +
                    time(other) + " at " + place(other) + ": one run, typed late?",
                "if so, merge again with the answer same " + place(at) + "," + place(other) + "; if not, alone " +
                    place(at));
        hold(question.entries, "open: one run or two");
        return;
      case RunDoubt::side_by_side:
        suspect(other, "side-by-side",
                player(other) + "'s " + time(other) + " here and " + player(at) + "'s " + time(at) + " at " +
                    place(at) +
                    " stand at the same place in the order, each in one log only: one run with a wrong number?",
                "if so, " + to_give(other, player(at)) + "; or " + to_give(at, player(other)));
        hold(question.entries, "open: " + player(at) + " or " + player(other));
        return;
      case RunDoubt::one_run_more:
        suspect(at, "one-run-more",
                player(at) + " has more runs than most, who have " + std::to_string(found_.usual_runs) +
                    ", and this one, " + time(at) + ", stands in no other log: was it another child's?",
                "if so, " + to_give(at, "NUMBER"));
        return;
      case RunDoubt::one_run_fewer:
        return;
    }
  }

  // Open runs stay out of official times and standings.
  void hold(const std::vector<EntryAt>& entries, const std::string& why) {
    for (const auto& one : found_.runs) {
      const bool is_asked = std::any_of(one.begin(), one.end(), [&](EntryAt at) {
        return std::find(entries.begin(), entries.end(), at) != entries.end();
      });
      for (std::size_t k = 0; is_asked && k < one.size(); ++k) {
        RunLog& own = log(one[k]);
        const Run& held = run(one[k]);
        for (std::size_t r = held.first_reading; r < held.first_reading + held.reading_count; ++r) {
          Reading& reading = own.readings[r];
          reading.flag = reading.flag == runs::Flag::none ? runs::Flag::void_run : reading.flag;
          const std::string old = own.name(reading.note);
          if (old.find(why) == std::string::npos) {
            own.names.push_back(old.empty() ? why : old + "; " + why);
            reading.note = static_cast<runs::NameId>(own.names.size() - 1);
          }
        }
      }
    }
  }

  void number_trials() {
    std::map<std::string, std::uint16_t> last;
    for (const auto& one : found_.runs) {
      const std::uint32_t bib = bib_of_run(entries_, one);
      const auto named =
          std::find_if(one.begin(), one.end(), [&](EntryAt at) { return entries_[at.recorder][at.entry].bib == bib; });
      const std::string who = player(*named);
      const std::uint16_t trial = ++last[who];
      for (const EntryAt at : one) {
        run(at).trial = trial;
        if (player(at) != who) {
          log(at).names.push_back(who);
          run(at).player = static_cast<runs::NameId>(log(at).names.size() - 1);
        }
      }
    }
  }

  std::span<const runs::LogText> files_;
  std::span<RunLog> logs_;
  const MergeAnswers& answers_;
  text::Problems& problems_;
  std::set<std::string> known_;                    // places of answers that were found
  std::vector<std::pair<EntryAt, EntryAt>> same_;  // of the group at hand
  std::vector<EntryAt> alone_;
  const std::vector<std::vector<Item>>* items_ = nullptr;  // of the group at hand, by recorder
  const std::vector<TypedRows>* typed_ = nullptr;
  std::vector<std::vector<WatchEntry>> entries_;
  SameRuns found_;
  std::size_t open_ = 0;
};

}  // namespace

std::string key_of(const RunLog& log, const Run& run, const Reading& reading) {
  std::string key = runs::format_date(run.date);
  for (const std::string& part :
       {log.name(run.place), log.name(run.player), log.courses[run.course].name, std::to_string(run.trial),
        log.name(run.team), std::to_string(run.leg), log.name(reading.timer)}) {
    key += '\n' + part;
  }
  return key;
}

std::size_t align_logs(std::span<const runs::LogText> files, std::span<RunLog> logs, const MergeAnswers& answers,
                       text::Problems& problems) {
  return AligningLogs(files, logs, answers, problems).align();
}

}  // namespace bagsplit::record::detail
