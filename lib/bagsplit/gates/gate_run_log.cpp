#include <array>
#include <map>

#include "bagsplit/gates/gate_runs.hpp"
#include "bagsplit/runs/log/log_summary.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/csv.hpp"

namespace bagsplit::gates {

namespace {

std::string seconds_cell(std::int64_t ns) {
  return runs::format_number(static_cast<double>(ns) / 1e9);
}

}  // namespace

std::string gate_run_log(const GateRuns& runs, const GateMap& map, runs::Date date, const std::string& place) {
  constexpr std::array starts{"signal", "self", "beam", "contact"};
  std::string out =
      "# device: gate\n# splits: cumulative\n# start: " + std::string(starts.at(static_cast<std::size_t>(map.start)));
  out += map.start == runs::StartKind::beam ? " " + runs::format_number(map.beam_distance_m) + " m\n" : "\n";
  for (const auto& [key, value] : {std::pair<const char*, const std::string&>{"base-distance", map.base_distance},
                                   {"posture", map.posture},
                                   {"surface", map.surface},
                                   {"place", place}}) {
    text::append_directive(out, key, value);
  }
  out += "date,player,course,trial,timer";
  for (const GatePlace& one : map.places) {
    out += ",";
    text::append_csv_field(out, one.mark);
  }
  out += ",flag,note,x-started\n";
  std::map<std::string, std::uint16_t> trials;
  for (const GateRun& run : runs.runs) {
    std::uint16_t& trial = trials[run.player];
    trial = run.trial > 0 ? run.trial : static_cast<std::uint16_t>(trial + 1);
    out += runs::format_date(date) + ",";
    text::append_csv_field(out, run.player);
    out += ",";
    text::append_csv_field(out, map.course);
    out += "," + std::to_string(trial) + ",gates";
    for (std::size_t k = 0; k < map.places.size(); ++k) {
      out += "," + (k < run.at_ns.size() && run.at_ns[k] ? seconds_cell(*run.at_ns[k]) : std::string());
    }
    out += "," + std::string(runs::flag_name(run.flag)) + ",";
    text::append_csv_field(out, run.note);
    out += "," + (run.start_line > 0 ? seconds_cell(run.start_ns) : std::string()) + "\n";
  }
  return out;
}

}  // namespace bagsplit::gates
