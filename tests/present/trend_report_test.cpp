#include "bagsplit/present/trend_report.hpp"

#include <gtest/gtest.h>

#include <fstream>
#include <limits>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <vector>

#include "bagsplit/text/text_width.hpp"
#include "support/json_schema.hpp"

namespace bagsplit::present {
namespace {

jobs::TrendResult result() {
  jobs::TrendResult out;
  jobs::PlayerTrend full;
  full.player = "12";
  full.sex = runs::Sex::female;
  full.age_first_years = 9.1;
  full.age_last_years = 9.3;
  full.runs_first = 3;
  full.runs_last = 2;
  full.change_s = jobs::Change{-0.21, 0.08, 14.2, -0.351, -0.069};
  full.shrunken_change_s = jobs::Change{-0.12, 0.07, 14.2, -0.24, 0.0};
  full.expected_growth_s = -0.03;
  full.expected_growth_sd_s = 0.02;
  full.beyond_growth_s = jobs::Change{-0.18, 0.08, std::numeric_limits<double>::infinity(), -0.321, -0.039};
  full.p_worthwhile = 0.81;
  full.verdict_words = "cannot tell yet: about 7 more runs";
  full.more_runs = 7;
  full.obstacle = jobs::TrendObstacle::few_runs;
  full.help = "That many would tell.";
  jobs::PlayerTrend bare;
  bare.player = "Zo\xC3\xAB";
  bare.verdict_words = "cannot tell: no run in the last window";
  out.players = {full, bare};
  out.course = "home-first";
  out.mark = "first";
  out.worthwhile_s = 0.05;
  out.worthwhile_source = "as given";
  out.squad_change_s = full.change_s;
  out.variance.player = 0.09;
  out.conditions = {{"surface", jobs::ConditionStatus::adjusted, "surfaces differ", {{"wet", 4, 0.1, 0.02}}}};
  out.left_out = {{"fall", 1}, {"another_start", 2}};
  out.runs_left_out = 3;
  out.notes = {"One evening in each window."};
  out.cautions = {"Warm up."};
  return out;
}

// Identity: the words are those of the values; nothing absent is shown as a number; no line is wider than the page.
TEST(TrendReport, TextForPeople) {
  const std::string text = trend_text(result(), {});
  for (const char* part : {"-0.21 +-0.14", "-0.12 +-0.12", "-0.03", "0.81", "7 more runs", "Where it cannot be told:",
                           "- For 12: That many would tell.", "Left out: 3 runs of this course: ", "1 flagged fall",
                           "2 with another start", "surface: surfaces differ: wet +0.10 s (SE 0.02)."}) {
    EXPECT_NE(text.find(part), std::string::npos) << part << "\n" << text;
  }
  EXPECT_EQ(text.find("nan"), std::string::npos);
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    EXPECT_LE(text::display_width(line), 80U) << line;
  }
}

// Identity: as many fields a row as column names; absent is empty.
TEST(TrendReport, CsvForSpreadsheets) {
  std::istringstream lines(trend_csv(result()));
  std::string line;
  std::vector<std::string> all;
  while (std::getline(lines, line)) {
    all.push_back(line);
    EXPECT_EQ(std::count(line.begin(), line.end(), ','), 29) << line;
  }
  ASSERT_EQ(all.size(), 3U);
  EXPECT_EQ(all[1],
            "12,9.1,9.3,F,3,0,2,-0.21,0.08,14.2,-0.351,-0.069,-0.12,0.07,14.2,-0.24,0,-0.18,0.08,,-0.321,-0.039,"
            "-0.03,0.02,0.81,,,,cannot tell yet: about 7 more runs,7");
}

// Source: the schema in data/schemas/trend-mark.schema.json.
TEST(TrendReport, JsonConformsToItsSchema) {
  std::ifstream file(std::string(BAGSPLIT_DATA_DIR) + "/schemas/trend-mark.schema.json");
  const nlohmann::json schema = nlohmann::json::parse(file);
  test::SchemaCheck check(schema);
  EXPECT_EQ(check(nlohmann::json::parse(trend_json(result()))), std::vector<std::string>{});
  EXPECT_EQ(check(nlohmann::json::parse(trend_json({}))), std::vector<std::string>{});
  const auto ordered = nlohmann::ordered_json::parse(trend_json(result()));
  EXPECT_TRUE(ordered.at("players").at(0).at("beyond_growth_s").at("df").is_null());
  EXPECT_TRUE(ordered.at("players").at(1).at("change_s").is_null());
  nlohmann::json broken = nlohmann::json::parse(trend_json(result()));
  broken.at("players").at(0).at("change_s").erase("df");
  broken.at("players").at(0)["verdict"] = "better";
  EXPECT_EQ(check(broken).size(), 2U);
}

}  // namespace
}  // namespace bagsplit::present
