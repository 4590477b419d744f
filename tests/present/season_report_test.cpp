#include "bagsplit/present/season_report.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <vector>

#include "bagsplit/text/text_width.hpp"
#include "support/json_schema.hpp"

namespace bagsplit::present {
namespace {

runs::Date day(unsigned month, unsigned day_of) {
  return runs::Date(std::chrono::year{2026} / std::chrono::month{month} / std::chrono::day{day_of});
}

jobs::SeasonPlayer player(const std::string& id, season::Verdict verdict, double change_s, double p_faster,
                          double p_slower) {
  jobs::SeasonPlayer out;
  out.player = id;
  out.sex = runs::Sex::female;
  out.age_first_years = 9.1;
  out.age_last_years = 9.3;
  out.times_early = 6;
  out.times_late = 5;
  season::Change change;
  change.verdict = verdict;
  change.change_s = change_s;
  change.interval_s = {change_s - 0.1, change_s + 0.1};
  change.growth_s = {-0.03, 0.02};
  change.beyond_growth_s = {change_s + 0.03, 0.05};
  change.beyond_growth_interval_s = {change_s - 0.07, change_s + 0.13};
  change.p_faster = p_faster;
  change.p_slower = p_slower;
  change.p_as_growth = 1.0 - p_faster - p_slower;
  out.change = change;
  out.verdict = words(verdict);
  return out;
}

jobs::SeasonTrend result() {
  jobs::SeasonTrend out;
  out.players = {player("12", season::Verdict::surely_faster, -0.21, 0.97, 0.01),
                 player("7", season::Verdict::leaning_slower, 0.09, 0.02, 0.68),
                 player("5", season::Verdict::as_growth_says, -0.02, 0.04, 0.03)};
  jobs::SeasonPlayer bare;
  bare.player = "Zo\xC3\xAB";
  bare.verdict = words(season::Verdict::not_seen_early_and_late);
  out.players.push_back(bare);
  out.course = "home-first";
  out.mark = "first";
  out.moving_time_s = 3.9;
  out.courses = 2;
  out.dates = 8;
  out.times_used = 120;
  out.runs_used = 90;
  out.runs_left_out = 2;
  out.left_out = {{"fall", 1}, {"no_time_at_mark", 1}};
  out.early = jobs::WindowSummary{{day(4, 14), day(4, 28)}, 3, 30, 3};
  out.late = jobs::WindowSummary{{day(6, 2), day(6, 23)}, 3, 31, 3};
  out.squad = season::Squad{};
  out.squad->share_changed = 0.3;
  out.common_move_s = {-0.04, 0.03};
  out.smallest_detectable_s = 0.21;
  out.worthwhile_s = 0.039;
  out.conditions = {{"wind", -0.06, {}}, {"ground", 0.0, {{"grass", 60, 0.0, 0.0}, {"clay", 60, -0.05, 0.04}}}};
  jobs::SuspectedReading odd;
  odd.file = "may.csv";
  odd.line = 17;
  odd.column = "first";
  odd.player = "12";
  odd.kind = "time";
  odd.probability = 0.99;
  odd.read_s = 5.05;
  odd.expected_s = 4.05;
  odd.size_s = 1.0;
  out.suspects = {{odd, "home-first at first, 5.05 s", day(5, 5)}};
  out.notes = {"No date of birth of 1 player."};
  out.cautions = {"Warm up."};
  return out;
}

// Identity: the words are those of the values; nothing absent is shown as a number; no line is wider than the page.
TEST(SeasonReport, TextForPeople) {
  const std::string text = season_text(result(), {});
  for (const char* part :
       {"seconds are those of home-first at first", "Left out: 2 runs: 1 flagged fall", "1 without a time at a mark",
        "A change of 0.21 s beyond growing would be told of four children in five", "-0.31 -0.11", "-0.03+-0.03",
        "19 in 20", "surely faster", "2 in 3  leaning slower", "9 in 10  as growth says", "not seen early and",
        "surely was right 19 times in 20", "look first at tiredness, soreness, a growth spurt, motivation",
        "squad moved by -0.04 s beyond growing", "could explain: the wind -0.06 s", "clay -0.05 s, give or take 0.07",
        "may.csv line 17: player 12 on 2026-05-05, home-first at first, 5.05 s"}) {
    std::string flat = text;
    std::replace(flat.begin(), flat.end(), '\n', ' ');
    EXPECT_NE(flat.find(part), std::string::npos) << part << "\n" << text;
  }
  for (const char* part : {"nan", "SD", "posterior", "probability"}) {
    EXPECT_EQ(text.find(part), std::string::npos) << part;
  }
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    EXPECT_LE(text::display_width(line), 80U) << line;
  }
}

// Identity: who got slower is only spoken of where somebody did.
TEST(SeasonReport, CoachIsToldWhereToLookOnlyWhereSomebodyGotSlower) {
  jobs::SeasonTrend still = result();
  still.players.erase(still.players.begin() + 1);
  EXPECT_EQ(season_text(still, {}).find("tiredness"), std::string::npos);
  EXPECT_EQ(season_text({}, {}).find("nan"), std::string::npos);
}

// Identity: never more than the chance itself.
TEST(SeasonReport, OddsAreRoundedDown) {
  EXPECT_EQ(odds_words(0.999), "99 in 100");
  EXPECT_EQ(odds_words(0.95), "19 in 20");
  EXPECT_EQ(odds_words(0.9499), "9 in 10");
  EXPECT_EQ(odds_words(0.76), "3 in 4");
  EXPECT_EQ(odds_words(0.51), "1 in 2");
  EXPECT_EQ(odds_words(0.3), "less than 1 in 2");
}

// Identity: as many fields a row as column names; absent is empty.
TEST(SeasonReport, CsvForSpreadsheets) {
  std::istringstream lines(season_csv(result()));
  std::vector<std::string> all;
  for (std::string line; std::getline(lines, line);) {
    all.push_back(line);
    EXPECT_EQ(std::count(line.begin(), line.end(), ','), 21) << line;
  }
  ASSERT_EQ(all.size(), 5U);
  EXPECT_EQ(all[1],
            "12,9.1,9.3,F,6,0,5,-0.21,-0.31,-0.11,-0.03,0.02,-0.18,0.05,-0.28,-0.08,0.97,0.01,0,0.02,0,surely faster");
  EXPECT_EQ(all[4], "Zo\xC3\xAB,,,,0,0,0,,,,,,,,,,,,,,,not seen early and late");
}

// Source: the schema in data/schemas/trend.schema.json.
TEST(SeasonReport, JsonConformsToItsSchema) {
  std::ifstream file(std::string(BAGSPLIT_DATA_DIR) + "/schemas/trend.schema.json");
  const nlohmann::json schema = nlohmann::json::parse(file);
  test::SchemaCheck check(schema);
  EXPECT_EQ(check(nlohmann::json::parse(season_json(result()))), std::vector<std::string>{});
  EXPECT_EQ(check(nlohmann::json::parse(season_json({}))), std::vector<std::string>{});
  nlohmann::json broken = nlohmann::json::parse(season_json(result()));
  EXPECT_TRUE(broken.at("players").at(3).at("change_s").is_null());
  broken.at("players").at(0).at("change_s").erase("lo");
  broken.at("players").at(0)["verdict"] = "better";
  EXPECT_EQ(check(broken).size(), 2U);
}

}  // namespace
}  // namespace bagsplit::present
