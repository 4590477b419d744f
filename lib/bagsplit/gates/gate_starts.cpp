#include <algorithm>
#include <cmath>

#include "bagsplit/gates/gate_runs.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/runs/words.hpp"

namespace bagsplit::gates::detail {

namespace {

class Naming {
 public:
  Naming(std::vector<GateRun>& found, const GateLog& log, const StartList& starts, const GateRules& rules,
         GateCounts& counts, text::Problems& problems)
      : found_(found), log_(log), list_(starts), rules_(rules), counts_(counts), problems_(problems) {}

  void run() {
    for (const StartEntry& entry : list_.entries) {
      if (entry.flag != runs::Flag::absent) {
        waiting_.push_back(&entry);
      }
    }
    kept_.assign(found_.size(), false);
    std::size_t entry = 0;
    std::size_t start = 0;
    for (std::size_t k = 0; k < waiting_.size(); ++k) {
      if (!waiting_[k]->time_ns) {
        continue;
      }
      if (const auto pinned = start_near(*waiting_[k]->time_ns, start)) {
        between(entry, k, start, *pinned);
        give(*waiting_[k], *pinned);
        entry = k + 1;
        start = *pinned + 1;
      } else {
        between(entry, k, start, start);
        missing(*waiting_[k],
                "no start within " + runs::format_number(rules_.start_tolerance_s) + " s of the time given");
        entry = k + 1;
      }
    }
    between(entry, waiting_.size(), start, found_.size());
    std::vector<GateRun> named;
    for (std::size_t k = 0; k < found_.size(); ++k) {
      if (kept_[k]) {
        named.push_back(std::move(found_[k]));
      }
    }
    for (const StartEntry& away : list_.entries) {
      if (away.flag == runs::Flag::absent) {
        GateRun& none = named.emplace_back();
        none.player = away.player;
        none.trial = away.trial;
        none.flag = away.flag;
        none.note = away.note;
      }
    }
    found_ = std::move(named);
  }

 private:
  std::optional<std::size_t> start_near(std::int64_t time_ns, std::size_t from) const {
    std::optional<std::size_t> best;
    auto nearest = static_cast<std::int64_t>(rules_.start_tolerance_s * 1e9) + 1;
    for (std::size_t k = from; k < found_.size(); ++k) {
      const std::int64_t apart = std::abs(found_[k].start_ns - time_ns);
      if (apart < nearest || (apart == nearest && best && !found_[*best].met_gate)) {
        best = k;
        nearest = apart;
      }
    }
    return best;
  }

  // Lines of the list against starts, both between two anchors.
  void between(std::size_t entry, std::size_t entries_end, std::size_t start, std::size_t starts_end) {
    const std::size_t lines = entries_end - entry;
    std::vector<std::size_t> all;
    std::vector<std::size_t> real;
    for (std::size_t k = start; k < starts_end; ++k) {
      all.push_back(k);
      if (found_[k].met_gate) {
        real.push_back(k);
      }
    }
    if (all.size() != lines && real.size() == lines) {
      for (const std::size_t k : all) {
        if (!found_[k].met_gate) {
          ++counts_.strays;
          report(log_.path, found_[k].start_line, "stray-passage",
                 "a break of the start gate that no other gate follows", "left out: the start list has no line for it");
        }
      }
      all = real;
    }
    if (all.size() == lines) {
      for (std::size_t k = 0; k < lines; ++k) {
        give(*waiting_[entry + k], all[k]);
      }
      return;
    }
    const std::size_t line = lines > 0 ? waiting_[entry]->line : entry > 0 ? waiting_[entry - 1]->line : 0;
    report(list_.path, line, "start-list-mismatch",
           std::to_string(lines) + (lines == 1 ? " player" : " players") + " on the start list, " +
               std::to_string(all.size()) + (all.size() == 1 ? " start" : " starts") +
               " at the gate: who ran when cannot be told",
           "flagged void; mark who did not run as absent, or give the column 'time'");
    const std::size_t common = std::min(lines, all.size());
    for (std::size_t k = 0; k < common; ++k) {
      GateRun& run = found_[all[k]];
      run.in_doubt = true;
      run.note += (run.note.empty() ? "" : "; ") + std::string("start list does not fit: player not sure");
      give(*waiting_[entry + k], all[k]);
    }
    for (std::size_t k = common; k < all.size(); ++k) {
      ++counts_.not_written;
      report(log_.path, found_[all[k]].start_line, "start-list-mismatch", "the start list has no player for this start",
             "left out");
    }
    for (std::size_t k = common; k < lines; ++k) {
      missing(*waiting_[entry + k], "no start at the gate is left for this player");
    }
  }

  void give(const StartEntry& entry, std::size_t at) {
    GateRun& run = found_[at];
    run.player = entry.player;
    run.trial = entry.trial;
    run.flag = entry.flag;
    const bool listed = entry.flag != runs::Flag::none;
    if (!run.met_gate) {
      report(log_.path, run.start_line, "start-without-passage",
             "the run of player " + entry.player + " starts here and breaks no other gate",
             "written without times, flagged " +
                 std::string(runs::word_of(listed ? entry.flag : runs::Flag::void_run)) +
                 (listed ? " as the start list has it" : ""));
      run.in_doubt = run.in_doubt || !listed;
      run.note += (run.note.empty() ? "" : "; ") + std::string("no break after the start");
    }
    run.note = entry.note.empty() ? run.note : entry.note + (run.note.empty() ? "" : "; " + run.note);
    kept_[at] = true;
  }

  void missing(const StartEntry& entry, const std::string& message) {
    ++counts_.no_start;
    report(list_.path, entry.line, "start-list-mismatch", "player " + entry.player + ": " + message, {});
  }

  void report(const std::string& path, std::size_t line, std::string code, std::string message, std::string hint) {
    problems_.push_back({.severity = text::Severity::suspicion,
                         .code = std::move(code),
                         .path = path,
                         .line = line,
                         .message = std::move(message),
                         .hint = std::move(hint)});
  }

  std::vector<GateRun>& found_;
  const GateLog& log_;
  const StartList& list_;
  const GateRules& rules_;
  GateCounts& counts_;
  text::Problems& problems_;
  std::vector<const StartEntry*> waiting_;
  std::vector<bool> kept_;
};

}  // namespace

void name_runners(std::vector<GateRun>& found, const GateLog& log, const StartList& starts, const GateRules& rules,
                  GateCounts& counts, text::Problems& problems) {
  Naming(found, log, starts, rules, counts, problems).run();
}

}  // namespace bagsplit::gates::detail
