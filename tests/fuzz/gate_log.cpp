// Any bytes as a gate log, a start list or a gate map, each in turn; a log is sorted into runs with a plain list and
// map.
#include "bagsplit/timing/gate_log.hpp"
#include "bagsplit/runs/course.hpp"
#include "bagsplit/timing/gate_runs.hpp"
#include "fuzz/property.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace bagsplit;
  const std::string_view text = fuzz::text_of(data, size);
  runs::Problems problems;
  const std::vector<runs::Course> courses = runs::builtin_courses();
  const timing::GateLog log = timing::read_gate_log(text, "gates.csv", problems);
  timing::read_start_list(text, "starts.csv", problems);
  timing::read_gate_map(text, "map.csv", courses, problems);
  runs::Problems own;
  const timing::GateMap map =
      timing::read_gate_map("# start: self\ngate,mark\n1,start\n2,10m\n3,20m\n", "map.csv", courses, own);
  const timing::StartList starts = timing::read_start_list("player\n12\n7\n", "starts.csv", own);
  const timing::GateRuns runs = timing::sort_into_runs(log, starts, map, timing::GateRules{}, own);
  fuzz::hold(runs.counts.passages <= log.passages.size(), "no passage is counted twice");
  for (const timing::GateRun& run : runs.runs) {
    for (const auto& at_ns : run.at_ns) {
      fuzz::hold(!at_ns || *at_ns >= 0, "a time since the start is not negative");
    }
  }
  return 0;
}
