#pragma once

#include <string>

#include "bagsplit/gates/gate_runs.hpp"
#include "bagsplit/text/display.hpp"
#include "bagsplit/text/problem.hpp"

/// What the gates saw, for people and for programs.
namespace bagsplit::present {

/// The runs as a table, what was counted, and which runs are in doubt.
std::string gates_text(const gates::GateRuns& runs, const gates::GateMap& map, const text::TextOptions& options);

/// Schema "bagsplit.gates/1": course, marks, runs, counts, problems.
std::string gates_json(const gates::GateRuns& runs, const gates::GateMap& map, runs::Date date,
                       const text::Problems& problems);

/// One line for people: passages, runs, and what was left out or is in doubt.
std::string gates_counts(const gates::GateCounts& counts);

}  // namespace bagsplit::present
