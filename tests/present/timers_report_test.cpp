#include "bagsplit/present/timers_report.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <vector>

#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/text/text_width.hpp"
#include "support/json_schema.hpp"

namespace bagsplit::present {
namespace {

jobs::TimersResult result() {
  std::string log = "# start: signal\ndate,player,course,trial,timer,device,20m\n";
  for (int p = 1; p <= 8; ++p) {
    const std::string run = "2026-05-01," + std::to_string(p) + ",straight,1,";
    log += run + "AK,stopwatch,4." + std::to_string(10 + 3 * p) + "\n";
    log += run + "RB,stopwatch,4." + std::to_string(p == 4 ? 99 : 20 + 3 * p + p % 2) + "\n";
    log += run + ",gate,4." + std::to_string(300 + 31 * p) + "\n";
  }
  log += "2026-05-01,1,straight,2,LM,stopwatch,4.20\n2026-05-01,1,straight,2,RB,stopwatch,4.30\n";
  return jobs::timers(runs::read_run_log(log, "log.csv").log, timing::DeviceBook(), {});
}

// Identity: the page is as wide as asked for; nothing absent is shown as a number.
TEST(TimersReport, TextForPeople) {
  const std::string text = timers_text(result(), {});
  for (const char* part : {"AK, stopwatch less gate: start signal, at 20m, 8 runs", "any watch", "Bland & Altman",
                           "Shrout & Fleiss", "log.csv:", "gate, camera", "of 3"}) {
    EXPECT_NE(text.find(part), std::string::npos) << part << "\n" << text;
  }
  EXPECT_EQ(text.find("nan"), std::string::npos);
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    EXPECT_LE(text::display_width(line), 80U) << line;
  }
  EXPECT_NE(timers_text({}, {}).find("0 runs"), std::string::npos);
}

// Identity: as many fields a row as column names.
TEST(TimersReport, CsvForSpreadsheets) {
  std::istringstream lines(timers_csv(result()));
  std::vector<std::ptrdiff_t> fields;
  for (std::string line; std::getline(lines, line);) {
    bool quoted = false;
    std::ptrdiff_t count = 1;
    for (const char c : line) {
      quoted = c == '"' ? !quoted : quoted;
      count += c == ',' && !quoted;
    }
    fields.push_back(count);
  }
  ASSERT_GT(fields.size(), 4U);
  EXPECT_EQ(std::count(fields.begin(), fields.end(), fields[0]), static_cast<std::ptrdiff_t>(fields.size()));
}

// Source: the schema in data/schemas/timers.schema.json.
TEST(TimersReport, JsonConformsToItsSchema) {
  std::ifstream file(std::string(BAGSPLIT_DATA_DIR) + "/schemas/timers.schema.json");
  const nlohmann::json schema = nlohmann::json::parse(file);
  test::SchemaCheck check(schema);
  EXPECT_EQ(check(nlohmann::json::parse(timers_json(result()))), std::vector<std::string>{});
  EXPECT_EQ(check(nlohmann::json::parse(timers_json({}))), std::vector<std::string>{});
  nlohmann::json broken = nlohmann::json::parse(timers_json(result()));
  broken.at("pairs").at(0).at("icc").erase("icc_2_1");
  broken.at("pairs").at(0)["start"] = "gun";
  EXPECT_EQ(check(broken).size(), 2U);
}

}  // namespace
}  // namespace bagsplit::present
