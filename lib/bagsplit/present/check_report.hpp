#pragma once

#include <string>

#include "bagsplit/jobs/profile/sheet_doubts.hpp"
#include "bagsplit/runs/log/log_summary.hpp"
#include "bagsplit/text/display.hpp"
#include "bagsplit/text/problem.hpp"

/// What `check` found: counts of what was read, and every problem.
namespace bagsplit::present {

/// Counts for people. The problems themselves are text of their own (problem_text.hpp).
/// @param codes  count the problems by code as well.
std::string check_text(const runs::LogSummary& summary, const text::Problems& problems,
                       const text::TextOptions& options, bool codes = false);

/// One row a problem: severity, code, path, line, column, length, message, read, expected, hint.
std::string check_csv(const text::Problems& problems);

/// Adds what the squad tells of a sheet, as suspicions. A line is told once: of single times as the reader has it, of
/// whose run it is or how it was run as the squad has it.
void add_doubts(const jobs::SheetDoubts& doubts, bool strict, text::Problems& problems);

/// Schema "bagsplit.check/1": counts, then all problems with the fields of text::Problem, then what the squad tells.
std::string check_json(const runs::LogSummary& summary, const text::Problems& problems,
                       const jobs::SheetDoubts& doubts);

}  // namespace bagsplit::present
