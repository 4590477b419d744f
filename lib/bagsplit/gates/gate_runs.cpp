#include "bagsplit/gates/gate_runs.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <span>

#include "bagsplit/gates/detail/gate_chains.hpp"
#include "bagsplit/gates/detail/gate_table.hpp"
#include "bagsplit/gates/detail/name_runs.hpp"
#include "bagsplit/motion/curve.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::gates {

namespace {

using detail::Break;
using detail::Chain;
using detail::seconds_text;

double seconds(std::int64_t ns) {
  return static_cast<double>(ns) / 1e9;
}

// One or more breaks of a gate that are one body.
struct Body {
  std::vector<const GatePassage*> breaks;
  std::int64_t time_ns = 0;

  std::size_t line() const { return breaks.back()->line; }
};

class Sorter {
 public:
  Sorter(const GateLog& log, const StartList& starts, const GateMap& map, const GateRules& rules,
         text::Problems& problems)
      : log_(log), starts_(starts), map_(map), rules_(rules), problems_(problems) {}

  GateRuns sort() {
    find_bodies();
    std::vector<double> common_s;
    for (std::size_t place = 0; place < map_.places.size(); ++place) {
      common_s.push_back(common_time_s(place + 1) - common_time_s(place));
    }
    const auto lines = static_cast<std::size_t>(
        std::count_if(starts_.entries.begin(), starts_.entries.end(),
                      [](const StartEntry& entry) { return entry.flag != runs::Flag::absent; }));
    chains_ = detail::chains_of(breaks_, common_s, lines);
    for (const Chain& chain : chains_.runs) {
      out_.runs.push_back(run_of(chain));
    }
    tell_overtaking();
    for (const std::size_t at : chains_.strays) {
      tell_stray(bodies_[at]);
    }
    return std::move(out_);
  }

  const detail::Chains& chains() const { return chains_; }
  std::int64_t origin_ns() const { return origin_ns_; }
  std::vector<detail::LoneStart> lone_starts() const {
    std::vector<detail::LoneStart> out;
    for (const std::size_t at : chains_.strays) {
      if (breaks_[at].places.front() == 0) {
        out.push_back({bodies_[at].time_ns, breaks_[at].t_s, breaks_[at].clock, bodies_[at].line()});
      }
    }
    return out;
  }

 private:
  std::vector<std::size_t> places_of(const std::string& gate) const {
    std::vector<std::size_t> out;
    if (gate == map_.start_gate) {
      out.push_back(0);
    }
    for (std::size_t k = 0; k < map_.places.size(); ++k) {
      if (map_.places[k].gate == gate) {
        out.push_back(k + 1);
      }
    }
    return out;
  }

  void find_bodies() {
    const auto one_body_ns = static_cast<std::int64_t>(rules_.one_body_s * 1e9);
    std::map<std::string_view, std::size_t> last;
    std::vector<Body> all;
    for (const GatePassage& passage : log_.passages) {
      ++out_.counts.passages;
      if (std::find(map_.not_used.begin(), map_.not_used.end(), passage.gate) != map_.not_used.end()) {
        continue;
      }
      if (places_of(passage.gate).empty()) {
        unknown_gate(passage);
        continue;
      }
      const auto at = last.find(passage.gate);
      if (at != last.end() && all[at->second].breaks.back()->clock == passage.clock &&
          passage.time_ns - all[at->second].breaks.back()->time_ns <= one_body_ns) {
        all[at->second].breaks.push_back(&passage);
      } else {
        last[passage.gate] = all.size();
        all.push_back({{&passage}, 0});
      }
    }
    origin_ns_ = log_.passages.empty() ? 0 : log_.passages.front().time_ns;
    const bool bounces = map_.start == runs::StartKind::signal || map_.start == runs::StartKind::contact;
    for (Body& body : all) {
      // A signal's switch bounces after it; at a beam the torso comes last.
      const bool first = bounces && places_of(body.breaks.front()->gate) == std::vector<std::size_t>{0};
      body.time_ns = (first ? body.breaks.front() : body.breaks.back())->time_ns;
    }
    std::stable_sort(all.begin(), all.end(), [](const Body& a, const Body& b) {
      return std::pair(a.breaks.front()->clock, a.time_ns) < std::pair(b.breaks.front()->clock, b.time_ns);
    });
    for (Body& body : all) {
      breaks_.push_back(
          {places_of(body.breaks.front()->gate), seconds(body.time_ns - origin_ns_), body.breaks.front()->clock});
      bodies_.push_back(std::move(body));
    }
  }

