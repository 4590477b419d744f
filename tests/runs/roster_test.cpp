#include "bagsplit/runs/roster/roster.hpp"
#include "bagsplit/runs/log/run_log.hpp"

#include <gtest/gtest.h>

#include <string>

#include "bagsplit/runs/typed.hpp"

namespace {

using namespace bagsplit::runs;
namespace text = bagsplit::text;

// Identity: what was typed, in SI.
TEST(RosterReading, EveryColumnIsRead) {
  const auto [roster, problems, births] = read_roster(
      "player,bib,name,sex,born,height_cm,mass_kg,sitting_height_cm,bats,team\n"
      "12,7,Zo\xC3\xAB,F,2016-02-29,138.5,32,72,left,red\n13,,,,,,,,,\n",
      "roster.csv");
  EXPECT_TRUE(problems.empty());
  ASSERT_EQ(roster.players.size(), 2U);
  const Player& player = *roster.find("12");
  EXPECT_EQ(player.bib, "7");
  EXPECT_EQ(player.name, "Zo\xC3\xAB");
  EXPECT_EQ(player.sex, Sex::female);
  EXPECT_EQ(format_date(*player.born), "2016-02-29");
  EXPECT_DOUBLE_EQ(*player.height_m, 1.385);
  EXPECT_DOUBLE_EQ(*player.mass_kg, 32.0);
  EXPECT_DOUBLE_EQ(*player.sitting_height_m, 0.72);
  EXPECT_EQ(player.bats, Side::left);
  EXPECT_EQ(player.team, "red");
  const Player& other = *roster.find("13");
  EXPECT_FALSE(other.sex || other.born || other.height_m || other.bats);
  EXPECT_EQ(roster.find("14"), nullptr);
}

// Identity: ages at the runs by the calendar. A run before the birth is an error at its line; an age below 3 or above
// 80 is doubted, once.
TEST(RosterReading, BirthsAreHeldAgainstTheDatesOfTheRuns) {
  const RunLogResult log = read_run_log(
      "# course: straight\ndate,player,10m\n2024-04-11,12,2.5\n2026-04-11,12,2.4\n2026-04-11,13,2.6\n2026-04-11,14,"
      "2.7\n2026-04-11,15,2.8\n",
      "a.csv");
  const auto roster =
      read_roster("player,born\n12,2025-05-02\n13,2016-05-02\n14,1940-05-02\n15,2023-05-02\n16,2026-05-02\n", "r.csv",
                  {.today = Date{std::chrono::year{2026} / 12 / 1}});
  const auto text_of = [](const text::Problems& problems) {
    std::string text;
    for (const text::Problem& p : problems) {
      text += p.path + ":" + std::to_string(p.line) + ":" + std::to_string(p.column) + " " + p.code + " " + p.read +
              (p.severity == text::Severity::error ? " error" : "") + "\n";
    }
    return text;
  };
  EXPECT_EQ(text_of(roster.problems),
            "r.csv:2:4 unlikely-birth 2025-05-02\nr.csv:4:4 unlikely-birth 1940-05-02\nr.csv:6:4 unlikely-birth "
            "2026-05-02\n");
  EXPECT_EQ(text_of(check_births(roster, log.log, false)),
            "r.csv:2:4 birth-after-run 2025-05-02 error\nr.csv:5:4 unlikely-birth 2023-05-02\n");
  EXPECT_EQ(text_of(check_births(roster, log.log, true)),
            "r.csv:2:4 birth-after-run 2025-05-02 error\nr.csv:5:4 unlikely-birth 2023-05-02 error\n");
}

// Identity: one child under two ids.
TEST(RosterReading, IdsThatMayBeOneAreTold) {
  const auto codes = [](const std::string& a, const std::string& b) {
    std::string text;
    for (const text::Problem& p : read_roster("player,sex\n" + a + ",F\n" + b + ",F\n", "r.csv").problems) {
      text += p.code + " ";
    }
    return text;
  };
  EXPECT_EQ(codes("12", "12.0"), "two-spellings ");
  EXPECT_EQ(codes("12", "\u00A012"), "two-spellings ");
  EXPECT_EQ(codes("12", "1.23E+05"), "rounded-id ");
  EXPECT_EQ(codes("12", "13"), "");
}

// Identity: only the id is required, and the order of columns is free.
TEST(RosterReading, OnlyThePlayerIsRequired) {
  const auto [roster, problems, births] =
      read_roster("# our squad, invented\nborn;x-shirt;player\n11.04.2016;M;12\n", "r.csv");
  EXPECT_EQ(problems.size(), 1U);  // the date needs its order
  const auto dmy = read_roster("# dates: dmy\nborn;x-shirt;player\n11.04.2016;M;12\n", "r.csv");
  EXPECT_TRUE(dmy.problems.empty());
  EXPECT_EQ(format_date(*dmy.roster.find("12")->born), "2016-04-11");
}

TEST(RosterReading, NoPlayersIsNoError) {
  EXPECT_TRUE(read_roster("player\n", "r.csv").problems.empty());
  EXPECT_FALSE(text::has_errors(read_roster("", "r.csv").problems));
  EXPECT_TRUE(text::has_errors(read_roster("name\nA\n", "r.csv").problems));
}

TEST(RosterReading, StrictTurnsSuspicionsIntoErrors) {
  RosterOptions options;
  const char* tall = "player,height_cm\n12,230\n";
  EXPECT_FALSE(text::has_errors(read_roster(tall, "r.csv", options).problems));
  options.strict = true;
  EXPECT_TRUE(text::has_errors(read_roster(tall, "r.csv", options).problems));
}

// Identity: what people write for the two words of the norms.
TEST(RosterReading, SexIsReadAsItIsWritten) {
  const auto [roster, problems, births] =
      read_roster("player,sex\n1,girl\n2,Boy\n3,FEMALE\n4,male\n5,f\n6,m\n7,\n8,child\n", "r.csv");
  EXPECT_EQ(problems.size(), 1U);
  for (const char* id : {"1", "3", "5"}) {
    EXPECT_EQ(roster.find(id)->sex, Sex::female) << id;
  }
  for (const char* id : {"2", "4", "6"}) {
    EXPECT_EQ(roster.find(id)->sex, Sex::male) << id;
  }
}

// Identity: '98 is not 2098, and nobody is guessed to be of another century.
TEST(RosterReading, AYearOfTwoDigitsIsOfThisCentury) {
  const RosterOptions options{.today = Date{std::chrono::year{2026} / 6 / 30}};
  const auto read = read_roster("# dates: dmy\nplayer,born\n1,11.04.16\n2,11.04.98\n", "r.csv", options);
  EXPECT_EQ(format_date(*read.roster.find("1")->born), "2016-04-11");
  ASSERT_EQ(read.problems.size(), 1U);
  EXPECT_EQ(read.problems.front().code, "future-birth");
  EXPECT_NE(read.problems.front().hint.find("all four"), std::string::npos);
}

}  // namespace
