#pragma once

#include <string>

#include "bagsplit/present/display.hpp"
#include "bagsplit/runs/problem.hpp"
#include "bagsplit/timing/gate_runs.hpp"

/// What the gates saw, for people and for programs.
namespace bagsplit::present {

/// The runs as a table, what was counted, and which runs are in doubt.
std::string gates_text(const timing::GateRuns& runs, const timing::GateMap& map, const TextOptions& options);

/// Schema "bagsplit.gates/1": course, marks, runs, counts, problems.
std::string gates_json(const timing::GateRuns& runs, const timing::GateMap& map, runs::Date date,
                       const runs::Problems& problems);

/// One line for people: passages, runs, and what was left out or is in doubt.
std::string gates_counts(const timing::GateCounts& counts);

}  // namespace bagsplit::present
