#pragma once

#include <cstddef>
#include <string>
#include <vector>

/// What is wrong, or looks wrong, in a user's file. Collected, never thrown; nothing is dropped.
namespace bagsplit::text {

enum class Severity {
  error,      ///< the row cannot be used; the command ends with exit code 1
  suspicion,  ///< kept, counted and reported; an error under --strict
  note,       ///< said for the record, nothing is wrong: a file passed over, a lap that leaves later marks unknown
};

struct Problem {
  Severity severity = Severity::error;
  std::string code = {};         ///< a stable word, e.g. "bad-time", "unknown-column"
  std::string path = {};         ///< file as the user named it; "-" for standard input
  std::size_t line = 0;          ///< from 1; 0 when the problem is of the file as a whole
  std::size_t column = 0;        ///< from 1, in characters as an editor shows them; 0 when of the line as a whole
  std::size_t length = 0;        ///< characters marked from `column`
  std::string message = {};      ///< one line: what is wrong
  std::string read = {};         ///< what was read, verbatim (a very long text is cut and ends in "...")
  std::string expected = {};     ///< what was expected
  std::string hint = {};         ///< empty when there is none worth giving
  std::string source_line = {};  ///< the line itself, for showing under the message; empty when it is too long to show
};

using Problems = std::vector<Problem>;

inline bool has_errors(const Problems& problems) {
  for (const Problem& problem : problems) {
    if (problem.severity == Severity::error) {
      return true;
    }
  }
  return false;
}

}  // namespace bagsplit::text
