#include "bagsplit/gates/gate_runs.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include "bagsplit/gates/detail/gate_table.hpp"
#include "bagsplit/motion/curve.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::gates {

namespace {

using detail::seconds_text;

double seconds(std::int64_t ns) {
  return static_cast<double>(ns) / 1e9;
}

// One or more breaks of a gate that may be one body.
struct Event {
  std::size_t gate = 0;  // of its first passage, into the log
  std::vector<const GatePassage*> breaks;
};

struct Runner {
  GateRun run;
  std::ptrdiff_t pos = -1;     // place passed last; -1: the start
  std::int64_t last_ns = 0;    // when, on the clock
  double own_log_ratio = 0.0;  // sum over stretches of log(time / expected)
  std::size_t stretches = 0;
  std::vector<std::size_t> line_at;  // of the passage taken, by place; 0: none
  bool active = true;
  std::size_t clock = 0;
};

struct Candidate {
  std::size_t runner = 0;
  std::size_t place = 0;
  double cost = 0.0;  // |log(time / expected)|, and more for beams skipped
  double elapsed_s = 0.0;
};

using Stretch = std::pair<std::ptrdiff_t, std::ptrdiff_t>;

class Sorter {
 public:
  Sorter(const GateLog& log, const GateMap& map, const GateRules& rules) : log_(log), map_(map), rules_(rules) {}

  // Medians of stretches run alone; nothing is reported.
  void learn() {
    learning_ = true;
    run_through();
    std::vector<double> ratios;
    for (auto& [stretch, times] : alone_) {
      std::sort(times.begin(), times.end());
      const double median = times[times.size() / 2];
      ratios.push_back(median / common_s(stretch.first, stretch.second));
      if (times.size() >= 3) {
        usual_[stretch] = median;
      }
    }
    if (!ratios.empty()) {
      std::sort(ratios.begin(), ratios.end());
      pace_ = ratios[ratios.size() / 2];
    }
    learning_ = false;
    runners_.clear();
    first_active_ = 0;
    unknown_.clear();
    counts_ = {};
  }

  void sort(text::Problems& problems) {
    problems_ = &problems;
    run_through();
  }

  std::vector<GateRun> take() {
    std::vector<GateRun> out;
    for (Runner& runner : runners_) {
      out.push_back(std::move(runner.run));
    }
    return out;
  }
  const GateCounts& counts() const { return counts_; }

 private:
  void run_through() {
    std::size_t begin = 0;
    while (begin < log_.passages.size()) {
      std::size_t end = begin;
      while (end < log_.passages.size() && log_.passages[end].clock == log_.passages[begin].clock) {
        ++end;
      }
      for (const Event& event : events(begin, end)) {
        retire(event.breaks.front()->time_ns);
        handle(event);
      }
      end_of_clock(end < log_.passages.size());
      begin = end;
    }
  }

  std::vector<Event> events(std::size_t begin, std::size_t end) const {
    std::vector<Event> out;
    std::map<std::string_view, std::size_t> open;
    const auto one_body_ns = static_cast<std::int64_t>(rules_.one_body_s * 1e9);
    for (std::size_t k = begin; k < end; ++k) {
      const GatePassage& passage = log_.passages[k];
      const auto at = open.find(passage.gate);
      if (at != open.end() && passage.time_ns - out[at->second].breaks.back()->time_ns <= one_body_ns) {
        out[at->second].breaks.push_back(&passage);
      } else {
        open[passage.gate] = out.size();
        out.push_back({k, {&passage}});
      }
    }
    return out;
  }

  double at_m(std::ptrdiff_t place) const {
    return place < 0 ? 0.0 : map_.places[static_cast<std::size_t>(place)].distance_m;
  }

  // Of a common sprint: 6.5 m/s, time constant 1.1 s; a quarter of a second of reaction where the clock starts at the
  // call.
  double common_s(std::ptrdiff_t from, std::ptrdiff_t to) const {
    const double before = map_.start == runs::StartKind::beam ? map_.beam_distance_m : 0.0;
    const motion::Sprint common{6.5, 1.1};
    return motion::time_to_distance(common, at_m(to) + before) - motion::time_to_distance(common, at_m(from) + before) +
           (from < 0 && map_.start == runs::StartKind::signal ? 0.25 : 0.0);
  }

  double expected_s(const Runner& runner, std::ptrdiff_t to) const {
    const auto usual = usual_.find({runner.pos, to});
    const double plain = usual != usual_.end() ? usual->second : pace_ * common_s(runner.pos, to);
    const double own = runner.stretches == 0 ? 0.0 : 0.7 * runner.own_log_ratio / static_cast<double>(runner.stretches);
    return plain * std::exp(own);
  }

