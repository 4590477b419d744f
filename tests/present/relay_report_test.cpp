// Relays and teams as text, CSV and JSON.
#include "bagsplit/present/relay_report.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <vector>

#include "bagsplit/present/teams_report.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/roster/roster.hpp"
#include "bagsplit/text/text_width.hpp"
#include "support/json_schema.hpp"

namespace bagsplit::present {
namespace {

runs::RunLog log() {
  std::string text = "# base-distance: 60 ft\ndate,team,leg,player,course,trial,timer,second,flag\n";
  for (const char* id : {"1", "2", "3"}) {
    text +=
        std::string("2026-05-01,,,") + id + ",home-second,1,AK,8.4,\n2026-05-01,,," + id + ",home-second,2,AK,8.5,\n";
  }
  text +=
      "2026-06-01,red,1,1,home-second,1,AK,8.41,\n2026-06-01,red,2,2,home-second,1,AK,17.9,\n2026-06-01,red,3,4,home-"
      "second,1,AK,26.2,\n"
      "2026-06-01,blue,1,5,home-second,1,RB,8.6,fall\n2026-06-01,blue,2,6,home-second,1,RB,,absent\n2026-06-01,blue,3,"
      "3,home-second,1,RB,26.0,\n";
  return runs::read_run_log(text, "log.csv").log;
}

jobs::RelayResult relay_result() {
  text::Problems problems;
  return jobs::relay(log(), {}, timing::DeviceBook(), {}, problems);
}

jobs::TeamsResult teams_result() {
  jobs::TeamsOptions options;
  options.teams = 2;
  options.apart = {{"1", "2"}};
  return jobs::even_teams(log(), {}, timing::DeviceBook(), options);
}

void fits_the_page(const std::string& text) {
  EXPECT_EQ(text.find("nan"), std::string::npos);
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    EXPECT_LE(text::display_width(line), 80U) << line;
  }
}

void has_even_rows(const std::string& csv, std::size_t rows) {
  std::istringstream lines(csv);
  std::vector<std::ptrdiff_t> commas;
  for (std::string line; std::getline(lines, line);) {
    commas.push_back(std::count(line.begin(), line.end(), ','));
  }
  ASSERT_EQ(commas.size(), rows + 1);
  EXPECT_EQ(std::count(commas.begin(), commas.end(), commas[0]), static_cast<std::ptrdiff_t>(commas.size()));
}

std::vector<std::string> against_schema(const char* name, const std::string& text) {
  std::ifstream file(std::string(BAGSPLIT_DATA_DIR) + "/schemas/" + name);
  const nlohmann::json schema = nlohmann::json::parse(file);
  return test::SchemaCheck(schema)(nlohmann::json::parse(text));
}

// Identity: the page is as wide as asked for; the warning of two sides meeting on second is always there; what is
// missing is said.
TEST(RelayReport, TextForPeople) {
  const std::string text = relay_text(relay_result(), {});
  fits_the_page(text);
  for (const char* part : {"2-3: 17.40", "fall", "exch.+loss", "meet on second base", "cones", "open", "League rules",
                           "No run alone of 4", "it is not split by guess", "If they ran on another evening"}) {
    EXPECT_NE(text.find(part), std::string::npos) << part << "\n" << text;
  }
}

// Identity: what the schema in data/ promises, and the names outside programs look for.
TEST(RelayReport, JsonIsWhatTheSchemaSays) {
  const std::string text = relay_json(relay_result());
  EXPECT_EQ(against_schema("relay.schema.json", text), std::vector<std::string>{});
  const nlohmann::json json = nlohmann::json::parse(text);
  EXPECT_EQ(json.at("schema"), "bagsplit.relay/1");
  const auto& blue = json.at("teams").at(0);
  EXPECT_EQ(blue.at("team"), "blue");
  EXPECT_EQ(blue.at("total_s"), 26.0);
  EXPECT_TRUE(blue.at("legs").at(1).at("leg_s").is_null());
  const auto& leg = json.at("teams").at(1).at("legs").at(1);
  EXPECT_EQ(leg.at("leg_s"), 9.49);
  for (const char* part : {"mean", "sd", "lo", "median", "hi", "share_from_data"}) {
    EXPECT_TRUE(leg.at("exchange_s").contains(part) && leg.at("against_own_runs_s").contains(part)) << part;
  }
  EXPECT_NEAR(json.at("win_probability").at("red").get<double>() + json.at("win_probability").at("blue").get<double>(),
              1.0, 1e-9);
}

// Identity: one row a leg and one a team looked ahead to, as many fields as column names.
TEST(RelayReport, CsvForSpreadsheets) {
  has_even_rows(relay_csv(relay_result()), 6 + 2);
}

// Identity: as above, for teams.
TEST(TeamsReport, TextCsvAndJson) {
  const jobs::TeamsResult result = teams_result();
  const std::string text = teams_text(result, {});
  fits_the_page(text);
  for (const char* part : {"Kept: apart 1,2", "Proven", "interval", "meet on second base"}) {
    EXPECT_NE(text.find(part), std::string::npos) << part << "\n" << text;
  }
  has_even_rows(teams_csv(result), 6);
  EXPECT_EQ(against_schema("teams.schema.json", teams_json(result)), std::vector<std::string>{});
  const nlohmann::json json = nlohmann::json::parse(teams_json(result));
  EXPECT_EQ(json.at("teams").size(), 2U);
  EXPECT_TRUE(json.at("imbalance").at("proven_optimal").get<bool>());
}

}  // namespace
}  // namespace bagsplit::present
