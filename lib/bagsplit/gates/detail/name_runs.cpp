#include "bagsplit/gates/detail/name_runs.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>

#include "bagsplit/gates/detail/line_chances.hpp"
#include "bagsplit/runs/words.hpp"
#include "bagsplit/stats/quantile.hpp"
#include "bagsplit/text/text.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::gates::detail {

namespace {

// An exchange of neighbours likelier than this is a doubt of its own; two runs short, another.
constexpr double likely_exchange = 0.2;

class Naming {
 public:
  Naming(GateRuns& out, const Chains& chains, std::span<const LoneStart> lone, const GateLog& log,
         const StartList& starts, const GateRules& rules, std::int64_t origin_ns, text::Problems& problems)
      : out_(out),
        chains_(chains),
        lone_(lone),
        log_(log),
        list_(starts),
        rules_(rules),
        origin_ns_(origin_ns),
        problems_(problems) {}

  void run() {
    gather_lines();
    set_up();
    chances_ = line_chances(problem_);
    doubt_list();
    taken_.assign(list_.entries.size(), false);
    named_.assign(slots(), false);
    kept_.assign(slots(), false);
    name_all();
    tell_missing_runs();
    ask_one();
    drop_nobody();
    add_unseen();
  }

 private:
  using Entry = const StartEntry*;
  struct Lines {
    std::string player;
    std::vector<std::size_t> entries;  // of the list, in order
  };

  std::size_t slots() const { return chains_.runs.size(); }

  // A line whose run may well have ended before the next gate.
  static bool is_try(const StartEntry& entry) {
    return entry.flag == runs::Flag::false_start || entry.flag == runs::Flag::void_run;
  }

  void gather_lines() {
    for (std::size_t k = 0; k < list_.entries.size(); ++k) {
      if (list_.entries[k].flag != runs::Flag::absent && !is_try(list_.entries[k])) {
        lines_.push_back(k);
      }
    }
  }

  std::optional<ListLine> line_of(std::size_t entry) const {
    const auto& time_ns = list_.entries[entry].time_ns;
    return ListLine{time_ns ? std::optional(static_cast<double>(*time_ns - origin_ns_) / 1e9) : std::nullopt};
  }

  // Two rounds in one order, a child twice in succession, or each line by itself.
  void set_up() {
    std::map<std::string, std::size_t> seen;
    std::size_t second = lines_.size();
    for (std::size_t k = 0; k < lines_.size() && second == lines_.size(); ++k) {
      second = seen.try_emplace(list_.entries[lines_[k]].player, k).second ? second : k;
    }
    if (second == lines_.size() || !two_rounds(second)) {
      in_succession();
    }
    for (std::size_t k = 0, last = 0; k < list_.entries.size(); ++k) {  // tries belong behind the line before them
      for (std::size_t c = 0; c < children_.size(); ++c) {
        last = children_[c].entries.front() == k ? c : last;
      }
      if (is_try(list_.entries[k]) && !problem_.children.empty()) {
        problem_.children[last].try_after = true;
      }
    }
    expect_levels();
    for (const Chain& run : chains_.runs) {
      problem_.slots.push_back({run.level, run.level_variance, run.exists, run.start_s, run.clock});
    }
    problem_.hints = chains_.hints;
    problem_.everybody_ran = list_.everybody_ran;
    if (!log_.passages.empty()) {
      problem_.span_s =
          std::max(60.0, static_cast<double>(log_.passages.back().time_ns - log_.passages.front().time_ns) / 1e9);
    }
    take_answers();
  }

  void doubt_list() {
    if (chances_.fits && chances_.mean_log_odds < 0.0) {
      problems_.push_back({.code = "other-list",
                           .path = list_.path,
                           .message = "the times go with this list's children worse than with anybody's",
                           .expected = "the list of those who ran, in the order they started",
                           .hint = "is it another group's list, or another evening's?"});
    }
  }