  bool can_be(std::ptrdiff_t from, std::ptrdiff_t to, double elapsed_s) const {
    const double metres = at_m(to) - at_m(from);
    if (elapsed_s <= 0.0 || metres / elapsed_s > rules_.fastest_mps) {
      return false;
    }
    if (from < 0 && map_.start != runs::StartKind::beam &&
        elapsed_s < motion::time_to_distance({rules_.fastest_mps, rules_.fastest_time_constant_s}, metres) - 1e-9) {
      return false;
    }
    return elapsed_s <= slowest_s(metres);
  }

  double slowest_s(double metres) const { return metres / rules_.slowest_mps + 1.0; }

  std::optional<Candidate> candidate(std::size_t index, const std::string& gate, std::int64_t time_ns) const {
    const Runner& runner = runners_[index];
    for (auto place = static_cast<std::size_t>(runner.pos + 1); place < map_.places.size(); ++place) {
      if (map_.places[place].gate != gate) {
        continue;
      }
      const double elapsed = seconds(time_ns - runner.last_ns);
      const auto to = static_cast<std::ptrdiff_t>(place);
      if (!can_be(runner.pos, to, elapsed)) {
        continue;
      }
      const auto skipped = static_cast<double>(to - runner.pos - 1);
      const double cost = std::abs(std::log(elapsed / expected_s(runner, to))) + 0.15 * skipped;
      return Candidate{index, place, cost, elapsed};
    }
    return std::nullopt;
  }

  void handle(const Event& event) {
    const GatePassage& last = *event.breaks.back();
    counts_.passages += event.breaks.size();
    if (std::find(map_.not_used.begin(), map_.not_used.end(), last.gate) != map_.not_used.end()) {
      return;
    }
    std::vector<Candidate> fits;
    for (std::size_t k = first_active_; k < runners_.size(); ++k) {
      if (runners_[k].active) {
        if (const auto found = candidate(k, last.gate, last.time_ns);
            found && found->cost < std::log(rules_.fits_within)) {
          fits.push_back(*found);
        }
      }
    }
    std::stable_sort(fits.begin(), fits.end(), [](const Candidate& a, const Candidate& b) { return a.cost < b.cost; });
    if (fits.empty()) {
      last.gate == map_.start_gate ? begin_run(event) : stray(event);
      return;
    }
    std::vector<Candidate> rivals;
    for (const Candidate& one : fits) {
      // Two breaks where two runners can be may be one of each.
      if (event.breaks.size() > 1 || one.cost - fits.front().cost < std::log(rules_.clearly_better)) {
        rivals.push_back(one);
      }
    }
    if (rivals.size() > 1) {
      undecided(event, rivals);
      return;
    }
    take_break(event, fits.front());
    if (fits.size() == 1 && learning_) {
      alone_[{previous_pos_, static_cast<std::ptrdiff_t>(fits.front().place)}].push_back(fits.front().elapsed_s);
    }
  }

  void begin_run(const Event& event) {
    // A signal's switch bounces after it; at a beam the torso comes last.
    const GatePassage& start = map_.start == runs::StartKind::signal || map_.start == runs::StartKind::contact
                                   ? *event.breaks.front()
                                   : *event.breaks.back();
    Runner runner;
    runner.run.start_ns = start.time_ns;
    runner.run.start_line = start.line;
    runner.run.at_ns.resize(map_.places.size());
    runner.line_at.resize(map_.places.size());
    runner.last_ns = start.time_ns;
    runner.clock = start.clock;
    if (event.breaks.size() > 1) {
      twice(event, runner, "the start",
            start.line == event.breaks.front()->line ? "the first is taken" : "the last, the torso, is taken");
    }
    runners_.push_back(std::move(runner));
  }

