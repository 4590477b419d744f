#include "bagsplit/present/machine/profile_json.hpp"

#include <gtest/gtest.h>

#include <fstream>
#include <limits>
#include <nlohmann/json.hpp>

#include "present/profile_fixture.hpp"
#include "support/json_schema.hpp"

namespace bagsplit::present {
namespace {

using nlohmann::ordered_json;

ordered_json parsed(const jobs::ProfileResult& result) {
  return ordered_json::parse(profile_json(result));
}

std::vector<std::string> names(const ordered_json& object) {
  std::vector<std::string> out;
  for (const auto& [name, value] : object.items()) {
    out.push_back(name);
  }
  return out;
}

// Common practice, no source: the names and their order are what others rely on, written out here once more.
TEST(ProfileJson, HasTheAgreedNamesInTheAgreedOrder) {
  const ordered_json json = parsed(fixture::squad({fixture::full_player("12"), fixture::bare_player("7")}));
  EXPECT_EQ(names(json), (std::vector<std::string>{"schema", "level", "model", "players", "runs_used", "runs_left_out",
                                                   "notes", "cautions", "squad", "suspected_readings", "maybe_readings",
                                                   "slip_rate", "as_of", "last_evening", "both_ways"}));
  EXPECT_EQ(json.at("schema"), "bagsplit.profile/2");
  EXPECT_EQ(json.at("level"), 0.9);
  const std::vector<std::string> first{"player",
                                       "age_years",
                                       "sex",
                                       "runs_used",
                                       "runs_left_out",
                                       "top_speed_mps",
                                       "time_constant_s",
                                       "max_acceleration_mps2",
                                       "reaction_s",
                                       "posture_cost_s",
                                       "segment_loss_s",
                                       "predicted_time_s",
                                       "percentiles",
                                       "straight_efficiency",
                                       "path_efficiency"};
  for (const ordered_json& player : json.at("players")) {
    std::vector<std::string> got = names(player);
    ASSERT_GE(got.size(), first.size());
    got.resize(first.size());
    EXPECT_EQ(got, first);
  }
  const ordered_json& player = json.at("players").at(0);
  EXPECT_EQ(names(player.at("top_speed_mps")),
            (std::vector<std::string>{"mean", "sd", "lo", "median", "hi", "share_from_data"}));
  EXPECT_EQ(names(player.at("segment_loss_s")),
            (std::vector<std::string>{"first", "second", "third", "home", "second-stop"}));
  const ordered_json& percentile = player.at("percentiles").at(0);
  EXPECT_EQ(names(percentile).at(0), "quantity");
  EXPECT_EQ(names(percentile).at(1), "source");
  EXPECT_EQ(names(percentile).at(2), "percentile");
}

// Identity: what went in comes out.
TEST(ProfileJson, ValuesKeepEveryDigit) {
  jobs::PlayerProfile player = fixture::full_player("12");
  player.top_speed_mps->mean = 1.0 / 3.0;
  const ordered_json json = parsed(fixture::squad({player})).at("players").at(0);
  EXPECT_EQ(json.at("player"), "12");
  EXPECT_EQ(json.at("age_years"), 11.3);  // to a tenth: beside a date more would be the date of birth
  EXPECT_EQ(json.at("sex"), "F");
  EXPECT_EQ(json.at("runs_used"), 12);
  EXPECT_EQ(json.at("runs_left_out"), 3);
  EXPECT_EQ(json.at("top_speed_mps").at("mean").get<double>(), 1.0 / 3.0);
  EXPECT_EQ(json.at("top_speed_mps").at("share_from_data"), 0.3);
  EXPECT_EQ(json.at("posture_cost_s").at("prone").at("median"), 0.8);
  EXPECT_EQ(json.at("predicted_time_s").at("home-first").at("median"), 3.82);
  EXPECT_EQ(json.at("max_force_N").at("median"), 260);
  EXPECT_EQ(json.at("path_efficiency").at("median"), 0.95);
  EXPECT_EQ(json.at("loss_to_best_path_by_segment_s").at("second-stop").at("median"), 0.3);
  EXPECT_EQ(json.at("best_path").at("course"), "home-second");
  EXPECT_EQ(json.at("best_path").at("loss_at").at(1).at("loss_mean_s"), 0.6);
  EXPECT_EQ(json.at("left_out").at("flagged").at("false-start"), 2);
  EXPECT_EQ(json.at("dates").at("last"), "2026-06-23");
  EXPECT_EQ(json.at("prior").at("log_top_speed").at("mean"), 1.8);
  EXPECT_TRUE(json.at("percentiles").at(0).at("percentile").at("share_from_data").is_null());
}

TEST(ProfileJson, WhatCannotBeToldIsNull) {
  const ordered_json json = parsed(fixture::squad({fixture::bare_player("7")})).at("players").at(0);
  for (const char* name : {"age_years", "sex", "top_speed_mps", "time_constant_s", "max_acceleration_mps2",
                           "reaction_s", "straight_efficiency", "path_efficiency", "loss_to_best_path_s", "best_path",
                           "max_force_N", "base_distance_m"}) {
    EXPECT_TRUE(json.at(name).is_null()) << name;
  }
  EXPECT_TRUE(json.at("posture_cost_s").at("prone").is_null());
  for (const char* name : {"first", "second", "third", "home"}) {
    EXPECT_TRUE(json.at("segment_loss_s").at(name).is_null()) << name;
  }
  for (const char* name : {"5yd", "10yd", "20yd", "10m", "20m", "30m", "home-first"}) {
    EXPECT_TRUE(json.at("predicted_time_s").at(name).is_null()) << name;
  }
  EXPECT_TRUE(json.at("percentiles").empty());
  EXPECT_TRUE(json.at("dates").at("first").is_null());
}

TEST(ProfileJson, TheModelIsEchoedAsAModelFile) {
  const jobs::ProfileResult result = fixture::squad({});
  const ordered_json model = parsed(result).at("model");
  EXPECT_EQ(model, ordered_json::parse(inference::write_model(result.model)));
  text::Problems problems;
  const inference::ModelFile again = inference::read_model(model.dump(), "model", problems);
  EXPECT_TRUE(problems.empty());
  EXPECT_EQ(again.error.effort_cv, 0.02);
}

TEST(ProfileJson, ANumberThatIsNoNumberIsABugAndNotNull) {
  jobs::PlayerProfile player = fixture::full_player("12");
  player.reaction_s->sd = std::numeric_limits<double>::quiet_NaN();
  EXPECT_THROW(profile_json(fixture::squad({player})), std::domain_error);
}

TEST(ProfileJson, AnIdOfAnyBytesIsValidJson) {
  const ordered_json json = parsed(fixture::squad({fixture::full_player("Zo\xEB \"\x01\\ \xF0\x9F\x8F\x83")}));
  EXPECT_EQ(json.at("players").at(0).at("player"), "Zo\xEF\xBF\xBD \"\x01\\ \xF0\x9F\x8F\x83");
}

TEST(ProfileJson, ConformsToItsSchema) {
  std::ifstream file(std::string(BAGSPLIT_DATA_DIR) + "/schemas/profile.schema.json");
  const nlohmann::json schema = nlohmann::json::parse(file);
  test::SchemaCheck check(schema);
  for (const jobs::ProfileResult& result :
       {fixture::squad({}), fixture::squad({fixture::full_player("12"), fixture::bare_player("7")})}) {
    EXPECT_EQ(check(nlohmann::json::parse(profile_json(result))), std::vector<std::string>{});
  }
  // The check itself finds what is wrong.
  nlohmann::json broken = nlohmann::json::parse(profile_json(fixture::squad({fixture::full_player("12")})));
  broken.at("players").at(0).at("top_speed_mps").erase("sd");
  broken.at("players").at(0)["status"] = "fine";
  broken["level"] = 1.0;
  EXPECT_EQ(check(broken).size(), 3U);
}

}  // namespace
}  // namespace bagsplit::present
