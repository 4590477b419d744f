#include "bagsplit/present/standings_report.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <vector>

#include "bagsplit/present/text/interval_plot.hpp"
#include "bagsplit/text/text_width.hpp"
#include "support/json_schema.hpp"

namespace bagsplit::present {
namespace {

jobs::Standing standing(const std::string& player, std::size_t place, double value, double p, jobs::CutStatus status) {
  jobs::Standing out;
  out.player = player;
  out.place = place;
  out.runs_used = 3;
  out.runs_of_course = 3;
  out.value = {value, 0.05, value - 0.08, value, value + 0.08, 0.9};
  out.expected_rank = static_cast<double>(place);
  out.rank_lo = std::max(1.0, static_cast<double>(place) - 1.0);
  out.rank_hi = static_cast<double>(place) + 1.0;
  out.p_in_cut = p;
  out.tier = place;
  out.status = status;
  out.timers = {"AK"};
  return out;
}

jobs::StandingsResult result() {
  jobs::StandingsResult out;
  out.by = {{jobs::Quantity::time, "first", "home-first", 1.0}};
  out.by_word = "time:first@home-first";
  out.time = jobs::TimeConditions{18.288, 18.288, runs::StartKind::signal, 0.0, runs::Posture::standing};
  out.lower_is_better = true;
  out.groups = {{"", 3, 1, 2}};
  out.players = {standing("12", 1, 4.0, 0.97, jobs::CutStatus::in),
                 standing("Zo\xC3\xAB", 2, 4.1, 0.06, jobs::CutStatus::undecided),
                 standing("7", 3, 4.4, 0.0, jobs::CutStatus::out)};
  out.players[1].value.share_from_data = 0.2;
  out.players[0].age_years = 9.5;
  out.players[0].sex = runs::Sex::female;
  out.not_ranked = {{"9", "all runs flagged"}, {"8", "all runs flagged"}};
  out.first_run = {"9", "8"};
  out.next_runs_asked = 2;
  out.most_each = 3;
  out.next_runs = {{"Zo\xC3\xAB", 2, "home-first"}};
  out.worth = jobs::RunsWorth{0.5, 0.4, 0.35};
  out.runs_used = 9;
  out.draws = 4000;
  out.seed = 7;
  out.notes = {"A note."};
  out.cautions = {"Warm up."};
  return out;
}

TEST(StandingsReport, TextWithinTheWidth) {
  for (const std::size_t width : {60U, 80U, 120U}) {
    const std::string text = standings_text(result(), {.width = width});
    EXPECT_EQ(text.find("nan"), std::string::npos);
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);) {
      EXPECT_LE(text::display_width(line), width) << line;
    }
  }
  const std::string text = standings_text(result(), {.width = 80});
  for (const char* part :
       {"time at\nfirst over home-first (60 ft bases, standing, from the signal)",
        "Cut at 1: 1 surely in, 1 surely out (95%), 1 undecided: Zo\xC3\xAB.", "9 and 8: all runs flagged",
        "0.50 now, 0.40 after these 2 runs", "seed 7", "4.10 +-0.08*"}) {
    std::string flat = text;
    std::string wanted = part;
    std::replace(flat.begin(), flat.end(), '\n', ' ');
    std::replace(wanted.begin(), wanted.end(), '\n', ' ');
    EXPECT_NE(flat.find(wanted), std::string::npos) << part << "\n" << text;
  }
}

TEST(StandingsReport, TextSaysWhenFurtherRunsSettleNothing) {
  jobs::StandingsResult idle = result();
  idle.worth = jobs::RunsWorth{0.5, 0.49, 0.45};
  EXPECT_NE(standings_text(idle, {.width = 200}).find("settle next to nothing"), std::string::npos);
}

// Identity: as many fields a row as column names.
TEST(StandingsReport, CsvForSpreadsheets) {
  jobs::StandingsResult with_best = result();
  with_best.players[0].best = jobs::BestTime{3.91, 4.0, timing::TimingClass::hand, 2, 3, runs::Date{}, 1, true};
  std::istringstream lines(standings_csv(with_best));
  std::vector<std::string> all;
  for (std::string line; std::getline(lines, line);) {
    EXPECT_EQ(std::count(line.begin(), line.end(), ','), 30) << line;
    all.push_back(line);
  }
  ASSERT_EQ(all.size(), 6U);
  EXPECT_EQ(all[1], ",1,12,9.5,,F,3,3,4,0.05,3.92,4,4.08,0.9,1,1,2,0.97,1,in,0,3.91,4,hand,2,3,1970-01-01,1,yes,,0");
  EXPECT_EQ(all[4], ",,9,,,,,,,,,,,,,,,,,,,,,,,,,,,all runs flagged,");
}

// Source: the schema in data/schemas/standings.schema.json.
TEST(StandingsReport, JsonConformsToItsSchema) {
  std::ifstream file(std::string(BAGSPLIT_DATA_DIR) + "/schemas/standings.schema.json");
  const nlohmann::json schema = nlohmann::json::parse(file);
  test::SchemaCheck check(schema);
  EXPECT_EQ(check(nlohmann::json::parse(standings_json(result()))), std::vector<std::string>{});
  EXPECT_EQ(check(nlohmann::json::parse(standings_json({}))), std::vector<std::string>{});
  jobs::StandingsResult full = result();
  full.players[0].best = jobs::BestTime{3.91, 4.0, timing::TimingClass::hand, 2, 3, runs::Date{}, 0, false};
  full.players[0].parts = {{"top-speed", full.players[0].value}};
  full.players[2].p_in_cut.reset();
  full.players[2].status.reset();
  full.index = {{"top-speed", 2.0, 6.0, 0.5}};
  const auto json = nlohmann::json::parse(standings_json(full));
  EXPECT_EQ(check(json), std::vector<std::string>{});
  EXPECT_TRUE(json.at("players").at(2).at("status").is_null());
  EXPECT_TRUE(json.at("players").at(0).at("best").at("place").is_null());
  EXPECT_EQ(json.at("next_runs").at(0).at("runs"), 2);
  nlohmann::json broken = json;
  broken.at("players").at(0).at("value").erase("lo");
  broken.at("players").at(0)["status"] = "maybe";
  EXPECT_EQ(check(broken).size(), 2U);
}

TEST(IntervalBar, EndsLieWithinHalfACell) {
  const IntervalAxis axis{1.0, 11.0, 11};
  // Identity: one cell a unit.
  EXPECT_EQ(interval_bar({{}, 2.0, 4.0, 7.0}, axis, {}, 9.5), " |-o--|  : ");
  EXPECT_EQ(interval_bar({{}, 1.0, 1.0, 1.0}, axis, {}), "o          ");
  EXPECT_EQ(axis_of({{{}, 2.0, 2.0, 2.0}}, 5).low, 1.5);
}

}  // namespace
}  // namespace bagsplit::present
