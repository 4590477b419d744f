#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "bagsplit/text/problem.hpp"

/// Problems in a user's files, for people and for programs.
namespace bagsplit::present {

struct ProblemStyle {
  bool source = true;                 ///< show the line with the place marked in it
  std::size_t line_characters = 160;  ///< a longer line is cut to a window around the place
  bool codes = false;                 ///< end with the code
};

/// One problem as people see it, the place in GNU form so that editors can jump to it; ends in a line end.
///
///     night1.csv:7:28: error: 'first' is not a time: "4:o5"
///       line: 2026-04-11,12,circuit,1,AK,>>4:o5<<,8.02,12.10,16.31,,
///       expected: seconds such as 4.05, or minutes and seconds such as 1:04.05
///       hint: a letter o stands where a zero may be meant
///
/// What is meant stands between >> and <<; nothing between them: something is missing there.
/// Characters that could steer a terminal are shown as U+FFFD.
std::string format_problem(const text::Problem& problem, const ProblemStyle& style = {});

/// All problems in the order given, then a line with their number; empty when there is none.
std::string format_problems(const text::Problems& problems, const ProblemStyle& style = {});

/// A problem that is shown, and those like it that are only told in one line after it.
struct FoldedProblem {
  std::size_t index = 0;          ///< into the problems
  std::vector<std::size_t> more;  ///< as well
};

/// One mistake made on every row does not drown the others: of problems of one file with the same severity, code and
/// expectation the first three are shown, the rest goes with the third. Of an unknown word the first is enough. In the
/// order given; each problem stands in it once.
std::vector<FoldedProblem> fold_problems(const text::Problems& problems);

/// "  and 27 more like it on lines 8-30 and 33: "11/04/2026"", the texts read where they are few; ends
/// in a line end. Empty where there are no more.
std::string more_like_it(const text::Problems& problems, const FoldedProblem& folded);

/// "2 errors, 1 suspicion", with notes where there are any; "no problems".
std::string count_line(const text::Problems& problems);

/// "error", "suspicion" or "note".
std::string severity_word(text::Severity severity);

/// The problems as a JSON array of objects with the fields of text::Problem (severity, code, path, line, column,
/// length, message, read, expected, hint, source_line); null where a field is empty or 0. Bytes that are not UTF-8
/// become U+FFFD.
/// @param indent  spaces for each level; below 0 for one line.
std::string problems_json(const text::Problems& problems, int indent = -1);

}  // namespace bagsplit::present