  void take_break(const Event& event, const Candidate& found) {
    Runner& runner = runners_[found.runner];
    const GatePlace& place = map_.places[found.place];
    const GatePassage& taken = *event.breaks.back();
    for (auto missed = static_cast<std::size_t>(runner.pos + 1); missed < found.place; ++missed) {
      if (runner.line_at[missed] == 0) {
        ++counts_.missed_beams;
        note(runner, "no break at " + map_.places[missed].mark);
        report(taken.line, text::Severity::suspicion, "missed-beam",
               "the run of line " + std::to_string(runner.run.start_line) + " reached " + place.mark +
                   " without breaking gate " + map_.places[missed].gate + " at " + map_.places[missed].mark,
               "the time there is left empty");
      }
    }
    tell_overtaking(taken, runner, found);
    const double elapsed_s = seconds(taken.time_ns - runner.last_ns);
    runner.own_log_ratio += std::log(elapsed_s / expected_s(runner, static_cast<std::ptrdiff_t>(found.place)));
    ++runner.stretches;
    previous_pos_ = runner.pos;
    if (event.breaks.size() > 2) {
      note(runner, std::to_string(event.breaks.size()) + " breaks at " + place.mark + ", left out");
      report(taken.line, text::Severity::suspicion, "three-breaks",
             std::to_string(event.breaks.size()) + " breaks of gate " + place.gate + " within " +
                 seconds_text(taken.time_ns - event.breaks.front()->time_ns) + ": which is the torso cannot be told",
             "the time at " + place.mark + " is left empty");
    } else {
      runner.run.at_ns[found.place] = taken.time_ns - runner.run.start_ns;
      if (event.breaks.size() == 2) {
        twice(event, runner, place.mark, "the second, the torso, is taken");
      }
    }
    runner.run.met_gate = true;
    runner.line_at[found.place] = taken.line;
    runner.pos = static_cast<std::ptrdiff_t>(found.place);
    runner.last_ns = taken.time_ns;
    runner.active = found.place + 1 < map_.places.size();
  }

  void twice(const Event& event, Runner& runner, const std::string& where, const std::string& decision) {
    ++counts_.double_triggers;
    const std::string apart = seconds_text(event.breaks.back()->time_ns - event.breaks.front()->time_ns);
    note(runner, std::to_string(event.breaks.size()) + " breaks at " + where + " " + apart + " apart: " + decision);
    report(event.breaks.back()->line, text::Severity::note, "double-trigger",
           "gate " + event.breaks.back()->gate + " was broken " +
               (event.breaks.size() == 2 ? "twice" : std::to_string(event.breaks.size()) + " times") + " within " +
               apart + ": " + decision,
           {});
  }

  void tell_overtaking(const GatePassage& taken, Runner& runner, const Candidate& found) {
    for (std::size_t k = first_active_; k < found.runner; ++k) {
      Runner& other = runners_[k];
      const auto place = static_cast<std::ptrdiff_t>(found.place);
      if (other.active && other.pos < place && other.pos >= runner.pos &&
          can_be(other.pos, place, seconds(taken.time_ns - other.last_ns))) {
        ++counts_.overtakings;
        note(runner, "passed the one before at " + map_.places[found.place].mark);
        report(taken.line, text::Severity::note, "overtaking",
               "the run of line " + std::to_string(runner.run.start_line) + " is at " + map_.places[found.place].mark +
                   " before that of line " + std::to_string(other.run.start_line),
               {});
      }
    }
  }

  void undecided(const Event& event, const std::vector<Candidate>& rivals) {
    std::string who;
    for (const Candidate& one : rivals) {
      Runner& runner = runners_[one.runner];
      who += (who.empty() ? "" : " and ") + std::to_string(runner.run.start_line);
      doubt(runner, "a break at " + map_.places[one.place].mark + " may be another's");
    }
    report(event.breaks.back()->line, text::Severity::suspicion, "ambiguous-passage",
           "gate " + event.breaks.back()->gate + ": the runs of lines " + who +
               " are too close together to tell whose this is",
           "these runs are flagged void");
  }

  void stray(const Event& event) {
    const GatePassage& last = *event.breaks.back();
    counts_.strays += event.breaks.size();
    // It may as well have been the runner, and the break taken before a passer-by's.
    for (std::size_t k = 0; k < runners_.size(); ++k) {
      Runner& runner = runners_[k];
      const auto place = runner.pos;
      if (place < 0 || map_.places[static_cast<std::size_t>(place)].gate != last.gate ||
          last.time_ns - runner.last_ns > 5'000'000'000 || last.clock != runner.clock) {
        continue;
      }
      std::ptrdiff_t before = place - 1;
      while (before >= 0 && !runner.run.at_ns[static_cast<std::size_t>(before)]) {
        --before;
      }
      const std::int64_t from_ns =
          runner.run.start_ns + (before < 0 ? 0 : *runner.run.at_ns[static_cast<std::size_t>(before)]);
      const double late_s = seconds(last.time_ns - from_ns);
      const double taken_s = seconds(runner.last_ns - from_ns);
      const auto usual = usual_.find({before, place});
      const double usual_s = usual != usual_.end() ? usual->second : pace_ * common_s(before, place);
      const double worse = std::abs(std::log(late_s / usual_s)) - std::abs(std::log(taken_s / usual_s));
      if (can_be(before, place, late_s) && worse < std::log(rules_.clearly_better)) {
        doubt(runner, "two breaks at " + map_.places[static_cast<std::size_t>(place)].mark + " fit");
        report(last.line, text::Severity::suspicion, "ambiguous-passage",
               "gate " + last.gate + ": a break " + seconds_text(last.time_ns - runner.last_ns) +
                   " after one taken for the run of line " + std::to_string(runner.run.start_line) + " fits it as well",
               "the run is flagged void");
        return;
      }
    }
    const bool known =
        last.gate == map_.start_gate ||
        std::any_of(map_.places.begin(), map_.places.end(), [&](const GatePlace& p) { return p.gate == last.gate; });
    if (known) {
      report(last.line, text::Severity::suspicion, "stray-passage",
             "gate " + last.gate + ": nobody on the course can be here now",
             "left out; a passer-by, or a start that was missed");
    } else if (std::find(unknown_.begin(), unknown_.end(), last.gate) == unknown_.end()) {
      unknown_.push_back(last.gate);
      report(last.line, text::Severity::error, "unknown-gate",
             "the gate map has no gate '" + text::clipped(last.gate) + "'",
             "a line " + last.gate + ",MARK, or " + last.gate + ",- when it is not used");
    }
  }

