#pragma once

#include <string>

#include "bagsplit/runs/run.hpp"

/// Writing run logs: what read_run_log reads.
namespace bagsplit::runs {

/// The log as CSV: a row for each reading, runs in the order of the log; keys above the header where a value is the
/// same throughout.
///
/// Read again, it gives the same runs, readings, marks and times, to the last bit. Files and
/// lines are new. Laps are written as times from the start, but for relay legs after the first, whose laps count from
/// the exchange and are kept to 1e-12 s. The courses themselves are not written: user-defined ones are needed again on
/// reading. Cost: O(rows x columns).
std::string write_run_log(const RunLog& log);

}  // namespace bagsplit::runs
