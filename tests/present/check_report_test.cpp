#include "bagsplit/present/check_report.hpp"

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <sstream>

#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/text/text_width.hpp"

namespace bagsplit::present {
namespace {

runs::RunLogResult read(std::string_view rows) {
  return runs::read_run_log(
      "# base-distance: 60 ft\n# start: signal\ndate,player,course,timer,first,flag\n" + std::string(rows),
      "night.csv");
}

// Identity: three rows, one of them with an error.
TEST(CheckReport, JsonHoldsTheCountsAndTheProblems) {
  const auto result = read(
      "2026-04-11,12,home-first,\xC3\x84K,4.05,\n2026-04-11,7,home-first,,4:o5,\n2026-04-11,7,home-first,,4.20,fall\n");
  const auto json = nlohmann::ordered_json::parse(check_json(runs::summarise(result.log), result.problems, {}));
  EXPECT_EQ(json.begin().key(), "schema");
  EXPECT_EQ(json.at("schema"), "bagsplit.check/1");
  EXPECT_EQ(json.at("rows"), 3);
  EXPECT_EQ(json.at("readings"), 2);
  EXPECT_EQ(json.at("errors"), 1);
  EXPECT_EQ(json.at("dates").at("first"), "2026-04-11");
  EXPECT_EQ(json.at("flagged_runs").at("fall"), 1);
  EXPECT_EQ(json.at("timers").at(0).at("timer"), "\xC3\x84K");
  EXPECT_TRUE(json.at("timers").at(1).at("timer").is_null());
  ASSERT_EQ(json.at("problems").size(), 1U);
  EXPECT_EQ(json.at("problems").at(0).at("code"), "bad-time");
  EXPECT_EQ(json.at("problems").at(0).at("read"), "4:o5");
}

TEST(CheckReport, CsvHasOneRowAProblem) {
  const auto result = read("2026-04-11,12,home-first,AK,4:o5,\n2026-04-11,7,home-first,AK,\"4,2\",\n");
  std::istringstream lines(check_csv(result.problems));
  std::string line;
  std::getline(lines, line);
  EXPECT_EQ(line, "severity,code,path,line,column,length,message,read,expected,hint");
  std::getline(lines, line);
  EXPECT_TRUE(line.starts_with("error,bad-time,night.csv,4,")) << line;
  std::getline(lines, line);
  EXPECT_TRUE(line.starts_with("error,bad-time,night.csv,5,")) << line;
  EXPECT_FALSE(std::getline(lines, line));
}

TEST(CheckReport, TextFitsThePage) {
  const auto result = read(
      "2026-04-11,12,home-first,AK,4.05,\n2026-04-11,7,home-first,AK,4:o5,\n2026-04-12,7,home-first,AK,4.20,fall\n");
  for (const std::size_t width : {40U, 80U}) {
    std::istringstream lines(check_text(runs::summarise(result.log), result.problems, {.width = width}, true));
    for (std::string line; std::getline(lines, line);) {
      EXPECT_LE(text::display_width(line), width) << line;
    }
  }
}

TEST(CheckReport, NothingReadIsSaidPlainly) {
  EXPECT_EQ(check_text({}, {}, {}),
            "Read 0 rows from 0 files: 0 runs of 0 players, 0 readings, 0 times.\n\nno problems\n");
}

}  // namespace
}  // namespace bagsplit::present