  // What is known of the children, over the middle of those of this list.
  void expect_levels() {
    std::vector<double> known;
    for (std::size_t c = 0; c < children_.size(); ++c) {
      for (const ExpectedLevel& one : rules_.expected) {
        if (one.player == children_[c].player) {
          problem_.children[c].level = one.log_time;
          problem_.children[c].level_sd = one.sd;
          known.push_back(one.log_time);
          break;
        }
      }
    }
    const double middle = stats::median(known).value_or(0.0);
    for (ListChild& child : problem_.children) {
      child.level -= child.level_sd ? middle : 0.0;
    }
  }

  const std::string& player(std::size_t line) const { return list_.entries[lines_[line]].player; }

  bool two_rounds(std::size_t second) {
    std::vector<std::optional<std::size_t>> again(second);
    std::size_t at = 0;
    for (std::size_t k = second; k < lines_.size(); ++k) {
      while (at < second && player(at) != player(k)) {
        ++at;
      }
      if (at == second) {
        return false;
      }
      again[at++] = k;
    }
    if (second < 2 || lines_.size() - second < 2) {
      return false;
    }
    problem_.order = ListOrder::rounds;
    for (std::size_t k = 0; k < second; ++k) {
      children_.push_back({player(k), {lines_[k]}});
      problem_.children.push_back({line_of(lines_[k]), std::nullopt, false});
      if (again[k]) {
        children_.back().entries.push_back(lines_[*again[k]]);
        problem_.children.back().second = line_of(lines_[*again[k]]);
      }
    }
    return true;
  }

  void in_succession() {
    std::map<std::string, int> blocks;
    for (std::size_t k = 0; k < lines_.size(); ++k) {
      const bool goes_on = k > 0 && player(k) == player(k - 1) && children_.back().entries.size() < 2;
      if (goes_on) {
        children_.back().entries.push_back(lines_[k]);
        problem_.children.back().second = line_of(lines_[k]);
      } else {
        ++blocks[player(k)];
        children_.push_back({player(k), {lines_[k]}});
        problem_.children.push_back({line_of(lines_[k]), std::nullopt, false});
      }
    }
    if (std::any_of(blocks.begin(), blocks.end(), [](const auto& one) { return one.second > 1; })) {
      problems_.push_back({.severity = text::Severity::note,
                           .code = "order-not-used",
                           .path = list_.path,
                           .message = "the list is neither one round, nor two in the same order, nor each child's runs "
                                      "in succession: each line is placed by itself",
                           .hint = "start times would help"});
    }
  }

  void take_answers() {
    for (std::size_t c = 0; c < children_.size(); ++c) {
      for (const std::size_t entry : children_[c].entries) {
        if (list_.entries[entry].start_line > 0) {
          answer(list_.entries[entry].start_line, static_cast<std::ptrdiff_t>(c), list_.entries[entry].line);
        }
      }
    }
    for (const std::size_t line : list_.nobody) {
      answer(line, -1, 0);
    }
  }

  void answer(std::size_t start_line, std::ptrdiff_t child, std::size_t line) {
    const auto run = std::find_if(out_.runs.begin(), out_.runs.end(),
                                  [&](const GateRun& one) { return one.first_line == start_line; });
    if (run != out_.runs.end()) {
      problem_.answers.emplace_back(static_cast<std::size_t>(run - out_.runs.begin()), child);
      return;
    }
    problems_.push_back({.code = "unknown-answer",
                         .path = list_.path,
                         .line = line,
                         .message = "no run starts on line " + std::to_string(start_line) + " of the gate log",
                         .expected = "a line that was asked about"});
  }

  double nobody(std::size_t slot) const {
    double sum = 0.0;
    for (std::size_t c = 0; c < children_.size(); ++c) {
      sum += chances_.at(slot, c);
    }
    return std::max(0.0, 1.0 - sum);
  }

