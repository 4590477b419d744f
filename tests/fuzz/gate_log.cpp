// Any bytes as a gate log, a start list or a gate map, each in turn; a log is sorted into runs with a plain list and
// map.
#include "bagsplit/gates/gate_log.hpp"
#include "bagsplit/gates/gate_runs.hpp"
#include "bagsplit/runs/courses/course.hpp"
#include "fuzz/property.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace bagsplit;
  const std::string_view text = fuzz::text_of(data, size);
  text::Problems problems;
  const std::vector<runs::Course> courses = runs::builtin_courses();
  const gates::GateLog log = gates::read_gate_log(text, "gates.csv", problems);
  gates::read_start_list(text, "starts.csv", problems);
  gates::read_gate_map(text, "map.csv", courses, problems);
  text::Problems own;
  const gates::GateMap map =
      gates::read_gate_map("# start: self\ngate,mark\n1,start\n2,10m\n3,20m\n", "map.csv", courses, own);
  const gates::StartList starts = gates::read_start_list("player\n12\n7\n", "starts.csv", own);
  const gates::GateRuns runs = gates::sort_into_runs(log, starts, map, gates::GateRules{}, own);
  fuzz::hold(runs.counts.passages <= log.passages.size(), "no passage is counted twice");
  for (const gates::GateRun& run : runs.runs) {
    for (const auto& at_ns : run.at_ns) {
      fuzz::hold(!at_ns || *at_ns >= 0, "a time since the start is not negative");
    }
  }
  return 0;
}
