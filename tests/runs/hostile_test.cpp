// Identity: any bytes give a result, and every problem lies within the text.
#include <gtest/gtest.h>

#include <algorithm>
#include <clocale>
#include <locale>
#include <random>
#include <string>
#include <vector>

#include "bagsplit/present/text/problem_text.hpp"
#include "bagsplit/runs/courses/course_file.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/log/write_run_log.hpp"
#include "bagsplit/runs/roster/roster.hpp"

namespace {

using namespace bagsplit::runs;
namespace text = bagsplit::text;

constexpr std::string_view sound = R"(# base-distance: 60 ft
# start: signal
date,player,course,trial,timer,move,first,second,third,home,10yd,flag,note,x-lane
2026-04-11,12,circuit,1,AK,0.21,4.05,8.02,12.10,16.31,2.31,,"a ""note""",4
2026-04-11,12,circuit,1,RB,,4.11,8.05,12.22,16.36,,,second watch,
2026-04-11,13,home-second-reverse,,AK,,,8.42,4.31,,,fall,,2
2026-04-11,13,home-first,,AK,,4.35,,,,1:02.1,,,
)";

bool has_code(const text::Problems& problems, std::string_view code) {
  return std::any_of(problems.begin(), problems.end(), [&](const text::Problem& p) { return p.code == code; });
}

TEST(Hostile, SmallestFilesAreNoErrors) {
  EXPECT_FALSE(text::has_errors(read_run_log("", "a.csv").problems));
  EXPECT_FALSE(text::has_errors(read_run_log("\n\n", "a.csv").problems));
  EXPECT_FALSE(text::has_errors(read_run_log("\xEF\xBB\xBF", "a.csv").problems));
  EXPECT_FALSE(text::has_errors(read_run_log("date,player,course,10m", "a.csv").problems));
  const auto one = read_run_log("date,player,course,10m\n2026-04-11,12,straight,2.31", "a.csv");
  EXPECT_TRUE(one.problems.empty());
  EXPECT_EQ(one.log.runs.size(), 1U);
  EXPECT_TRUE(read_run_logs({}).problems.empty());
}