  // P by player: one whose lines stand apart has several.
  std::vector<std::pair<double, std::size_t>> rivals(std::size_t slot) const {
    std::map<std::string, std::pair<double, std::size_t>> by_player;
    for (std::size_t c = 0; c < children_.size(); ++c) {
      auto& one = by_player.try_emplace(children_[c].player, 0.0, c).first->second;
      one.second = chances_.at(slot, c) > chances_.at(slot, one.second) ? c : one.second;
      one.first += chances_.at(slot, c);
    }
    std::vector<std::pair<double, std::size_t>> out;
    for (const auto& [player, one] : by_player) {
      out.push_back(one);
    }
    std::stable_sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.first > b.first; });
    return out;
  }

  // Where absences and an exchange of neighbours meet, runs are named only where start times or answers pin both ends
  // and the runs between are as many as the lines.
  std::vector<bool> pinned() const {
    std::vector<bool> out(slots(), true);
    const bool is_short = !list_.everybody_ran && slots() + 2 <= lines_.size();
    if (!is_short || chances_.swapped < likely_exchange) {
      return out;
    }
    std::fill(out.begin(), out.end(), false);
    std::optional<std::pair<std::size_t, std::size_t>> before;  // slot, line
    for (std::size_t j = 0; j < slots(); ++j) {
      const std::optional<std::size_t> line = pin(j);
      if (!line) {
        continue;
      }
      if (before && *line > before->second && j - before->first == *line - before->second) {
        std::fill(out.begin() + static_cast<std::ptrdiff_t>(before->first),
                  out.begin() + static_cast<std::ptrdiff_t>(j), true);
      }
      out[j] = true;
      before = std::pair(j, *line);
    }
    return out;
  }

  // The line that a start time or an answer gives a run.
  std::optional<std::size_t> pin(std::size_t slot) const {
    for (const auto& [answered, child] : problem_.answers) {
      if (answered == slot && child >= 0 && children_[static_cast<std::size_t>(child)].entries.size() == 1) {
        const std::size_t entry = children_[static_cast<std::size_t>(child)].entries.front();
        return static_cast<std::size_t>(std::find(lines_.begin(), lines_.end(), entry) - lines_.begin());
      }
    }
    for (std::size_t k = 0; k < lines_.size(); ++k) {
      const auto line = line_of(lines_[k]);
      if (line->start_s && std::fabs(*line->start_s - problem_.slots[slot].start_s) <= rules_.start_tolerance_s) {
        return k;
      }
    }
    return std::nullopt;
  }

  void name_all() {
    const double limit = list_.everybody_ran ? rules_.name_limit_told : rules_.name_limit;
    const std::vector<bool> may = pinned();
    for (std::size_t j = 0; j < slots(); ++j) {
      GateRun& run = out_.runs[j];
      const auto who = rivals(j);
      if (who.empty() || nobody(j) > who.front().first) {
        ++out_.counts.not_written;
        report(log_.path, run.first_line, "start-list-mismatch",
               "the start list has no player for the run seen here (" + whole_percent(nobody(j)) + ")", "left out");
        continue;
      }
      kept_[j] = true;
      named_[j] = may[j] && who.front().first >= limit;
      const Lines& child = children_[who.front().second];
      run.player = child.player;
      if (!named_[j]) {
        run.in_doubt = true;
        std::string names = child.player + " (" + whole_percent(who.front().first) + ")";
        if (who.size() > 1 && who[1].first >= 0.005) {
          names += " or " + children_[who[1].second].player + " (" + whole_percent(who[1].first) + ")";
        }
        note(run, "player not sure: " + names);
      }
      give_line(run, child, who.front().second, j);
      if (!run.met_gate) {
        run.in_doubt = run.in_doubt || run.flag == runs::Flag::none;
        note(run, run.start_line > 0 ? "no time that is surely its own" : "no times");
      }
    }
  }

  // Trial, flag and note of the child's line: the first not taken, or the second round's.
  void give_line(GateRun& run, const Lines& child, std::size_t number, std::size_t slot) {
    std::size_t best = child.entries.front();
    bool found = false;
    for (std::size_t c = 0; c < children_.size(); ++c) {
      for (const std::size_t entry :
           c == number || children_[c].player == child.player ? children_[c].entries : std::vector<std::size_t>{}) {
        const bool is_later = problem_.order == ListOrder::rounds && child.entries.size() == 2 && slot >= slots() / 2 &&
                              entry == child.entries.front();
        if (!found && !taken_[entry] && !is_later) {
          best = entry;
          found = true;
        }
      }
    }
    taken_[best] = true;
    const StartEntry& entry = list_.entries[best];
    run.trial = entry.trial;
    run.flag = entry.flag;
    run.note = entry.note.empty() ? run.note : entry.note + (run.note.empty() ? "" : "; " + run.note);
  }

  void tell_missing_runs() {
    std::size_t named = 0;
    for (const bool one : named_) {
      named += one ? 1U : 0U;
    }
    for (std::size_t c = 0; c < children_.size(); ++c) {
      double expected = 0.0;
      for (std::size_t j = 0; j < slots(); ++j) {
        expected += chances_.at(j, c);
      }
      const double missing = static_cast<double>(children_[c].entries.size()) - expected;
      if (missing > 0.5) {
        ++out_.counts.no_start;
        report(list_.path, list_.entries[children_[c].entries.back()].line, "no-run",
               children_[c].player + " seems to have no run" +
                   (children_[c].entries.size() > 1 ? " in one of the places on the list" : "") + " (" +
                   whole_percent(std::min(1.0, missing)) + ")",
               "absent? Mark it on the list");
      }
    }
    if (slots() != lines_.size() || named < slots()) {
      report(list_.path, 0, "start-list-mismatch",
             text::counted(lines_.size(), "line") + " on the start list, " + text::counted(slots(), "run") + " seen, " +
                 std::to_string(named) + " named",
             named == slots() ? ""
                              : "mark who was absent, write '# everybody-ran: yes' above the list if all the others "
                                "ran, or give start times");
    }
  }

  // The run whose answer would settle most.
  void ask_one() {
    std::optional<std::size_t> most;
    double most_open = 0.0;
    std::size_t waiting = 0;
    for (std::size_t j = 0; j < slots(); ++j) {
      const bool is_out = std::count(list_.unknown.begin(), list_.unknown.end(), out_.runs[j].first_line) > 0;
      if (named_[j] || is_out) {
        continue;
      }
      ++waiting;
      double open = -nobody(j) * std::log(nobody(j) + 1e-12);
      for (std::size_t c = 0; c < children_.size(); ++c) {
        open -= chances_.at(j, c) * std::log(chances_.at(j, c) + 1e-12);
      }
      if (!most || open > most_open) {
        most = j;
        most_open = open;
      }
    }
    if (!most || children_.empty()) {
      return;
    }
    std::string names;
    const auto who = rivals(*most);
    for (std::size_t k = 0; k < std::min<std::size_t>(who.size(), 3) && who[k].first >= 0.005; ++k) {
      names += (k == 0 ? "" : " or ") + children_[who[k].second].player + " (" + whole_percent(who[k].first) + ")";
    }
    const std::size_t line = out_.runs[*most].first_line;
    report(log_.path, line, "who-ran",
           "who ran here? " + (names.empty() ? std::string("nobody of the list fits well") : names) +
               (waiting > 1 ? "; " + std::to_string(waiting - 1) + " more wait for this answer" : ""),
           "on that player's line of the start list write 'line " + std::to_string(line) +
               "' as the time; or above its header '# nobody: " + std::to_string(line) +
               "', or '# unknown: " + std::to_string(line) + "'");
  }

  void drop_nobody() {
    std::vector<GateRun> kept;
    for (std::size_t j = 0; j < slots(); ++j) {
      if (kept_[j]) {
        kept.push_back(std::move(out_.runs[j]));
      }
    }
    out_.runs = std::move(kept);
  }

  // Lines that no gate saw run: absent ones, and false starts, with the lone break of the start they stand at.
  void add_unseen() {
    std::vector<bool> used(lone_.size(), false);
    for (const StartEntry& entry : list_.entries) {
      if (entry.flag != runs::Flag::absent && !is_try(entry)) {
        continue;
      }
      GateRun none;
      none.player = entry.player;
      none.trial = entry.trial;
      none.flag = entry.flag;
      none.note = entry.note;
      if (is_try(entry)) {
        for (std::size_t k = 0; k < lone_.size() && none.start_line == 0; ++k) {
          if (!used[k] && stands_here(entry, lone_[k])) {
            used[k] = true;
            none.start_ns = lone_[k].time_ns;
            none.start_line = none.first_line = lone_[k].line;
            note(none, "no break after the start");
            std::erase_if(problems_, [&](const text::Problem& problem) {
              return problem.code == "stray-passage" && problem.line == lone_[k].line;
            });
            --out_.counts.strays;
            report(log_.path, none.start_line, "start-without-passage",
                   "the run of player " + entry.player + " starts here and breaks no other gate",
                   "written without times, flagged " + std::string(runs::word_of(entry.flag)) +
                       " as the start list has it");
          }
        }
        const auto after = std::find_if(out_.runs.begin(), out_.runs.end(), [&](const GateRun& run) {
          return none.start_line > 0 && run.start_line > none.start_line;
        });
        out_.runs.insert(after, std::move(none));
      } else {
        out_.runs.push_back(std::move(none));
      }
    }
  }

  // Between the runs of the lines before and after it.
  bool stands_here(const StartEntry& entry, const LoneStart& lone) const {
    const auto at = static_cast<std::size_t>(&entry - list_.entries.data());
    const auto start_of = [&](std::size_t k) -> std::optional<std::size_t> {
      for (const GateRun& run : out_.runs) {
        if (run.player == list_.entries[k].player && run.start_line > 0 && !run.in_doubt) {
          return run.start_line;
        }
      }
      return std::nullopt;
    };
    const auto before = at > 0 ? start_of(at - 1) : std::nullopt;
    const auto after = at + 1 < list_.entries.size() ? start_of(at + 1) : std::nullopt;
    return (!before || lone.line > *before) && (!after || lone.line < *after);
  }

  static void note(GateRun& run, const std::string& text) { run.note += (run.note.empty() ? "" : "; ") + text; }

  void report(const std::string& path, std::size_t line, std::string code, std::string message, std::string hint) {
    problems_.push_back({.severity = text::Severity::suspicion,
                         .code = std::move(code),
                         .path = path,
                         .line = line,
                         .message = std::move(message),
                         .hint = std::move(hint)});
  }

  GateRuns& out_;
  const Chains& chains_;
  std::span<const LoneStart> lone_;
  const GateLog& log_;
  const StartList& list_;
  const GateRules& rules_;
  std::int64_t origin_ns_;
  text::Problems& problems_;
  std::vector<std::size_t> lines_;  // of the list, that may have a run
  std::vector<Lines> children_;     // as in problem_.children
  ListProblem problem_;
  LineChances chances_;
  std::vector<bool> taken_, named_, kept_;
};

}  // namespace

std::string whole_percent(double chance) {
  return std::to_string(static_cast<int>(std::lround(100.0 * chance))) + " %";
}

void name_runs(GateRuns& out, const Chains& chains, std::span<const LoneStart> lone, const GateLog& log,
               const StartList& starts, const GateRules& rules, std::int64_t origin_ns, text::Problems& problems) {
  Naming(out, chains, lone, log, starts, rules, origin_ns, problems).run();
}

}  // namespace bagsplit::gates::detail
