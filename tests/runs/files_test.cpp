#include "bagsplit/runs/files.hpp"

#include <gtest/gtest.h>
#include <sys/stat.h>

#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

namespace {

using namespace bagsplit::runs;
namespace text = bagsplit::text;
namespace fs = std::filesystem;

class Files : public ::testing::Test {
 protected:
  void SetUp() override {
    const auto* info = ::testing::UnitTest::GetInstance()->current_test_info();
    folder_ = fs::path(::testing::TempDir()) / (std::string("bagsplit_files_") + info->name());
    fs::remove_all(folder_);
    fs::create_directories(folder_);
  }
  void TearDown() override { fs::remove_all(folder_); }

  std::string write(const std::string& name, const std::string& text) {
    std::ofstream(folder_ / name, std::ios::binary) << text;
    return (folder_ / name).string();
  }

  static std::string codes_of(const text::Problems& problems) {
    std::string codes;
    for (const text::Problem& problem : problems) {
      codes += (codes.empty() ? "" : " ") + problem.code;
    }
    return codes;
  }

  fs::path folder_;
};

// Identity: a pipe nobody writes to and a device would be waited for without end; links count as what they lead to.
TEST_F(Files, APipeOrADeviceInAFolderIsPassedOver) {
  write("a.csv", "A");
  write("night.xlsx", "PK");
  ASSERT_EQ(mkfifo((folder_ / "b.csv").c_str(), 0600), 0);
  fs::create_symlink("/dev/zero", folder_ / "c.csv");
  fs::create_symlink("nowhere", folder_ / "d.csv");
  text::Problems problems;
  const std::vector<std::string> names{folder_.string()};
  const auto files = load_logs(names, nullptr, problems);
  ASSERT_EQ(files.size(), 1U);
  EXPECT_EQ(files[0].text, "A");
  ASSERT_EQ(codes_of(problems), "ignored-file ignored-file ignored-file file-missing");
  EXPECT_EQ(problems[0].message, "passed over: a pipe or a device, not a file");
  EXPECT_NE(problems[2].hint.find("save its sheet as CSV"), std::string::npos);
}

// Identity: what ends is read, what does not is refused.
TEST_F(Files, ADeviceThatDoesNotEndIsRefused) {
  text::Problems problems;
  EXPECT_FALSE(read_file("/dev/zero", problems));
  EXPECT_EQ(codes_of(problems), "file-unreadable");
  EXPECT_EQ(read_file("/dev/null", problems), "");
}

// Identity: a folder is its logs in the order of their names; the rest is told.
TEST_F(Files, AFolderIsItsLogsInTheOrderOfTheirNames) {
  write("b.csv", "B");
  write("a.CSV", "A");
  write("c.csv", "C");
  write("notes.txt", "");
  write(".hidden.csv", "");
  fs::create_directories(folder_ / "more.csv");
  text::Problems problems;
  const std::vector<std::string> names{folder_.string()};
  const auto files = load_logs(names, nullptr, problems);
  ASSERT_EQ(files.size(), 3U);
  EXPECT_EQ(files[0].text + files[1].text + files[2].text, "ABC");
  EXPECT_TRUE(files[0].from_folder);
  EXPECT_EQ(files[2].path, (folder_ / "c.csv").string());
  EXPECT_EQ(codes_of(problems), "ignored-file ignored-file ignored-file");
  EXPECT_FALSE(text::has_errors(problems));
}

TEST_F(Files, StandardInputStandsWhereItIsNamed) {
  const std::string a = write("a.csv", "A");
  std::istringstream in(std::string(3'000'000, 'x'));
  text::Problems problems;
  const std::vector<std::string> names{"-", a};
  const auto files = load_logs(names, &in, problems);
  ASSERT_EQ(files.size(), 2U);
  EXPECT_EQ(files[0].path, "-");
  EXPECT_EQ(files[0].text.size(), 3'000'000U);
  EXPECT_TRUE(problems.empty());
}

TEST_F(Files, WhatCannotBeReadIsNamed) {
  const std::string a = write("a.csv", "A");
  fs::create_directories(folder_ / "empty");
  text::Problems problems;
  const std::vector<std::string> names{a, (folder_ / "." / "a.csv").string(), (folder_ / "none.csv").string(),
                                       (folder_ / "empty").string()};
  EXPECT_EQ(load_logs(names, nullptr, problems).size(), 1U);
  EXPECT_EQ(codes_of(problems), "file-given-twice file-missing no-files");
  problems.clear();
  EXPECT_FALSE(read_file(folder_.string(), problems));
  EXPECT_FALSE(read_file(a, problems, 0));
  EXPECT_EQ(codes_of(problems), "file-unreadable file-too-large");
}

TEST_F(Files, AWholeFileIsReadWhateverItsSize) {
  for (const std::size_t size : {0U, 1U, 65'536U, 1'000'003U}) {
    text::Problems problems;
    const std::string path = write("f.csv", std::string(size, 'y'));
    const auto text = read_file(path, problems);
    ASSERT_TRUE(text);
    EXPECT_EQ(text->size(), size);
  }
}

// Identity: one log in one file or in several gives the same runs.
TEST_F(Files, OneLogInSeveralFilesGivesTheSameRuns) {
  const std::string header = "# base-distance: 60 ft\ndate,player,course,first\n";
  const std::string one =
      header + "2026-04-11,1,home-first,4.05\n2026-04-11,2,home-first,4.11\n2026-04-18,1,home-first,4.01\n";
  const RunLogResult whole = read_run_log(one, "one.csv");
  const std::string a = header + "2026-04-11,1,home-first,4.05\n";
  const std::string b = header + "2026-04-11,2,home-first,4.11\n2026-04-18,1,home-first,4.01\n";
  const std::vector<LogText> parts{{a, "a.csv"}, {b, "b.csv"}};
  const RunLogResult split = read_run_logs(parts);
  EXPECT_TRUE(whole.problems.empty());
  EXPECT_TRUE(split.problems.empty());
  ASSERT_EQ(whole.log.runs.size(), split.log.runs.size());
  for (std::size_t k = 0; k < whole.log.runs.size(); ++k) {
    EXPECT_EQ(whole.log.name(whole.log.runs[k].player), split.log.name(split.log.runs[k].player));
    EXPECT_EQ(whole.log.runs[k].date, split.log.runs[k].date);
    EXPECT_EQ(whole.log.splits[k].time_s, split.log.splits[k].time_s);
  }
}

}  // namespace
