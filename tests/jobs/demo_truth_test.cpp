// The demo season's profile against the truth it was made from: the whole chain, files to estimates, on runs whose
// answer is known.
//
// Identity: the generator's parameters, tests/demo_season/truth.json. Invented data: this shows that the chain holds
// together, not that children are like this; coverage is proved elsewhere (sprint calibration_test).
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <vector>

#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/roster/roster.hpp"

namespace {

using namespace bagsplit;

std::string text_of(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

TEST(DemoSeason, ProfileFindsTheTruthItWasMadeFrom) {
  const std::string folder = std::string(BAGSPLIT_DATA_DIR) + "/demo";
  std::vector<std::string> paths;
  for (const auto& entry : std::filesystem::directory_iterator(folder)) {
    const std::string name = entry.path().filename().string();
    if (name.starts_with("2026-") && name.ends_with(".csv")) {
      paths.push_back(entry.path().string());
    }
  }
  std::sort(paths.begin(), paths.end());
  ASSERT_EQ(paths.size(), 8U);
  std::vector<std::string> texts;
  for (const std::string& path : paths) {
    texts.push_back(text_of(path));
  }
  std::vector<runs::LogText> logs;
  for (std::size_t i = 0; i < paths.size(); ++i) {
    logs.push_back({texts[i], paths[i], false});
  }
  const runs::RosterResult roster = runs::read_roster(text_of(folder + "/roster.csv"), "roster.csv");
  const runs::RunLogResult log = runs::read_run_logs(logs);
  ASSERT_TRUE(log.problems.empty());
  text::Problems problems;
  timing::DeviceBook devices;
  devices.add(timing::read_device(text_of(folder + "/watches.json"), "watches.json", problems));
  ASSERT_TRUE(problems.empty());
  const jobs::ProfileResult result = jobs::profile(log.log, roster.roster, devices, norms::Catalogue::builtin(), {});
  ASSERT_EQ(result.players.size(), 14U);

  const nlohmann::json truth =
      nlohmann::json::parse(text_of(std::string(BAGSPLIT_TEST_DATA) + "/demo_season/truth.json"));
  int inside = 0;
  int all = 0;
  double worst = 0.0;
  for (const nlohmann::json& child : truth.at("players")) {
    const auto it = std::find_if(result.players.begin(), result.players.end(), [&](const jobs::PlayerProfile& p) {
      return p.player == child.at("player").get<std::string>();
    });
    ASSERT_NE(it, result.players.end());
    const auto compare = [&](double true_value, const jobs::Estimate& e) {
      ++all;
      inside += true_value >= e.lo && true_value <= e.hi;
      worst = std::max(worst, std::fabs(e.mean - true_value) / e.sd);
    };
    // The two who improve have no one speed over the season.
    if (child.at("top_speed_gain") == 0 && child.at("time_constant_gain") == 0) {
      compare(child.at("time_constant_s"), it->time_constant_s.value());
    }
    compare(child.at("reaction_s"), it->reaction_s.value());
    for (const jobs::NamedEstimate& loss : it->segment_loss_s) {
      compare(child.at("segment_loss_s").at(loss.name), loss.value);
    }
    for (const jobs::NamedEstimate& cost : it->posture_cost_s) {
      if (cost.name == "prone") {
        compare(child.at("posture_cost_s").at("prone"), cost.value);
      }
    }
  }
  EXPECT_GT(all, 120);
  // Quantities of one child are correlated, and timer biases are common to all: 90% intervals may well hold 80% of one
  // season's truths.
  EXPECT_GT(inside, 0.78 * all) << inside << " of " << all;
  EXPECT_LT(worst, 4.5);
  std::printf("%d of %d truths lie in their 90%% intervals; the farthest is %.1f SD away\n", inside, all, worst);
}

}  // namespace
