// What is committed under data/demo keeps its promises: invented and saying so, ids and no names, within plausible
// bounds.
#include <gtest/gtest.h>

#include <chrono>
#include <fstream>
#include <nlohmann/json.hpp>
#include <set>
#include <sstream>
#include <string>

#include "bagsplit/runs/courses/course.hpp"
#include "season.hpp"

namespace demo_season {
namespace {

std::string text_of(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  EXPECT_TRUE(in) << path;
  std::ostringstream body;
  body << in.rdbuf();
  return body.str();
}

nlohmann::json truth() {
  return nlohmann::json::parse(text_of(BAGSPLIT_TEST_DATA "/demo_season/truth.json"));
}

TEST(DemoSeason, SaysInEveryLogThatItIsInvented) {
  // Identity: a promise of the README, checked on the files themselves.
  const Season season = make_season();
  EXPECT_EQ(season.logs.size(), 8U);
  for (const auto& [name, text] : season.logs) {
    EXPECT_NE(text_of(std::string(BAGSPLIT_DATA_DIR) + "/demo/" + name).find("# invented demo data, no real children"),
              std::string::npos)
        << name;
  }
  EXPECT_NE(text_of(BAGSPLIT_DATA_DIR "/demo/README.md").find("Nothing here was measured"), std::string::npos);
}

TEST(DemoSeason, LossesAreKeyedAsTheBuiltInCoursesKeyThem) {
  // Identity: the keys of this program's own table of courses are those of the library's.
  for (const auto& course : bagsplit::runs::builtin_courses()) {
    for (const char* used : {"circuit", "home-first", "home-second", "home-second-reverse", "first-third"}) {
      if (course.name != used) {
        continue;
      }
      const auto legs = legs_of(used);
      ASSERT_EQ(course.marks.size(), legs.size()) << used;
      for (std::size_t i = 0; i < legs.size(); ++i) {
        EXPECT_EQ(course.marks[i].name, legs[i].mark);
        EXPECT_EQ(course.marks[i].bases, legs[i].bases);
        EXPECT_EQ(course.segments.empty() ? "" : course.segments[i].key, legs[i].loss_key);
      }
    }
  }
}

TEST(DemoSeason, ChildrenStayWithinTheBoundsTheReadmeStates) {
  // Common practice, no source: the bounds are those printed in data/demo/README.md.
  const auto all = truth();
  const auto& players = all.at("players");
  ASSERT_EQ(players.size(), 14U);
  for (const auto& player : players) {
    EXPECT_GE(player.at("top_speed_mps"), 5.2);
    EXPECT_LE(player.at("top_speed_mps"), 7.2);
    EXPECT_GE(player.at("time_constant_s"), 0.8);
    EXPECT_LE(player.at("time_constant_s"), 1.3);
    EXPECT_GE(player.at("reaction_s"), 0.25);
    EXPECT_LE(player.at("reaction_s"), 0.45);
    EXPECT_GE(player.at("posture_cost_s").at("prone"), 0.66);
    EXPECT_LE(player.at("posture_cost_s").at("prone"), 1.10);
    for (const char* bag : {"first", "second", "third"}) {
      EXPECT_GE(player.at("segment_loss_s").at(bag), 0.17);
      EXPECT_LE(player.at("segment_loss_s").at(bag), 0.60);
    }
  }
}

TEST(DemoSeason, TwoImproveBeyondGrowthAndTheOthersDoNot) {
  // Identity: relative change of V over ten weeks is growth alone unless a gain is stated.
  std::set<std::string> improvers;
  const auto all = truth();
  for (const auto& player : all.at("players")) {
    const auto& dates = player.at("by_date");
    const double first = dates.front().at("top_speed_mps");
    const double last = dates.back().at("top_speed_mps");
    if (last > 1.01 * first) {
      improvers.insert(player.at("player"));
    }
  }
  EXPECT_EQ(improvers, (std::set<std::string>{"22", "24"}));
}

}  // namespace
}  // namespace demo_season
