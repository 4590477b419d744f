#pragma once

#include <cstddef>
#include <filesystem>
#include <ostream>
#include <string>
#include <string_view>
#include <vector>

/// Reading the project's own source for the tests of its architecture.
namespace bagsplit::test {

struct SourceFile {
  std::string path;  ///< from the top of the project, with forward slashes
  std::string text;
};

/// A place in the source and what is wrong there; printed as file:line: message, so that editors can jump.
struct Finding {
  std::string path;
  std::size_t line;
  std::string message;

  bool operator==(const Finding&) const = default;
};
std::ostream& operator<<(std::ostream& out, const Finding& finding);

/// One finding a line, for the message of a failed test.
std::string listed(const std::vector<Finding>& findings);

/// Every regular file below `root`/`folder` (or the one file of that name), by path; build trees and .git are left out.
std::vector<SourceFile> read_tree(const std::filesystem::path& root, std::string_view folder);

/// The text split at line ends.
std::vector<std::string_view> lines_of(std::string_view text);

struct CodeAndComments {
  std::string code;      ///< comments and the insides of string and character literals blanked
  std::string comments;  ///< all but the comments blanked
};

/// Takes C++ apart; both parts keep the line structure of the text.
CodeAndComments take_apart(std::string_view cpp);

bool ends_with_any(std::string_view path, std::initializer_list<std::string_view> endings);

}  // namespace bagsplit::test
