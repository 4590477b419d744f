// Common practice, no source: the habits of this project, see DEVELOPERS.md.
#include <gtest/gtest.h>

#include <iostream>
#include <map>

#include "architecture/rules.hpp"

namespace {

using bagsplit::test::ends_with_any;
using bagsplit::test::Finding;
using bagsplit::test::SourceFile;
using Rule = std::vector<Finding> (*)(const SourceFile&);

/// Every file of the project that people write, read once.
const std::vector<SourceFile>& project() {
  static const std::vector<SourceFile> files = [] {
    std::vector<SourceFile> all;
    for (const char* part :
         {"lib", "cli", "tests", "data", ".cmake", ".ci", "CMakeLists.txt", "README.md", "DEVELOPERS.md"}) {
      const auto some = bagsplit::test::read_tree(BAGSPLIT_SOURCE_DIR, part);
      EXPECT_FALSE(some.empty()) << part << " is missing from " << BAGSPLIT_SOURCE_DIR;
      all.insert(all.end(), some.begin(), some.end());
    }
    return all;
  }();
  return files;
}

/// Runs a rule over the files below `folder` ("" for all) whose name has one of the endings (none for all).
void expect_clean(Rule rule, std::string_view folder, std::initializer_list<std::string_view> endings) {
  std::vector<Finding> findings;
  for (const auto& file : project()) {
    if (file.path.starts_with(folder) && (endings.size() == 0 || ends_with_any(file.path, endings))) {
      const auto found = rule(file);
      findings.insert(findings.end(), found.begin(), found.end());
    }
  }
  EXPECT_TRUE(findings.empty()) << listed(findings);
}

/// Text of the file at `path`, empty when there is none.
std::string_view text_of(const std::string& path) {
  for (const auto& file : project()) {
    if (file.path == path) {
      return file.text;
    }
  }
  return {};
}

/// Folder of a path; empty at the top.
std::string folder_of(const std::string& path) {
  const auto end = path.rfind('/');
  return end == std::string::npos ? "" : path.substr(0, end);
}

TEST(Lint, EveryTestSaysWhereItsNumbersComeFrom) {
  expect_clean(bagsplit::test::tests_without_source, "tests/", {"_test.cpp"});
}

TEST(Lint, NoWorkIsLeftOverAndNoTestSwitchedOff) {
  expect_clean(bagsplit::test::left_over_work, "",
               {".cpp", ".hpp", ".cmake", "CMakeLists.txt", ".sh", ".md", ".in", "/run"});
}

TEST(Lint, NothingNamesAMachineOrADocumentThatIsNotHere) {
  expect_clean(bagsplit::test::foreign_places, "", {});
}

TEST(Lint, TheLibraryNamesNoOptionOfTheCommand) {
  expect_clean(bagsplit::test::options_named, "lib/", {});
}

TEST(Lint, TheLibraryNeitherPrintsNorEndsNorLooksAtClockOrLocale) {
  expect_clean(bagsplit::test::impure_calls, "lib/", {});
}

TEST(Lint, NoShiftNeedsMoreBitsThanItsTypeMayHave) {
  expect_clean(bagsplit::test::shifts_too_far, "lib/", {});
  expect_clean(bagsplit::test::shifts_too_far, "cli/", {});
}

TEST(Lint, HeadersBeginWithPragmaOnce) {
  expect_clean(bagsplit::test::headers_without_pragma, "", {".hpp"});
}

TEST(Lint, SourcesIncludeTheirOwnHeaderFirst) {
  std::vector<Finding> findings;
  for (const auto& file : project()) {
    if (file.path.starts_with("lib/") && file.path.ends_with(".cpp")) {
      const auto header = text_of(file.path.substr(0, file.path.size() - 3) + "hpp");
      const auto found = bagsplit::test::own_header_not_first(file, header);
      findings.insert(findings.end(), found.begin(), found.end());
    }
  }
  EXPECT_TRUE(findings.empty()) << listed(findings);
}

TEST(Lint, CommentsAndDocumentsAreInBritishSpelling) {
  expect_clean(bagsplit::test::american_spelling, "", {".cpp", ".hpp", ".md"});
}

TEST(Lint, WhitespaceIsTidy) {
  expect_clean(bagsplit::test::untidy_whitespace, "",
               {".cpp", ".hpp", ".cmake", "CMakeLists.txt", ".sh", ".md", ".in", "/run"});
}

TEST(Lint, EveryDataFileSaysWhereItComesFrom) {
  std::vector<Finding> findings;
  for (const auto& file : project()) {
    if (file.path.starts_with("data/")) {
      const auto found = bagsplit::test::data_without_source(file, text_of(folder_of(file.path) + "/README.md"));
      findings.insert(findings.end(), found.begin(), found.end());
    }
  }
  EXPECT_TRUE(findings.empty()) << listed(findings);
}

TEST(Lint, EverySourceFileIsBuilt) {
  std::vector<Finding> findings;
  for (const auto& file : project()) {
    if (!file.path.ends_with(".cpp")) {
      continue;
    }
    std::string lists;  // of its folder and those above: a file may lie deeper than the list that names it
    for (auto folder = folder_of(file.path); !folder.empty(); folder = folder_of(folder)) {
      lists.append(text_of(folder + "/sources.cmake")).append(text_of(folder + "/CMakeLists.txt"));
    }
    const auto found = bagsplit::test::files_not_built(file, lists);
    findings.insert(findings.end(), found.begin(), found.end());
  }
  EXPECT_TRUE(findings.empty()) << listed(findings);
}

TEST(Lint, FilesKeepToOneIdea) {
  // Guidance, not a rule: long files are named in the output and the test passes. Only an empty file fails it.
  for (const auto& file : project()) {
    if (file.path.starts_with("lib/") && ends_with_any(file.path, {".cpp", ".hpp"})) {
      const auto lines = bagsplit::test::lines_of(file.text).size();
      EXPECT_GT(lines, 0U) << file.path;
      if (lines > 300) {
        std::cout << "note: " << file.path << " has " << lines << " lines; about 100-300 read best\n";
      }
    }
  }
}

}  // namespace