  // Of a common sprint: 6 m/s, time constant 1 s; a quarter of a second of reaction where the clock starts at the call.
  double common_time_s(std::size_t place) const {
    const double before = map_.start == runs::StartKind::beam ? map_.beam_distance_m : 0.0;
    const double metres = before + (place == 0 ? 0.0 : map_.places[place - 1].distance_m);
    return (metres > 0.0 ? motion::time_to_distance({6.0, 1.0}, metres) : 0.0) +
           (place > 0 && map_.start == runs::StartKind::signal ? 0.25 : 0.0);
  }

  const std::string& mark(std::size_t place) const { return map_.places[place - 1].mark; }

  GateRun run_of(const Chain& chain) {
    GateRun run;
    run.at_ns.resize(map_.places.size());
    run.first_line = bodies_[chain.steps.front().at].line();
    if (chain.steps.front().place == 0) {
      const Body& start = bodies_[chain.steps.front().at];
      run.start_ns = start.time_ns;
      const bool first = start.time_ns == start.breaks.front()->time_ns && start.breaks.size() > 1;
      run.start_line = (first ? start.breaks.front() : start.breaks.back())->line;
      if (start.breaks.size() > 1) {
        twice(start, run, "the start", first ? "the first is taken" : "the last, the torso, is taken");
      }
    } else {
      note(run, "no break at the start");
      report(run.first_line, text::Severity::suspicion, "missed-beam",
             "the run seen here never broke gate " + map_.start_gate + " at the start", "it has no times");
    }
    std::vector<bool> seen(map_.places.size() + 1, false);
    for (const Chain::Step& step : chain.steps) {
      seen[step.place] = true;
      if (step.place > 0 && run.start_line > 0) {
        take(run, chain, step);
      }
    }
    for (std::size_t place = 1; place <= map_.places.size(); ++place) {
      if (!seen[place]) {
        ++out_.counts.missed_beams;
        note(run, "no break at " + mark(place));
        report(run.first_line, text::Severity::suspicion, "missed-beam",
               "the run that starts here never breaks gate " + map_.places[place - 1].gate + " at " + mark(place),
               "the time there is left empty");
      }
    }
    return run;
  }

  void take(GateRun& run, const Chain& chain, const Chain::Step& step) {
    const Body& body = bodies_[step.at];
    if (chain.chance[step.place] < rules_.mark_limit) {
      note(run, "a break at " + mark(step.place) + " may be another's");
      report(body.line(), text::Severity::suspicion, "ambiguous-passage",
             "gate " + body.breaks.front()->gate + ": whether this is the run of line " +
                 std::to_string(run.start_line) + " cannot be told (" +
                 detail::whole_percent(chain.chance[step.place]) + ")",
             "the time at " + mark(step.place) + " is left empty");
      return;
    }
    if (body.breaks.size() > 2) {
      note(run, std::to_string(body.breaks.size()) + " breaks at " + mark(step.place) + ", left out");
      report(body.line(), text::Severity::suspicion, "three-breaks",
             std::to_string(body.breaks.size()) + " breaks of gate " + body.breaks.front()->gate + " within " +
                 seconds_text(body.time_ns - body.breaks.front()->time_ns) + ": which is the torso cannot be told",
             "the time at " + mark(step.place) + " is left empty");
      return;
    }
    run.met_gate = true;
    run.at_ns[step.place - 1] = body.time_ns - run.start_ns;
    if (body.breaks.size() == 2) {
      twice(body, run, mark(step.place), "the second, the torso, is taken");
    }
  }

