#pragma once

#include <string>
#include <string_view>
#include <vector>

/// A test of the program as text; README.md beside this file describes the form.
namespace bagsplit::test {

/// One `--- kind name mode` line and what follows it.
struct Section {
  std::string kind;  ///< file, run, stdin, stdout, stderr, output, exit
  std::string name;  ///< of a file or output; the number of an exit
  std::string mode;  ///< empty (exact), contains, lacks, any, near
  std::string body;  ///< escapes undone
  std::size_t line;  ///< of the `---` line, from 1
};

struct CaseFile {
  std::string comment;  ///< the `#` lines at the top
  std::vector<Section> sections;
};

/// @throws std::runtime_error "line: what is wrong"
CaseFile parse_case(std::string_view text);

/// The text of a case, escaped where it has to be; parse_case(write_case(c)) gives c again, but for line numbers.
std::string write_case(const CaseFile& file);

}  // namespace bagsplit::test
