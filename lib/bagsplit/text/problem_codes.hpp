#pragma once

#include <cstdint>
#include <span>
#include <string_view>

#include "bagsplit/text/problem.hpp"

/// Every word that Problem::code may hold when run logs, rosters and JSON files are read, logs of recorders merged, and
/// passages of gates sorted into runs, with what it means. The documents' list is made from this table, and a test
/// holds one provoking file for each of the first three.
namespace bagsplit::text {

/// Where a problem is found.
enum class ProblemOf : std::uint8_t {
  run_log,
  roster,
  json,       ///< any JSON file: courses, devices, models
  recorders,  ///< where logs of recorders are merged or gone on with
  gates,      ///< gate logs, start lists and gate maps
  squad,      ///< where a sheet is held against what its squad tells
  files,      ///< before a text is read: names, folders, sizes
};

struct ProblemCode {
  std::string_view code;
  Severity severity;         ///< the usual one; a suspicion may be an error where the times as typed cannot be
  ProblemOf of;              ///< where first; several are shared
  std::string_view meaning;  ///< one sentence
};

/// The table, ordered by place, then by word.
std::span<const ProblemCode> problem_codes();

/// The entry of a code, or nullptr.
const ProblemCode* find_problem_code(std::string_view code);

}  // namespace bagsplit::text