  void twice(const Body& body, GateRun& run, const std::string& where, const std::string& decision) {
    ++out_.counts.double_triggers;
    const std::string apart = seconds_text(body.breaks.back()->time_ns - body.breaks.front()->time_ns);
    note(run, std::to_string(body.breaks.size()) + " breaks at " + where + " " + apart + " apart: " + decision);
    report(body.line(), text::Severity::note, "double-trigger",
           "gate " + body.breaks.back()->gate + " was broken " +
               (body.breaks.size() == 2 ? "twice" : std::to_string(body.breaks.size()) + " times") + " within " +
               apart + ": " + decision,
           {});
  }

  // Who started later and is somewhere first.
  void tell_overtaking() {
    for (std::size_t k = 1; k < chains_.runs.size(); ++k) {
      for (std::size_t before = k; before-- > 0;) {
        const Chain& later = chains_.runs[k];
        const Chain& earlier = chains_.runs[before];
        if (earlier.clock != later.clock ||
            breaks_[earlier.steps.back().at].t_s < breaks_[later.steps.front().at].t_s) {
          break;
        }
        for (const Chain::Step& own : later.steps) {
          const auto there = std::find_if(earlier.steps.begin(), earlier.steps.end(),
                                          [&](const Chain::Step& step) { return step.place == own.place; });
          if (own.place > 0 && there != earlier.steps.end() && there->at > own.at) {
            ++out_.counts.overtakings;
            note(out_.runs[k], "passed the one before at " + mark(own.place));
            report(bodies_[own.at].line(), text::Severity::note, "overtaking",
                   "the run of line " + std::to_string(out_.runs[k].first_line) + " is at " + mark(own.place) +
                       " before that of line " + std::to_string(out_.runs[before].first_line),
                   {});
            break;
          }
        }
      }
    }
  }

  void tell_stray(const Body& body) {
    out_.counts.strays += body.breaks.size();
    report(body.line(), text::Severity::suspicion, "stray-passage",
           "gate " + body.breaks.front()->gate + " was broken, and no run fits",
           "left out; a passer-by, or a run that no other beam saw");
  }

  void unknown_gate(const GatePassage& passage) {
    if (std::find(unknown_.begin(), unknown_.end(), passage.gate) == unknown_.end()) {
      unknown_.push_back(passage.gate);
      report(passage.line, text::Severity::error, "unknown-gate",
             "the gate map has no gate '" + text::clipped(passage.gate) + "'",
             "a line " + passage.gate + ",MARK, or " + passage.gate + ",- when it is not used");
    }
  }

  static void note(GateRun& run, const std::string& text) { run.note += (run.note.empty() ? "" : "; ") + text; }

  void report(std::size_t line, text::Severity severity, std::string code, std::string message, std::string hint) {
    problems_.push_back({.severity = severity,
                         .code = std::move(code),
                         .path = log_.path,
                         .line = line,
                         .message = std::move(message),
                         .hint = std::move(hint)});
  }

  const GateLog& log_;
  const StartList& starts_;
  const GateMap& map_;
  const GateRules& rules_;
  text::Problems& problems_;
  std::vector<Body> bodies_;
  std::vector<Break> breaks_;  // one each
  std::int64_t origin_ns_ = 0;
  detail::Chains chains_;
  std::vector<std::string> unknown_;
  GateRuns out_;
};

}  // namespace

GateRuns sort_into_runs(const GateLog& log, const StartList& starts, const GateMap& map, const GateRules& rules,
                        text::Problems& problems) {
  if (map.places.empty()) {
    return {};
  }
  text::Problems found;
  Sorter sorter(log, starts, map, rules, found);
  GateRuns out = sorter.sort();
  detail::name_runs(out, sorter.chains(), sorter.lone_starts(), log, starts, rules, sorter.origin_ns(), found);
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