  // Whoever can no longer reach the next place has left the course.
  void retire(std::int64_t now_ns) {
    for (std::size_t k = first_active_; k < runners_.size(); ++k) {
      Runner& runner = runners_[k];
      const double left_m = map_.places.back().distance_m - at_m(runner.pos);
      if (runner.active && seconds(now_ns - runner.last_ns) > slowest_s(left_m)) {
        leave(runner);
      }
    }
    while (first_active_ < runners_.size() && !runners_[first_active_].active) {
      ++first_active_;
    }
  }

  void leave(Runner& runner) {
    runner.active = false;
    if (runner.pos < 0) {
      return;  // told when the start list is gone through
    }
    for (auto missed = static_cast<std::size_t>(runner.pos + 1); missed < map_.places.size(); ++missed) {
      ++counts_.missed_beams;
      note(runner, "no break at " + map_.places[missed].mark);
      report(
          runner.run.start_line, text::Severity::suspicion, "missed-beam",
          "the run that starts here never breaks gate " + map_.places[missed].gate + " at " + map_.places[missed].mark,
          "the time there is left empty");
    }
  }

  void end_of_clock(bool steps) {
    for (std::size_t k = first_active_; k < runners_.size(); ++k) {
      if (runners_[k].active) {
        if (steps) {
          doubt(runners_[k], "the gates' clock was set back meanwhile");
          runners_[k].active = false;
        } else {
          leave(runners_[k]);
        }
      }
    }
    first_active_ = runners_.size();
  }

  void doubt(Runner& runner, const std::string& why) {
    runner.run.in_doubt = true;
    runner.run.met_gate = true;
    note(runner, why);
  }

  static void note(Runner& runner, const std::string& text) {
    if (runner.run.note.find(text) == std::string::npos) {
      runner.run.note += (runner.run.note.empty() ? "" : "; ") + text;
    }
  }

  void report(std::size_t line, text::Severity severity, std::string code, std::string message, std::string hint) {
    if (!learning_) {
      problems_->push_back({.severity = severity,
                            .code = std::move(code),
                            .path = log_.path,
                            .line = line,
                            .message = std::move(message),
                            .hint = std::move(hint)});
    }
  }

  const GateLog& log_;
  const GateMap& map_;
  const GateRules& rules_;
  text::Problems* problems_ = nullptr;
  std::vector<Runner> runners_;
  std::size_t first_active_ = 0;
  std::map<Stretch, std::vector<double>> alone_;
  std::map<Stretch, double> usual_;
  double pace_ = 1.0;
  std::ptrdiff_t previous_pos_ = -1;
  std::vector<std::string> unknown_;
  GateCounts counts_;
  bool learning_ = false;
};

}  // namespace

GateRuns sort_into_runs(const GateLog& log, const StartList& starts, const GateMap& map, const GateRules& rules,
                        text::Problems& problems) {
  GateRuns out;
  if (map.places.empty()) {
    return out;
  }
  Sorter sorter(log, map, rules);
  sorter.learn();
  text::Problems found;
  sorter.sort(found);
  out.counts = sorter.counts();
  out.runs = sorter.take();
  detail::name_runners(out.runs, log, starts, rules, out.counts, found);
  for (GateRun& run : out.runs) {
    if (run.in_doubt && run.flag == runs::Flag::none) {
      ++out.counts.in_doubt;
      run.flag = runs::Flag::void_run;
    }
  }
  out.counts.runs = out.runs.size();
  std::stable_sort(found.begin(), found.end(), [&](const text::Problem& a, const text::Problem& b) {
    return a.path != b.path ? a.path == log.path : a.line < b.line;
  });
  problems.insert(problems.end(), std::make_move_iterator(found.begin()), std::make_move_iterator(found.end()));
  return out;
}

}  // namespace bagsplit::gates
