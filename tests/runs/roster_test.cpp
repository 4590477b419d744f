#include "bagsplit/runs/roster.hpp"

#include <gtest/gtest.h>

#include <string>

#include "bagsplit/runs/typed.hpp"

namespace {

using namespace bagsplit::runs;

// Identity: what was typed, in SI.
TEST(RosterReading, EveryColumnIsRead) {
  const auto [roster, problems] = read_roster(
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

// Identity: only the id is required, and the order of columns is free.
TEST(RosterReading, OnlyThePlayerIsRequired) {
  const auto [roster, problems] = read_roster("# our squad, invented\nborn;x-shirt;player\n11.04.2016;M;12\n", "r.csv");
  EXPECT_EQ(problems.size(), 1U);  // the date needs its order
  const auto dmy = read_roster("# dates: dmy\nborn;x-shirt;player\n11.04.2016;M;12\n", "r.csv");
  EXPECT_TRUE(dmy.problems.empty());
  EXPECT_EQ(format_date(*dmy.roster.find("12")->born), "2016-04-11");
}

TEST(RosterReading, NoPlayersIsNoError) {
  EXPECT_TRUE(read_roster("player\n", "r.csv").problems.empty());
  EXPECT_FALSE(has_errors(read_roster("", "r.csv").problems));
  EXPECT_TRUE(has_errors(read_roster("name\nA\n", "r.csv").problems));
}

TEST(RosterReading, StrictTurnsSuspicionsIntoErrors) {
  RosterOptions options;
  const char* tall = "player,height_cm\n12,230\n";
  EXPECT_FALSE(has_errors(read_roster(tall, "r.csv", options).problems));
  options.strict = true;
  EXPECT_TRUE(has_errors(read_roster(tall, "r.csv", options).problems));
}

// Identity: what people write for the two words of the norms.
TEST(RosterReading, SexIsReadAsItIsWritten) {
  const auto [roster, problems] =
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
