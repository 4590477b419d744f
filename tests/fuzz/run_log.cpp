// Any bytes as a run log: read without harm; what reads without errors survives being written and read again.
#include <string>

#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/log/write_run_log.hpp"
#include "fuzz/property.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace bagsplit;
  const runs::RunLogResult read = runs::read_run_log(fuzz::text_of(data, size), "log.csv");
  for (const text::Problem& problem : read.problems) {
    fuzz::hold(!problem.code.empty() && !problem.message.empty(), "a problem has a code and a message");
  }
  if (text::has_errors(read.problems)) {
    return 0;
  }
  const std::string written = runs::write_run_log(read.log);
  const runs::RunLogResult again = runs::read_run_log(written, "log.csv");
  fuzz::hold(!text::has_errors(again.problems), "what was written reads without errors");
  fuzz::hold(again.log.runs.size() == read.log.runs.size() && again.log.readings.size() == read.log.readings.size() &&
                 again.log.splits.size() == read.log.splits.size(),
             "no run, reading or split is lost or doubled");
  fuzz::hold(runs::write_run_log(again.log) == written, "writing is stable");
  return 0;
}
