// Common practice, no source: the map of modules in DEVELOPERS.md, kept by test rather than by memory.
#include "architecture/layering.hpp"

#include <gtest/gtest.h>

namespace {

using bagsplit::test::against_the_arrows;
using bagsplit::test::Finding;
using bagsplit::test::heavy_includes;
using bagsplit::test::SourceFile;

std::vector<Finding> in_all_files(const char* folder, std::vector<Finding> (*rule)(const SourceFile&)) {
  std::vector<Finding> findings;
  std::size_t files = 0;
  for (const auto& file : bagsplit::test::read_tree(BAGSPLIT_SOURCE_DIR, folder)) {
    if (bagsplit::test::ends_with_any(file.path, {".hpp", ".cpp"})) {
      const auto found = rule(file);
      findings.insert(findings.end(), found.begin(), found.end());
      ++files;
    }
  }
  EXPECT_GT(files, 0U) << "no source found in " << BAGSPLIT_SOURCE_DIR << "/" << folder;
  return findings;
}

TEST(Layering, NoIncludeGoesAgainstTheArrows) {
  for (const char* folder : {"lib", "cli"}) {
    const auto findings = in_all_files(folder, against_the_arrows);
    EXPECT_TRUE(findings.empty()) << listed(findings);
  }
}

TEST(Layering, HeadersStayLight) {
  const auto findings = in_all_files("lib", heavy_includes);
  EXPECT_TRUE(findings.empty()) << listed(findings);
}

// The parser's header takes seconds to compile; all else of the command sees options as plain values.
TEST(Layering, OneFileKnowsTheParserOfTheCommandLine) {
  std::vector<std::string> who;
  for (const auto& file : bagsplit::test::read_tree(BAGSPLIT_SOURCE_DIR, "cli")) {
    if (file.text.find("#include <CLI/") != std::string::npos) {
      who.push_back(file.path);
    }
  }
  EXPECT_EQ(who, std::vector<std::string>{"cli/command_line.cpp"});
}

std::string include(std::string_view name) {
  return "#pragma once\n#include \"" + std::string(name) + "\"\n";
}

TEST(Layering, DownwardsAndLeavesAreAllowed) {
  EXPECT_TRUE(against_the_arrows({"lib/bagsplit/inference/a.cpp", include("bagsplit/runs/run.hpp")}).empty());
  EXPECT_TRUE(against_the_arrows({"lib/bagsplit/inference/a.cpp", include("bagsplit/inference/b.hpp")}).empty());
  EXPECT_TRUE(against_the_arrows({"lib/bagsplit/runs/a.cpp", include("bagsplit/stats/b.hpp")}).empty());
  EXPECT_TRUE(against_the_arrows({"lib/bagsplit/norms/a.cpp", include("bagsplit/builtin/b.hpp")}).empty());
  EXPECT_TRUE(
      against_the_arrows({"cli/main.cpp", include("commands.hpp") + include("bagsplit/present/b.hpp")}).empty());
}

TEST(Layering, UpwardsIsNamedWithItsLine) {
  const auto findings = against_the_arrows({"lib/bagsplit/runs/a.hpp", include("bagsplit/inference/prior/prior.hpp")});
  ASSERT_EQ(findings.size(), 1U);
  EXPECT_EQ(findings[0], (Finding{"lib/bagsplit/runs/a.hpp", 2,
                                  "runs must not include inference (bagsplit/inference/prior/prior.hpp)"}));
}

TEST(Layering, SidewaysIsRefused) {
  EXPECT_EQ(against_the_arrows({"lib/bagsplit/norms/a.cpp", include("bagsplit/timing/b.hpp")}).size(), 1U);
  EXPECT_EQ(against_the_arrows({"lib/bagsplit/basepath/a.cpp", include("bagsplit/norms/b.hpp")}).size(), 1U);
}

TEST(Layering, ALeafIncludesNothingElseOfBagsplit) {
  EXPECT_EQ(against_the_arrows({"lib/bagsplit/stats/a.cpp", include("bagsplit/runs/b.hpp")}).size(), 1U);
  EXPECT_EQ(against_the_arrows({"lib/bagsplit/stats/a.cpp", include("bagsplit/builtin/b.hpp")}).size(), 1U);
  EXPECT_TRUE(against_the_arrows({"lib/bagsplit/stats/a.cpp", include("bagsplit/stats/b.hpp")}).empty());
}

// Common practice, no source: what a page says of safety stands in one file, whatever module prints it.
TEST(Layering, SafetyIsALeafForAnyone) {
  EXPECT_TRUE(against_the_arrows({"lib/bagsplit/present/a.cpp", include("bagsplit/safety/safety.hpp")}).empty());
  EXPECT_TRUE(against_the_arrows({"lib/bagsplit/jobs/a.cpp", include("bagsplit/safety/safety.hpp")}).empty());
  EXPECT_EQ(against_the_arrows({"lib/bagsplit/safety/a.cpp", include("bagsplit/jobs/b.hpp")}).size(), 1U);
}

// Common practice, no source: a figure written twice is soon two figures.
TEST(Layering, CautionsAreWrittenInOneFile) {
  for (const char* folder : {"lib", "cli"}) {
    for (const auto& file : bagsplit::test::read_tree(BAGSPLIT_SOURCE_DIR, folder)) {
      if (!bagsplit::test::ends_with_any(file.path, {".cpp", ".hpp"}) ||
          file.path.starts_with("lib/bagsplit/safety/")) {
        continue;
      }
      for (const char* words :
           {"Warm up", "warm up", "run-out behind", "free behind", "behind every finish", "no sliding",
            "Stop at thunder", "when a child hurts", "Rest at least", "Prone starts:"}) {
        EXPECT_EQ(file.text.find(words), std::string::npos)
            << file.path << ": \"" << words << "\" belongs in safety.cpp";
      }
    }
  }
}

TEST(Layering, GatesAndRecordKnowRunsAndTimingOnly) {
  EXPECT_TRUE(against_the_arrows({"lib/bagsplit/gates/a.cpp", include("bagsplit/timing/b.hpp")}).empty());
  EXPECT_EQ(against_the_arrows({"lib/bagsplit/record/a.cpp", include("bagsplit/gates/b.hpp")}).size(), 1U);
  EXPECT_EQ(against_the_arrows({"lib/bagsplit/record/a.cpp", include("bagsplit/inference/b.hpp")}).size(), 1U);
}

TEST(Layering, AFolderHoldsWhatOneCanKnow) {
  std::vector<std::string> paths;
  for (const char* folder : {"lib", "cli"}) {
    for (const auto& file : bagsplit::test::read_tree(BAGSPLIT_SOURCE_DIR, folder)) {
      paths.push_back(file.path);
    }
  }
  const auto findings = bagsplit::test::crowded_folders(paths);
  EXPECT_TRUE(findings.empty()) << listed(findings);
  EXPECT_EQ(bagsplit::test::crowded_folders(std::vector<std::string>(57, "lib/a/b.cpp")).size(), 1U);
}

TEST(Layering, WaysRoundTheRuleAreRefused) {
  EXPECT_EQ(against_the_arrows({"lib/bagsplit/runs/a.cpp", include("../inference/prior/prior.hpp")}).size(), 1U);
  EXPECT_EQ(against_the_arrows({"lib/bagsplit/runs/a.cpp", "#include <bagsplit/inference/prior/prior.hpp>\n"}).size(),
            1U);
  EXPECT_EQ(against_the_arrows({"lib/bagsplit/elsewhere/a.cpp", ""}).size(), 1U);
  EXPECT_EQ(against_the_arrows({"lib/bagsplit/runs/a.cpp", include("bagsplit/elsewhere/b.hpp")}).size(), 1U);
}

TEST(Layering, AnIncludeInACommentIsNone) {
  EXPECT_TRUE(
      against_the_arrows({"lib/bagsplit/runs/a.cpp", "// #include \"bagsplit/inference/prior/prior.hpp\"\n"}).empty());
  EXPECT_TRUE(
      against_the_arrows({"lib/bagsplit/runs/a.cpp", "/*\n#include \"bagsplit/inference/prior/prior.hpp\"\n*/\n"})
          .empty());
}

TEST(Layering, HeavyHeadersAreForSourceFiles) {
  EXPECT_EQ(heavy_includes({"lib/bagsplit/stats/a.hpp", "#include <boost/math/distributions.hpp>\n"}).size(), 1U);
  EXPECT_TRUE(heavy_includes({"lib/bagsplit/stats/a.cpp", "#include <boost/math/distributions.hpp>\n"}).empty());
  EXPECT_TRUE(heavy_includes({"lib/bagsplit/stats/a.hpp", "#include <nlohmann/json_fwd.hpp>\n"}).empty());
  EXPECT_EQ(heavy_includes({"lib/bagsplit/stats/a.cpp", "#include <execution>\n"}).size(), 1U);
}

}  // namespace