TEST(Hostile, EnormousLinesAndColumnCountsAreNamed) {
  const std::string header = "date,player,course,10m\n";
  EXPECT_TRUE(has_code(read_run_log(header + std::string(50'000'000, 'x'), "a.csv").problems, "line-too-long"));
  EXPECT_TRUE(has_code(read_run_log(std::string(1'000'000, ','), "a.csv").problems, "line-too-long"));
  EXPECT_TRUE(has_code(read_run_log("date" + std::string(1'000'000, ','), "a.csv").problems, "line-too-long"));
  EXPECT_TRUE(has_code(read_run_log("date" + std::string(5'000, ','), "a.csv").problems, "too-many-columns"));
  EXPECT_TRUE(has_code(read_run_log(header + "\"" + std::string(1'000'000, '\n'), "a.csv").problems, "unclosed-quote"));
  EXPECT_TRUE(has_code(read_run_log(std::string("\xFF\xFE"
                                                "d\0a\0t\0e\0",
                                                10),
                                    "a.csv")
                           .problems,
                       "not-text"));
  EXPECT_TRUE(has_code(read_run_log(header + std::string(1'000'000, '\0'), "a.csv").problems, "nul-byte"));
}

TEST(Hostile, TooManyFilesAreNamed) {
  const std::string text = "date,player,course,10m\n";
  const std::vector<LogText> files(65'536, LogText{text, "a.csv"});
  EXPECT_TRUE(has_code(read_run_logs(files).problems, "too-many-files"));
}

// A line of quotes must not make each line below it look for its end again.
TEST(Hostile, TimeGrowsWithTheTextOnly) {
  std::string text = "date,player,course,10m\n";
  for (int k = 0; k < 100'000; ++k) {
    text += k % 3 == 0 ? "\"\"\"\n" : k % 3 == 1 ? "a\"\n" : ",\",\"\"\n";
  }
  EXPECT_TRUE(text::has_errors(read_run_log(text, "a.csv").problems));
}

void expect_sane(std::string_view text, const text::Problems& problems) {
  const auto breaks =
      static_cast<std::size_t>(std::count_if(text.begin(), text.end(), [](char c) { return c == '\n' || c == '\r'; }));
  for (const text::Problem& problem : problems) {
    ASSERT_LE(problem.line, breaks + 1);
    ASSERT_LE(problem.column, problem.source_line.size() + 1);
    ASSERT_FALSE(problem.code.empty());
    ASSERT_FALSE(problem.message.empty());
  }
  ASSERT_FALSE(bagsplit::present::format_problems(problems).empty() && !problems.empty());
}

TEST(Hostile, BrokenBytesNeverBreakTheReader) {
  std::mt19937_64 random(11);
  constexpr std::string_view pieces = ",;\t\"#:\n\r.0-19axz\xC3\xAB\xFF";
  const Roster roster = read_roster("player\n12\n13\n", "r.csv").roster;
  ReadOptions options;
  options.roster = &roster;
  options.today = Date{std::chrono::year{2026} / 6 / 30};
  for (int round = 0; round < 3'000; ++round) {
    std::string text(sound);
    for (std::size_t n = 1 + random() % 6; n > 0 && !text.empty(); --n) {
      const std::size_t at = random() % text.size();
      switch (random() % 4) {
        case 0:
          text[at] = pieces[random() % pieces.size()];
          break;
        case 1:
          text.erase(at, 1 + random() % 8);
          break;
        case 2:
          text.insert(at, std::string(1 + random() % 3, pieces[random() % pieces.size()]));
          break;
        default:
          text.insert(at, text.substr(random() % text.size(), random() % 60));
          break;
      }
    }
    const auto result = read_run_log(text, "a.csv", options);
    ASSERT_NO_FATAL_FAILURE(expect_sane(text, result.problems)) << text;
    for (const auto& run : result.log.runs) {
      ASSERT_GT(run.reading_count, 0);
      ASSERT_LE(run.first_reading + run.reading_count, result.log.readings.size());
    }
    ASSERT_FALSE(text::has_errors(read_run_log(write_run_log(result.log), "b.csv").problems)) << text;
    ASSERT_NO_FATAL_FAILURE(expect_sane(text, read_roster(text, "a.csv").problems)) << text;
    text::Problems problems;
    read_courses(text, "a.json", builtin_courses(), problems);
  }
}

TEST(Hostile, RowsWithErrorsStayOutAndAllOthersStay) {
  std::string text = "date,player,course,10m\n";
  for (int k = 0; k < 1000; ++k) {
    text += k % 10 == 3 ? "2026-04-11,12,straight,x\n" : "2026-04-11,12,straight,2.31\n";
  }
  const auto result = read_run_log(text, "a.csv");
  EXPECT_EQ(result.log.rows_read, 1000U);
  EXPECT_EQ(result.log.runs.size(), 900U);
  EXPECT_EQ(result.problems.size(), 100U);
}

// Identity: numbers are read the same whatever the locale.
TEST(Hostile, TheLocaleTakesNoPart) {
  struct Comma : std::numpunct<char> {
    char do_decimal_point() const override { return ','; }
    char do_thousands_sep() const override { return '.'; }
    std::string do_grouping() const override { return "\3"; }
  };
  const auto before = read_run_log(sound, "a.csv");
  const std::string text = write_run_log(before.log);
  const std::locale old = std::locale::global(std::locale(std::locale::classic(), new Comma));
  const std::string c_locale = std::setlocale(LC_ALL, nullptr);
  for (const char* name : {"de_DE.UTF-8", "de_DE.utf8", "fr_FR.UTF-8"}) {
    if (std::setlocale(LC_ALL, name) != nullptr) {
      break;
    }
  }
  const auto after = read_run_log(sound, "a.csv");
  const std::string again = write_run_log(after.log);
  const std::string problems = bagsplit::present::format_problems(
      read_run_log("# base-distance: 60 ft\ndate,player,course,first\n2026-04-11,12,home-first,1.05\n", "a.csv")
          .problems);
  std::setlocale(LC_ALL, c_locale.c_str());
  std::locale::global(old);
  EXPECT_EQ(again, text);
  EXPECT_NE(problems.find("12.4 m/s"), std::string::npos);
  EXPECT_NE(problems.find("18.3 m"), std::string::npos);
}

}  // namespace
